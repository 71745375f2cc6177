"""What yield costs in rack slots: panels nested for more or fewer bundles at a time, each way with its cut order.

Beside the pipeline, for nesting and sequencing meet here.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial

from solver.domain.bundle import Bundle
from solver.domain.cut_plan import Bar, CutBar, CutPlan, NestResult, PieceKind, Turn
from solver.domain.ids import BarId, MaterialId
from solver.domain.piece import Piece
from solver.domain.plan import SequencePart
from solver.domain.plant import Plant
from solver.domain.rack import RackBar, RackCurve, RackPoint
from solver.domain.sequence import BarBundles, SequenceJob
from solver.search import Search, share, timed
from solver.sequencing.rack import rack_slots
from solver.sequencing.rebind import rebind
from solver.sequencing.sequence import most_open, sequence

PANEL_SAW = "panel-saw"
LEAST_S, MOST_S, SHARE = 2.0, 5.0, 0.2  # for the whole curve: of the plan's time, the least even when that is over
FIRST = 0.4  # of it: for all bundles nested together, which most plants cut
ROUNDS = 3  # of ordering bars and binding alike pieces anew
Kind = tuple[tuple[int, int], tuple[int, int], tuple[Turn, ...]]
CutSome = Callable[[tuple[Piece, ...], Plant, Search], tuple[CutPlan, ...]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ordered:
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
    search: Search,
    cut: CutSome,
) -> Ordered:
    """Return the cut plans to work by: the cheapest whose pieces find a slot in the rack, else that of fewest slots.

    `cuts`: all bundles nested together. `cut` nests some pieces from what the plant still has, briefly. Bars of one
    thickness follow one another; within the open bundles allowed (or the fewest possible) few pieces wait.
    """
    floor = Floor(pieces, bundles, plant)
    if not floor.stacks:
        return Ordered(cuts=cuts, sequences=(), curve=None)
    search.tell("cut order", 0.56)
    time = _own_time(search, max(LEAST_S, min(MOST_S, SHARE * search.left_s())))
    sizes = _sizes(len(floor.stacks))
    tried = [floor.ordered(cuts, sizes[0], share(time, time.left_s() * max(FIRST, 1 / len(sizes))))]
    for n, size in enumerate(sizes[1:], start=1):
        search.tell(f"cut order, {size} bundles at a time", 0.56 + 0.08 * n / len(sizes))
        if time.over():
            break
        apart = cut_apart(cuts, floor, size, plant, share(time, time.left_s() / (len(sizes) - n)), cut)
        if apart is not None:
            tried.append(floor.ordered(apart, size, share(time, time.left_s() / (len(sizes) - n))))
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
    return Ordered(cuts=chosen.cuts, sequences=chosen.sequences, curve=curve)


def _own_time(search: Search, seconds: float) -> Search:
    begun = search.left_s()
    return replace(search, left_s=lambda: seconds - (begun - search.left_s()), tell=lambda _text, _part: None)


def _sizes(count: int) -> list[int]:
    """All bundles together, then half as many at a time, and so on to each by itself."""
    made = [count]
    while made[-1] > 1:
        made.append(-(-made[-1] // 2))
    return made


class Floor:
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
        groups: dict[int, list[Bar]] = defaultdict(list)
        for plan in cuts:
            if self.is_panel(plan):
                for bar in plan.bars:
                    groups[self.pieces[bar.pieces[0].piece].thickness_nm].append(bar)
        parts, bars = [], list[Bar]()
        for thickness, group in sorted(groups.items()):
            part, ordered = self._group(f"{PANEL_SAW} {thickness}", group, search)
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
            slots=rack_slots(rows, self.stacks),
            lower_bound=max((part.result.rack_lower_bound or 0 for part in parts), default=0),
            open=most_open(rows),
            bars=tuple(_rack_bar(bar) for bar in bars),
        )
        return _Tried(point=point, cuts=told, sequences=tuple(parts))

    def _group(self, machine: str, bars: Sequence[Bar], search: Search) -> tuple[SequencePart, list[Bar]]:
        best: tuple[tuple[int, int], SequencePart, list[Bar]] | None = None
        mine = {item.piece for bar in bars for item in bar.pieces}
        stacks = tuple(tuple(piece for piece in stack if piece in mine) for stack in self.stacks)
        used = tuple(stack for stack in stacks if stack)
        for n in range(ROUNDS):
            rows = tuple(self._row(bar) for bar in bars)
            fewest = sequence(SequenceJob(bars=rows), search).open or 0
            job = SequenceJob(bars=rows, stacks=used, open_max=max(self.open_bundles, fewest), time_limit_s=5.0)
            result, seconds = timed(search, partial(sequence, job, search))
            by_id = {str(bar.id): bar for bar in bars}
            ordered = [by_id[name] for name in result.order]
            value = (result.rack or 0, result.open or 0)
            if best is None or value < best[0]:
                part = SequencePart(machine=machine, job=job, result=replace(result, seconds=seconds))
                best = (value, part, ordered)
            if result.rack == 0 or (n and search.over()):
                break
            bars = rebind(ordered, used, self.pieces)
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


def cut_apart(
    cuts: tuple[CutPlan, ...], floor: Floor, size: int, plant: Plant, search: Search, cut: CutSome
) -> tuple[CutPlan, ...] | None:
    """Return the cut plans with panels nested for `size` neighbouring bundles at a time; None where stock does not reach."""
    made: dict[MaterialId, list[CutPlan]] = defaultdict(list)
    windows = [floor.stacks[at : at + size] for at in range(0, len(floor.stacks), size)]
    left = plant
    for n, window in enumerate(windows):
        some = tuple(floor.pieces[piece] for stack in window for piece in stack)
        plans = cut(some, left, share(search, search.left_s() / (len(windows) - n)))
        if any(plan.result.cost is None for plan in plans):
            return None
        left = _less(left, Counter(bar.stock for plan in plans for bar in plan.bars))
        for plan in plans:
            made[plan.material].append(plan)
    return tuple(_merged(plan, made[plan.material]) if plan.material in made else plan for plan in cuts)


def _less(plant: Plant, used: Counter[str]) -> Plant:
    """The plant without the bars and remnants that were used; what is left keeps its name."""
    on_hand = tuple(
        replace(item, count=max(0, item.count - sum(n for stock, n in used.items() if stock.endswith(f"({at + 1})"))))
        for at, item in enumerate(plant.stock_on_hand)
    )
    gone = MaterialId("")
    remnants = tuple(
        replace(item, material=gone) if (item.id or f"remnant {at}") in used else item for at, item in enumerate(plant.remnants)
    )
    return replace(plant, stock_on_hand=on_hand, remnants=remnants)


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
        first = len(bars)
        bars += [replace(bar, id=BarId(f"{whole.material}#{first + n:03d}")) for n, bar in enumerate(plan.bars, start=1)]
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
