"""Judge a cut plan by the shop's rules alone: whole numbers and fractions, nothing shared with the search."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

from solver.domain.cut_plan import CutBar, HalfCut, NestJob, NestResult, PieceKind, PlacedPiece, StockLength, Turn
from solver.domain.ids import StockId
from solver.domain.report import Report
from solver.errors import FaultCollector
from solver.units import Nm, length_as_number

_CHECKED = (
    "every piece made exactly as often as wanted, from stock on offer, within its count",
    "each placed piece has its shape in a turn that it may take, and none is turned for nothing",
    "nothing within the end trim of either end, on either edge",
    "between neighbours the kerf at the steeper facing end's angle, on both edges",
    "the clamp holds the last piece, or its dead length is kept",
    "drops, credit, cost and waste computed again",
    "the bound is not above the cost, and `optimal` is said only where they are equal",
    "different patterns counted again where they are stated, not fewer than their bound",
    "of a half-cut bar only sound parts behind what is cut, each once",
)
_REL = Fraction(1, 1_000_000)
Edges = tuple[tuple[int, int], tuple[int, int]]


def check(job: NestJob, result: NestResult) -> Report:
    """Return what was judged and every fault found in the plan."""
    faults = FaultCollector()
    if job.half_cut is not None:
        job, result = _apart(job, job.half_cut, result, faults)
    stock = {item.id: item for item in job.stock}
    pieces = {item.id: item for item in job.pieces}
    _counts(job, result, faults)
    cost = Fraction(0)
    for n, bar in enumerate(result.bars):
        if bar.stock not in stock:
            faults.add(f"bars[{n}].stock", f"{bar.stock!r} is not on offer", "a stock id of the job")
            continue
        _bar(job, stock[bar.stock], pieces, bar, f"bars[{n}]", faults)
        cost += bar.repeat * _bar_cost(job, stock[bar.stock], bar)
    _value(job, result, cost, faults)
    _patterns(job, result, faults)
    return Report(checked=_CHECKED, faults=tuple(faults.found))


def _apart(job: NestJob, half: HalfCut, result: NestResult, faults: FaultCollector) -> tuple[NestJob, NestResult]:
    """Return the job and result with each section of the half-cut bar as stock of its own, at no cost, used once."""
    stock = next(item for item in job.stock if item.id == half.stock)
    near, far = _trim(job, stock), stock.length_nm - _trim(job, stock)
    if half.done:
        near = max(max(piece.edge_a[1], piece.edge_b[1]) for piece in half.done)
    offers: list[StockLength] = []
    bars: list[CutBar] = []
    for n, bar in enumerate(result.bars):
        if bar.section is None:
            bars.append(bar)
            continue
        low, high = bar.section
        name = StockId(f"{low} to {high} nm of the bar on the saw")
        bad = half.flaw is not None and low < half.flaw[1] and high > half.flaw[0]
        if bar.stock != half.stock or bar.repeat != 1 or low < near or high > far or bad or high <= low:
            faults.add(f"bars[{n}].section", f"{name} is cut, flawed, trim or no part of it", "a sound part, once")
        if half.done and not _clear(job, half.done[-1], low):
            faults.add(f"bars[{n}].section", f"{name} begins in the last cut", "a kerf behind what is cut")
        offers.append(StockLength(id=name, length_nm=Nm(max(1, high - low)), cost=0.0, count=1, end_trim_nm=Nm(0)))
        pieces = tuple(_shifted(piece, -low) for piece in bar.pieces)
        bars.append(replace(bar, stock=name, pieces=pieces, section=None))
    spans = sorted(bar.section for bar in result.bars if bar.section is not None)
    if any(after[0] < before[1] for before, after in pairwise(spans)):
        faults.add("bars", "sections of the bar on the saw overlap", "sections apart")
    charged = [replace(item, cost=1.0) if item.cost == 0 else item for item in job.stock]
    return replace(job, stock=(*offers, *charged), half_cut=None), replace(result, bars=tuple(bars))


def _clear(job: NestJob, last: PlacedPiece, low: int) -> bool:
    """Whether a square end at `low` is a kerf, at the last cut's angle, behind it on both edges."""
    square = replace(last, edge_a=(Nm(low), Nm(low)), edge_b=(Nm(low), Nm(low)))
    return all(_wide_enough(job, low - edge[1], last, square) for edge in (last.edge_a, last.edge_b))


