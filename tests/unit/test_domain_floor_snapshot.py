"""A snapshot of the floor goes through JSON and back unchanged, and what it cannot say is refused by path."""

from __future__ import annotations

import json

import pytest

from solver.codec import decode, encode, read_json
from solver.domain.cut_plan import Bar, BarPiece
from solver.domain.floor_snapshot import FloorBar, FloorBundle, FloorLoad, FloorPiece, FloorSnapshot, OpenOrder
from solver.domain.ids import BarId, BundleId, LoadId, MachineId, MaterialId, OrderId, PieceId, StockId
from solver.domain.stock import StockItem
from solver.errors import InputError
from solver.units import Nm

W6 = MaterialId("W6|birch|white")
BAR = Bar(
    id=BarId("W6|birch|white#003"),
    material=W6,
    stock=StockId("rack 20 ft (1)"),
    length_nm=Nm(6_096_000_000),
    drop_nm=Nm(0),
    pieces=(
        BarPiece(
            piece=PieceId("a/L1.S-01"), turn="as_is", edge_a=(Nm(0), Nm(2_743_200_001)), edge_b=(Nm(0), Nm(2_743_200_001))
        ),
    ),
)
FLOOR = FloorSnapshot(
    unit="in",
    seen=17,
    at="2031-05-05T06:00:00-06:00",
    stock=(
        StockItem(item=1, kind="lot", material=W6, length_nm=Nm(6_096_000_000), count=30, reserved=4, place="A3"),
        StockItem(item=2, kind="remnant", material=W6, length_nm=Nm(1_219_200_000), source="bar 12", put_away="2031-04-28"),
        StockItem(item=3, kind="lot", material=W6, length_nm=Nm(3_048_000_000), count=-2, reserved=1),
    ),
    orders=(OpenOrder(order=OrderId("a"), revision=2),),
    pieces=(FloorPiece(order=OrderId("a"), mark="L1.S-01", making=2, state="on_bar", bar=41),),
    bars=(FloorBar(number=41, machine=MachineId("saw-1"), item=1, state="begun", bar=BAR),),
    bundles=(FloorBundle(bundle=BundleId("a/B01"), laid=(PieceId("a/L1.S-02"),), tag_printed=True),),
    loads=(FloorLoad(load=LoadId("a/L01"), on=(BundleId("a/B02"),), left=True, without=(BundleId("a/B01"),)),),
)


def test_a_snapshot_goes_through_json_and_back() -> None:
    text = json.dumps(encode(FLOOR, unit="in"))
    assert decode(FloorSnapshot, read_json(text, name="floor"), name="floor") == FLOOR
    assert json.loads(text)["stock"][1]["from"] == "bar 12"


def test_nothing_below_zero_is_offered() -> None:
    assert [item.unreserved for item in FLOOR.stock] == [26, 1, 0]


@pytest.mark.parametrize(
    ("part", "path"),
    [
        ({"pieces": [{"order": "a", "mark": "x", "state": "lost"}]}, "floor.pieces[0].state"),
        ({"stock": [{"item": 0, "kind": "lot", "material": "W6"}]}, "floor.stock[0].item"),
        ({"bundles": [{"bundle": "a/B01", "lied": []}]}, "floor.bundles[0].lied"),
        ({"at": "yesterday"}, "floor.at"),
    ],
)
def test_what_no_floor_can_say_is_refused_by_its_path(part: dict[str, object], path: str) -> None:
    with pytest.raises(InputError) as refused:
        decode(FloorSnapshot, {"seen": 0, "at": "2031-05-05T06:00:00Z"} | part, name="floor")
    assert [fault.path for fault in refused.value.faults] == [path]
