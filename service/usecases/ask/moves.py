"""What a plan's timetable changes of the one that was on the floor before it: the picture and the moves."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from service.drawings.moves import moves_drawing
from service.drawings.shapes import Drawing
from service.ports import Store, Transaction
from service.usecases.ask.drawings import plan_plant
from service.usecases.ask.plans import done_plan
from service.usecases.ask.release import read_parts
from service.usecases.ask.timetable import View, window
from solver.documents.moves import Move, TimetableChange, change_between, on_clock_of
from solver.documents.texts import Language
from solver.domain.timetable import Timetable

LISTED = 100
WINDOWS_MOST = 1_000


@dataclass(frozen=True, slots=True, kw_only=True)
class MovesPage:
    """What a page shows of two timetables: the picture of a week or a day, and a page of the moves, longest first."""

    epoch: str
    zone: str
    change: TimetableChange
    drawing: Drawing
    view: View
    at: int  # which week or day
    more: bool
    moves: tuple[Move, ...]
    first: int  # of the moves listed


def moves_page(
    job_id: str, language: Language, *, view: View, at: int | None, first: int, now: datetime, store: Store
) -> MovesPage | None:
    """Return what a plan changes of its predecessor's timetable; None where it had none or that is gone. Raises NotFound.

    `at`: which week or day of the plan; the first with a move where it is absent.
    """
    with store.reading() as tx:
        plan = done_plan(tx, job_id)
        before = tx.plans.manifest(plan).predecessor
        new, old = _timetable(tx, plan), _timetable(tx, before) if before is not None else None
    if new is None or old is None:
        return None
    return moves_of(old, new, plan_plant(job_id, store=store).time_zone, language, view=view, at=at, first=first, now=now)


def moves_of(
    old: Timetable, new: Timetable, zone: str, language: Language, *, view: View, at: int | None, first: int, now: datetime
) -> MovesPage:
    """Return what a page shows of two timetables; `at` and `first` as above."""
    change = change_between(old, new)
    begins = [op.start_s for move in change.moves for op in (move.old, move.new) if op is not None]
    number = _window_of(max(min(begins, default=0), 0), new.epoch, zone, view) if at is None else at
    low, high = window(new.epoch, zone, view, number)
    now_s = int((now - datetime.fromisoformat(new.epoch)).total_seconds())
    end = max((op.end_s for op in (*on_clock_of(old, new).operations, *new.operations)), default=0)
    drawing = moves_drawing(old, new, time_zone=zone, from_s=low, to_s=high, now_s=now_s, language=language)
    return MovesPage(
        epoch=new.epoch,
        zone=zone,
        change=change,
        drawing=drawing,
        view=view,
        at=number,
        more=end > high,
        moves=change.moves[first : first + LISTED],
        first=first,
    )


def _timetable(tx: Transaction, plan: str) -> Timetable | None:
    return next(read_parts(tx, plan, "schedule", Timetable, about="plant"), None)


def _window_of(second: int, epoch: str, zone: str, view: View) -> int:
    """Which week or day of a plan a second lies in."""
    return next((n for n in range(WINDOWS_MOST) if second < window(epoch, zone, view, n)[1]), 0)
