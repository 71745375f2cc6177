"""Load sheets as PDF: the deck from the side and from above, bundles in order of loading, tie-downs, weights by axle."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from service.drawings.deck import deck_plan_drawing, deck_side_drawing
from service.drawings.figures import length_figure
from service.printing.sheet_pages import ROW_GAP, TICK, Column, SheetPages, SheetSetting
from solver.documents.notes import translate_note
from solver.documents.texts import say
from solver.domain.document import LoadRow, LoadSheet
from solver.units import Unit, show_length, show_weight

Way = tuple[Callable[[SheetPages, LoadSheet, Unit, bool], None], float, bool]  # of setting a load sheet


def loads_pdf(sheets: Iterable[LoadSheet], setting: SheetSetting, *, unit: Unit) -> bytes:
    """Return the load sheets, a page each where that holds it: what the loader needs first, then what the driver asks.

    The order of loading is set in two columns, with only what must be measured, and the drawings smaller, where it would not
    fit the page otherwise.
    """
    pages = SheetPages(say(setting.language, "load_sheet"), setting)
    for sheet in sheets:
        pages.page(f"{sheet.load.id}  ·  {pages.say('deck')} {sheet.deck.id}")
        ways = [_sheet(pages, sheet, unit, way) for way in WAYS]
        next((way for way in ways if pages.height_of(way) <= pages.left_over), ways[0])()
    return pages.pdf()


def _sheet(pages: SheetPages, sheet: LoadSheet, unit: Unit, way: Way) -> Callable[[], None]:
    """Return what sets a load sheet by a way: its order of loading, the drawings' width in points, close lines or not."""
    order, wide, tight = way
    load, language = sheet.load, pages.setting.language
    bundles, names = {str(bundle.id): bundle for bundle in sheet.bundles}, {str(one): name for one, name in sheet.names}
    room = (wide, 200.0)
    side = deck_side_drawing(load, sheet.deck, bundles, names=names, unit=unit, room_pt=room, language=language, ruled=False)
    above = deck_plan_drawing(load, sheet.deck, bundles, names=names, unit=unit, room_pt=room, language=language)

    def build() -> None:
        _head(pages, sheet, unit)
        pages.text(f"{pages.say('from_left')};  {pages.say('join_below')}: {pages.say('from_above').lower()}", bold=True)
        pages.drawing(side)
        pages.drawing(above)
        order(pages, sheet, unit, tight)
        _tiedowns(pages, sheet, unit)
        _axles(pages, sheet, unit)
        pages.gap(0 if tight else 4)
        notes = (_sentence(translate_note(language, text, unit)) for text in load.notes)
        pages.caution([" ".join([pages.say("caution_road"), *notes])], tight=tight)

    return build


def _head(pages: SheetPages, sheet: LoadSheet, unit: Unit) -> None:
    count = f"{len(sheet.rows)} × {pages.say('bundle').lower()}"
    pages.heading("  ·  ".join([show_weight(sheet.load.weight_g, unit), count, ", ".join(sheet.ship_to)]), size=14, keep=0)
    sides = ", ".join(pages.say(f"side_{side}") for side in sheet.unload_from)
    wanted = [pages.say("need_by", when=when[:16].replace("T", " ")) for when in sheet.need_by]
    pages.text("  ·  ".join([*wanted, pages.say("unload_side", sides=sides)]))


def _tiedowns(pages: SheetPages, sheet: LoadSheet, unit: Unit) -> None:
    ties = sheet.load.tiedowns
    if ties is None:
        return
    words = pages.say("tiedowns", required=ties.required, by_length=ties.by_length, by_load=ties.by_load)
    where = "; ".join(length_figure(at, unit) for at in ties.positions_nm)
    pages.text(" ".join([f"{words} ({ties.rule}).", *([pages.say("tiedown_at"), where] if where else [])]), bold=True)


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}."


