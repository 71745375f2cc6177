"""Trucks filled by ruin and recreate, judged as they are by the check: nothing of them is packed again by other means."""

from __future__ import annotations

from dataclasses import replace

import pytest

from solver.domain.ids import LoadId
from solver.domain.load import LoadJob, LoadResult
from solver.jit import COMPILED
from solver.loading.check import check
from solver.loading.load import load, loads_in_order_of_need
from solver.loading.lowest_load import lowest_lawful_slide
from solver.loading.placed import LoadedTruck
from solver.loading.reassign import TRIALS, reassign_bundles
from solver.search import Search
from tests.generators.loads import random_load

KNOWN = {1: 3, 5: 1, 6: 3, 30: 3, 51: 4, 102: 3, 108: 3, 111: 5, 166: 3}  # fewest trucks that were found

COMPILED_ONLY = pytest.mark.skipif(not COMPILED, reason="in plain Python the search is given too few trials for it")


def result_of(trucks: list[LoadedTruck]) -> LoadResult:
    standing = [lowest_lawful_slide(truck) for truck in trucks]
    assert None not in standing
    made = [item for _, item in loads_in_order_of_need([item for item in standing if item is not None])]
    named = tuple(replace(item, id=LoadId(f"L{place}")) for place, item in enumerate(made))
    cost = sum(truck.deck.cost for truck in trucks)
    return LoadResult(
        status="feasible", loads=named, cost=cost, lower_bound=0.0, seconds=0.0, trucks=len(named), trucks_lower_bound=1
    )


def filled(job: LoadJob, trucks: int) -> list[LoadedTruck] | None:
    backward = sorted(job.bundles, key=lambda bundle: (bundle.stop, bundle.rank), reverse=True)
    return reassign_bundles(backward, [job.decks[1]] * trucks, job.rules, Search(), trials=TRIALS)


@COMPILED_ONLY
@pytest.mark.parametrize("seed", KNOWN)
def test_the_fewest_known_trucks_are_found_again_and_hold(seed: int) -> None:
    job = random_load(seed)
    trucks = filled(job, KNOWN[seed])
    assert trucks is not None
    assert len(trucks) <= KNOWN[seed]
    assert check(job, result_of(trucks)).faults == ()


@pytest.mark.parametrize("seed", range(0, 40, 2))
def test_trucks_unloaded_from_the_rear_alone_hold(seed: int) -> None:
    """The last wanted stand in front; little may stand on anything, so what bundles bear binds too."""
    job = random_load(seed)
    few = job.bundles[:16]
    meek = tuple(replace(item, may_carry_g=item.weight_g * (place % 3)) for place, item in enumerate(few))  # type: ignore[arg-type]
    job = replace(job, bundles=meek, rules=replace(job.rules, unload_from=("rear",)))
    trucks = filled(job, load(job, Search(left_s=lambda: 0.0)).trucks)
    assert trucks is not None
    assert check(job, result_of(trucks)).faults == ()


def test_no_time_gives_no_trucks() -> None:
    job = random_load(5)
    backward = sorted(job.bundles, key=lambda bundle: (bundle.stop, bundle.rank), reverse=True)
    assert reassign_bundles(backward, [job.decks[1]], job.rules, Search(left_s=lambda: 0.0), trials=TRIALS) is None
