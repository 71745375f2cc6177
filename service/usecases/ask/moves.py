"""What a plan's timetable changes of the one that was on the floor before it: the picture and the moves."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from service.drawings.moves import draw_moves
from service.drawings.shapes import Drawing
from service.ports import Store
from service.usecases.ask.timetable import View, ensure_plan_rows, view_window
from service.usecases.plan_rows import (
    ChangeHead,
    moves_from_rows,
    operations_between,
    plan_catalog,
    plan_thing_names,
    read_extract,
    timetable_head,
)
from solver.documents.moves import OperationMove, rebase_to_epoch
from solver.documents.names import ThingNames
from solver.language import Language

LISTED = 100
DELIVERIES_LISTED = 200
WINDOWS_MOST = 1_000


@dataclass(frozen=True, slots=True, kw_only=True)
class MovesPage:
    """What a page shows of two timetables: the picture of a week or a day, and a page of the moves, longest first."""

    epoch: str
    zone: str
    change: ChangeHead  # of very many deliveries the most changed
    unlisted: int  # deliveries that are not among them
    drawing: Drawing
    view: View
    at: int  # which week or day
    more: bool
    moves: tuple[OperationMove, ...]
    first: int  # of the moves listed


def moves_page(
    plan_id: str, language: Language, *, view: View, at: int | None, first: int, now: datetime, store: Store
) -> MovesPage | None:
    """Return what a plan changes of its predecessor's timetable; None where it had none or that is gone. Raises NotFound.

    `at`: which week or day of the plan; the first with a move where it is absent.
    """
    plan = ensure_plan_rows(plan_id, store=store)
    with store.reading() as tx:
        change, before = read_extract(tx, plan, "change", ChangeHead), tx.plans.manifest(plan).predecessor
        if change is None or before is None:
            return None
        head, was = timetable_head(tx, plan), timetable_head(tx, before)
        zone = plan_catalog(tx, plan).time_zone
        number = _window_of(max(change.begins_s, 0), head.table.epoch, zone, view) if at is None else at
        low, high = view_window(head.table.epoch, zone, view, number)
        work = operations_between(tx, plan, low, high)
        some, listed = (
            moves_from_rows(rows) for rows in (tx.rows.moves_between(plan, low, high), tx.rows.moves(plan, first, LISTED))
        )
        every = (*some, *listed)
        there = (*work, *(move.new for move in every if move.new is not None))
        is_called = plan_thing_names(tx, plan, language, {one.about for one in there})
        was_called = plan_thing_names(tx, before, language, {move.old.about for move in every if move.old is not None})
    old = rebase_to_epoch(was.table, head.table)
    drawing = draw_moves(
        old,
        replace(head.table, operations=work),
        some,
        machines=_machines(was.machines, head.machines),
        moved=change.moved,
        called_before=was_called.of,
        called=is_called.of,
        time_zone=zone,
        from_s=low,
        to_s=high,
        now_s=int((now - datetime.fromisoformat(head.table.epoch)).total_seconds()),
        language=language,
    )
    return MovesPage(
        epoch=head.table.epoch,
        zone=zone,
        change=replace(change, deliveries=change.deliveries[:DELIVERIES_LISTED]),
        unlisted=len(change.deliveries[DELIVERIES_LISTED:]),
        drawing=drawing,
        view=view,
        at=number,
        more=max(head.end_s, was.end_s + _seconds_between(was.table.epoch, head.table.epoch)) > high,
        moves=tuple(_named(move, was_called, is_called) for move in listed),
        first=first,
    )


def _named(move: OperationMove, before: ThingNames, now: ThingNames) -> OperationMove:
    """A move whose work is told by the names that people use: a bar has its number of either plan."""
    old, new = move.old, move.new
    return replace(move, old=old and before.operation(old), new=new and now.operation(new))


def _machines(old: Iterable[str], new: Sequence[str]) -> list[str]:
    """The machines of the new timetable, then any other that something ran on."""
    return [*new, *sorted(set(old) - set(new))]


def _seconds_between(epoch: str, later: str) -> int:
    return int((datetime.fromisoformat(epoch) - datetime.fromisoformat(later)).total_seconds())


def _window_of(second: int, epoch: str, zone: str, view: View) -> int:
    """Which week or day of a plan a second lies in."""
    return next((n for n in range(WINDOWS_MOST) if second < view_window(epoch, zone, view, n)[1]), 0)
