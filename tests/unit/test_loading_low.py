"""Of the fewest trucks those that stand lowest: fewest tiers, lowest top, lowest centre of mass, then straps, then deck.

The order is the planner's own rule (lower loads are kinder to foam, straps, wind and the man on the deck; common practice, no
source). Expected heights are worked out by hand beside each case.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from solver.domain.load import LoadResult
from solver.units import FOOT, INCH, Nm
from tests.generators.loads import flatbed
from tests.unit.test_loading_load import DECK, RIGID, TRAILER, bundle, loaded

LONG = flatbed(53, cost=112.0)


def tops(result: LoadResult) -> list[float]:
    return [item.height_nm / INCH for item in result.loads]


def test_what_fits_side_by_side_is_not_stacked() -> None:
    """Four bundles of 20 ft in two lanes of a 48 ft deck: 60 in of deck and 40 in of bundle, the centre half way up it."""
    result = loaded(*(bundle(number) for number in range(4)))
    assert [item.tiers for item in result.loads] == [1]
    assert tops(result) == [100.0]
    assert result.loads[0].centre_up_nm == 80 * INCH


def test_six_low_and_two_high_stand_two_high_with_the_high_ones_on_the_deck() -> None:
    """Two lanes of 48 ft hold four bundles of 20 ft: two of 40 in with 20 in on them, two pairs of 20 in.

    Centres above the deck, bundles of one weight: 20, 50, 20, 50, 10, 30, 10, 30 in, 27.5 in the middle.
    """
    sizes = [20, 20, 20, 20, 20, 20, 40, 40]
    result = loaded(*(bundle(number, height=size) for number, size in enumerate(sizes)))
    assert [item.tiers for item in result.loads] == [2]
    assert tops(result) == [60.0 + 60.0]
    assert result.loads[0].centre_up_nm == (60 + 27.5) * INCH


def test_a_longer_deck_is_taken_where_the_load_stands_lower_on_it() -> None:
    """Five bundles of 17 ft 6 in fit three a lane on 53 ft, two on 48 ft: one tier against two."""
    bundles = [bundle(number, 210) for number in range(5)]
    assert [item.deck for item in loaded(*bundles, decks=(DECK, LONG)).loads] == ["flatbed-53"]
    assert loaded(*bundles, decks=(DECK,)).loads[0].tiers == 2


def test_of_decks_on_which_it_stands_alike_the_cheapest_is_taken() -> None:
    result = loaded(*(bundle(number) for number in range(4)), decks=(LONG, DECK))
    assert [item.deck for item in result.loads] == ["flatbed-48"]


def test_a_low_deck_is_taken_for_the_one_load_that_it_holds() -> None:
    result = loaded(bundle(0, 180), decks=(DECK, RIGID, TRAILER))
    assert tops(result) == [40.0 + 40.0]


@pytest.mark.parametrize("count", [5, 6, 7, 8])
def test_two_trucks_share_so_that_neither_stands_high(count: int) -> None:
    """One lane each: bundles of 23 ft and 98 in wide, 50 in high, two a tier; two trucks of two tiers at most, in order."""
    result = loaded(*(bundle(number, 276, 98, 50) for number in range(count)))
    assert result.trucks == 2
    assert [item.out_of_order for item in result.loads] == [(), ()]
    assert max(item.tiers for item in result.loads) == 2
    assert abs(len(result.loads[0].placed) - len(result.loads[1].placed)) <= 2


def test_the_first_truck_carries_what_is_wanted_first() -> None:
    result = loaded(*(bundle(number, 276, 98, 60) for number in range(6)))
    carried = [sorted(int(placed.bundle[1:]) for placed in item.placed) for item in result.loads]
    assert carried == [[0, 1], [2, 3], [4, 5]]


def test_what_cannot_be_in_order_on_so_few_trucks_is_named() -> None:
    """Long and short by turns: 40 ft and 8 ft fill a 48 ft deck; in runs of the order of need three trucks are wanted."""
    sizes = [480, 480, 96, 96]
    wide = [replace(bundle(number, size, 98, 90), may_carry_g=None) for number, size in enumerate(sizes)]
    result = loaded(*wide, decks=(replace(DECK, length_nm=Nm(48 * FOOT)),))
    assert result.trucks == 2
    assert [len(item.out_of_order) for item in result.loads] == [0, 1]
