"""Names of things; they outlive plans, and events name them."""

from __future__ import annotations

from typing import NewType

OrderId = NewType("OrderId", str)  # "cottage-7"
GroupId = NewType("GroupId", str)  # a wall "L1.S" or roof plane "R.S" of an order
PieceId = NewType("PieceId", str)  # order and mark: "cottage-7/L1.S-03"
MaterialId = NewType("MaterialId", str)  # what nests together: "W6|birch|white"
StockId = NewType("StockId", str)
BarId = NewType("BarId", str)
BundleId = NewType("BundleId", str)
LoadId = NewType("LoadId", str)
MachineId = NewType("MachineId", str)
CoilId = NewType("CoilId", str)
