"""Load sheets as PDF: the deck from the side and from above, bundles in order of loading, tie-downs, weights by axle."""

from __future__ import annotations

from collections.abc import Iterable

from service.drawings.deck import deck_above, deck_side
from service.drawings.figures import figure
from service.printing.page import TICK, Column, Setting, Sheets
from solver.documents.notes import note
from solver.documents.texts import say
from solver.domain.document import LoadSheet
from solver.units import Unit, show_length, show_weight


def loads_pdf(sheets: Iterable[LoadSheet], setting: Setting, *, unit: Unit) -> bytes:
    """Return the load sheets, landscape."""
    pages = Sheets(say(setting.language, "load_sheet"), setting, landscape=True)
    for sheet in sheets:
        pages.page(f"{sheet.load.id}  ·  {pages.say('deck')} {sheet.deck.id}")
        _sheet(pages, sheet, unit)
    return pages.pdf()


def _sheet(pages: Sheets, sheet: LoadSheet, unit: Unit) -> None:
    load, language = sheet.load, pages.setting.language
    bundles, names = {str(one.id): one for one in sheet.bundles}, {str(one): name for one, name in sheet.names}
    facts = [show_weight(load.weight_g, unit), f"{len(sheet.rows)} × {pages.say('bundle').lower()}", ", ".join(sheet.ship_to)]
    pages.heading("  ·  ".join(facts), size=14, keep=0)
    if sheet.need_by:
        pages.text("  ·  ".join(pages.say("need_by", when=when[:16].replace("T", " ")) for when in sheet.need_by))
    pages.text(pages.say("from_left"), bold=True)
    pages.drawing(
        deck_side(load, sheet.deck, bundles, names=names, unit=unit, room_pt=(pages.room, 215.0), language=language),
        most_pt=225,
    )
    pages.text(pages.say("from_above"), bold=True)
    pages.drawing(
        deck_above(load, sheet.deck, bundles, names=names, unit=unit, room_pt=(pages.room, 175.0), language=language),
        most_pt=185,
    )
    if load.tiedowns is not None:
        ties = load.tiedowns
        words = pages.say("tiedowns", required=ties.required, by_length=ties.by_length, by_load=ties.by_load)
        pages.text(f"{words}  ({ties.rule})", bold=True)
        if ties.positions_nm:
            where = ";  ".join(figure(at, unit) for at in ties.positions_nm)
            pages.text(f"{pages.say('tiedown_at')} {where}")
        if ties.edge_protectors:
            pages.text(pages.say("edge_protectors", n=ties.edge_protectors))
        pages.text(pages.say("strap_tension", weight=show_weight(sheet.strap_tension_g, unit)))
    for fact in _facts(pages, sheet, unit):
        pages.text(fact)
    pages.gap()
    _order(pages, sheet, unit)
    _axles(pages, sheet, unit)
    for text in load.notes:
        pages.text(note(language, text, unit))
    pages.gap()
    pages.caution([pages.say("caution_road")])


def _facts(pages: Sheets, sheet: LoadSheet, unit: Unit) -> list[str]:
    """Return what the driver and the site ask: how high, how centred, from which side, by which rules and permit."""
    load, facts = sheet.load, []
    if load.height_nm and sheet.height_limit_nm:
        high, limit = show_length(load.height_nm, unit), show_length(sheet.height_limit_nm, unit)
        facts.append(pages.say("load_height", height=high, limit=limit))
    if load.centre_nm:
        at, across = show_length(load.centre_nm, unit), show_length(load.centre_across_nm, unit)
        facts.append(pages.say("load_centre", at=at, across=across))
    sides = ", ".join(pages.say(f"side_{side}") for side in sheet.unload_from)
    facts.append(pages.say("unload_side", sides=sides))
    facts.append(pages.say("rules_used", rules=", ".join(filter(None, (sheet.rule_set, sheet.local_rules)))))
    if sheet.permit:
        facts.append(pages.say("permit", permit=sheet.permit))
    return facts


def _order(pages: Sheets, sheet: LoadSheet, unit: Unit) -> None:
    pages.heading(pages.say("load_order"))
    pages.table(
        (
            Column(title=pages.say("goes_on"), share=8, anchor="end", bold=True),
            Column(title=pages.say("bundle"), share=16, bold=True),
            Column(title=pages.say("from_front"), share=17, anchor="end"),
            Column(title=pages.say("from_left_edge"), share=17, anchor="end"),
            Column(title=pages.say("above_deck"), share=16, anchor="end"),
            Column(title=pages.say("length"), share=15, anchor="end"),
            Column(title=pages.say("weight"), share=14, anchor="end"),
            Column(title=pages.say("comes_off"), share=10, anchor="end"),
            Column(title="", share=4),
        ),
        [
            (
                str(row.at),
                row.name,
                figure(row.x_nm, unit),
                figure(row.y_nm, unit),
                figure(row.z_nm, unit),
                figure(row.length_nm, unit),
                show_weight(row.weight_g, unit),
                str(row.off),
                TICK,
            )
            for row in sheet.rows
        ],
    )


def _axles(pages: Sheets, sheet: LoadSheet, unit: Unit) -> None:
    """Weights by axle as loaded, and the heaviest that each group gets as bundles come off."""
    first = {axle.group: axle for axle in sheet.axles if axle.after == 0}
    rows = []
    for group, axle in first.items():
        worst = max((one for one in sheet.axles if one.group == group), key=lambda one: one.weight_g)
        when = pages.say("as_loaded") if worst.after == 0 else pages.say("after_off", n=worst.after)
        rows.append(
            (
                pages.say(group),
                show_weight(axle.weight_g, unit),
                show_weight(axle.limit_g, unit) if axle.limit_g is not None else "",
                f"{show_weight(worst.weight_g, unit)}, {when}",
            )
        )
    if rows:
        pages.table(
            (
                Column(title=pages.say("axle"), share=20, bold=True),
                Column(title=pages.say("as_loaded"), share=20, anchor="end"),
                Column(title=pages.say("limit"), share=20, anchor="end"),
                Column(title=pages.say("heaviest"), share=40, anchor="end"),
            ),
            rows,
        )
    if sheet.load.bridge:
        pages.table(
            (
                Column(title=pages.say("bridge"), share=40, bold=True),
                Column(title=pages.say("as_loaded"), share=20, anchor="end"),
                Column(title=pages.say("limit"), share=20, anchor="end"),
                Column(title="", share=20),
            ),
            [
                (
                    pages.say("axles_apart", first=one.first, last=one.last, feet=one.feet),
                    show_weight(one.weight_g, unit),
                    show_weight(one.limit_g, unit),
                    "23 U.S.C. 127",
                )
                for one in sheet.load.bridge
            ],
        )
