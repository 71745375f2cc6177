"""Several stock lengths at unequal prices: as cheap as a model of all patterns, and no bound above it."""

from __future__ import annotations

import itertools
import json
import random

import pytest

from solver.codec import decode
from solver.domain.cut_plan import NestJob
from solver.nesting.angled import AngledSearch
from solver.nesting.bars import total_cost
from solver.nesting.bounds import area_bound
from solver.nesting.check import check
from solver.nesting.columns import Relaxation
from solver.nesting.greedy import first_fit_decreasing
from solver.nesting.incumbent import Incumbent
from solver.nesting.mix_search import MixProgram, MixSearch, integer_mix_cut
from solver.nesting.mixes import Excess, Mixes
from solver.nesting.model import build_model
from solver.nesting.nest import nest
from solver.nesting.scaled_job import scale_job
from solver.search import Search
from tests.generators.nesting import few_of_several, several_lengths
from tests.nesting_brute import best_cost, looks
from tests.nesting_models import all_patterns_cbc, all_patterns_highs, arc_flow_highs
from tests.shared import shared_path

Mix = tuple[int, ...]


def job_of(seed: int) -> NestJob:
    return decode(NestJob, few_of_several(seed), name="$")


@pytest.mark.parametrize("seed", range(40))
def test_a_small_job_costs_what_a_model_of_all_patterns_says(seed: int) -> None:
    job = job_of(seed)
    best = all_patterns_cbc(job, 60.0)
    assert best.proved and best.cost is not None
    result = nest(job, Search(seed=seed))
    assert check(job, result).faults == ()
    assert result.cost is not None
    assert result.lower_bound <= best.cost * (1 + 1e-9) <= result.cost * (1 + 2e-9)
    assert result.cost == pytest.approx(best.cost, rel=1e-9)
    assert result.status == "optimal"


@pytest.mark.parametrize("count", (2, 5, 10, 20, 40, 80, 160))
@pytest.mark.parametrize("seed", (0, 3, 4, 7, 11, 16))
def test_a_search_that_ends_anywhere_states_no_bound_above_the_best(seed: int, count: int) -> None:
    job = job_of(seed)
    result = nest(job, looks(count))
    assert check(job, result).faults == ()
    best = all_patterns_cbc(job, 60.0).cost
    assert best is not None and result.cost is not None
    assert result.lower_bound <= best * (1 + 1e-9) <= result.cost * (1 + 2e-9)


@pytest.mark.parametrize("seed", range(24))
def test_a_clamp_and_short_limited_stock_are_weighed_as_by_trying_everything(seed: int) -> None:
    """Few pieces, some of which the clamp can not hold, and stock that holds only some of them."""
    data = few_of_several(seed)
    data["pieces"] = [{**piece, "count": min(piece["count"], 2)} for piece in data["pieces"][:3]]
    data["clamp"] = 900
    data["stock"][-1]["length"] += 900
    job = decode(NestJob, data, name="$")
    best = best_cost(build_model(job))
    assert best is not None
    result = nest(job, Search(seed=seed))
    assert check(job, result).faults == ()
    assert result.cost == pytest.approx(float(best), rel=1e-9)
    assert result.status == "optimal"


def test_nine_kinds_from_three_stocks_cost_159385() -> None:
    """A job of unequal prices whose linear bound, 158,073, is far below what whole bars can do."""
    data = json.loads(shared_path("repro/nest-three-stocks.json").read_text(encoding="utf-8"))
    job = decode(NestJob, data, name="$")
    result = nest(job, Search())
    assert check(job, result).faults == ()
    assert (result.status, result.cost, result.lower_bound) == ("optimal", 159_385, 159_385)


@pytest.mark.parametrize(("seed", "cost"), ((11, 327_319), (13, 264_882), (24, 260_238)))
def test_a_random_job_costs_what_cbc_proves(seed: int, cost: int) -> None:
    """Seven to ten kinds, four and five stock lengths, some limited."""
    job = decode(NestJob, several_lengths(seed), name="$")
    best = all_patterns_cbc(job, 60.0)
    assert (best.cost, best.proved) == (cost, True)
    result = nest(job, Search())
    assert check(job, result).faults == ()
    assert (result.status, result.cost) == ("optimal", cost)


