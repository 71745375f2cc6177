"""Whatever is sent as an order, the answer is a building or faults, never a crash."""

from __future__ import annotations

import random
from copy import deepcopy
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from solver.domain.building import Building
from solver.errors import InputError
from solver.reading.read_order import read_order
from tests.orders import DEMOS, demo, plant

JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=12), inner, max_size=4),
    max_leaves=20,
)
WORDS: list[Any] = [
    None, True, 0, -1, 1, 1.5, 10**30, -(10**12), float("nan"), float("inf"), "", "x", "roof", "9'", "-3 ft", "1/0 in", "8/12",
    "90 deg", "0 deg", "S", "L1", "L1.S", "R.S", "a", [], {}, [0], [[0, 0]], [[0, 0], [0, 0]], {"kind": "gable"},
    {"outline": [[0, 1], [1, 2]]}, {"kind": "lapped", "through": "S"},
]  # fmt: skip


def answer(data: Any) -> Building | InputError:
    try:
        return read_order(data, plant())
    except InputError as error:
        assert error.faults
        assert all(fault.path and fault.problem and fault.fix for fault in error.faults)
        return error


@settings(max_examples=200, deadline=None)
@given(JSON)
def test_any_json_value_gets_an_answer(data: Any) -> None:
    assert isinstance(answer(data), InputError)


def word(chance: random.Random) -> Any:
    """Return a word of its own: one that is put into itself later would have no end, in this order and in all that follow."""
    return deepcopy(chance.choice(WORDS))


def places(value: Any, found: list[tuple[Any, Any]]) -> list[tuple[Any, Any]]:
    keys = value.keys() if isinstance(value, dict) else range(len(value)) if isinstance(value, list) else ()
    for key in keys:
        found.append((value, key))
        places(value[key], found)
    return found


@settings(max_examples=400, deadline=None)
@given(st.sampled_from(DEMOS), st.integers(0, 2**32))
def test_a_spoiled_demo_order_gets_an_answer(name: str, seed: int) -> None:
    chance = random.Random(seed)
    order = demo(name)
    for _ in range(chance.randint(1, 4)):
        found = places(order, [])
        holder, key = chance.choice(found)
        act = chance.random()
        if act < 0.6:
            holder[key] = word(chance)
        elif act < 0.8:
            other, other_key = chance.choice(found)
            holder[key] = other[other_key] if not isinstance(other[other_key], dict | list) else word(chance)
        elif isinstance(holder, dict):
            del holder[key]
        else:
            holder.append(word(chance))
    assert answer(order) is not None
