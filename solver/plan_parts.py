"""The parts of a plan, a line a stage: where a plan holds them, what each is about, what it claims and how it is proved.

Whoever needs all parts of a plan goes through `PARTS`: the pipeline's proofs, the check of a whole plan, what is stored and
read back. A new stage is a line here, its field in `Plan`, and its room.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from solver.bundling.check import check as check_stack
from solver.check_floor_continuation import check_floor_continuation as check_floor
from solver.domain.building import Building
from solver.domain.cut_plan import CutPlan
from solver.domain.dispatch import Dispatch
from solver.domain.floor_snapshot import FloorSnapshot
from solver.domain.ids import OrderId
from solver.domain.kept_work import KeptWork
from solver.domain.optimality import meets_bound
from solver.domain.plan import LoadPart, Part, Plan, SequencePart, SlitPart, StackPart, Stage
from solver.domain.plant import Plant
from solver.domain.rack import RackCurve
from solver.domain.report import Report
from solver.domain.takeoff import Takeoff
from solver.domain.timetable import Timetable
from solver.loading.check import check as check_load
from solver.loading.check_dispatch import check as check_dispatch
from solver.nesting.check import check as check_nest
from solver.scheduling.check import check as check_schedule
from solver.sequencing.check import check as check_sequence
from solver.sequencing.check_rack import check as check_rack
from solver.slitting.check import check as check_slit
from solver.takeoff.check import check as check_takeoff

PANEL_SAW = "panel-saw"


@dataclass(frozen=True, slots=True)
class PartClaim:
    """A part's status (`done` where nothing is searched for), its value and the bound that no other can beat."""

    status: str
    value: float | None = None
    bound: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckContext:
    """What a plan's parts are judged by, beside the plan itself: catalog, orders, their takeoffs before, and the floor."""

    plant: Plant
    buildings: Mapping[OrderId, Building]
    earlier: Mapping[OrderId, Takeoff] = field(default_factory=dict)
    floor: FloorSnapshot | None = None


@dataclass(frozen=True, slots=True)
class PartKind:
    """One kind of part: `held` names the plan's field, which has a tuple of them, or one or none where not `many`."""

    stage: Stage
    kind: type[Any]
    held: str
    about: Callable[[Any], str]
    claim: Callable[[Any], PartClaim]
    check: Callable[[Any, Plan, CheckContext], Report]
    many: bool = True

    def of(self, plan: Plan) -> tuple[Any, ...]:
        """Return a plan's parts of this kind, in its order."""
        held = getattr(plan, self.held)
        return held if self.many else () if held is None else (held,)

    def path(self, part: Any) -> str:
        """Return where a part stands in its plan."""
        return f"{self.held}[{self.about(part)}]" if self.many else self.held


def _stack_claim(part: StackPart) -> PartClaim:
    """Bundles."""
    return PartClaim(part.result.status, float(len(part.result.bundles)), float(part.result.lower_bound))


def _sequence_claim(part: SequencePart) -> PartClaim:
    """Pieces in the rack, else open bundles."""
    result = part.result
    value, bound = (result.open, result.lower_bound) if part.job.stacks is None else (result.rack, result.rack_lower_bound)
    return PartClaim(result.status, _number(value), _number(bound))


def _slit_claim(part: SlitPart) -> PartClaim:
    """Metres of coil."""
    steel = part.result.steel_nm
    return PartClaim(part.result.status, None if steel is None else steel / 1e9, part.result.lower_bound_nm / 1e9)


def _schedule_claim(part: Timetable) -> PartClaim:
    """Lateness."""
    return PartClaim(part.result.status, _number(part.result.objective), float(part.result.lower_bound))


def _load_claim(part: LoadPart) -> PartClaim:
    """Trucks."""
    return PartClaim(part.result.status, float(part.result.trucks), float(part.result.trucks_lower_bound))


def _number(value: int | None) -> float | None:
    return None if value is None else float(value)


def _judge_rack(part: RackCurve, plan: Plan, given: CheckContext) -> Report:
    bundles = [bundle for stacked in plan.stacks for bundle in stacked.result.bundles]
    pieces = {piece.id: piece for takeoff in plan.takeoffs for piece in takeoff.pieces}
    if plan.kept is not None:  # what is cut, and what kept bars cut, is no matter of this order of cuts
        kept = {*plan.kept.made, *(item.piece for one in plan.kept.bars for item in one.bar.pieces)}
        pieces = {name: piece for name, piece in pieces.items() if name not in kept}
        some = (replace(one, pieces=tuple(lay for lay in one.pieces if lay.piece in pieces)) for one in bundles)
        bundles = [one for one in some if one.pieces]
    return check_rack(part, plan.cuts, bundles, pieces)


