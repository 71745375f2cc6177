"""Packing list and purchase list as PDF."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from service.drawings.figures import length_figure
from service.printing.sheet_pages import TICK, Column, SheetPages, SheetSetting
from solver.documents.names import hardware_item_name
from solver.documents.texts import say
from solver.domain.document import MaterialRow, PackingList, PurchaseRow
from solver.units import Grams, Unit, show_volume, show_weight


def packing_pdf(lists: Iterable[PackingList], setting: SheetSetting) -> bytes:
    """Return the packing lists, an order after the other, each in its own unit."""
    pages = SheetPages(say(setting.language, "packing_list"), setting)
    for one in lists:
        unit = one.unit
        pages.page(f"{pages.say('order')} {one.order}", unit)
        pages.text(f"{pages.say('ship_to')}: {', '.join(one.ship_to)}", bold=True)
        for delivery in one.deliveries:
            when = pages.say("need_by", when=delivery.need_by[:16].replace("T", " "))
            pages.text(f"{pages.say('delivery')} {delivery.id}: {', '.join(delivery.parts)}, {when}")
        pages.text(f"{pages.say('total')}: {len(one.rows)} × {pages.say('bundle').lower()}, {show_weight(one.weight_g, unit)}")
        pages.gap()
        pages.table(
            (
                Column(title=pages.say("bundle"), share=14, bold=True),
                Column(title=pages.say("load"), share=12),
                Column(title=pages.say("pieces"), share=11, anchor="end"),
                Column(title=pages.say("length"), share=17, anchor="end"),
                Column(title=pages.say("weight"), share=15, anchor="end"),
                Column(title="SSCC", share=31),
                Column(title="", share=4),
            ),
            [
                (
                    row.name,
                    row.load,
                    str(row.count),
                    length_figure(row.length_nm, unit),
                    show_weight(row.weight_g, unit),
                    row.serial,
                    TICK,
                )
                for row in one.rows
            ],
        )
        pages.heading(pages.say("contents"))
        pages.table(
            (Column(title=pages.say("bundle"), share=14, bold=True), Column(title=pages.say("pieces"), share=86)),
            [(row.name, ", ".join(row.marks)) for row in one.rows if row.marks],
        )
        for row in one.rows:
            if row.items:
                pages.heading(f"{row.name}: {pages.say('start_box')}", size=13)
                hardware_table(pages, [(item.item, item.quantity, item.packs, item.pack) for item in row.items])
        if one.hardware:
            pages.heading(pages.say("hardware"))
            hardware_table(pages, [(line.item, line.quantity, line.packs, line.pack) for line in one.hardware])
    return pages.pdf()


def hardware_table(pages: SheetPages, rows: Sequence[tuple[str, int, int, int]]) -> None:
    """Set hardware: item, how many, in how many packs of how many."""
    pages.table(
        (
            Column(title=pages.say("item"), share=58),
            Column(title=pages.say("quantity"), share=18, anchor="end", bold=True),
            Column(title=pages.say("packs"), share=20, anchor="end"),
            Column(title="", share=4),
        ),
        [
            (hardware_item_name(item, pages.setting.language), f"{quantity:,}", f"{packs} × {pack}", TICK)
            for item, quantity, packs, pack in rows
        ],
    )


def hardware_use_columns(pages: SheetPages, rows: Sequence[tuple[str, int]]) -> None:
    """Set what of the house's hardware one place takes, in two columns: packs are the house's, not the place's."""
    half = -(-len(rows) // 2)
    cells = [(hardware_item_name(item, pages.setting.language), f"{quantity:,}", TICK) for item, quantity in rows]
    cells += [("", "", "")] * (2 * half - len(cells))
    columns = (
        Column(title=pages.say("item"), share=36),
        Column(title=pages.say("quantity"), share=10, anchor="end", bold=True),
        Column(title="", share=4),
    )
    pages.table(columns * 2, [(*left, *right) for left, right in zip(cells[:half], cells[half:], strict=True)])


def purchase_pdf(
    rows: Sequence[PurchaseRow], materials: Sequence[MaterialRow], setting: SheetSetting, *, unit: Unit, reserve: str
) -> bytes:
    """Return the purchase list: skins, coil and core, bars by material and length, then hardware in packs.

    `reserve`: the share for remakes that skins and coil contain, in words.
    """
    pages = SheetPages(say(setting.language, "purchase_list"), setting)
    if rows or materials:
        pages.page("")
    if materials:
        pages.heading(pages.say("materials"))
        pages.text(pages.say("materials_note", reserve=reserve))
        pages.gap()
        _materials(pages, materials, unit)
    bars = [row for row in rows if row.kind == "bar"]
    if bars:
        pages.heading(pages.say("bars"))
        _bars(pages, bars, unit)
    hardware = [row for row in rows if row.kind == "hardware"]
    if hardware:
        pages.heading(pages.say("hardware"))
        hardware_table(pages, [(row.item, row.needed, row.to_buy, int(row.note or 1)) for row in hardware])
    return pages.pdf()


def _materials(pages: SheetPages, rows: Sequence[MaterialRow], unit: Unit) -> None:
    def amount(row: MaterialRow, value: int) -> str:
        return show_volume(value, unit) if row.kind == "core" else show_weight(Grams(value), unit)

    pages.table(
        (
            Column(title="", share=13),
            Column(title=pages.say("item"), share=20, bold=True),
            Column(title=pages.say("width"), share=13, anchor="end"),
            Column(title=pages.say("run"), share=17, anchor="end"),
            Column(title=pages.say("needed"), share=15, anchor="end"),
            Column(title=pages.say("on_hand"), share=15, anchor="end"),
            Column(title=pages.say("to_buy"), share=15, anchor="end", bold=True),
            Column(title=pages.say("coil"), share=18),
        ),
        [
            (
                pages.say(f"kind_{row.kind}"),
                row.item + (f", {length_figure(row.thickness_nm, unit)}" if row.thickness_nm else ""),
                length_figure(row.width_nm, unit),
                length_figure(row.run_nm, unit),
                amount(row, row.needed),
                amount(row, row.held),
                amount(row, row.needed - row.held),
                ", ".join(row.sources),
            )
            for row in rows
        ],
    )


def _bars(pages: SheetPages, bars: Sequence[PurchaseRow], unit: Unit) -> None:
    pages.table(
        (
            Column(title=pages.say("item"), share=34, bold=True),
            Column(title=pages.say("stock_length"), share=18, anchor="end"),
            Column(title=pages.say("needed"), share=12, anchor="end"),
            Column(title=pages.say("on_hand"), share=12, anchor="end"),
            Column(title=pages.say("to_make"), share=12, anchor="end", bold=True),
            Column(title=pages.say("to_buy"), share=12, anchor="end", bold=True),
            Column(title=pages.say("price"), share=18, anchor="end"),
        ),
        [
            (
                row.item,
                length_figure(row.length_nm or 0, unit),
                str(row.needed),
                str(row.on_hand),
                str(row.to_make),
                str(row.to_buy),
                f"{row.cents / 100:,.2f}" if row.cents is not None else "",
            )
            for row in bars
        ],
    )
    cents = sum(row.cents or 0 for row in bars)
    pages.text(f"{pages.say('total')}: {cents / 100:,.2f}", bold=True)
    pages.gap()
