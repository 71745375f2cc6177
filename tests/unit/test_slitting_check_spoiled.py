"""Slitting plans spoiled on purpose: the check must say what is wrong."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from solver.codec import decode
from solver.domain.slit_plan import SlitJob, SlitPattern, SlitResult
from solver.search import Search
from solver.slitting.check import check
from solver.slitting.slit import slit
from solver.units import MM, Nm

JOB = decode(
    SlitJob,
    {
        "unit": "mm",
        "coil_width": 1250,
        "edge_trim": 5,
        "max_strips": 6,
        "strips": [{"id": "base", "width": 203, "length": 480_000}, {"id": "cap", "width": 310, "length": 90_000}],
    },
    name="job",
)
SOUND = slit(JOB, Search())
FIRST, *REST = SOUND.patterns
SHORT = replace(FIRST, length_nm=Nm(FIRST.length_nm - MM))


def pattern(length_mm: int, **strips: int) -> SlitPattern:
    return SlitPattern(strips=strips, length_nm=Nm(length_mm * MM))


SPOILED: dict[str, tuple[dict[str, Any], str, str]] = {
    "too wide": ({"patterns": (*SOUND.patterns, pattern(1, base=1, cap=4))}, "patterns[2]", "mm of width"),
    "too many knives": ({"patterns": (*SOUND.patterns, pattern(1, base=7))}, "patterns[2]", "has 7 strips"),
    "a strange strip": ({"patterns": (*SOUND.patterns, pattern(1, other=1))}, "patterns[2].strips", "is not wanted"),
    "none of a strip": ({"patterns": (*SOUND.patterns, pattern(1, base=0))}, "patterns[2].strips", "0 of 'base'"),
    "the same pattern twice": ({"patterns": (*SOUND.patterns, FIRST)}, "patterns[2]", "more than once"),
    "no run": ({"patterns": (*SOUND.patterns, pattern(0, base=1))}, "patterns[2].length", "is no run"),
    "a strip short": ({"patterns": (SHORT, *REST)}, "patterns", "is short by"),
    "wrong overrun": ({"overrun": {"base": Nm(1), "cap": Nm(0)}}, "overrun.base", "is stated"),
    "overrun of nothing": ({"overrun": {**SOUND.overrun, "other": Nm(0)}}, "overrun.other", "is no strip"),
    "less steel than run": ({"steel_nm": Nm((SOUND.steel_nm or 0) - MM)}, "steel", "is stated"),
    "no steel": ({"steel_nm": None}, "steel", "is missing"),
    "fewer set-ups than patterns": ({"setups": 1, "setups_lower_bound": 1}, "setups", "1 is stated"),
    "a bound above the steel": ({"lower_bound_nm": Nm((SOUND.steel_nm or 0) + 1)}, "lower_bound", "is above"),
    "a bound below the strips' area": ({"lower_bound_nm": Nm(1)}, "lower_bound", "own area"),
    "optimal without proof": ({"lower_bound_nm": Nm((SOUND.steel_nm or 0) * 99 // 100)}, "status", "optimal is stated"),
    "a bound above the set-ups": ({"setups_lower_bound": 3}, "setups_lower_bound", "is above 2"),
    "no set-up needed": ({"setups_lower_bound": 0}, "setups_lower_bound", "at least 1"),
    "wrong objective": ({"objective_nm": Nm((SOUND.steel_nm or 0) + MM)}, "objective", "is stated"),
    "unknown, yet with a plan": ({"status": "unknown"}, "status", "a plan is given"),
}


def problems(job: SlitJob, result: SlitResult) -> list[tuple[str, str]]:
    return [(fault.path, f"{fault.problem}; {fault.fix}") for fault in check(job, result).faults]


def test_the_plan_to_be_spoiled_is_sound() -> None:
    assert problems(JOB, SOUND) == []
    assert (SOUND.setups, SOUND.status) == (2, "optimal")


@pytest.mark.parametrize("name", SPOILED)
def test_a_spoiled_plan_is_caught_in_the_right_words(name: str) -> None:
    change, path, words = SPOILED[name]
    found = problems(JOB, replace(SOUND, **change))
    assert any(at == path and words in text for at, text in found), found


@pytest.mark.parametrize(
    ("limit", "words"),
    [
        ({"max_patterns": 1}, "2 patterns; at most 1"),
        ({"setup_costs": (0.5,)}, "only 1 set-up costs"),
        ({"max_runs": 10}, "is over its limit"),
        ({"max_runs": (10**9, 1)}, "is over its limit"),
        ({"min_used_nm": Nm(1239 * MM)}, "at least 1239 mm"),
        ({"whole_runs": True, "unit": "in"}, "is not a whole number of parent rolls"),
    ],
)
def test_a_limit_that_the_plan_breaks_is_caught(limit: dict[str, Any], words: str) -> None:
    assert any(words in text for _, text in problems(replace(JOB, **limit), SOUND))