def test_a_program_over_all_bars_within_the_gap_ends_at_the_best_and_not_before() -> None:
    """Given the best plan so far to begin with, HiGHS called that optimal (360,191.48): arc flow proves a cheaper one."""
    job = decode(NestJob, several_lengths(170), name="$")
    best = arc_flow_highs(job, 120.0)
    assert best.proved and best.cost is not None and best.cost == pytest.approx(359_910.3176571429, rel=1e-9)
    result = nest(job, Search())
    assert check(job, result).faults == ()
    assert result.cost == pytest.approx(best.cost, rel=1e-9)
    assert result.lower_bound <= best.cost * (1 + 1e-9)


@pytest.mark.parametrize("seed", (3, 15, 25))
def test_the_three_models_agree(seed: int) -> None:
    job = decode(NestJob, several_lengths(seed), name="$")
    costs = [model(job, 60.0).cost for model in (all_patterns_cbc, all_patterns_highs, arc_flow_highs)]
    assert costs == pytest.approx([costs[0]] * 3, rel=1e-9)


@pytest.mark.parametrize("seed", range(12))
def test_mixes_are_those_that_trying_all_leaves(seed: int) -> None:
    """Cuts, refusals and mixes put aside, on all mixes below a cost, each judged by itself."""
    dice = random.Random(seed)
    stocks = dice.randint(1, 4)
    costs = [dice.randint(3, 9) for _ in range(stocks)]
    counts = [dice.choice((None, None, 3)) for _ in range(stocks)]
    below, least = 40, 22
    left = {
        mix: sum(bars * cost for bars, cost in zip(mix, costs, strict=True))
        for mix in itertools.product(*(range(14 if count is None else count + 1) for count in counts))
    }
    left = {mix: cost for mix, cost in left.items() if least <= cost < below}
    mixes = Mixes(costs, counts, least=least, below=below, excess=Excess((0,) * stocks, 0))
    assert mixes.complete
    aside: dict[Mix, int] = {}
    while (first := mixes.cheapest()) is not None:
        cost, mix = first
        assert cost == min(left.values()) == left[mix]
        assert mixes.bound() == min([cost, *aside.values()])
        turn = dice.random()
        if turn < 0.4:
            rents = [dice.randint(0, 4) for _ in range(stocks)]
            need = sum(rent * bars for rent, bars in zip(rents, mix, strict=True)) + 1
            mixes.add_cut(rents, need)
            left = {m: c for m, c in left.items() if sum(r * bars for r, bars in zip(rents, m, strict=True)) >= need}
        elif turn < 0.8:
            mixes.exclude(mix)
            left = {m: c for m, c in left.items() if any(one > most for one, most in zip(m, mix, strict=True))}
            aside = {m: c for m, c in aside.items() if any(one > most for one, most in zip(m, mix, strict=True))}
        else:
            mixes.set_aside(mix, cost)
            aside[mix] = left.pop(mix)
    assert not left
    assert mixes.undecided == aside


def test_mixes_that_cannot_afford_their_stock_are_not_listed() -> None:
    """Stock 1 costs 2 more than a bar of it can be worth and a plan can afford 5 of that: at most two such bars."""
    mixes = Mixes([5, 9], [None, None], least=60, below=63, excess=Excess((0, 2), 5))
    found = set()
    while (first := mixes.cheapest()) is not None:
        found.add(first[1])
        mixes.set_aside(first[1], first[0])
    assert {mix[1] for mix in found} <= {0, 1, 2}
    assert found == {(12, 0), (11, 1), (9, 2)} - {m for m in {(12, 0), (11, 1), (9, 2)} if not 60 <= 5 * m[0] + 9 * m[1] < 63}


