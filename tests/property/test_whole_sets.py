"""Two hundred random sets of 1 to 12 orders, each planned in little time, proved, and judged by code apart."""

from __future__ import annotations

import pytest

from tests.property.whole_sets import holds


@pytest.mark.parametrize("seed", range(200))
def test_a_set_of_orders_is_planned_and_holds(seed: int) -> None:
    holds(seed)
