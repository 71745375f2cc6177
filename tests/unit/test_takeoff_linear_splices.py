"""Splices: fewest lengths, least cost of stock, clear of joints; checked against all ways over a coarse grid."""

from __future__ import annotations

from fractions import Fraction
from itertools import combinations, pairwise

import pytest

from solver.domain.plant import StockPrice
from solver.takeoff.splices import RunToSplice, best_splices, splice_from
from solver.units import FOOT, INCH, Cents, Nm

STOCK = tuple(StockPrice(length_nm=Nm(feet * FOOT), price_cents=Cents(300 * feet)) for feet in (10, 12, 20))


def run_of(feet: float, *, joints: tuple[int, ...] = (), clear: int = 0, steep: Fraction = Fraction(1)) -> RunToSplice:
    length = round(feet * FOOT)
    return RunToSplice(
        low=0, high=length, first_nm=0, last_nm=length - FOOT, stock=STOCK, steep=steep, joints=joints, clear_nm=clear
    )


def lengths(run: RunToSplice) -> list[float]:
    places = [run.low, *best_splices(run).places, run.high]
    return [(b - a) / FOOT for a, b in pairwise(places)]


@pytest.mark.parametrize(
    ("feet", "expect"),
    [(20, [20]), (24, [12, 12]), (22, [12, 10]), (36, [20, 16]), (40, [20, 20]), (44, [20, 12, 12]), (250, [20] * 12 + [10])],
)
def test_a_run_takes_the_fewest_lengths_and_of_these_the_least_stock(feet: float, expect: list[float]) -> None:
    assert lengths(run_of(feet)) == expect


@pytest.mark.parametrize("feet", [26, 31, 37, 45])
def test_no_splices_on_a_grid_do_better(feet: int) -> None:
    """All splices at whole half feet, kept 12 in from joints every 4 ft: none has fewer lengths, or as few for less."""
    joints = tuple(place * FOOT for place in range(4, feet, 4))
    run = run_of(feet, joints=joints, clear=12 * INCH)
    found = best_splices(run)
    assert not found.too_near

    def cost(places: tuple[int, ...]) -> tuple[int, int] | None:
        parts = [b - a for a, b in pairwise((0, *places, run.high))]
        if max(parts) > 20 * FOOT or any(abs(place - joint) < 12 * INCH for place in places for joint in joints):
            return None
        return len(parts), sum(min(item.price_cents for item in STOCK if item.length_nm >= part) for part in parts)

    grid = [place * FOOT // 2 for place in range(2, 2 * feet - 1)]
    ways = [cost(places) for count in range(4) for places in combinations(grid, count)]
    best = min(way for way in ways if way is not None)
    mine = cost(found.places)
    assert mine is not None and mine <= best


def test_a_splice_that_no_place_is_clear_for_is_told_with_its_distance() -> None:
    joints = tuple(place * FOOT for place in range(1, 30))
    found = best_splices(run_of(30, joints=joints, clear=12 * INCH))
    assert len(found.too_near) == len(found.places) == 1
    assert found.too_near[0] == min(abs(found.places[0] - joint) for joint in joints)


def test_lengths_along_a_slope_are_the_slopes() -> None:
    run = run_of(32, steep=Fraction(5, 4))
    assert [part * 5 / 4 for part in lengths(run)] == [20, 20]


def test_a_run_laid_from_its_other_end_is_the_mirror() -> None:
    run = run_of(36)
    assert [place // FOOT for place in splice_from(run, from_low=False).places] == [16]
