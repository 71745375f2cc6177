"""The anchor plan as PDF, for the slab crew before the pour: the plan from above, corners to check, bolts wall by wall."""

from __future__ import annotations

from collections.abc import Iterable

from service.drawings.figures import length_figure
from service.drawings.plans import anchor_plan_drawing
from service.printing.sheet_pages import TICK, Column, SheetPages, SheetSetting
from service.printing.site import broken_words
from solver.documents.notes import translate_note
from solver.documents.texts import say
from solver.domain.document import AnchorRow, AnchorSheet, WallRun
from solver.units import Unit, show_length


def anchors_pdf(sheets: Iterable[AnchorSheet], setting: SheetSetting) -> bytes:
    """Return the anchor plans, each in its order's unit, with their caution."""
    pages = SheetPages(say(setting.language, "anchor_plan"), setting)
    for sheet in sheets:
        unit = sheet.building.unit
        pages.page(f"{sheet.building.order}", unit)
        _plan(pages, sheet, unit)
        _corners(pages, sheet, unit)
        pages.heading(pages.say("anchors_title"))
        for run in sheet.runs:
            if run.rows:
                _wall(pages, sheet, run, unit)
    return pages.pdf()


def _plan(pages: SheetPages, sheet: AnchorSheet, unit: Unit) -> None:
    building, language = sheet.building, pages.setting.language
    bolt = pages.say("bolt", diameter=show_length(sheet.diameter_nm, unit), projection=show_length(sheet.projection_nm, unit))
    pages.heading(f"{pages.say('start_here', id=building.start_corner)}  ·  {bolt}", keep=0)
    hole = show_length(sheet.hole_nm, unit)
    way = "holes_as_measured" if building.anchor_holes == "as_measured" else "holes_template"
    pages.caution([pages.say("caution_anchor"), pages.say(way), pages.say("holes_size", hole=hole)])
    for line in (
        *broken_words(sheet.broken, language, unit),
        *(translate_note(language, text, unit) for text in sheet.warnings),
    ):
        pages.text(f"·  {line}", bold=True)
    pages.drawing(
        anchor_plan_drawing(sheet, unit=unit, room_pt=(pages.room, 420.0), language=language),
    )


def _corners(pages: SheetPages, sheet: AnchorSheet, unit: Unit) -> None:
    start, first = sheet.building.start_corner, sheet.runs[0]
    pages.heading(pages.say("square_check", id=start))
    pages.text(pages.say("anchor_axes", id=start, wall=first.wall))
    pages.gap(4)
    pages.table(
        (
            Column(title=pages.say("corner_name"), share=30, bold=True),
            Column(title="x", share=20, anchor="end"),
            Column(title="y", share=20, anchor="end"),
            Column(title=pages.say("straight"), share=26, anchor="end", bold=True),
            Column(title="", share=4),
        ),
        [
            (
                corner.id,
                length_figure(corner.x_nm, unit),
                length_figure(corner.y_nm, unit),
                length_figure(corner.straight_nm, unit),
                TICK,
            )
            for corner in sheet.corners
        ],
    )


def _wall(pages: SheetPages, sheet: AnchorSheet, run: WallRun, unit: Unit) -> None:
    way = pages.say("wall_run", wall=run.wall, first=run.first, last=run.last, length=show_length(run.length_nm, unit))
    pages.heading(way, size=12, keep=92.0)
    measure = sheet.to_measure
    pages.table(
        (
            Column(title="", share=15, bold=True),
            Column(title=pages.say("from_corner", id=run.first), share=17, anchor="end", bold=True),
            Column(title=pages.say("across"), share=13, anchor="end"),
            *([] if measure else [Column(title=pages.say("from_start"), share=17, anchor="end")]),
            Column(title="x", share=16, anchor="end"),
            Column(title="y", share=16, anchor="end"),
            Column(title=pages.say("rule"), share=14),
            *([Column(title=pages.say(key), share=13) for key in ("measured_along", "measured_across")] if measure else []),
            Column(title="", share=4),
        ),
        [_row(pages, row, measure, unit) for row in run.rows],
    )


def _row(pages: SheetPages, row: AnchorRow, measure: bool, unit: Unit) -> tuple[str, ...]:
    anchor = row.anchor
    return (
        anchor.id,
        length_figure(row.along_nm, unit),
        length_figure(anchor.across_nm, unit),
        *([] if measure else [length_figure(row.from_start_nm, unit)]),
        length_figure(row.x_nm, unit),
        length_figure(row.y_nm, unit),
        pages.say(f"why_{anchor.why}"),
        *([BLANK, BLANK] if measure else []),
        TICK,
    )


BLANK = "_______"  # to write a figure on
