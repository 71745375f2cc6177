"""Each bound, table, walk and decision of nesting by itself, against trying everything: none may rule out the best."""

from __future__ import annotations

import itertools
import random
from fractions import Fraction
from operator import mul

import numpy as np
import pytest

from solver.codec import decode
from solver.domain.cut_plan import NestJob
from solver.nesting import angled as angled_search
from solver.nesting import square as square_search
from solver.nesting.angled import AngledSearch, Pricer
from solver.nesting.bars import KindAndShape, doubled_extent, pieces_fit
from solver.nesting.bounds import CostSteps, area_bound, dual_bound
from solver.nesting.check import check
from solver.nesting.columns import Relaxation
from solver.nesting.greedy import first_fit_decreasing
from solver.nesting.incumbent import Incumbent
from solver.nesting.joins import Joins
from solver.nesting.knapsack import KnapsackTables
from solver.nesting.model import NestingModel, build_model
from solver.nesting.nest import nest
from solver.nesting.pattern_enumeration import patterns_within_gap
from solver.nesting.programs import IntegerSolution
from solver.nesting.scaled_job import scale_job
from solver.search import Search
from tests.generators.nesting import odd, plant_like
from tests.nesting_brute import SMALL, best_cost, looks


def tight(count: int, kerf: float) -> NestingModel:
    """So many pieces that fill one bar to the last, kerfs counted."""
    length = (6000 - (count - 1) * kerf) / count
    pieces = [{"id": "A", "length": length, "count": count}]
    return build_model(
        decode(NestJob, {"unit": "mm", "kerf": kerf, "stock": [{"id": "S", "length": 6000}], "pieces": pieces}, name="$")
    )


@pytest.mark.parametrize(("count", "kerf"), [(1, 3.2), (2, 3.2), (3, 6), (10, 60)])
def test_the_bound_by_lengths_is_one_bar_where_a_bar_is_full(count: int, kerf: float) -> None:
    model = tight(count, kerf)
    assert area_bound(model) == model.stocks[0].cost


@pytest.mark.parametrize("seed", SMALL)
def test_quick_bounds_and_any_prices_stay_below_the_best(seed: int) -> None:
    """Whatever worths and rents: what they prove is never above the least cost, limited stock and credit included."""
    model = build_model(decode(NestJob, odd(seed), name="$"))
    best = best_cost(model)
    if best is None:
        return
    assert area_bound(model) <= best
    core = scale_job(model)
    dice = random.Random(seed)
    dear = max(float(stock.cost) for stock in model.stocks)
    for _ in range(20):
        share = dice.choice((0.3, 1, 3)) * dear / max(core.rooms)
        worths = [size * share * dice.random() for size in core.sizes]
        rents = [0.3 * dear * dice.random() for _ in model.stocks]
        assert dual_bound(KnapsackTables(core, low=True, whole=True), worths, rents).bound <= best


def test_bounds_rise_to_what_whole_bars_can_cost_and_no_further() -> None:
    for costs in ((2, 3), (6, 10, 15), (7,), (0.5, 0.75)):
        stock = [{"id": f"S{n}", "length": 100 + n, "cost": cost} for n, cost in enumerate(costs)]
        job = {"unit": "mm", "stock": stock, "pieces": [{"id": "A", "length": 10, "count": 5}]}
        ladder = CostSteps(build_model(decode(NestJob, job, name="$")))
        reach = {Fraction(0)}
        for _ in range(60):
            reach |= {have + Fraction(str(cost)) for have in reach for cost in costs if have + Fraction(str(cost)) <= 60}
        for at in range(45 * 8):
            bound = Fraction(at, 8)
            assert ladder.round_up(bound) == min(cost for cost in reach if cost >= bound)
            assert ladder.step_above(bound) == min(cost for cost in reach if cost > bound)
            assert ladder.step_below(bound) < bound or bound == 0
            assert ladder.step_below(bound) >= max((cost for cost in reach if cost < bound), default=Fraction(-10))


