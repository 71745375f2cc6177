"""Marked pieces to the bars of every material, due window by due window: how nesting's parts are put together for a plan.

Beside the pipeline, for a plan's takeoffs and the catalog meet nesting here.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from itertools import pairwise

from solver.domain.cut_plan import CutPlan, NestJob, NestResult
from solver.domain.ids import MaterialId, bar_id
from solver.domain.piece import Piece
from solver.domain.plant import Plant
from solver.domain.progress import StageProgress
from solver.domain.stock import StockSnapshot
from solver.domain.takeoff import Takeoff
from solver.nesting.assign import assign_blanks, nesting_job, pieces_by_material, rack_id, relaxed_job, remnant_bars
from solver.nesting.blanks import Blanks, share_blanks
from solver.nesting.due_windows import due_windows
from solver.nesting.nest import nest
from solver.nesting.rack_limits import free_rack_slots, kept_drop_lengths, limit_kept_drops
from solver.search import Search, call_timed, with_time_limit

FIRST_LOOK_S = 0.5  # at most a material: each briefly, then what is still open with all the time that is left
FIRST_LOOKS = 0.4  # of the time, at most, for all of them
SECOND_LOOK = 0.4  # of a first look: whether rips on blanks of their own cost less
FLOOR_S = 2.0  # at most, for a bound over all ways to share blanks
FLOORS = 0.1  # of the time, at most, for all of these bounds
JOINING = 0.25  # of the time, at most: whether neighbouring windows share bars with gain

Tell = Callable[[StageProgress], None]


def _untold(_how_far: StageProgress) -> None:
    return None


def nest_by_due_window(
    takeoffs: Sequence[Takeoff],
    plant: Plant,
    stock: StockSnapshot,
    search: Search,
    tell: Tell = _untold,
    *,
    after: int | None = None,
) -> tuple[CutPlan, ...]:
    """Return the cut plans of all pieces, one for each material and due window (`plant.nest_window_s`).

    Bars are numbered as `number_bars` says.

    Windows are nested in the order in which they are due, each from the stock that those before it leave. Two that follow
    one another share a material's bars where that saves `plant.window_pays_permille` of their cost. Raises InputError,
    NoPlan. Each plan's bound is that of its own pieces: no plan with these windows can beat their sum.
    """
    window_of = due_windows(takeoffs, plant.nest_window_s)
    groups: dict[int, list[Piece]] = defaultdict(list)
    for takeoff in takeoffs:
        for piece in takeoff.pieces:
            groups[window_of[piece.id]].append(piece)
    if len(groups) <= 1:
        pieces = tuple(piece for mine in groups.values() for piece in mine)
        return number_bars(nest_by_material(pieces, plant, stock, search, tell), after=after)
    apart = with_time_limit(search, search.left_s() * (1 - JOINING))
    made: dict[tuple[MaterialId, int], CutPlan] = {}
    left, rest, total = stock, sum(map(len, groups.values())), sum(map(len, groups.values()))
    for window, mine in sorted(groups.items()):
        some = with_time_limit(apart, apart.left_s() * len(mine) / rest)
        so_far = _so_far((total - rest) / total, made.values())
        plans = nest_by_material(tuple(mine), plant, left, some, partial(_within, tell, so_far, len(mine) / total))
        left = plant_without_used_stock(left, plans)
        rest -= len(mine)
        made.update({(plan.material, window): plan for plan in plans})
    _join_neighbours(made, groups, plant, stock, search)
    return number_bars((replace(plan, window=window + 1) for (_, window), plan in made.items()), after=after)


def _so_far(done: float, plans: Iterable[CutPlan]) -> StageProgress:
    return _how_far(done, (plan.result for plan in plans))


def _within(tell: Tell, before: StageProgress, part: float, how_far: StageProgress) -> None:
    """Tell how far a window is, behind those before it; the gap of all is at most the larger one."""
    parts, proved = before.parts + how_far.parts, before.proved + how_far.proved
    gap = max(before.gap or 0.0, how_far.gap or 0.0)
    tell(replace(how_far, done=min(1.0, before.done + part * how_far.done), parts=parts, proved=proved, gap=gap))


def _join_neighbours(
    made: dict[tuple[MaterialId, int], CutPlan],
    groups: Mapping[int, Sequence[Piece]],
    plant: Plant,
    stock: StockSnapshot,
    search: Search,
) -> None:
    """Let a window take the next one's pieces of a material where that pays, the most waste first, while time is left."""
    pieces = {piece.id: piece for mine in groups.values() for piece in mine}
    pairs = sorted(((name, one, two) for (name, one), two in _next_windows(made)), key=lambda pair: -_lost(made, pair))
    took: set[tuple[MaterialId, int]] = set()
    for n, (name, one, two) in enumerate(pairs):
        if search.over():
            return
        if (name, one) in took or (name, two) in took:  # one of them shares bars with another already
            continue
        apart = (made[name, one].result.cost or 0.0) + (made[name, two].result.cost or 0.0)
        least = plant.window_pays_permille * apart / 1000
        if _lost(made, (name, one, two)) < least:
            continue
        both = tuple(pieces[item.piece] for key in ((name, one), (name, two)) for bar in made[key].bars for item in bar.pieces)
        others = plant_without_used_stock(stock, (plan for key, plan in made.items() if key not in ((name, one), (name, two))))
        plans = nest_by_material(both, plant, others, with_time_limit(search, search.left_s() / (len(pairs) - n)))
        if len(plans) == 1 and plans[0].result.cost is not None and plans[0].result.cost <= apart - least:
            made[name, one] = plans[0]
            del made[name, two]
            took |= {(name, one), (name, two)}


