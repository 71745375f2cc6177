"""Sheets for the bevel saw, router, drill, brake and slitter, and the book of piece drawings, as PDF."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from service.drawings.coil import coil_pattern
from service.drawings.figures import figure
from service.drawings.piece import piece_drawing
from service.drawings.shapes import Drawing
from service.printing.page import TICK, Column, Setting, Sheets
from solver.documents.texts import say
from solver.domain.document import BrakeRow, DropRow, RipRow, ShapeRow, SlitSheet
from solver.units import Unit, show_angle, show_length


def bevel_pdf(rows: Sequence[RipRow], setting: Setting, *, unit: Unit) -> bytes:
    """Return the rip and bevel sheet: one table for each tilt of the blade."""
    pages = Sheets(say(setting.language, "bevel_sheet"), setting)
    if rows:
        pages.page("")
        pages.caution([pages.say("caution_saw")])
        pages.text(pages.say("inset_note"))
        pages.gap()
    for angle, alike in groupby(rows, key=lambda row: row.bevel_udeg):
        pages.heading(f"{pages.say('tilt')} {show_angle(angle)}" if angle else pages.say("square"), size=16)
        pages.table(
            (
                Column(title=pages.say("mark"), share=20, bold=True),
                Column(title="", share=24),
                Column(title=pages.say("length"), share=18, anchor="end"),
                Column(title=pages.say("side"), share=10, bold=True),
                Column(title=pages.say("outside"), share=18, anchor="end", bold=True),
                Column(title=pages.say("inside"), share=18, anchor="end", bold=True),
                Column(title=pages.say("bundle"), share=12),
                Column(title="", share=4),
            ),
            [
                (
                    row.mark,
                    row.what,
                    figure(row.length_nm, unit),
                    pages.say(row.side),
                    figure(row.outside_nm, unit),
                    figure(row.inside_nm, unit),
                    row.bundle_name,
                    TICK,
                )
                for row in alike
            ],
        )
    return pages.pdf()


def shapes_pdf(
    rows: Sequence[ShapeRow],
    setting: Setting,
    *,
    title: str,
    unit: Unit,
    caution: str | None = None,
    drops: Sequence[DropRow] = (),
) -> bytes:
    """Return piece drawings with dimensions, a shape drawn once with all the marks that are made so, and `drops` as a list.

    `title` and `caution` are keys of the texts.
    """
    pages = Sheets(say(setting.language, title), setting)
    if rows:
        pages.page(", ".join(dict.fromkeys(piece.order for row in rows for piece in row.pieces)))
        if caution is not None:
            pages.caution([pages.say(caution)])
    across = 2 if rows and rows[0].pieces[0].is_panel else 1
    for n in range(0, len(rows), across):
        pages.beside([_cell(pages, row, unit, across) for row in rows[n : n + across]], most_pt=HIGH_PT + 40)
    if drops:
        _drops(pages, drops, unit)
    return pages.pdf()


def _drops(pages: Sheets, drops: Sequence[DropRow], unit: Unit) -> None:
    pages.heading(pages.say("drops_title"))
    pages.table(
        (
            Column(title=pages.say("material"), share=26),
            Column(title=pages.say("width"), share=17, anchor="end", bold=True),
            Column(title=pages.say("length"), share=17, anchor="end", bold=True),
            Column(title=pages.say("joints"), share=16),
            Column(title=pages.say("quantity"), share=10, anchor="end", bold=True),
            Column(title=pages.say("from_marks"), share=22),
            Column(title=pages.say("makes"), share=16, bold=True),
            Column(title="", share=4),
        ),
        [
            (
                row.what,
                figure(row.width_nm, unit),
                figure(row.length_nm, unit),
                pages.say(f"joints_{row.joints}"),
                str(len(row.marks)),
                ", ".join(row.marks),
                ", ".join(row.makes),
                TICK,
            )
            for row in drops
        ],
    )


HIGH_PT = 244.0  # of a panel's drawing: two rows to a page


def _cell(pages: Sheets, row: ShapeRow, unit: Unit, across: int) -> tuple[str, str, Drawing]:
    """Return the marks that are made alike, facts, and the drawing of the first."""
    first = row.pieces[0]
    room = ((pages.room - 14 * (across - 1)) / across, HIGH_PT if first.is_panel else 90.0)
    facts = [f"{len(row.pieces)} ×", pages.say(first.role), show_length(first.length_nm, unit), ", ".join(row.bundle_names)]
    for size, inside in sorted({(hole.across_size_nm, hole.across_nm) for hole in first.holes}):
        key = "pockets_at" if first.is_panel else "holes_at"
        facts.append(pages.say(key, size=show_length(size, unit), across=show_length(inside, unit)))
    for drop in row.drops:
        width, length = show_length(drop.width_nm, unit), show_length(drop.length_nm, unit)
        facts.append(pages.say("falls_out", width=width, length=length, joints=pages.say(f"joints_{drop.joints}")))
    drawing = piece_drawing(first, unit=unit, room_pt=room, language=pages.setting.language)
    return ", ".join(piece.mark for piece in row.pieces), "  ·  ".join(fact for fact in facts if fact), drawing


def brake_pdf(rows: Sequence[BrakeRow], setting: Setting, *, unit: Unit) -> bytes:
    """Return the brake sheet: blanks by material and length."""
    pages = Sheets(say(setting.language, "brake_sheet"), setting)
    if rows:
        pages.page("")
        pages.caution([pages.say("caution_brake")])
    for what, alike in groupby(rows, key=lambda row: (row.what, row.gauge, row.blank_nm, row.bends)):
        name, gauge, blank, bends = what
        facts = [name, f"{gauge} ga", pages.say("blank", width=show_length(blank, unit)), pages.say("bends", n=bends)]
        pages.heading("  ·  ".join(facts), size=13, keep=110)  # titles and a first row of several lines of marks
        pages.table(
            (
                Column(title=pages.say("length"), share=22, anchor="end", bold=True),
                Column(title=pages.say("quantity"), share=14, anchor="end", bold=True),
                Column(title=pages.say("pieces"), share=70),
                Column(title="", share=4),
            ),
            [(figure(row.length_nm, unit), str(len(row.marks)), ", ".join(row.marks), TICK) for row in alike],
        )
    return pages.pdf()


def slit_pdf(sheets: Sequence[SlitSheet], setting: Setting, *, unit: Unit) -> bytes:
    """Return the slitting sheet: each pattern drawn across the coil, its run, what comes off."""
    pages = Sheets(say(setting.language, "slit_sheet"), setting)
    for sheet in sheets:
        pages.page(sheet.what)
        pages.caution([pages.say("caution_coil")])
        width = show_length(sheet.job.coil_width_nm, unit)
        pages.text(f"{pages.say('coil')} {pages.say('width')} {width}  ·  {pages.say('set_ups', n=sheet.result.setups)}")
        for n, pattern in enumerate(sheet.result.patterns, 1):
            run = pages.say("run_for", length=show_length(pattern.length_nm, unit))
            pages.need(190)
            pages.heading(f"{n}. {run}", size=15)
            drawing = coil_pattern(pattern, sheet.job, unit=unit, room_pt=(pages.room, 120.0), language=setting.language)
            pages.drawing(drawing)
            strips = "  ·  ".join(f"{count} × {strip}" for strip, count in sorted(pattern.strips.items()) if count)
            pages.text(strips)
            pages.gap(10)
    return pages.pdf()