def _shifted(piece: PlacedPiece, by_nm: int) -> PlacedPiece:
    (a0, a1), (b0, b1) = piece.edge_a, piece.edge_b
    return replace(piece, edge_a=(Nm(a0 + by_nm), Nm(a1 + by_nm)), edge_b=(Nm(b0 + by_nm), Nm(b1 + by_nm)))


def _counts(job: NestJob, result: NestResult, faults: FaultCollector) -> None:
    made: Counter[str] = Counter()
    bars: Counter[str] = Counter()
    for n, bar in enumerate(result.bars):
        if bar.repeat < 1:
            faults.add(f"bars[{n}].repeat", f"{bar.repeat} is no number of bars", "at least 1")
        if not bar.pieces:
            faults.add(f"bars[{n}].pieces", "an empty bar", "bars that carry a piece")
        bars[bar.stock] += bar.repeat
        for placed in bar.pieces:
            made[placed.id] += bar.repeat
    if result.status == "unknown" and not result.bars:
        return
    wanted = {item.id: item.count for item in job.pieces}
    for name in sorted({*wanted, *made}):
        if made[name] != wanted.get(name, 0):
            faults.add("bars", f"{name!r} is made {made[name]} times", f"exactly {wanted.get(name, 0)}")
    for n, item in enumerate(job.stock):
        if item.count is not None and bars[item.id] > item.count:
            faults.add(f"stock[{n}].count", f"{bars[item.id]} bars of {item.id!r} are used", f"at most {item.count}")


def _bar(
    job: NestJob, stock: StockLength, pieces: dict[str, PieceKind], bar: CutBar, path: str, faults: FaultCollector
) -> None:
    near, far = _trim(job, stock), stock.length_nm - _trim(job, stock)
    sound = True
    for n, placed in enumerate(bar.pieces):
        where = f"{path}.pieces[{n}]"
        kind = pieces.get(placed.id)
        if kind is None:
            faults.add(where, f"{placed.id!r} is not wanted", "a piece id of the job")
            sound = False
            continue
        if placed.turn not in _turns(kind):
            faults.add(f"{where}.turn", f"{placed.id!r} may not be turned {placed.turn}", "one of " + ", ".join(_turns(kind)))
        if not _same_shape(placed, _turn(_edges(kind), placed.turn)):
            faults.add(
                where, f"{placed.id!r} does not have its own shape in this turn", "the edges of the job, turned and shifted"
            )
            sound = False
        for name, edge in (("edge_a", placed.edge_a), ("edge_b", placed.edge_b)):
            if edge[0] < near or edge[1] > far:
                faults.add(f"{where}.{name}", f"{edge[0]} to {edge[1]} nm leaves the bar", f"within {near} and {far} nm")
                sound = False
    for n, (left, right) in enumerate(zip(bar.pieces, bar.pieces[1:], strict=False)):
        sound &= _gap(job, left, right, f"{path}.pieces[{n + 1}]", faults)
    if bar.pieces and not _held(job, bar.pieces[-1], far):
        faults.add(
            f"{path}.pieces[{len(bar.pieces) - 1}]", "ends in the clamp's dead length", "earlier, or a longer last piece"
        )
        sound = False
    if bar.pieces and bar.drop_nm != _drop(job, stock, bar.pieces):
        faults.add(f"{path}.drop", f"{bar.drop_nm} nm is not the drop", f"{_drop(job, stock, bar.pieces)} nm")
    if sound and bar.pieces:
        _needless_turns(job, stock, pieces, bar, path, faults)


def _edges(kind: PieceKind) -> Edges:
    if kind.edge_a is not None and kind.edge_b is not None:
        return kind.edge_a, kind.edge_b
    length = kind.length_nm or 0
    return (0, length), (0, length)


def _turns(kind: PieceKind) -> tuple[Turn, ...]:
    if kind.turns is not None:
        return kind.turns
    edge_a, edge_b = _edges(kind)
    return ("as_is", "end_for_end", "over", "over_end") if edge_a == edge_b else ("as_is",)