@pytest.mark.parametrize("nodes", (3, 40, 10**6))
@pytest.mark.parametrize("seed", SMALL[:12])
def test_any_prices_prove_no_more_than_the_best_however_short_the_walk(
    seed: int, nodes: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Prices far too high, walks cut short: the bound with sloped ends, clamp and credit stays at or below the best."""
    assert Pricer.find_patterns.__kwdefaults__ is not None
    monkeypatch.setitem(Pricer.find_patterns.__kwdefaults__, "nodes", nodes)
    monkeypatch.setattr(angled_search, "LEAST_QUOTA", 1)
    model = build_model(decode(NestJob, odd(seed), name="$"))
    best = best_cost(model)
    if best is None:
        return
    dice = np.random.default_rng(seed)
    for share in (0.2, 0.6, 1.0, 2.0):
        angled = AngledSearch(model, first_fit_decreasing(model), Search())
        angled.start_master()
        angled._prove(share * (0.5 + dice.random(len(model.kinds))), 0.2 * dice.random(len(model.stocks)))
        assert angled.bound <= best


def test_time_that_ends_before_disturbed_prices_are_looked_at_changes_nothing() -> None:
    model = build_model(decode(NestJob, odd(SMALL[0]), name="$"))
    angled = AngledSearch(model, first_fit_decreasing(model), Search())
    angled.start_master()
    before = angled.bound, angled.cost
    angled.search = Search(left_s=lambda: 0.0)
    angled._central()
    assert (angled.bound, angled.cost) == before


@pytest.mark.parametrize("seed", SMALL)
def test_what_is_decided_never_rules_out_the_best(seed: int) -> None:
    """As if the plan were poor, by a little or by much: whatever the decision over all bars says, the best stays possible."""
    model = build_model(decode(NestJob, odd(seed), name="$"))
    best = best_cost(model)
    if best is None:
        return
    for more in (Fraction(1), best / 50, best / 5, best):
        angled = AngledSearch(model, None, Search())
        angled.cuts, angled.cost = first_fit_decreasing(model), best + more
        angled.start_master()
        angled.generate_columns(0.0)
        if angled.proof is not None:
            angled._decide(5.0)
        assert angled.bound <= best


@pytest.mark.parametrize("seed", range(5))
def test_lengths_without_a_common_measure_never_overfill_a_bar(seed: int) -> None:
    """Whole nanometres with nothing in common, many kinds, bars filled to the last: sizes in steps are never too small."""
    dice = random.Random(seed)
    lengths = [300 + 1700 * dice.random() for _ in range(14)]
    whole = sum(lengths[:5])  # these fill a bar exactly
    pieces = [{"id": f"P{n}", "length": round(length, 6), "count": dice.randint(1, 5)} for n, length in enumerate(lengths)]
    stock = [{"id": "S", "length": round(whole - 0.000_002, 6)}, {"id": "T", "length": 6000.000_001}]
    job = decode(NestJob, {"unit": "mm", "stock": stock, "pieces": pieces}, name="$")
    assert not scale_job(build_model(job)).exact
    result = nest(job, looks(60))
    assert check(job, result).faults == ()


@pytest.mark.parametrize("seed", range(30))
def test_ideal_sizes_of_whatever_fits_sum_to_no_more_than_the_room(seed: int) -> None:
    """Pieces in any order and turns: their ideal sizes, and the extra of an odd number of slopes, fit where they do."""
    model = build_model(decode(NestJob, odd(seed), name="$"))
    sizes, extra = Joins(model).ideal_room_x4()
    dice = random.Random(seed)
    for _ in range(200):
        slots: list[KindAndShape] = []
        for _ in range(dice.randint(1, 5)):
            kind = dice.randrange(len(model.kinds))
            slots.append((kind, dice.randrange(len(model.kinds[kind].shapes))))
        ends = sum(
            bool(lean) for kind, n in slots for lean in (model.kinds[kind].shapes[n].start, model.kinds[kind].shapes[n].end)
        )
        ideal = sum(sizes[kind] for kind, _ in slots) + (extra if ends % 2 else 0)
        assert ideal <= 2 * doubled_extent(model, slots) + 4 * model.kerf_nm


def square_job(seed: int) -> NestingModel:
    """A few square pieces of two prices of stock."""
    dice = random.Random(seed)
    pieces = [{"id": f"P{n}", "length": dice.randrange(900, 3200), "count": dice.randint(1, 2)} for n in range(4)]
    stock = [{"id": "S", "length": 6000, "cost": 60}, {"id": "T", "length": 4100, "cost": 43}]
    return build_model(decode(NestJob, {"unit": "mm", "kerf": 3.2, "stock": stock, "pieces": pieces}, name="$"))


@pytest.mark.parametrize("decides", (True, False))
@pytest.mark.parametrize("seed", range(12))
def test_the_decision_over_patterns_never_rules_out_the_best(seed: int, decides: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """As if the plan were poor; and where the program behind the decision ends without an answer, nothing is ruled out."""
    model = square_job(seed)
    best = best_cost(model)
    assert best is not None
    incumbent = Incumbent(model, None, Fraction(0))
    incumbent.cost = best + 100
    relaxed = Relaxation(scale_job(model), Search(), incumbent.cost_steps)
    relaxed.offer(square_search._first_patterns(relaxed.core, first_fit_decreasing(model)))
    relaxed.run()
    incumbent.raise_bound(relaxed.bound)
    if not decides:
        monkeypatch.setattr(square_search, "solve_integer_covering", lambda *_args, **_more: IntegerSolution(None, False))
    square_search._decide(relaxed, incumbent)
    assert incumbent.bound <= best


@pytest.mark.parametrize("count", range(1, 24))
def test_tables_know_every_number_of_a_kind(count: int) -> None:
    job = {"unit": "mm", "stock": [{"id": "S", "length": 2400}], "pieces": [{"id": "A", "length": 100, "count": count}]}
    tables = KnapsackTables(scale_job(build_model(decode(NestJob, job, name="$"))), whole=True)
    tables.fill([7])
    size = tables.sizes[0]
    assert [int(worth) for worth in tables.best(0)] == [7 * min(count, room // size) for room in range(tables.top + 1)]


@pytest.mark.parametrize("seed", range(12))
def test_a_walk_in_parts_finds_the_same_and_one_cut_short_never_says_too_little(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    model = build_model(decode(NestJob, plant_like(seed), name="$"))
    dice = random.Random(seed)
    pricer = Pricer(model, Search())
    limits = [min(2, kind.count) for kind in model.kinds]
    rate = float(pricer.scale * pricer.dear) / max(pricer.rooms)
    worths = [int(size * rate * (0.8 + 0.3 * dice.random())) for size in pricer.low]
    rents = [0] * len(model.stocks)
    whole = pricer.find_patterns(worths, rents, 1, limits, every=True, most_bars=3000, nodes=10**6)
    monkeypatch.setattr(angled_search, "LEAST_QUOTA", 1)
    seen = max((gain for gain, _ in whole.patterns), default=0)
    for nodes in (1, 5, 50):
        short = pricer.find_patterns(worths, rents, 1, limits, every=False, nodes=nodes)
        assert short.most >= seen
    if whole.complete:
        monkeypatch.setattr(angled_search, "NODES_AT_ONCE", 7)
        parts = pricer.find_patterns(worths, rents, 1, limits, every=True, most_bars=3000, nodes=10**6)
        assert parts == whole


@pytest.mark.parametrize("seed", range(60))
def test_a_first_plan_in_a_hurry_fits(seed: int) -> None:
    data = odd(seed) | {"clamp": 900}
    if seed == 0:  # too short for the clamp, all of them
        data["pieces"] = [{"id": "A", "edge_a": [0, 800], "edge_b": [0, 700], "count": 20}]
        data["stock"] = [{"id": "S", "length": 6000}]
    model = build_model(decode(NestJob, data, name="$"))
    for over in (True, False):
        plan = first_fit_decreasing(model, over=lambda over=over: over)  # type: ignore[misc]
        assert plan is not None or any(stock.count is not None for stock in model.stocks)
        for cut in plan or ():
            assert pieces_fit(model, model.stocks[cut.stock], cut.slots)


def test_a_bar_that_ends_where_the_clamps_dead_length_begins_is_among_its_patterns() -> None:
    pieces = [{"id": "A", "length": 850, "count": 6}, {"id": "B", "length": 2000, "count": 1}]
    data = {"unit": "mm", "clamp": 900, "stock": [{"id": "S", "length": 6000}], "pieces": pieces}
    core = scale_job(build_model(decode(NestJob, data, name="$")))
    found = patterns_within_gap(core, [0, 0], [0], 1, 10**6, limit=100, search=Search())
    assert found is not None
    assert ((1, 6),) in [pattern.counts for pattern in found]


@pytest.mark.parametrize("seed", range(40))
def test_the_patterns_of_a_bar_are_all_those_to_which_nothing_can_be_added(seed: int) -> None:
    dice = random.Random(seed)
    sizes = sorted(dice.sample(range(3, 15), 3), reverse=True)
    counts = [dice.randint(1, 3) for _ in sizes]
    pieces = [{"id": f"P{size}", "length": 100 * size, "count": n} for size, n in zip(sizes, counts, strict=True)]
    data = {"unit": "mm", "stock": [{"id": "S", "length": 2800}], "pieces": pieces}
    core = scale_job(build_model(decode(NestJob, data, name="$")))
    found = patterns_within_gap(core, [0, 0, 0], [0], 1, 10**6, limit=1000, search=Search())
    assert found is not None
    room = {taken: 28 - sum(map(mul, taken, sizes)) for taken in itertools.product(*(range(n + 1) for n in counts))}
    full = {
        tuple((kind, n) for kind, n in enumerate(taken) if n)
        for taken, left in room.items()
        if left >= 0 and all(size > left or n == most for size, n, most in zip(sizes, taken, counts, strict=True))
    }
    assert {pattern.counts for pattern in found} == full


@pytest.mark.parametrize("seed", range(40))
def test_joins_take_as_little_as_the_best_of_all_orders_and_turns(seed: int) -> None:
    model = build_model(decode(NestJob, odd(seed), name="$"))
    joins, dice = Joins(model), random.Random(seed)
    for _ in range(6):
        kinds = [dice.randrange(len(model.kinds)) for _ in range(dice.randint(1, 4))]
        doubled = sum(model.kinds[kind].doubled for kind in kinds)
        rows = [
            tuple(zip(order, shapes, strict=True))
            for order in set(itertools.permutations(kinds))
            for shapes in itertools.product(*(range(len(model.kinds[kind].shapes)) for kind in order))
        ]
        least = joins.least(joins.counts_of([(kind, kinds.count(kind)) for kind in set(kinds)]))
        assert least.any == min(doubled_extent(model, row) for row in rows) - doubled
        ends = [doubled_extent(model, row) for row in rows if model.kinds[row[-1][0]].clamped or model.clamp_nm == 0]
        assert not ends or least.held == min(ends) - doubled


@pytest.mark.parametrize("seed", SMALL)
def test_no_bar_is_worth_more_beyond_its_cost_than_the_walk_says(seed: int) -> None:
    """Over all sets of pieces that fit a bar, credit and odd slopes included."""
    model = build_model(decode(NestJob, odd(seed), name="$"))
    pricer, dice = Pricer(model, Search()), random.Random(seed)
    counts = [kind.count for kind in model.kinds]
    rate = float(pricer.scale * pricer.dear) / max(pricer.rooms)
    worths = [int(size * rate * (1 + dice.random())) for size in pricer.low]
    most = 0
    for taken in itertools.product(*(range(n + 1) for n in counts)):
        pieces = tuple((kind, n) for kind, n in enumerate(taken) if n)
        for stock in range(len(model.stocks)):
            bar = pricer.pattern(stock, pieces) if pieces else None
            if bar is not None:
                gain = sum(n * worths[kind] for kind, n in pieces) - bar.cost * pricer.scale
                most = max(most, int(gain))
    found = pricer.find_patterns(worths, [0] * len(model.stocks), 1, counts, every=False)
    assert found.complete
    assert most <= found.most <= most + (1 << 16)
