"""Names of things; they outlive plans, and events name them. Those put together from others are taken apart here alone."""

from __future__ import annotations

from typing import NewType

OrderId = NewType("OrderId", str)  # "cottage-7"
GroupId = NewType("GroupId", str)  # a wall "L1.S" or roof plane "R.S" of an order
PieceId = NewType("PieceId", str)  # order and mark: "cottage-7/L1.S-03"
MaterialId = NewType("MaterialId", str)  # what nests together: "W6|birch|white"; see domain/material
StockId = NewType("StockId", str)
BarId = NewType("BarId", str)  # material and number: "W6|birch|white#001"
BundleId = NewType("BundleId", str)  # order and number: "cottage-7/B03"
LoadId = NewType("LoadId", str)
MachineId = NewType("MachineId", str)
CoilId = NewType("CoilId", str)


def piece_id(order: str, mark: str) -> PieceId:
    """Return the id of an order's piece."""
    return PieceId(f"{order}/{mark}")


def in_order(order: str | None, name: str) -> str:
    """Return a name with the order that it is of; alone where it is of none."""
    return f"{order}/{name}" if order else name


def order_of(name: str) -> OrderId:
    """Return the order of a piece, bundle or load; empty where its name tells none."""
    return OrderId(name.rpartition("/")[0])


def short_name(name: str) -> str:
    """Return what a piece, bundle or load is called within its order: a piece's mark, "B03" of a bundle."""
    return name.rpartition("/")[2]


def bar_id(material: str, number: int) -> BarId:
    """Return the id of a material's bar; at least three digits, so that a list of them sorts by number."""
    return BarId(f"{material}#{number:03d}")


def read_bar_id(name: str) -> tuple[MaterialId, int] | None:
    """Return a bar's material and number; None for a text that is no bar's."""
    material, mark, number = name.rpartition("#")
    return (MaterialId(material), int(number)) if mark and number.isdecimal() else None
