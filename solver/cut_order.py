"""What yield costs in rack slots: panels nested for more or fewer bundles at a time, each way with its cut order.

Beside the pipeline, for nesting and sequencing meet here.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial

from solver.cut_materials import number_bars, plant_without_used_stock
from solver.domain.bundle import Bundle
from solver.domain.cut_plan import Bar, CutBar, CutPlan, NestResult, PieceKind, Turn
from solver.domain.ids import BarId
from solver.domain.piece import Piece
from solver.domain.plan import SequencePart
from solver.domain.plant import Plant
from solver.domain.progress import StageProgress
from solver.domain.rack import RackBar, RackCurve, RackPoint
from solver.domain.sequence import BarBundles, SequenceJob, SequenceResult
from solver.domain.stock import StockSnapshot
from solver.domain.work_ids import saw_group
from solver.search import Search, call_timed, with_time_limit
from solver.sequencing.rack import rack_slots_needed
from solver.sequencing.rebind import rebind_like_pieces
from solver.sequencing.sequence import most_open_bundles, rate_order, sequence

FIRST = 0.4  # of the time: for all bundles nested together, which most plants cut
ROUNDS = 3  # of ordering bars and binding alike pieces anew
Kind = tuple[tuple[int, int], tuple[int, int], tuple[Turn, ...]]
CutSome = Callable[[tuple[Piece, ...], Plant, StockSnapshot, Search], tuple[CutPlan, ...]]
Tell = Callable[[StageProgress], None]


def _untold(_how_far: StageProgress) -> None:
    return None


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderedCuts:
    """Cut plans in the cut order of the chosen point, that order by thickness, and the curve (none: no panel is cut)."""

    cuts: tuple[CutPlan, ...]
    sequences: tuple[SequencePart, ...]
    curve: RackCurve | None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Tried:
    point: RackPoint
    cuts: tuple[CutPlan, ...]
    sequences: tuple[SequencePart, ...]


def order_cuts(
    cuts: tuple[CutPlan, ...],
    pieces: tuple[Piece, ...],
    bundles: tuple[Bundle, ...],
    plant: Plant,
    stock: StockSnapshot,
    search: Search,
    cut: CutSome,
    tell: Tell = _untold,
    *,
    after: int | None = None,
) -> OrderedCuts:
    """Return the cut plans to work by: the cheapest whose pieces find a slot in the rack, else that of fewest slots.

    `cuts`: all bundles of a due window nested together. `bundles`: the soonest wanted first. `cut` nests some pieces from
    what is still in stock. Bars of one thickness and window follow one another; within the open bundles allowed (or the
    fewest possible) few pieces wait. With no time left, that order alone is judged. Bars are numbered as
    `cut_materials.number_bars` says.
    """
    floor = RackModel(pieces, bundles, plant)
    if not floor.stacks:
        return OrderedCuts(cuts=cuts, sequences=(), curve=None)
    time = with_time_limit(search, search.left_s())
    sizes = _sizes(len(floor.stacks))
    tried = [floor.ordered(cuts, sizes[0], with_time_limit(time, time.left_s() * max(FIRST, 1 / len(sizes))))]
    for n, size in enumerate(sizes[1:], start=1):
        tell(StageProgress(stage="sequence", done=n / len(sizes)))
        if time.over():
            break
        apart = nest_by_bundle_group(
            cuts, floor, size, plant, stock, with_time_limit(time, time.left_s() / (len(sizes) - n)), cut, after
        )
        if apart is not None and not time.over():
            tried.append(floor.ordered(apart, size, with_time_limit(time, time.left_s() / (len(sizes) - n))))
    tried.sort(key=lambda item: (item.point.cost, item.point.slots, -item.point.bundles))
    fewest = [min((one.point.slots for one in tried[:n]), default=len(pieces) + 1) for n in range(len(tried))]
    points = tuple(replace(one.point, best=one.point.slots < least) for one, least in zip(tried, fewest, strict=True))
    fits = [one for one in tried if plant.rack_slots is None or one.point.slots <= plant.rack_slots]
    chosen = fits[0] if fits else min(tried, key=lambda item: (item.point.slots, item.point.cost))
    curve = RackCurve(
        stacks=floor.stacks,
        slots=plant.rack_slots,
        open_max=plant.open_bundles,
        chosen=chosen.point.id,
        points=points,
    )
    return OrderedCuts(cuts=chosen.cuts, sequences=chosen.sequences, curve=curve)


def _sizes(count: int) -> list[int]:
    """All bundles together, then half as many at a time, and so on to each by itself."""
    made = [count]
    while made[-1] > 1:
        made.append(-(-made[-1] // 2))
    return made


def _least_waiting(job: SequenceJob, known: Sequence[str], search: Search) -> SequenceResult:
    """The bars in an order in which few pieces wait; the known one, of fewest open bundles, where time is over before."""
    if search.over():
        return rate_order(job, known)
    result = sequence(job, search)
    return result if result.order else rate_order(job, known)


class RackModel:
    """The panels, the stacks that they make, and the room beside the saw."""

    def __init__(self, pieces: Sequence[Piece], bundles: Sequence[Bundle], plant: Plant) -> None:
        self.pieces = {piece.id: piece for piece in pieces}
        self.open_bundles = plant.open_bundles
        self.bundle_of = {lay.piece: str(bundle.id) for bundle in bundles for lay in bundle.pieces}
        stacks = (tuple(lay.piece for lay in bundle.pieces if self.pieces[lay.piece].is_panel) for bundle in bundles)
        self.stacks = tuple(stack for stack in stacks if stack)

    def is_panel(self, plan: CutPlan) -> bool:
        """Return whether a plan cuts panels."""
        return any(self.pieces[item.piece].is_panel for bar in plan.bars for item in bar.pieces)

    def ordered(self, cuts: tuple[CutPlan, ...], size: int, search: Search) -> _Tried:
        """Return the plans with the panel bars of each thickness in order, alike pieces bound to suit it."""
        groups: dict[tuple[int, int], list[Bar]] = defaultdict(list)
        for plan in cuts:
            if self.is_panel(plan):
                for bar in plan.bars:
                    groups[plan.window, self.pieces[bar.pieces[0].piece].thickness_nm].append(bar)
        parts, bars, left = [], list[Bar](), sum(map(len, groups.values()))
        for (window, thickness), group in sorted(groups.items()):
            name = saw_group(thickness, window)
            part, ordered = self._group(name, group, with_time_limit(search, search.left_s() * len(group) / left))
            left -= len(group)
            parts.append(part)
            bars += ordered
        rank = {bar.id: n for n, bar in enumerate(bars)}
        by_id = {bar.id: bar for bar in bars}
        told = tuple(replace(plan, bars=_in_order(plan.bars, by_id, rank)) for plan in cuts)
        rows = [self._row(bar) for bar in bars]
        point = RackPoint(
            id=f"by {size}",
            bundles=size,
            cost=sum(plan.result.cost or 0.0 for plan in cuts if self.is_panel(plan)),
            slots=rack_slots_needed(rows, self.stacks),
            lower_bound=max((part.result.rack_lower_bound or 0 for part in parts), default=0),
            open=most_open_bundles(rows),
            bars=tuple(_rack_bar(bar) for bar in bars),
        )
        return _Tried(point=point, cuts=told, sequences=tuple(parts))

    def _group(self, machine: str, bars: Sequence[Bar], search: Search) -> tuple[SequencePart, list[Bar]]:
        best: tuple[tuple[int, int], SequencePart, list[Bar]] | None = None
        mine = {item.piece for bar in bars for item in bar.pieces}
        stacks = tuple(tuple(piece for piece in stack if piece in mine) for stack in self.stacks)
        used = tuple(stack for stack in stacks if stack)
        for _ in range(ROUNDS):
            rows = tuple(self._row(bar) for bar in bars)
            fewest = sequence(SequenceJob(bars=rows), search)
            open_max = max(self.open_bundles, fewest.open or 0)
            job = SequenceJob(bars=rows, stacks=used, open_max=open_max, time_limit_s=5.0)
            result, seconds = call_timed(search, partial(_least_waiting, job, fewest.order, search))
            by_id = {str(bar.id): bar for bar in bars}
            ordered = [by_id[name] for name in result.order]
            value = (result.rack or 0, result.open or 0)
            if best is None or value < best[0]:
                part = SequencePart(machine=machine, job=job, result=replace(result, seconds=seconds))
                best = (value, part, ordered)
            if result.rack == 0 or search.over():
                break
            bars = rebind_like_pieces(ordered, used, self.pieces)
        assert best is not None
        return best[1], best[2]

    def _row(self, bar: Bar) -> BarBundles:
        names = tuple(sorted({self.bundle_of[item.piece] for item in bar.pieces}))
        return BarBundles(id=str(bar.id), bundles=names, pieces=tuple(str(item.piece) for item in bar.pieces))


def _in_order(bars: Sequence[Bar], by_id: dict[BarId, Bar], rank: dict[BarId, int]) -> tuple[Bar, ...]:
    return tuple(sorted((by_id.get(bar.id, bar) for bar in bars), key=lambda bar: (rank.get(bar.id, 0), bar.id)))


def _rack_bar(bar: Bar) -> RackBar:
    pieces = tuple(item.piece for item in bar.pieces)
    return RackBar(id=bar.id, material=bar.material, stock=bar.stock, drop_nm=bar.drop_nm, pieces=pieces)


def nest_by_bundle_group(
    cuts: tuple[CutPlan, ...],
    floor: RackModel,
    size: int,
    plant: Plant,
    stock: StockSnapshot,
    search: Search,
    cut: CutSome,
    after: int | None = None,
) -> tuple[CutPlan, ...] | None:
    """Return the cut plans with panels nested for `size` neighbouring bundles at a time, within their due windows.

    None where stock does not reach, or time ended first.
    """
    made: dict[str, list[CutPlan]] = defaultdict(list)
    names = {(plan.material, plan.window): plan.name for plan in cuts}
    window_of = {item.piece: plan.window for plan in cuts for bar in plan.bars for item in bar.pieces}
    parts: list[tuple[int, list[Piece]]] = []
    for at in range(0, len(floor.stacks), size):
        mine: dict[int, list[Piece]] = defaultdict(list)
        for piece in (piece for stack in floor.stacks[at : at + size] for piece in stack):
            mine[window_of[piece]].append(floor.pieces[piece])
        parts += sorted(mine.items())
    left = stock
    for n, (window, pieces) in enumerate(parts):
        if search.over():
            return None
        plans = cut(tuple(pieces), plant, left, with_time_limit(search, search.left_s() / (len(parts) - n)))
        if any(plan.result.cost is None for plan in plans):
            return None
        left = plant_without_used_stock(left, plans)
        for plan in plans:
            made[names[plan.material, window]].append(plan)
    merged = (_merged(plan, made[plan.name]) if plan.name in made else plan for plan in cuts)
    return number_bars(merged, after=after)


def _merged(whole: CutPlan, parts: Sequence[CutPlan]) -> CutPlan:
    """One cut plan of several, of the same pieces as the whole: whose bound, over all ways to cut them, holds for it."""
    kinds: dict[Kind, PieceKind] = {}
    bars: list[Bar] = []
    cut_bars: list[CutBar] = []
    for plan in parts:
        names = {}
        for kind in plan.job.pieces:
            shape = _shape(kind)
            known = kinds.get(shape)
            new = replace(kind, id=f"K{len(kinds) + 1}") if known is None else replace(known, count=known.count + kind.count)
            kinds[shape] = new
            names[kind.id] = new.id
        cut_bars += _named(plan.result.bars, names)
        bars += plan.bars
    cost = sum(plan.result.cost or 0.0 for plan in parts)
    floor = min(whole.lower_bound, cost)
    lengths = [_length(plan) for plan in parts]
    lost = sum(length * (plan.result.waste or 0.0) for length, plan in zip(lengths, parts, strict=True))
    result = NestResult(
        status="optimal" if cost - floor <= 1e-6 * cost else "feasible",
        cost=cost,
        lower_bound=floor,
        waste=lost / sum(lengths) if sum(lengths) else 0.0,
        seconds=sum(plan.result.seconds for plan in parts),
        bars=tuple(cut_bars),
    )
    return replace(whole, job=replace(whole.job, pieces=tuple(kinds.values())), result=result, bars=tuple(bars), floor=None)


def _shape(kind: PieceKind) -> Kind:
    whole = (0, kind.length_nm or 0)
    return kind.edge_a or whole, kind.edge_b or whole, tuple(sorted(kind.turns or ()))


def _named(bars: Sequence[CutBar], names: dict[str, str]) -> Iterator[CutBar]:
    for bar in bars:
        yield replace(bar, pieces=tuple(replace(placed, id=names[placed.id]) for placed in bar.pieces))


def _length(plan: CutPlan) -> int:
    of = {stock.id: stock.length_nm for stock in plan.job.stock}
    return sum(of[bar.stock] * bar.repeat for bar in plan.result.bars)
