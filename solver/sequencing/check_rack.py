"""Does the curve of yield against rack slots hold? Each point followed piece by piece, priced bar by bar."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from solver.domain.bundle import Bundle
from solver.domain.cut_plan import CutPlan
from solver.domain.ids import MaterialId, PieceId
from solver.domain.piece import Piece
from solver.domain.rack import RackBar, RackCurve, RackPoint
from solver.domain.report import Report
from solver.errors import FaultCollector
from solver.sequencing.check import most_open_bundles, most_waiting_pieces

CHECKED = (
    "the stacks are the panels of each bundle, bottom first",
    "every point cuts every panel once",
    "each point's cost, slots and open bundles, followed piece by piece, are as stated",
    "points come cheapest first; best are those that no other beats",
    "the chosen point is the cheapest that the rack holds, else that of fewest slots; the plan is cut as it says",
)


def check(curve: RackCurve, cuts: Sequence[CutPlan], bundles: Sequence[Bundle], pieces: Mapping[PieceId, Piece]) -> Report:
    """Return what was checked of a curve against the plan that was chosen from it, and every fault found."""
    faults = FaultCollector()
    panels = {name for name, piece in pieces.items() if piece.is_panel}
    stacks = [tuple(lay.piece for lay in bundle.pieces if lay.piece in panels) for bundle in bundles]
    if Counter(stack for stack in stacks if stack) != Counter(curve.stacks):
        faults.add("stacks", "are not the panels of the bundles", "each bundle's panels, bottom first")
    bundle_of = {lay.piece: str(bundle.id) for bundle in bundles for lay in bundle.pieces}
    jobs: dict[MaterialId, list[CutPlan]] = {}
    for plan in cuts:
        jobs.setdefault(plan.material, []).append(plan)
    for point in curve.points:
        made = Counter(piece for bar in point.bars for piece in bar.pieces)
        if made != Counter(panels):
            odd = sorted(piece for piece in made.keys() | panels if made[piece] != 1 or piece not in panels)
            faults.add(f"points[{point.id}].bars", f"do not cut {', '.join(odd[:5])} once", "every panel once")
            continue
        _judge_point(point, curve, bundle_of, faults)
        _judge_cost(point, jobs, faults)
    _judge_choice(curve, faults)
    _judge_plan(curve, cuts, panels, faults)
    return Report(checked=CHECKED, faults=tuple(faults.found))


def _judge_point(point: RackPoint, curve: RackCurve, bundle_of: Mapping[PieceId, str], faults: FaultCollector) -> None:
    path = f"points[{point.id}]"
    slots = most_waiting_pieces([piece for bar in point.bars for piece in bar.pieces], curve.stacks)
    if point.slots != slots:
        faults.add(f"{path}.slots", f"{point.slots} is stated, {slots} pieces wait at one time", f"{slots}")
    if not 0 <= point.lower_bound <= slots:
        faults.add(f"{path}.lower_bound", f"{point.lower_bound} is not between 0 and {slots}", f"0 to {slots}")
    most = most_open_bundles([frozenset(bundle_of.get(piece, "") for piece in bar.pieces) for bar in point.bars])
    if point.open != most:
        faults.add(f"{path}.open", f"{point.open} is stated, {most} bundles are open at one time", f"{most}")


def _judge_cost(point: RackPoint, jobs: Mapping[MaterialId, Sequence[CutPlan]], faults: FaultCollector) -> None:
    cost = 0.0
    for bar in point.bars:
        worth = _worth(bar, jobs)
        if worth is None:
            faults.add(f"points[{point.id}].{bar.id}", f"{bar.material!r} is not in the plan", "a material of the plan")
            return
        cost += worth
    if abs(cost - point.cost) > 1e-6 * max(1.0, cost):
        faults.add(f"points[{point.id}].cost", f"{point.cost} is stated, its bars cost {cost}", f"{cost}")


def _worth(bar: RackBar, jobs: Mapping[MaterialId, Sequence[CutPlan]]) -> float | None:
    """The price of a bar less the credit of a kept drop; a remnant that nesting does not price costs nothing."""
    plans = jobs.get(bar.material)
    if plans is None:
        return None
    stock, plan = next(((one, plan) for plan in plans for one in plan.job.stock if one.id == bar.stock), (None, plans[0]))
    if stock is None:
        return 0.0
    price = float(stock.length_nm / 1e6) if stock.cost is None else stock.cost
    keep = plan.job.keep_from_nm
    kept = bar.drop_nm if keep is not None and bar.drop_nm >= keep else 0
    return price - plan.job.keep_value * price * kept / stock.length_nm


def _judge_choice(curve: RackCurve, faults: FaultCollector) -> None:
    costs = [point.cost for point in curve.points]
    if costs != sorted(costs):
        faults.add("points", "are not cheapest first", "in order of cost")
    for point in curve.points:
        beaten = any(
            other.cost <= point.cost
            and other.slots <= point.slots
            and (other.cost < point.cost or other.slots < point.slots or curve.points.index(other) < curve.points.index(point))
            for other in curve.points
            if other is not point
        )
        if point.best == beaten:
            faults.add(f"points[{point.id}].best", f"{point.best} is stated", f"{not beaten}")
    fits = [point for point in curve.points if curve.slots is None or point.slots <= curve.slots]
    chosen = [point for point in curve.points if point.id == curve.chosen]
    if len(chosen) != 1:
        faults.add("chosen", f"{curve.chosen!r} is no point", "the id of a point")
    elif fits and (chosen[0].cost > min(point.cost for point in fits) or chosen[0] not in fits):
        faults.add("chosen", f"{curve.chosen!r} is not the cheapest that the rack holds", fits[0].id)
    elif not fits and (chosen[0].slots, chosen[0].cost) > min((point.slots, point.cost) for point in curve.points):
        faults.add("chosen", f"{curve.chosen!r} is not the cheapest of fewest slots, and none fits", "fewest slots, then cost")


def _judge_plan(curve: RackCurve, cuts: Sequence[CutPlan], panels: set[PieceId], faults: FaultCollector) -> None:
    """The plan's own bars are those of the chosen point, in its order within each material."""
    point = next((one for one in curve.points if one.id == curve.chosen), None)
    if point is None:
        return
    for material in dict.fromkeys(plan.material for plan in cuts):
        bars = [bar for plan in cuts if plan.material == material for bar in plan.bars]
        mine = [bar for bar in bars if any(item.piece in panels for item in bar.pieces)]
        told = [bar for bar in point.bars if bar.material == material]
        if [(bar.id, tuple(item.piece for item in bar.pieces)) for bar in mine] != [(bar.id, bar.pieces) for bar in told]:
            faults.add(f"points[{point.id}].bars", f"are not those of {material} in the plan", "the bars, in cut order")
