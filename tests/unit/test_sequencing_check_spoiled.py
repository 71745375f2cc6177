"""Cut orders spoiled on purpose: the check must say what is wrong."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from solver.domain.sequence import BarBundles, SequenceJob
from solver.search import Search
from solver.sequencing.check import check
from solver.sequencing.sequence import sequence

RING = SequenceJob(
    bars=tuple(BarBundles(id=f"b{n}", bundles=tuple(bar)) for n, bar in enumerate(["AB", "BC", "CD", "DE", "EA"]))
)
SOUND = sequence(RING, Search())

SPOILED: dict[str, tuple[dict[str, Any], str, str]] = {
    "a bar is left out": ({"order": SOUND.order[:-1]}, "order", "is missing"),
    "a bar is cut twice": ({"order": (*SOUND.order, SOUND.order[0])}, "order", "1 times too often"),
    "a strange bar": ({"order": (*SOUND.order, "b9")}, "order", "is not in the job"),
    "fewer open than true": ({"open": 2, "lower_bound": 2}, "open", "3 are open at one time"),
    "a worse order under the same figure": ({"order": ("b0", "b2", "b4", "b1", "b3")}, "open", "5 are open"),
    "no value": ({"open": None}, "open", "is missing"),
    "a bound above the value": ({"lower_bound": 4}, "lower_bound", "is above the value 3"),
    "a bound below nothing": ({"lower_bound": -1}, "lower_bound", "is below 0"),
    "optimal without proof": ({"lower_bound": 2}, "status", "optimal is stated"),
    "proved but called feasible": ({"status": "feasible"}, "status", "feasible is stated"),
    "unknown, yet with a plan": ({"status": "unknown"}, "status", "is unknown, but an order is given"),
}


def test_the_plan_to_be_spoiled_is_sound() -> None:
    assert check(RING, SOUND).sound


@pytest.mark.parametrize("name", SPOILED)
def test_a_spoiled_order_is_caught_in_the_right_words(name: str) -> None:
    change, path, words = SPOILED[name]
    faults = check(RING, replace(SOUND, **change)).faults
    assert any(fault.path == path and words in fault.problem for fault in faults), faults


def test_an_order_over_the_limit_is_caught() -> None:
    faults = check(replace(RING, open_max=2), SOUND).faults
    assert [(fault.path, fault.fix) for fault in faults] == [("order", "at most 2")]