def _turn(edges: Edges, turn: Turn) -> Edges:
    """Return the edges after a turn: `over` changes their places, `over_end` runs both backwards, `end_for_end` does both."""
    edge_a, edge_b = edges
    if turn in ("over", "end_for_end"):
        edge_a, edge_b = edge_b, edge_a
    if turn in ("over_end", "end_for_end"):
        edge_a, edge_b = (-edge_a[1], -edge_a[0]), (-edge_b[1], -edge_b[0])
    return edge_a, edge_b


def _same_shape(placed: PlacedPiece, edges: Edges) -> bool:
    shift = placed.edge_a[0] - edges[0][0]
    return all(
        got == wanted + shift
        for place, edge in ((placed.edge_a, edges[0]), (placed.edge_b, edges[1]))
        for got, wanted in zip(place, edge, strict=True)
    )


def _wide_enough(job: NestJob, gap_nm: int, left: PlacedPiece, right: PlacedPiece) -> bool:
    """Return whether gap >= kerf / cos(lean of the steeper facing end): by squares, so that no root is taken."""
    lean = max(abs(left.edge_a[1] - left.edge_b[1]), abs(right.edge_a[0] - right.edge_b[0]))
    if lean == 0:
        return gap_nm >= job.kerf_nm
    width = job.width_nm or 0
    return gap_nm >= 0 and (gap_nm * width) ** 2 >= job.kerf_nm**2 * (width**2 + lean**2)


def _gap(job: NestJob, left: PlacedPiece, right: PlacedPiece, path: str, faults: FaultCollector) -> bool:
    sound = True
    for name, gap in (("edge_a", right.edge_a[0] - left.edge_a[1]), ("edge_b", right.edge_b[0] - left.edge_b[1])):
        if not _wide_enough(job, gap, left, right):
            faults.add(f"{path}.{name}", f"a gap of {gap} nm to the piece before", "the kerf at the steeper end's angle")
            sound = False
    return sound


def _held(job: NestJob, last: PlacedPiece, far: int) -> bool:
    own = max(last.edge_a[1] - last.edge_a[0], last.edge_b[1] - last.edge_b[0])
    return own >= job.clamp_nm or max(last.edge_a[1], last.edge_b[1]) <= far - job.clamp_nm


def _drop(job: NestJob, stock: StockLength, placed: Sequence[PlacedPiece]) -> int:
    farthest = max(max(piece.edge_a[1], piece.edge_b[1]) for piece in placed)
    return max(0, stock.length_nm - _trim(job, stock) - farthest - job.kerf_nm)


def _trim(job: NestJob, stock: StockLength) -> int:
    return job.end_trim_nm if stock.end_trim_nm is None else stock.end_trim_nm


def _price(job: NestJob, stock: StockLength) -> Fraction:
    return Fraction(repr(length_as_number(stock.length_nm, job.unit) if stock.cost is None else stock.cost))


def _credit(job: NestJob, stock: StockLength, drop_nm: int) -> Fraction:
    if job.keep_from_nm is None or drop_nm < job.keep_from_nm:
        return Fraction(0)
    return Fraction(repr(job.keep_value)) * _price(job, stock) * Fraction(drop_nm, stock.length_nm)


def _bar_cost(job: NestJob, stock: StockLength, bar: CutBar) -> Fraction:
    if not bar.pieces:
        return _price(job, stock)
    return _price(job, stock) - _credit(job, stock, _drop(job, stock, bar.pieces))


def _needless_turns(
    job: NestJob, stock: StockLength, pieces: dict[str, PieceKind], bar: CutBar, path: str, faults: FaultCollector
) -> None:
    """Note each piece that could lie as it is at no loss: the others as they are, all pushed together again."""
    now = _credit(job, stock, _drop(job, stock, bar.pieces))
    for n, placed in enumerate(bar.pieces):
        kind = pieces[placed.id]
        if placed.turn == "as_is" or "as_is" not in _turns(kind):
            continue
        edge_a, edge_b = _edges(kind)
        row = [*bar.pieces[:n], _at(placed.id, edge_a, edge_b, 0), *bar.pieces[n + 1 :]]
        tried = _pushed(job, row, _trim(job, stock))
        far = stock.length_nm - _trim(job, stock)
        inside = all(max(piece.edge_a[1], piece.edge_b[1]) <= far for piece in tried)
        if inside and _held(job, tried[-1], far) and _credit(job, stock, _drop(job, stock, tried)) >= now:
            faults.add(f"{path}.pieces[{n}].turn", f"{placed.id!r} is turned {placed.turn} for nothing", "as_is")


