"""Bounds of bundles, cut orders, loads and timetables verified: nothing false is carried, and a forged bound is noticed."""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import permutations

import pytest

from service.usecases.make.stages import countdown
from solver.bundling.check_bound import least_bundles
from solver.bundling.check_bound import verify_bounds as confirm_stack
from solver.bundling.stack import stack
from solver.codec import decode, encode
from solver.domain.certificate import Certificate
from solver.domain.sequence import BarBundles, SequenceJob, SequenceResult
from solver.domain.skin_plan import SkinJob
from solver.domain.timetable import ScheduleJob
from solver.errors import NoPlan
from solver.loading.check_again import verify_by_other_solver as load_again
from solver.loading.check_bound import verify_bounds as confirm_load
from solver.loading.load import load
from solver.scheduling.check_again import verify_by_other_solver as schedule_again
from solver.scheduling.check_bound import verify_bounds as confirm_schedule
from solver.scheduling.schedule import schedule
from solver.search import Search
from solver.sequencing.check_again import verify_by_other_solver as sequence_again
from solver.sequencing.check_bound import minor_bound
from solver.sequencing.check_bound import verify_bounds as confirm_sequence
from solver.sequencing.sequence import most_open_bundles, sequence
from solver.skins.check_bound import verify_bounds as confirm_skins
from solver.skins.skins import plan_skins
from tests.generators.loads import random_load
from tests.generators.skins import small_job as small_skins
from tests.generators.stacks import small_job

SOON = Search(left_s=lambda: 10.0)


def _bars(seed: int) -> SequenceJob:
    dice = random.Random(seed)
    names = "ABCDEFG"[: dice.randrange(2, 8)]
    bars = [tuple(sorted(dice.sample(names, dice.randrange(1, min(4, len(names)) + 1)))) for _ in range(dice.randrange(1, 7))]
    return SequenceJob(bars=tuple(BarBundles(id=f"b{n}", bundles=mine) for n, mine in enumerate(bars)))


def _fewest_open(job: SequenceJob) -> int:
    return min(most_open_bundles(order) for order in permutations(job.bars))


@pytest.mark.parametrize("seed", range(40))
def test_open_bundles_are_confirmed_or_proved_again_and_one_more_is_refuted(seed: int) -> None:
    job = _bars(seed)
    result = decode(SequenceResult, encode(sequence(job, Search())), name="$")
    best = _fewest_open(job)
    assert result.lower_bound == best
    assert result.certificate is not None
    (told,) = confirm_sequence(job, result)
    (again,) = sequence_again(job, result, (told,), SOON)
    assert again.state in ("confirmed", "again") and told.state != "refuted"
    forged = replace(result, lower_bound=best + 1)
    (noticed,) = confirm_sequence(job, forged)
    assert noticed.state == ("unconfirmed" if result.certificate.kind == "search" else "refuted")
    without = confirm_sequence(job, replace(forged, certificate=None))
    assert sequence_again(job, forged, without, SOON)[0].state == "refuted"


@pytest.mark.parametrize("seed", range(40))
def test_whatever_steps_are_stated_they_prove_no_more_than_the_fewest_open(seed: int) -> None:
    job, dice = _bars(seed), random.Random(seed)
    names = sorted({name for bar in job.bars for name in bar.bundles})
    for _ in range(20):
        steps = [(names[0], names[0])] + [(dice.choice(names), dice.choice(names)) for _ in range(6)]
        assert minor_bound(job, steps) <= _fewest_open(job)


def test_a_grid_of_bundles_has_more_open_than_any_bar_and_its_minor_shows_it() -> None:
    """A 4 x 4 grid has treewidth 4 (known of grids), so 5 bundles are open though no bar has more than 2."""
    cells = [(x, y) for x in range(4) for y in range(4)]
    pairs = [(a, b) for a in cells for b in cells if a < b and abs(a[0] - b[0]) + abs(a[1] - b[1]) == 1]
    job = SequenceJob(bars=tuple(BarBundles(id=f"{a}{b}", bundles=(str(a), str(b))) for a, b in pairs))
    result = sequence(job, SOON)
    assert result.certificate is not None and result.certificate.steps
    (told,) = confirm_sequence(job, result)
    assert told.proved is not None and 3 <= told.proved <= result.lower_bound == 5


