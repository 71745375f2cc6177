"""What pages read of a plan by rows: its operations by time, what it moves, its names; no page decodes a whole plan.

The rows are worked out from the plan's stored parts: by the worker when it has stored a plan, else when a page first asks for
them, as it does of a plan that an older version stored.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from typing import TypeVar, cast

from service.errors import NotFound
from service.lru_cache import LruCache
from service.ports import PlanRows, Store, Transaction
from service.stored_form import from_stored_text, rows_from_stored_texts, to_stored_text
from service.usecases.stored import read_parts
from solver.documents.moves import DeliveryMove, MoveKind, OperationMove, compare_timetables
from solver.documents.names import ThingNames
from solver.documents.numbering import BarNumber, number_bar_ids
from solver.domain.disruptions import materials_that_can_be_late
from solver.domain.plan import SequencePart
from solver.domain.plant import Plant
from solver.domain.takeoff import Revision, Takeoff
from solver.domain.timetable import PlannedOperation, Timetable
from solver.language import Language

T = TypeVar("T")
READ = LruCache(16)  # extracts and catalogs as they are read, by their texts


@dataclass(frozen=True, slots=True, kw_only=True)
class TimetableHead:
    """A timetable without its operations, and what is told of all of them together."""

    table: Timetable
    machines: tuple[str, ...]  # the plant's, in its order, then any other that something runs on
    operations: int
    end_s: int  # when the last one ends
    marked: tuple[str, ...]  # the last operation for each late delivery that has no chain


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeHead:
    """What differs between two timetables, without the moves; as `TimetableChange` has it."""

    moved: int
    counts: dict[MoveKind, int]
    quiet: int
    over: int
    longest_s: int
    sum_s: int
    begins_s: int  # when the first operation that moves begins, as it was or as it is
    deliveries: tuple[DeliveryMove, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RevisedOrder:
    """An order that was taken off before, and what its new takeoff does to its pieces."""

    order: str
    revision: int
    revised: Revision


@dataclass(frozen=True, slots=True, kw_only=True)
class RevisedOrders:
    """The orders of a plan that were taken off before."""

    orders: tuple[RevisedOrder, ...]


def write_plan_rows(plan_id: str, *, store: Store) -> None:
    """Write the rows of a stored plan, and of the one before it, where they are not there. Raises NotFound."""
    with store.reading() as tx:
        if tx.rows.written(plan_id):
            return
        before = tx.plans.manifest(plan_id).predecessor
    if before is not None:
        try:
            write_plan_rows(before, store=store)
        except NotFound:  # a predecessor that is gone
            before = None
    with store.reading() as tx:
        rows = _rows_of(tx, plan_id, before)
    with store.writing() as tx:
        tx.rows.write(plan_id, rows)


def _rows_of(tx: Transaction, plan_id: str, before: str | None) -> PlanRows:
    table = next(read_parts(tx, plan_id, "schedule", Timetable), None)
    if table is None:
        raise NotFound("schedule", "plant")
    place = {operation.id: n for n, operation in enumerate(table.operations)}
    extracts = {"timetable": to_stored_text(_head(table))}
    moves: tuple[tuple[str, int | None, PlannedOperation | None, str | None], ...] = ()
    old = None if before is None else next(read_parts(tx, before, "schedule", Timetable), None)
    if old is not None:
        change = compare_timetables(old, table)
        moves = tuple(
            (
                move.kind,
                None if move.new is None else place[move.new.id],
                move.old,
                None if move.old is None else to_stored_text(move.old),
            )
            for move in change.moves
        )
        begins = (op.start_s for move in change.moves for op in (move.old, move.new) if op is not None)
        extracts["change"] = to_stored_text(
            ChangeHead(
                moved=len(change.moves),
                counts=change.counts,
                quiet=change.quiet,
                over=change.over,
                longest_s=change.longest_s,
                sum_s=change.sum_s,
                begins_s=min(begins, default=0),
                deliveries=change.deliveries,
            )
        )
    bars = {bar for operation in table.operations for bar in operation.bars}
    sequences = tuple(read_parts(tx, plan_id, "sequence", SequencePart))
    numbers = number_bar_ids(bars, sequences, table.operations)
    pieces: dict[str, int | None] = {}
    revised: list[RevisedOrder] = []
    for takeoff in read_parts(tx, plan_id, "takeoff", Takeoff):
        pieces |= dict.fromkeys(map(str, (piece.id for piece in takeoff.pieces)))
        if takeoff.revised is not None:
            building = takeoff.building
            revised.append(RevisedOrder(order=building.order, revision=building.revision, revised=takeoff.revised))
    extracts["revised"] = to_stored_text(RevisedOrders(orders=tuple(revised)))
    return PlanRows(
        extracts=extracts,
        operations=tuple((operation, to_stored_text(operation)) for operation in table.operations),
        moves=moves,
        names={
            "bar": {name: number.at for name, number in numbers.items()},
            "material": dict.fromkeys(materials_that_can_be_late(table)),
            "piece": pieces,
        },
    )


def _head(table: Timetable) -> TimetableHead:
    """A timetable's head: machines with their hours, deliveries with their chains, what waits; no job, no operation."""
    known = [machine.id for machine in table.job.machines]
    bare = [one.order for one in table.deliveries if one.late_s > 0 and not one.chain]
    last: dict[str, PlannedOperation] = {}
    for operation in table.operations:
        one = last.get(operation.order)
        if one is None or (operation.end_s, operation.id) > (one.end_s, one.id):
            last[operation.order] = operation
    return TimetableHead(
        table=replace(
            table,
            job=replace(table.job, jobs=(), pools=(), rooms=()),
            result=replace(table.result, operations=(), certificate=None),
            operations=(),
        ),
        machines=(*known, *sorted({operation.machine for operation in table.operations} - set(known))),
        operations=len(table.operations),
        end_s=max((operation.end_s for operation in table.operations), default=0),
        marked=tuple(last[order].id for order in bare if order in last),
    )