@pytest.mark.parametrize("seed", range(20))
def test_no_cut_on_mixes_rules_out_a_plan(seed: int) -> None:
    """The mix of the best plan, by CBC over all patterns, meets every cut that the prices of other mixes give."""
    data = few_of_several(seed)
    for name in ("keep_from", "keep_value"):
        data.pop(name, None)
    job = decode(NestJob, data, name="$")
    model = build_model(job)
    best = Incumbent(model, first_fit_decreasing(model), area_bound(model))
    relaxed = Relaxation(scale_job(model), Search(), best.cost_steps)
    relaxed.offer(relaxed.core.pattern(cut.stock, _counts(cut.slots)) for cut in best.cuts or ())
    for kind, size in enumerate(relaxed.core.sizes):
        relaxed.offer(relaxed.core.pattern(n, ((kind, 1),)) for n, room in enumerate(relaxed.core.rooms) if size <= room)
    relaxed.run()
    result = nest(job, Search())
    assert result.cost == pytest.approx(all_patterns_cbc(job, 60.0).cost, rel=1e-9)
    lengths = {stock.id: stock.length_nm for stock in job.stock}
    used = [sum(bar.repeat for bar in result.bars if lengths[bar.stock] == stock.length_nm) for stock in model.stocks]
    program, dice = MixProgram(relaxed), random.Random(seed)
    for _ in range(6):
        worths = program.price(tuple(max(0, bars + dice.randint(-3, 1)) for bars in used))
        for scale in (1.0 * (1 << 40), 60.0, 100.0, 7.0):
            cut = integer_mix_cut(relaxed, worths, scale)
            assert cut.slack(used) >= 0


def _counts(slots: tuple[tuple[int, int], ...]) -> tuple[tuple[int, int], ...]:
    return tuple((kind, sum(1 for slot in slots if slot[0] == kind)) for kind in sorted({slot[0] for slot in slots}))


@pytest.mark.parametrize("seed", (110, 112, 121))
def test_a_mix_that_no_program_decides_keeps_the_bound_down(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where programs end without an answer mixes are put aside: the bound stays at the cheapest of them, here the best."""
    monkeypatch.setattr(MixSearch, "_decide", lambda self, mixes, cost, mix, cut, seconds: mixes.set_aside(mix, cost))
    monkeypatch.setattr("solver.nesting.square._choose", lambda relaxed, best, seconds: None)
    job = job_of(seed)
    result, best = nest(job, looks(150)), all_patterns_cbc(job, 60.0).cost
    assert best is not None and result.cost is not None
    assert result.status == "feasible"
    assert result.lower_bound == pytest.approx(best, rel=1e-9)
    assert result.cost > best


@pytest.mark.parametrize(("seed", "most"), ((110, 3), (112, 3), (121, 3), (121, 10)))
def test_a_mix_decided_over_some_of_its_patterns_rules_nothing_out(
    seed: int, most: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Few patterns for each mix: its program may have no plan, which says nothing of the mix."""
    monkeypatch.setattr("solver.nesting.mix_search.MOST_USABLE", (most,))
    monkeypatch.setattr("solver.nesting.square._choose", lambda relaxed, best, seconds: None)
    job = job_of(seed)
    result, best = nest(job, looks(150)), all_patterns_cbc(job, 60.0).cost
    assert best is not None
    assert result.lower_bound <= best * (1 + 1e-9)


CREDIT = [seed for seed in range(80) if "keep_from" in few_of_several(seed)][:12]


@pytest.mark.parametrize("seed", CREDIT)
def test_a_choice_over_all_bars_within_the_gap_proves_a_job_with_credit(seed: int) -> None:
    """From a first plan alone, no dive before: the one program finds and proves what CBC finds over all patterns."""
    job = job_of(seed)
    model, best = build_model(job), all_patterns_cbc(job, 60.0).cost
    angled = AngledSearch(model, first_fit_decreasing(model), Search())
    angled.start_master()
    angled.generate_columns(0.0)
    angled._choose(60.0)
    assert best is not None and angled.cost is not None
    assert float(angled.cost) == pytest.approx(best, rel=1e-6)
    assert float(angled.bound) <= best * (1 + 1e-9)


def test_some_jobs_with_credit_are_better_than_their_first_plan() -> None:
    """So that the test above has something to find."""
    models = [build_model(job_of(seed)) for seed in CREDIT]
    plans = [(model, first_fit_decreasing(model)) for model in models]
    poor = [
        float(total_cost(model, plan)) > (all_patterns_cbc(job_of(seed), 60.0).cost or 0.0) * (1 + 1e-6)
        for seed, (model, plan) in zip(CREDIT, plans, strict=True)
        if plan is not None
    ]
    assert sum(poor) >= 3