def _next_windows(made: Mapping[tuple[MaterialId, int], CutPlan]) -> Iterable[tuple[tuple[MaterialId, int], int]]:
    windows: dict[MaterialId, list[int]] = defaultdict(list)
    for name, window in made:
        windows[name].append(window)
    for name, mine in windows.items():
        mine.sort()
        yield from (((name, one), two) for one, two in pairwise(mine))


def _lost(made: Mapping[tuple[MaterialId, int], CutPlan], pair: tuple[MaterialId, int, int]) -> float:
    """What the smaller of two plans could gain at most: its price less that of a bar as full as can be."""
    name, one, two = pair
    return min((made[name, at].result.cost or 0.0) * (made[name, at].result.waste or 0.0) for at in (one, two))


def number_bars(plans: Iterable[CutPlan], *, after: int | None = None) -> tuple[CutPlan, ...]:
    """Return the plans material by material, the first window first, each material's bars numbered through its windows.

    Behind `after`, the highest number that a bar of the floor has, they are numbered through all materials: running numbers of
    the plant, each once. On an empty floor each material begins at 1.
    """
    plans = tuple(plans)
    order = {name: n for n, name in enumerate(dict.fromkeys(plan.material for plan in plans))}
    count: Counter[MaterialId] = Counter()
    last, made = after or 0, []
    for plan in sorted(plans, key=lambda plan: (order[plan.material], plan.window)):
        first = last + 1 if after is not None else count[plan.material] + 1
        bars = tuple(replace(bar, id=bar_id(plan.material, n)) for n, bar in enumerate(plan.bars, first))
        count[plan.material] += len(bars)
        last += len(bars)
        made.append(replace(plan, bars=bars))
    return tuple(made)


def plant_without_used_stock(stock: StockSnapshot, plans: Iterable[CutPlan]) -> StockSnapshot:
    """Return the stock without the bars and remnants that plans used, and with the drops that they keep in the rack.

    What is left keeps its name.
    """
    plans = tuple(plans)
    used = Counter(bar.stock for plan in plans for bar in plan.bars)
    bars = tuple(replace(item, count=max(0, item.count - used[rack_id(item, at)])) for at, item in enumerate(stock.bars))
    names = [item.id or f"remnant {at}" for at, item in enumerate(stock.remnants)]
    remnants = tuple(
        replace(item, material=MaterialId("")) if name in used else item
        for name, item in zip(names, stock.remnants, strict=True)
    )
    drops = sum(len(kept_drop_lengths(plan.job, plan.result)) for plan in plans) - sum(name in used for name in names)
    return replace(stock, bars=bars, remnants=remnants, drops_kept=stock.drops_kept + drops)