def _judge_takeoff(part: Takeoff, plan: Plan, given: CheckContext) -> Report:
    order = part.building.order
    return check_takeoff(given.buildings[order], given.plant, part, given.earlier.get(order))


def check_departures(part: Dispatch, plan: Plan, _given: CheckContext | None = None) -> Report:
    """Return what holds of a plan's departures: of its trucks that have not left."""
    if plan.kept is None:
        return check_dispatch(plan.takeoffs, plan.stacks, plan.loads, plan.timetable, part)
    left = set(plan.kept.left)
    loads = [
        replace(one, result=replace(one.result, loads=tuple(load for load in one.result.loads if load.id not in left)))
        for one in plan.loads
    ]
    return check_dispatch(plan.takeoffs, plan.stacks, loads, plan.timetable, part, built=plan.kept.built)


def _judge_kept(part: KeptWork, plan: Plan, given: CheckContext) -> Report:
    return check_floor(plan, given.floor)


PARTS: tuple[PartKind, ...] = (
    PartKind("takeoff", Takeoff, "takeoffs", lambda one: one.building.order, lambda one: PartClaim("done"), _judge_takeoff),
    PartKind(
        "stack", StackPart, "stacks", lambda one: one.order, _stack_claim, lambda one, *_: check_stack(one.job, one.result)
    ),
    PartKind(
        "nest",
        CutPlan,
        "cuts",
        lambda one: one.name,
        lambda one: PartClaim(one.status, one.result.cost, one.lower_bound),  # price of bars
        lambda one, *_: check_nest(one.job, one.result),
    ),
    PartKind(
        "sequence",
        SequencePart,
        "sequences",
        lambda one: one.machine,
        _sequence_claim,
        lambda one, *_: check_sequence(one.job, one.result),
    ),
    PartKind("slit", SlitPart, "slits", lambda one: one.material, _slit_claim, lambda one, *_: check_slit(one.job, one.result)),
    PartKind(
        "schedule",
        Timetable,
        "timetable",
        lambda one: "plant",
        _schedule_claim,
        lambda one, *_: check_schedule(one.job, one.result),
        many=False,
    ),
    PartKind("load", LoadPart, "loads", lambda one: one.order, _load_claim, lambda one, *_: check_load(one.job, one.result)),
    PartKind(
        "dispatch",
        Dispatch,
        "dispatch",
        lambda one: "plant",
        lambda one: PartClaim(one.status, float(one.most_late_s), float(one.lower_bound)),  # seconds late
        check_departures,
        many=False,
    ),
    PartKind("rack", RackCurve, "rack", lambda one: PANEL_SAW, lambda one: PartClaim("done"), _judge_rack, many=False),
    PartKind("floor", KeptWork, "kept", lambda one: "plant", lambda one: PartClaim("done"), _judge_kept, many=False),
)
KINDS: Mapping[type[Any], PartKind] = {kind.kind: kind for kind in PARTS}


def part_claim(part: Part) -> PartClaim:
    """Return what a part of a plan claims, in the unit of its stage; `optimal` only where value and bound are one."""
    stated = KINDS[type(part)].claim(part)
    if stated.status == "optimal" and not meets_bound(stated.value, stated.bound):
        return replace(stated, status="feasible")
    return stated


def iterate_plan_parts(plan: Plan) -> Iterator[tuple[PartKind, Any]]:
    """Give each part of a plan with its kind, stage by stage."""
    for kind in PARTS:
        for part in kind.of(plan):
            yield kind, part


def plan_from_parts(parts: Iterable[Part], **fields: Any) -> Plan:
    """Return the plan of some parts; `fields`: all that a plan says beside its parts, and single parts that are wanting."""
    held: dict[str, Any] = {kind.held: () if kind.many else None for kind in PARTS}
    for part in parts:
        kind = KINDS[type(part)]
        held[kind.held] = (*held[kind.held], part) if kind.many else part
    return Plan(**(held | fields))
