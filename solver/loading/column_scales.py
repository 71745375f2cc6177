"""A scale over what can stand on what: shares of a deck's height that no column of bundles can sum to more than 1."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from solver.domain.load import LoadBundle, LoadRules
from solver.loading.placed import may_carry_g, timber_middles
from solver.search import Search

CHAINS = 30_000  # columns looked at; beyond, no such scale is made
ROWS = 400  # columns that a linear program takes in one round
ROUNDS = 10
SCALE = 1_000_000


class TooManyColumns(Exception):
    """More columns than are looked at."""


def _may_stand(bundles: Sequence[LoadBundle], rules: LoadRules) -> list[list[int]]:
    """Return for each bundle those that may stand right on it; bundles in order of need, the earlier above."""
    spans = [timber_middles(bundle, rules) for bundle in bundles]
    carries = [may_carry_g(bundle, rules) for bundle in bundles]
    side = 2 * rules.side_overhang_nm
    return [
        [
            upper
            for upper in range(lower)
            if bundles[upper].weight_g <= carries[lower]
            and spans[upper][-1] - spans[upper][0] <= bundle.length_nm
            and bundles[upper].width_nm <= bundle.width_nm + side
        ]
        for lower, bundle in enumerate(bundles)
    ]


def bundle_columns(bundles: Sequence[LoadBundle], rules: LoadRules, room_nm: int, search: Search) -> list[tuple[int, ...]]:
    """Return every column, bottom first, that height and what bundles carry allow; raises TooMany, when time is over too."""
    above = _may_stand(bundles, rules)
    carries = [may_carry_g(bundle, rules) for bundle in bundles]
    made: list[tuple[int, ...]] = []

    def grow(chain: tuple[int, ...], left_nm: int, spare_g: int) -> None:
        grown = False
        for upper in above[chain[-1]]:
            bundle = bundles[upper]
            if bundle.height_nm <= left_nm and bundle.weight_g <= spare_g:
                grown = True
                grow((*chain, upper), left_nm - bundle.height_nm, min(spare_g - bundle.weight_g, carries[upper]))
        if not grown:
            made.append(chain)
            if len(made) > CHAINS or (len(made) % 1000 == 0 and search.over()):
                raise TooManyColumns

    for place, bundle in enumerate(bundles):
        if bundle.height_nm <= room_nm:
            grow((place,), room_nm - bundle.height_nm, carries[place])
    return made


def column_scale(worth: Sequence[Fraction], chains: Sequence[tuple[int, ...]]) -> list[Fraction]:
    """Return the scale of about the largest worth: shares that sum to at most 1 over every column.

    A linear program over columns, the broken ones added round by round; the float answer is cut to whole millionths and
    divided by the most that any column makes of it, so it is a scale whatever the solver said.
    """
    from ortools.linear_solver import pywraplp

    solver = pywraplp.Solver.CreateSolver("GLOP")
    shares = [solver.NumVar(0, 1, "") for _ in worth]
    solver.Maximize(sum(float(value) * share for value, share in zip(worth, shares, strict=True)))
    values = [1.0] * len(worth)
    for _ in range(ROUNDS):
        broken = sorted(_broken(values, chains), reverse=True)[:ROWS]
        if not broken:
            break
        for _, chain in broken:
            solver.Add(sum(shares[place] for place in chain) <= 1)
        if solver.Solve() != pywraplp.Solver.OPTIMAL:
            break
        values = [share.solution_value() for share in shares]
    whole = [max(0, int(value * SCALE + 0.5)) for value in values]
    most = max(SCALE, *(sum(whole[place] for place in chain) for chain in chains))
    return [Fraction(share, most) for share in whole]


def _broken(values: Sequence[float], chains: Sequence[tuple[int, ...]]) -> Iterator[tuple[float, tuple[int, ...]]]:
    for chain in chains:
        total = sum(values[place] for place in chain)
        if total > 1 + 1e-7:
            yield total, chain