def nest_by_material(
    pieces: tuple[Piece, ...], plant: Plant, stock: StockSnapshot, search: Search, tell: Tell = _untold
) -> tuple[CutPlan, ...]:
    """Return one cut plan for each material of the pieces. Raises InputError, NoPlan.

    Each material is nested briefly, then those not proved best share the time that is left; with none left the brief
    plans stand. `tell` hears how far it is (0 to 1) and what is proved.
    """
    groups = pieces_by_material(pieces)
    whole = search.left_s()
    shared: dict[MaterialId, Blanks] = {}
    jobs: dict[MaterialId, NestJob] = {}
    found: dict[MaterialId, NestResult] = {}
    for n, (material, mine) in enumerate(groups.items()):
        look = min(FIRST_LOOK_S, max(0.0, search.left_s() - (1 - FIRST_LOOKS) * whole) / (len(groups) - n))
        shared[material], jobs[material], found[material] = _first_look(mine, plant, stock, search, look)
        tell(_how_far(FIRST_LOOKS * (n + 1) / len(groups), found.values()))
    still = sorted((material for material in jobs if found[material].status != "optimal"), key=lambda m: len(jobs[m].pieces))
    improving = with_time_limit(search, search.left_s() - FLOORS * whole)
    for n, material in enumerate(still):
        budget = improving.left_s() / (len(still) - n)
        if budget > found[material].seconds:
            found[material] = cheaper_plan(found[material], _nested(jobs[material], search, budget))
        tell(_how_far(FIRST_LOOKS + (1 - FIRST_LOOKS) * (n + 1) / len(still), found.values()))
    _keep_what_finds_a_slot(groups, plant, stock, jobs, found, search)
    made = []
    for n, (material, job) in enumerate(jobs.items()):
        blanks, result = shared[material], found[material]
        bars = assign_blanks(material, job, result, blanks)
        rest = remnant_bars(material, blanks, plant, stock, after=len(bars))
        floor = _floor(job, blanks, result, search, min(FLOOR_S, max(0.0, search.left_s()) / (len(jobs) - n)))
        made.append(CutPlan(material=material, job=job, result=result, bars=(*bars, *rest), floor=floor))
    return tuple(made)


def _how_far(done: float, found: Iterable[NestResult]) -> StageProgress:
    results = list(found)
    rest = [one for one in results if one.status != "optimal" and one.cost is not None]
    cost = sum(one.cost or 0.0 for one in rest)
    bound = sum(one.lower_bound for one in rest)
    best = sum(one.status == "optimal" for one in results)
    gap = (cost - bound) / cost if cost else 0.0
    return StageProgress(stage="nest", done=min(1.0, done), parts=len(results), proved=best, gap=max(0.0, gap))


def _keep_what_finds_a_slot(
    groups: Mapping[MaterialId, Sequence[Piece]],
    plant: Plant,
    stock: StockSnapshot,
    jobs: dict[MaterialId, NestJob],
    found: dict[MaterialId, NestResult],
    search: Search,
) -> None:
    """Panels' drops have the slots first, for they are worth most; then those of trims."""
    panels = [material for material, mine in groups.items() if mine[0].is_panel]
    slots = free_rack_slots(plant, stock, ((jobs[material], found[material]) for material in panels))
    trims = [material for material in jobs if material not in panels]
    fewer, nested = limit_kept_drops(
        {material: jobs[material] for material in trims},
        {material: found[material] for material in trims},
        slots,
        lambda job: _nested(job, search, FIRST_LOOK_S),
    )
    jobs.update(fewer)
    found.update(nested)


def _first_look(
    pieces: Sequence[Piece], plant: Plant, stock: StockSnapshot, search: Search, seconds: float
) -> tuple[Blanks, NestJob, NestResult]:
    """The cheaper of two ways, each nested briefly: rips sharing blanks, and each on its own (sloped ones may share cuts)."""
    tried = []
    for share_them in (True, False):
        blanks = share_blanks(pieces, plant, stock, share=share_them)
        job = nesting_job(blanks, plant, stock)
        tried.append((blanks, job, _nested(job, search, seconds if share_them else SECOND_LOOK * seconds)))
        if not any(blank.gives_up_a_slope for blank in blanks.blanks):
            break  # square rips cost no more in one blank
    return min(tried, key=lambda item: math.inf if item[2].cost is None else item[2].cost)


def _floor(job: NestJob, blanks: Blanks, result: NestResult, search: Search, seconds: float) -> float | None:
    """A bound over all ways to share blanks and to use drops, where the result's own does not hold for all."""
    least = relaxed_job(job, blanks)
    return None if least is None else min(result.lower_bound, _nested(least, search, seconds).lower_bound)


def _nested(job: NestJob, search: Search, seconds: float) -> NestResult:
    result, taken = call_timed(search, partial(nest, job, with_time_limit(search, seconds)))
    return replace(result, seconds=taken)


def cheaper_plan(one: NestResult, two: NestResult) -> NestResult:
    """Return the cheaper of two plans of one job, with the higher of the two bounds; both were proved."""
    if two.cost is None or (one.cost is not None and one.cost < two.cost):
        one, two = two, one
    if one.lower_bound <= two.lower_bound or two.cost is None:
        return two
    optimal = two.cost - one.lower_bound <= 1e-6 * two.cost
    return replace(
        two,
        lower_bound=min(one.lower_bound, two.cost),
        status="optimal" if optimal else "feasible",
        certificate=one.certificate,
    )