def _facts(pages: SheetPages, sheet: LoadSheet, unit: Unit) -> list[str]:
    """Return what the driver asks: edge protectors and how tight, how high, how centred, by which rules and permit."""
    load, facts = sheet.load, []
    if load.tiedowns is not None:
        if load.tiedowns.edge_protectors:
            facts.append(pages.say("edge_protectors", n=load.tiedowns.edge_protectors))
        facts.append(pages.say("strap_tension", weight=show_weight(sheet.strap_tension_g, unit)))
    if load.height_nm and sheet.height_limit_nm:
        high, limit = show_length(load.height_nm, unit), show_length(sheet.height_limit_nm, unit)
        facts.append(pages.say("load_height", height=high, limit=limit))
    if load.centre_nm:
        at, across = show_length(load.centre_nm, unit), show_length(load.centre_across_nm, unit)
        facts.append(pages.say("load_centre", at=at, across=across))
    facts.append(pages.say("rules_used", rules=", ".join(filter(None, (sheet.rule_set, sheet.local_rules)))))
    if sheet.permit:
        facts.append(pages.say("permit", permit=sheet.permit))
    return facts


def _places(pages: SheetPages) -> tuple[Column, ...]:
    return (
        Column(title="", share=6, anchor="end", bold=True),
        Column(title=pages.say("bundle"), share=14, bold=True),
        Column(title=pages.say("from_front"), share=17, anchor="end"),
        Column(title=pages.say("from_left_edge"), share=17, anchor="end"),
        Column(title=pages.say("above_deck"), share=16, anchor="end"),
    )


def _place(row: LoadRow, unit: Unit) -> tuple[str, ...]:
    return str(row.at), row.name, length_figure(row.x_nm, unit), length_figure(row.y_nm, unit), length_figure(row.z_nm, unit)


def _order(pages: SheetPages, sheet: LoadSheet, unit: Unit, tight: bool) -> None:
    pages.heading(pages.say("load_order"), size=12, keep=100)
    pages.table(
        (
            *_places(pages),
            Column(title=pages.say("length"), share=15, anchor="end"),
            Column(title=pages.say("weight"), share=14, anchor="end"),
            Column(title=pages.say("comes_off"), share=10, anchor="end"),
            Column(title="", share=4),
        ),
        [
            (*_place(row, unit), length_figure(row.length_nm, unit), show_weight(row.weight_g, unit), str(row.off), TICK)
            for row in sheet.rows
        ],
        row_gap=_row_gap(tight),
    )


def _row_gap(tight: bool) -> float:
    return 1.5 if tight else ROW_GAP


def _order_beside(pages: SheetPages, sheet: LoadSheet, unit: Unit, tight: bool) -> None:
    """Set the order of loading in two columns, down the left one first."""
    pages.heading(pages.say("load_order"), size=12, keep=100)
    rows = [_place(row, unit) for row in sheet.rows]
    half = -(-len(rows) // 2)
    rows += [("",) * len(_places(pages))] * (2 * half - len(rows))
    pages.table(
        _places(pages) * 2,
        [(*left, *right) for left, right in zip(rows[:half], rows[half:], strict=True)],
        row_gap=_row_gap(tight),
    )


def _axles(pages: SheetPages, sheet: LoadSheet, unit: Unit) -> None:
    """Set weights by axle as loaded, the heaviest of each as bundles come off; what the driver asks."""
    words = []
    first = {axle.group: axle for axle in sheet.axles if axle.after == 0}
    for group, axle in first.items():
        worst = max((one for one in sheet.axles if one.group == group), key=lambda one: one.weight_g)
        weight = show_weight(axle.weight_g, unit)
        if axle.limit_g is not None:
            weight = pages.say("weight_of", weight=weight, limit=show_weight(axle.limit_g, unit))
        then = f" ({show_weight(worst.weight_g, unit)} {pages.say('after_off', n=worst.after)})" if worst.after else ""
        words.append(f"{pages.say(group)} {weight}{then}")
    facts = _facts(pages, sheet, unit)
    if words:
        pages.text(f"{pages.say('axle')}: {'; '.join(words)}", bold=True)
    if sheet.load.bridge:
        near = max(sheet.load.bridge, key=lambda one: one.weight_g / one.limit_g)
        axles = pages.say("axles_apart", first=near.first, last=near.last, feet=near.feet)
        weight = pages.say("weight_of", weight=show_weight(near.weight_g, unit), limit=show_weight(near.limit_g, unit))
        facts.append(pages.say("bridge", n=len(sheet.load.bridge), axles=axles, weight=weight))
    pages.text("  ·  ".join(facts))


WAYS = (  # the first that fits a page
    (_order, 470.0, False),
    (_order_beside, 470.0, False),
    (_order_beside, 400.0, False),
    *((_order_beside, wide, True) for wide in (400.0, 370.0, 340.0, 320.0, 305.0, 290.0, 275.0, 260.0)),
)
