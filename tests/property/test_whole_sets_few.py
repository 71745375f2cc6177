"""A few sets of orders beyond the two hundred of the slow suite: planned, proved, and judged by code apart."""

from __future__ import annotations

import pytest

from tests.property.whole_sets import holds


@pytest.mark.parametrize("seed", range(1000, 1006))
def test_a_set_of_orders_is_planned_and_holds(seed: int) -> None:
    holds(seed)
