"""Revisions of random orders: three in a row keep every mark that can be kept, and never use one again that fell away."""

from __future__ import annotations

import copy
import random
from typing import Any

import pytest

from solver.domain.takeoff import Takeoff
from solver.errors import InputError, NoPlan
from solver.reading.read_order import read_order
from solver.takeoff.check import check
from solver.takeoff.take_off import take_off
from tests.generators.buildings import random_order
from tests.orders import box, plant, with_gable

REVISIONS = 3


def changed(order: dict[str, Any], rng: random.Random) -> dict[str, Any]:
    """The order after what customers change: an opening moved, dropped or made higher, a wall higher, another overhang."""
    made = copy.deepcopy(order)
    made["revision"] = order.get("revision", 1) + 1
    windows = [item for item in made["openings"] if item["kind"] == "window" and "corner_with" not in item]
    level, roofs = made["levels"][-1], [roof for roof in made.get("roofs", []) if "overhang" in roof]
    what = rng.randrange(4)
    if what == 0 and windows:
        made["openings"].remove(rng.choice(windows))
    elif what == 1 and windows:
        one = rng.choice(windows)
        one["height"] = _less(one["height"], made["unit"])
        one.pop("head", None)
    elif what == 2 and roofs and "eave" in roofs[0]["overhang"]:
        roofs[0]["overhang"]["eave"] = "11 in"
    elif level["top"] != "roof":
        level["top"] = _less(level["top"], made["unit"])
    return made


def _less(size: Any, unit: str) -> Any:
    return size - (25.4 if unit == "mm" else 1) if isinstance(size, int | float) else size


def taken(order: dict[str, Any], before: Takeoff | None) -> Takeoff | None:
    """The proved takeoff of an order after an earlier one, or nothing where it is beyond the plant."""
    try:
        building = read_order(order, plant())
        made = take_off(building, plant(), before)
    except (InputError, NoPlan):
        return None
    assert check(building, plant(), made, before).faults == ()
    return made


@pytest.mark.parametrize("seed", range(4000, 4030))
def test_marks_over_revisions_of_a_random_building(seed: int) -> None:
    rng = random.Random(seed)
    order = random_order(seed)
    now = taken(order, None)
    gone: set[str] = set()
    for _ in range(REVISIONS):
        order = changed(order, rng)
        before, now = now, taken(order, now) or now
        if now is None or before is None or now is before:
            continue
        assert now.revised is not None
        gone |= {name.rpartition("/")[2] for name in now.revised.obsolete}
        marks = {piece.mark for piece in now.pieces}
        assert len(marks) == len(now.pieces)
        assert not marks & gone
        assert gone == set(now.retired)


def test_an_unrelated_change_keeps_every_mark() -> None:
    """A window more in one wall: every piece of every other wall and of the roof keeps its mark, and so do the wall's own that
    are made as they were."""
    order = with_gable(box())
    before = taken(order, None)
    more = copy.deepcopy(order) | {"revision": 2}
    more["openings"].append(
        {"id": "w2", "on": "L1.N", "kind": "window", "from_left": 2700, "sill": 900, "width": 600, "height": 1000}
    )
    after = taken(more, before)
    assert before is not None and after is not None and after.revised is not None
    told = after.revised
    elsewhere = {piece.id for piece in before.pieces if piece.group != "L1.N"}
    assert elsewhere <= set(told.kept)
    assert {name.split("/")[1].split("-")[0] for name in (*told.changed, *told.new, *told.obsolete)} == {"L1.N"}
    kept = [piece for piece in after.pieces if piece.group == "L1.N" and piece.id in told.kept and piece.role == "wall_panel"]
    assert len(kept) >= 4


def test_another_date_and_another_ship_to_change_no_piece() -> None:
    before = taken(box(), None)
    other = box() | {"revision": 2}
    other["deliveries"][0]["need_by"] = "2031-06-02T07:00"
    other["site"]["ship_to"]["name"] = "Plot 9"
    after = taken(other, before)
    assert before is not None and after is not None and after.revised is not None
    assert after.revised.changes_nothing and [piece.id for piece in after.pieces] == [piece.id for piece in before.pieces]
