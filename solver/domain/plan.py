"""A plan: every stage's part with its proof, never edited; a new plan is made and compared."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, Literal

from solver.domain.building import Delivery, delivery_of_part
from solver.domain.bundle import Bundle, StackJob, StackResult
from solver.domain.cut_plan import CutPlan
from solver.domain.dispatch import Dispatch
from solver.domain.ids import MaterialId, OrderId
from solver.domain.kept_work import KeptWork
from solver.domain.load import Load, LoadJob, LoadResult
from solver.domain.rack import RackCurve
from solver.domain.sequence import SequenceJob, SequenceResult
from solver.domain.slit_plan import SlitJob, SlitResult
from solver.domain.takeoff import Takeoff
from solver.domain.timetable import Timetable
from solver.units import Unit


@dataclass(frozen=True, slots=True, kw_only=True)
class StackPart:
    """The bundles of one order, with the job that asked for them."""

    order: OrderId
    job: StackJob
    result: StackResult


@dataclass(frozen=True, slots=True, kw_only=True)
class SequencePart:
    """The cut order of one machine's bars."""

    machine: str
    job: SequenceJob
    result: SequenceResult


@dataclass(frozen=True, slots=True, kw_only=True)
class SlitPart:
    """The slitting of one coil material (gauge and colour)."""

    material: MaterialId
    job: SlitJob
    result: SlitResult


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadPart:
    """The loads of one order's ship-to."""

    order: OrderId
    job: LoadJob
    result: LoadResult


def deliveries_on_load(load: Load, bundles: Sequence[Bundle], takeoff: Takeoff) -> tuple[Delivery, ...]:
    """Return the deliveries of an order that a load carries something of, the soonest due at the dock first."""
    on, of = {item.bundle for item in load.placed}, {piece.id: (piece.part, piece.role) for piece in takeoff.pieces}
    deliveries = takeoff.building.deliveries
    aboard = {of[lay.piece] for bundle in bundles if bundle.id in on for lay in bundle.pieces if lay.piece in of}
    wanting = [delivery_of_part(deliveries, *one) for one in aboard]
    names = {one.id for one in wanting if one} | {one.delivery for one in bundles if one.id in on and one.items}
    mine = [one for one in deliveries if one.id in names]
    return tuple(sorted(mine, key=lambda one: (datetime.fromisoformat(one.dock_due), one.id)))


Stage = Literal["takeoff", "stack", "nest", "sequence", "slit", "schedule", "load", "dispatch", "rack", "floor"]
Part = Takeoff | StackPart | CutPlan | SequencePart | SlitPart | Timetable | LoadPart | Dispatch | RackCurve | KeptWork


def without_search_seconds(part: Part) -> Part:
    """Return a part without the seconds that its search took: what its digest is made of."""
    result = getattr(part, "result", None)
    if not hasattr(result, "seconds"):
        return part
    whole: Any = part  # each kind of part has a result of its own type
    timed: Part = replace(whole, result=replace(whole.result, seconds=0.0))
    return timed


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """What one part claims and how its check came out."""

    stage: Stage
    about: str
    status: str
    value: float | None
    lower_bound: float | None
    checked: bool
    digest: str  # SHA-256 of the part's JSON, seconds aside


@dataclass(frozen=True, slots=True, kw_only=True)
class Making:
    """A piece that is made again, and which time this is: labels of the makings before are void."""

    piece: str
    making: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """All stages of one or more orders. `id` is the digest of its parts."""

    status: Literal["optimal", "feasible", "unknown"]
    id: str
    unit: Unit
    plant: str
    takeoffs: tuple[Takeoff, ...]
    stacks: tuple[StackPart, ...]
    cuts: tuple[CutPlan, ...]
    sequences: tuple[SequencePart, ...]
    slits: tuple[SlitPart, ...]
    timetable: Timetable
    loads: tuple[LoadPart, ...]
    proofs: tuple[Proof, ...]
    lower_bound: float
    cost: float
    seconds: float
    predecessor: str | None = None
    dispatch: Dispatch | None = None
    rack: RackCurve | None = None
    kept: KeptWork | None = None  # what stays as the floor has it; absent: the plan starts on an empty floor
    makings: tuple[Making, ...] = ()  # of pieces that were scrapped before the plan was made
