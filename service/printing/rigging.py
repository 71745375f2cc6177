"""The rigging sheet as PDF: each bundle with its lift points, weights for truck and slings, then the crew for single pieces."""

from __future__ import annotations

from collections.abc import Iterable

from service.drawings.figures import length_figure
from service.drawings.rigging import bundle_lift_drawing
from service.printing.sheet_pages import Column, SheetPages, SheetSetting
from solver.documents.lift_words import guideline_words, lift_advice, lift_words
from solver.documents.texts import say
from solver.domain.document import RigRow, RigSheet
from solver.units import Unit, show_length, show_weight


def rigging_pdf(sheets: Iterable[RigSheet], setting: SheetSetting) -> bytes:
    """Return the rigging sheets, an order after the other, each in its own unit."""
    pages = SheetPages(say(setting.language, "rigging_sheet"), setting)
    for sheet in sheets:
        unit = sheet.unit
        pages.page(f"{pages.say('order')} {sheet.order}", unit)
        handled = show_length(sheet.handled_nm, unit)
        pages.caution(
            [
                pages.say("caution_rigging"),
                pages.say("caution_forks", handled=handled),
                pages.say("caution_lift", limit=show_weight(sheet.limits_g[0], unit)),
            ]
        )
        if sheet.rows:
            _bundles(pages, sheet, unit)
        _crews(pages, sheet, unit)
    return pages.pdf()


def _bundles(pages: SheetPages, sheet: RigSheet, unit: Unit) -> None:
    pages.heading(pages.say("rig_bundles"))
    pages.text(pages.say("rig_rating", centre=show_length(sheet.forklift_centre_nm, unit)))
    pages.gap()
    pages.table(
        (
            Column(title=pages.say("bundle"), share=13, bold=True),
            Column(title=pages.say("weight"), share=16, anchor="end", bold=True),
            Column(title=pages.say("length"), share=17, anchor="end"),
            Column(title=pages.say("lifted_by"), share=18),
            Column(title=pages.say("rating"), share=16, anchor="end"),
            *(Column(title=pages.say("leg", angle=angle), share=14, anchor="end") for angle in (60, 45, 30)),
        ),
        [
            (
                row.name,
                show_weight(row.bundle.weight_g, unit),
                length_figure(row.bundle.length_nm, unit),
                pages.say("by_spreader" if row.spreader else "by_forks"),
                show_weight(row.rating_g, unit),
                *(show_weight(leg, unit) for leg in row.legs_g),
            )
            for row in sheet.rows
        ],
    )
    for row in sheet.rows:
        if row.bundle.lift_nm:
            _lift(pages, row, unit)


def _lift(pages: SheetPages, row: RigRow, unit: Unit) -> None:
    bundle = row.bundle
    drawing = bundle_lift_drawing(
        bundle, gap_nm=row.gap_nm, unit=unit, room_pt=(pages.room, 120.0), language=pages.setting.language
    )
    pages.need(drawing.height_pt + 58)
    way = pages.say("by_spreader" if row.spreader else "by_forks")
    pages.heading(f"{row.name}  ·  {show_weight(bundle.weight_g, unit)}  ·  {way}", size=13, keep=0)
    facts = [pages.say("fork_gap", gap=show_length(row.gap_nm, unit))]
    if row.spread_nm is not None:
        facts.insert(0, pages.say("fork_spread", spread=show_length(row.spread_nm, unit)))
    facts.append(pages.say("mass_up", up=show_length(bundle.centre_up_nm, unit)))
    if row.load:
        facts.append(f"{pages.say('load')} {row.load}")
    pages.text("  ·  ".join(facts))
    pages.drawing(drawing)
    pages.gap(6)


def _crews(pages: SheetPages, sheet: RigSheet, unit: Unit) -> None:
    pages.need(70 + 20 * len(sheet.crews))
    pages.heading(pages.say("rig_pieces"))
    language = pages.setting.language
    pages.text(guideline_words(sheet.limits_g, published=sheet.published, language=language, unit=unit))
    pages.gap()
    pages.table(
        (
            Column(title=pages.say("crew"), share=54, bold=True),
            Column(title=pages.say("pieces"), share=16, anchor="end", bold=True),
            Column(title=pages.say("heaviest_piece"), share=24, anchor="end"),
            Column(title="", share=6),
        ),
        [(lift_advice(row.lift, language), f"{row.count:,}", show_weight(row.heaviest_g, unit), "") for row in sheet.crews],
    )
    if not sheet.hands:
        return
    pages.table(
        (
            Column(title=pages.say("stands"), share=10, anchor="end"),
            Column(title=pages.say("mark"), share=20, bold=True),
            Column(title="", share=20),
            Column(title=pages.say("bundle"), share=12),
            Column(title=pages.say("length"), share=18, anchor="end"),
            Column(title=pages.say("weight"), share=14, anchor="end", bold=True),
            Column(title=pages.say("crew"), share=28),
        ),
        [
            (
                str(row.stands),
                row.mark,
                pages.say(row.role),
                row.bundle_name,
                length_figure(row.length_nm, unit),
                show_weight(row.weight_g, unit),
                lift_words(row.lift, language),
            )
            for row in sheet.hands
        ],
    )