def read_extract(tx: Transaction, plan_id: str, kind: str, of: type[T]) -> T | None:
    """Return an extract of a plan whose rows are written; None where it has none such."""
    text = tx.rows.extract(plan_id, kind)
    return None if text is None else READ.get((kind, text), lambda: from_stored_text(of, text))


def timetable_head(tx: Transaction, plan_id: str) -> TimetableHead:
    """Return the head of a plan's timetable. Raises NotFound."""
    head = read_extract(tx, plan_id, "timetable", TimetableHead)
    if head is None:
        raise NotFound("schedule", "plant")
    return head


def plan_catalog(tx: Transaction, plan_id: str) -> Plant:
    """Return the catalog that a plan was made with. Raises NotFound."""
    line = next(iter(tx.plans.parts_of(plan_id, "plant")), None)
    if line is None:
        raise NotFound("plant", plan_id)
    return READ.get(("plant", line.digest), lambda: from_stored_text(Plant, tx.plans.part(plan_id, line.digest)))


def operations_between(
    tx: Transaction, plan_id: str, from_s: int | None = None, to_s: int | None = None, *, machine: str | None = None
) -> tuple[PlannedOperation, ...]:
    """Return the operations, what sets after them too, between two seconds, of one machine where it is named."""
    return tuple(
        rows_from_stored_texts(PlannedOperation, tx.rows.operations(plan_id, from_s=from_s, to_s=to_s, machine=machine))
    )


def timetable_with_marked(
    tx: Transaction, plan_id: str, head: TimetableHead, some: Iterable[PlannedOperation], chains: Iterable[str]
) -> Timetable:
    """Return a timetable with some operations alone, and with those of some chains and of what is marked without one."""
    by_id = {operation.id: operation for operation in some}
    wanted = [name for name in (*head.marked, *chains) if name not in by_id]
    by_id |= {
        one.id: one for text in tx.rows.operations_named(plan_id, wanted) for one in (from_stored_text(PlannedOperation, text),)
    }
    return replace(head.table, operations=tuple(by_id.values()))


def plan_thing_names(tx: Transaction, plan_id: str, language: Language, texts: Collection[str]) -> ThingNames:
    """Return the names of a plan's things in a language, with the numbers of the bars among some texts."""
    bars = {text for text in texts if "#" in text}  # no other text is a bar's id
    numbers = tx.rows.numbers(plan_id, "bar", bars)
    return ThingNames(
        plan_catalog(tx, plan_id), language, {bar: BarNumber("", at, 0) for bar, at in numbers.items() if at is not None}
    )


def nameable_texts(operations: Iterable[PlannedOperation]) -> set[str]:
    """Return what some operations tell that may be a name: what they are about, and their bars."""
    return {text for one in operations for text in (one.about, *one.bars)}


def moves_from_rows(rows: Iterable[tuple[str, str | None, str | None]]) -> tuple[OperationMove, ...]:
    """Return stored moves as they are told."""
    rows = list(rows)
    told = iter(rows_from_stored_texts(PlannedOperation, [text for _, *both in rows for text in both if text is not None]))
    return tuple(
        OperationMove(
            kind=cast(MoveKind, kind),
            old=None if old is None else next(told),
            new=None if new is None else next(told),
        )
        for kind, old, new in rows
    )