@pytest.mark.parametrize("seed", range(60))
def test_bundles_are_never_fewer_than_counted_and_a_forged_bound_is_not_confirmed(seed: int) -> None:
    for aside in (0, 1):
        job = small_job(seed, set_aside=aside)
        try:
            result = stack(job, Search())
        except NoPlan:
            continue
        assert least_bundles(job) <= len(result.bundles)
        (told,) = confirm_stack(job, result)
        assert told.state in ("confirmed", "unconfirmed")
        forged = replace(result, lower_bound=len(result.bundles) + 1)
        assert confirm_stack(job, forged)[0].state == "unconfirmed"
        assert confirm_stack(job, replace(forged, certificate=Certificate(kind="runs")))[0].state == "refuted"


@pytest.mark.parametrize("seed", range(20))
def test_trucks_are_never_fewer_than_counted_and_a_forged_bound_is_not_confirmed(seed: int) -> None:
    job = random_load(seed)
    result = load(job, Search(left_s=lambda: 0.0))
    trucks, cost = confirm_load(job, result)
    assert trucks.proved is not None and trucks.proved <= result.trucks
    assert cost.proved is not None and cost.proved <= (result.cost or 0.0) + 1e-9
    assert trucks.state != "refuted"
    more = replace(result, trucks_lower_bound=result.trucks + 1, certificate=Certificate(kind="search"))
    told = confirm_load(job, more)
    assert told[0].state == "unconfirmed"
    again = load_again(job, more, told, Search(left_s=lambda: 0.5))
    assert again[0].state == "out_of_time"


def _work(seed: int, objective: str) -> ScheduleJob:
    dice = random.Random(seed)
    machines = [{"id": f"m{n}", "closed": [[4, 6]] if dice.random() < 0.3 else []} for n in range(2)]
    jobs = []
    for n in range(dice.randrange(1, 5)):
        on = [dice.sample(["m0", "m1"], dice.randrange(1, 3)) for _ in range(dice.randrange(1, 3))]
        steps = [{"on": {name: dice.randrange(1, 4) for name in some}, "hold": dice.randrange(2)} for some in on]
        jobs.append({"id": f"j{n}", "release": dice.randrange(4), "due": dice.randrange(9), "operations": steps})
    return decode(ScheduleJob, {"objective": objective, "machines": machines, "jobs": jobs}, name="$")


@pytest.mark.parametrize("objective", ["makespan", "weighted_tardiness"])
@pytest.mark.parametrize("seed", range(15))
def test_timetables_are_never_below_what_is_counted_and_bounds_are_proved_again(seed: int, objective: str) -> None:
    job = _work(seed, objective)
    result = schedule(job, SOON)
    assert result.status == "optimal" and result.objective is not None
    (told,) = confirm_schedule(job, result)
    assert told.state != "refuted" and told.proved is not None and told.proved <= result.objective
    (again,) = schedule_again(job, result, (told,), SOON)
    shut = any(machine.closed for machine in job.machines)
    assert again.state in ("confirmed", "again") or (shut and again.state == "unconfirmed")
    forged = replace(result, lower_bound=result.objective + 1, certificate=None)
    (noticed,) = schedule_again(job, forged, confirm_schedule(job, forged), SOON)
    assert noticed.state == "refuted" or (shut and noticed.state == "unconfirmed")


@pytest.mark.parametrize("seed", range(6))
def test_skins_never_cost_less_than_lengths_say_and_a_forged_bound_is_not_confirmed(seed: int) -> None:
    job = decode(SkinJob, small_skins(seed), name="$")
    try:
        result = plan_skins(job, Search(left_s=countdown(0.5)))
    except NoPlan:
        return
    (told,) = confirm_skins(job, result)
    assert told.proved is not None and result.cost is not None and told.proved <= result.cost * (1 + 1e-9)
    assert told.state in ("confirmed", "unconfirmed")
    (noticed,) = confirm_skins(job, replace(result, lower_bound=result.cost * 3 + 1))
    assert noticed.state == "unconfirmed"
