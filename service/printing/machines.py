"""Sheets for the bevel saw, router, drill, brake and slitter, and the book of piece drawings, as PDF."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from service.drawings.coil import coil_pattern_drawing
from service.drawings.figures import length_figure
from service.drawings.lay import flat_drawing, lay_drawing
from service.drawings.lying import lying_drawing
from service.drawings.piece import piece_drawing
from service.drawings.shapes import Drawing
from service.printing.sheet_pages import TICK, Column, SheetPages, SheetSetting, order_ids_of_pieces
from solver.documents.lay_words import edge_words, lay_words
from solver.documents.texts import say
from solver.domain.document import BrakeRow, DropRow, RipRow, ShapeRow, SlitSheet
from solver.domain.lay import Lies
from solver.units import Nm, Unit, show_angle, show_length


def bevel_pdf(rows: Sequence[RipRow], setting: SheetSetting, *, unit: Unit) -> bytes:
    """Return the rip and bevel sheet: one table for each tilt of the blade and each way that panels lie."""
    pages = SheetPages(say(setting.language, "bevel_sheet"), setting)
    if rows:
        pages.page(order_ids_of_pieces((row.piece for row in rows), setting.language))
        pages.caution([pages.say("caution_saw")])
        pages.text(pages.say("inset_note"))
        pages.gap()
    for setup, alike in groupby(rows, key=lambda row: (row.bevel_udeg, _long_up(row), row.lies)):
        _bevels(pages, setup, tuple(alike), unit)
    return pages.pdf()


def _long_up(row: RipRow) -> bool:
    return row.upper_nm > row.lower_nm


def _bevels(pages: SheetPages, setup: tuple[int, bool, Lies], rows: Sequence[RipRow], unit: Unit) -> None:
    angle, long_up, lies = setup
    language = pages.setting.language
    tilt = pages.say("long_up" if long_up else "long_down", angle=show_angle(angle)) if angle else pages.say("square")
    pages.heading(f"{pages.say('tilt')} {tilt}" if angle else tilt, size=16, keep=150)
    pages.text(f"{pages.say('lay_so')}: {lay_words(lies, language)}", bold=True)
    pages.drawing(lay_drawing(lies, language=language))
    edge = edge_words(lies, language, far=True).partition(" (")[0]
    pages.table(
        (
            Column(title=pages.say("mark"), share=22, bold=True),
            Column(title="", share=20),
            Column(title=pages.say("length"), share=17, anchor="end"),
            Column(title=pages.say("cut_edge"), share=17),
            Column(title=pages.say("upper_face"), share=18, anchor="end", bold=True),
            Column(title=pages.say("lower_face"), share=18, anchor="end", bold=True),
            Column(title=pages.say("bundle"), share=14),
            Column(title="", share=4),
        ),
        [
            (
                row.name,
                row.what,
                length_figure(row.length_nm, unit),
                edge if row.of == 1 else f"{edge}, {pages.say('nth_cut', n=row.at, count=row.of)}",
                length_figure(row.upper_nm, unit),
                length_figure(row.lower_nm, unit),
                row.bundle_name,
                TICK,
            )
            for row in rows
        ],
    )


def shapes_pdf(
    rows: Sequence[ShapeRow],
    setting: SheetSetting,
    *,
    title: str,
    unit: Unit,
    caution: str | None = None,
    drops: Sequence[DropRow] = (),
) -> bytes:
    """Return piece drawings with dimensions, a shape drawn once with all the marks that are made so, and `drops` as a list.

    `title` and `caution` are keys of the texts.
    """
    pages = SheetPages(say(setting.language, title), setting)
    if rows:
        pages.page(order_ids_of_pieces((piece.id for row in rows for piece in row.pieces), setting.language))
        if caution is not None:
            pages.caution([pages.say(caution)])
    if rows:
        pages.text(pages.say("stands_so" if rows[0].lies is None else "places_from"))
        pages.gap(4)
    if rows and rows[0].lies is not None:
        for lies, alike in groupby(rows, key=lambda row: row.lies):
            _lying(pages, lies, tuple(alike), unit)
        rows = ()
    across = 2 if rows and rows[0].pieces[0].is_panel else 1
    for n in range(0, len(rows), across):
        pages.beside([_cell(pages, row, unit, across) for row in rows[n : n + across]], most_pt=HIGH_PT + 40)
    if drops:
        _drops(pages, drops, unit)
    return pages.pdf()


LYING_PT = 150.0  # of a panel's drawing as it lies: three to a page


def _lying(pages: SheetPages, lies: Lies | None, rows: Sequence[ShapeRow], unit: Unit) -> None:
    """Set pieces as they lie on their machine, under the way that they lie."""
    assert lies is not None
    language = pages.setting.language
    pages.need(120 + LYING_PT)
    pages.text(f"{pages.say('lay_so')}: {lay_words(lies, language)}", bold=True)
    pages.drawing(lay_drawing(lies, language=language))
    pages.gap(4)
    for row in rows:
        assert row.shape is not None
        first = row.pieces[0]
        room = (pages.room, LYING_PT if first.is_panel else 110.0)
        drawing = lying_drawing(row.shape, lies, title=first.mark, unit=unit, room_pt=room, language=language)
        pages.beside([(", ".join(row.names), _facts(pages, row, unit), drawing)], most_pt=room[1] + 40)


def _drops(pages: SheetPages, drops: Sequence[DropRow], unit: Unit) -> None:
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
                length_figure(row.width_nm, unit),
                length_figure(row.length_nm, unit),
                pages.say(f"joints_{row.joints}"),
                str(len(row.marks)),
                ", ".join(row.marks),
                ", ".join(row.makes),
                TICK,
            )
            for row in drops
        ],
    )


HIGH_PT = 205.0  # of a panel's drawing: two rows to a page


def _cell(pages: SheetPages, row: ShapeRow, unit: Unit, across: int) -> tuple[str, str, Drawing]:
    """Return the marks that are made alike, facts, and the drawing of the first."""
    first = row.pieces[0]
    room = ((pages.room - 14 * (across - 1)) / across, HIGH_PT if first.is_panel else 90.0)
    drawing = piece_drawing(first, unit=unit, room_pt=room, language=pages.setting.language)
    return ", ".join(row.names), _facts(pages, row, unit), drawing


def _facts(pages: SheetPages, row: ShapeRow, unit: Unit) -> str:
    first = row.pieces[0]
    facts = [f"{len(row.pieces)} ×", pages.say(first.role), show_length(first.length_nm, unit), ", ".join(row.bundle_names)]
    for key, size, at in sorted(_hole_places(row)):
        facts.append(pages.say(key, size=show_length(size, unit), across=show_length(at, unit)))
    for drop in row.drops:
        width, length = show_length(drop.width_nm, unit), show_length(drop.length_nm, unit)
        facts.append(pages.say("falls_out", width=width, length=length, joints=pages.say(f"joints_{drop.joints}")))
    return "  ·  ".join(fact for fact in facts if fact)


def _hole_places(row: ShapeRow) -> set[tuple[str, Nm, Nm]]:
    """How wide holes and pockets are and where across: as the piece lies, else as it stands."""
    if row.shape is None:
        return {("pockets_stand", hole.across_size_nm, hole.across_nm) for hole in row.pieces[0].holes}
    panel = row.pieces[0].is_panel
    return {
        ("pockets_at" if panel else "holes_at", hole.size_nm, hole.down_nm if panel else hole.y_nm) for hole in row.shape.holes
    }


def brake_pdf(rows: Sequence[BrakeRow], setting: SheetSetting, *, unit: Unit) -> bytes:
    """Return the brake sheet: blanks by material and length."""
    pages = SheetPages(say(setting.language, "brake_sheet"), setting)
    if rows:
        pages.page(setting.orders)
        pages.caution([pages.say("caution_brake")])
        pages.text(f"{pages.say('lay_so')}: {pages.say('paint_up' if rows[0].paint_up else 'paint_down')}", bold=True)
        pages.drawing(flat_drawing(paint_up=rows[0].paint_up, language=setting.language))
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
            [(length_figure(row.length_nm, unit), str(len(row.marks)), ", ".join(row.marks), TICK) for row in alike],
        )
    return pages.pdf()


def slit_pdf(sheets: Sequence[SlitSheet], setting: SheetSetting, *, unit: Unit) -> bytes:
    """Return the slitting sheet: each pattern drawn across the coil, its run, what comes off."""
    pages = SheetPages(say(setting.language, "slit_sheet"), setting)
    if sheets:
        pages.page(setting.orders)
        pages.caution([pages.say("caution_coil")])
    for sheet in sheets:
        pages.heading(sheet.what, size=16, keep=240)
        pages.text(f"{pages.say('lay_so')}: {pages.say('coil_up' if sheet.paint_up else 'coil_down')}", bold=True)
        pages.drawing(flat_drawing(paint_up=sheet.paint_up, language=setting.language))
        width = show_length(sheet.job.coil_width_nm, unit)
        pages.text(f"{pages.say('coil')} {pages.say('width')} {width}  ·  {pages.say('set_ups', n=sheet.result.setups)}")
        for n, pattern in enumerate(sheet.result.patterns, 1):
            run = pages.say("run_for", length=show_length(pattern.length_nm, unit))
            pages.need(190)
            pages.heading(f"{n}. {run}", size=15)
            room, names = (pages.room, 120.0), sheet.strips
            pages.drawing(
                coil_pattern_drawing(pattern, sheet.job, unit=unit, room_pt=room, language=setting.language, names=names)
            )
            strips = sorted(pattern.strips.items())
            pages.text("  ·  ".join(f"{count} × {names[strip]}" for strip, count in strips if count))
            pages.gap(10)
    return pages.pdf()