def _at(name: str, edge_a: tuple[int, int], edge_b: tuple[int, int], shift: int) -> PlacedPiece:
    return PlacedPiece(
        id=name,
        turn="as_is",
        edge_a=(edge_a[0] + shift, edge_a[1] + shift),  # type: ignore[arg-type]  # whole nanometres
        edge_b=(edge_b[0] + shift, edge_b[1] + shift),  # type: ignore[arg-type]
    )


def _pushed(job: NestJob, row: Sequence[PlacedPiece], near: int) -> list[PlacedPiece]:
    """Return the pieces in this order, each moved as near to the zero end as gaps and trim allow."""
    made: list[PlacedPiece] = []
    for piece in row:
        if not made:
            low = near - min(piece.edge_a[0], piece.edge_b[0])
        else:
            before = made[-1]
            need = _least_gap(job, before, piece)
            low = max(before.edge_a[1] + need - piece.edge_a[0], before.edge_b[1] + need - piece.edge_b[0])
        made.append(_at(piece.id, piece.edge_a, piece.edge_b, low))
    return made


def _least_gap(job: NestJob, left: PlacedPiece, right: PlacedPiece) -> int:
    """Return the least whole gap that is wide enough, by halving."""
    low, high = -1, job.kerf_nm + 1
    while not _wide_enough(job, high, left, right):
        high *= 2
    while high - low > 1:
        middle = (low + high) // 2
        if _wide_enough(job, middle, left, right):
            high = middle
        else:
            low = middle
    return high


def _value(job: NestJob, result: NestResult, cost: Fraction, faults: FaultCollector) -> None:
    if result.cost is None or result.status == "unknown":
        if result.status != "unknown" or result.cost is not None or result.bars:
            faults.add(
                "status", f"{result.status!r} with cost {result.cost} and {len(result.bars)} bars", "unknown has neither"
            )
        return
    if not _equal(Fraction(result.cost), cost):
        faults.add("cost", f"{result.cost} is not the cost of the bars", f"{float(cost)}")
    if Fraction(result.lower_bound) > Fraction(result.cost) * (1 + Fraction(1, 10**12)):
        faults.add("lower_bound", f"{result.lower_bound} is above the cost {result.cost}", "a bound that no plan can beat")
    if result.status == "optimal" and not _equal(Fraction(result.cost), Fraction(result.lower_bound)):
        faults.add("status", f"optimal at {result.cost} with a bound of {result.lower_bound}", "feasible")
    waste = _waste(job, result)
    if result.waste is None or abs(Fraction(result.waste) - waste) > _REL:
        faults.add("waste", f"{result.waste} is not the waste", f"{float(waste)}")


def _patterns(job: NestJob, result: NestResult, faults: FaultCollector) -> None:
    """Judge the number of patterns by what lies where, whoever's piece it is."""
    stock = {item.id: (item.length_nm, _trim(job, item), _price(job, item)) for item in job.stock}
    found = {(stock.get(bar.stock), tuple((item.edge_a, item.edge_b) for item in bar.pieces)) for bar in result.bars}
    if result.patterns is not None and len(found) != result.patterns:
        faults.add("patterns", f"{result.patterns} are stated", f"{len(found)}")
    if (result.patterns_lower_bound or 0) > len(found):
        faults.add("patterns_lower_bound", f"{result.patterns_lower_bound} is above {len(found)}", "at most the patterns")


def _equal(one: Fraction, other: Fraction) -> bool:
    return abs(one - other) <= _REL * max(abs(one), abs(other))


def _waste(job: NestJob, result: NestResult) -> Fraction:
    length = {item.id: item.length_nm for item in job.stock}
    kinds = {item.id: _edges(item) for item in job.pieces}
    bought = sum(2 * bar.repeat * length.get(bar.stock, 0) for bar in result.bars)
    if not bought:
        return Fraction(0)
    used = 0
    for bar in result.bars:
        for placed in bar.pieces:
            (a0, a1), (b0, b1) = kinds.get(placed.id, ((0, 0), (0, 0)))
            used += bar.repeat * (a1 - a0 + b1 - b0)
    return 1 - Fraction(used, bought)
