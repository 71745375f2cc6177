"""The bars of the release on the floor that are not wholly cut, as a plan that goes on from the floor finds them."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from datetime import datetime, timedelta

from service.ports import Transaction
from service.usecases.plan_rows import operations_between, timetable_head
from service.usecases.stored import read_parts
from solver.book.things import book_bar_name
from solver.domain.book import BarState
from solver.domain.cut_plan import Bar, CutPlan
from solver.domain.floor_snapshot import FloorBar
from solver.domain.ids import MachineId
from solver.domain.kept_work import KeptBar, KeptWork
from solver.domain.timetable import PlannedOperation

ITEM = "item "  # before the number of the stock item that a bar of a plan comes from


def stock_item_number(stock: str) -> int | None:
    """Return the number of the stock item that a bar of a plan comes from; None of a bar that is bought or made."""
    number = stock.removeprefix(ITEM)
    return int(number) if stock.startswith(ITEM) and number.isdecimal() else None


def bars_on_floor(tx: Transaction, at: str, firm_s: int, wanted: Collection[str]) -> Iterator[tuple[FloorBar, tuple[str, ...]]]:
    """Give each bar from which a wanted piece is to come, with those pieces.

    `begun`: something was cut of it, or it was told to be on the saw. `firm`: it is in the press, or came from it, or its
    first work starts within `firm_s` seconds of the instant `at`; the press runs as the timetable says, for nobody tells of it.
    """
    released = tx.plans.released()
    if released is None:
        return
    plan = released[0]
    to_come: dict[str, list[str]] = {}
    for name, piece in tx.floor.open_cuts(plan):
        to_come.setdefault(name, []).append(piece)
    kept = {one.bar.id: one for part in read_parts(tx, plan, "floor", KeptWork) for one in part.bars}
    bars: dict[str, Bar] = {str(name): one.bar for name, one in kept.items()}
    bars |= {str(bar.id): bar for cut in read_parts(tx, plan, "nest", CutPlan) for bar in cut.bars}
    numbers, times = tx.floor.numbered(plan), _Times(tx, plan, at)
    told = tx.book.states("bar", [book_bar_name(name, numbers[name].digest or None) for name in to_come if name in numbers])
    for name, pieces in sorted(to_come.items(), key=lambda one: numbers[one[0]].number):
        mine = tuple(piece for piece in pieces if piece in wanted)
        if not mine or name not in bars:
            continue
        bar, number, stays = bars[name], numbers[name], kept.get(bars[name].id)
        state = told.get(book_bar_name(name, number.digest or None))
        begun = len(pieces) < len(bar.pieces) or (stays is not None and stays.state == "begun")
        begun = begun or (isinstance(state, BarState) and state.state == "begun")
        ready = times.ready(name, stays)
        soon = ready is not None or times.starts_within(name, firm_s)
        yield (
            FloorBar(
                number=number.number,
                machine=MachineId(number.machine),
                item=_item(bar, stays, state),
                state="begun" if begun else "firm" if soon else "free",
                bar=bar,
                ready=ready,
            ),
            mine,
        )


def _item(bar: Bar, stays: KeptBar | None, state: object) -> int | None:
    """The stock item that was drawn for a bar, else the one that it was planned from."""
    if isinstance(state, BarState) and state.item is not None:
        return state.item
    return stays.item if stays is not None else stock_item_number(str(bar.stock))


class _Times:
    """When work on each bar begins, by the released timetable, in seconds from an instant."""

    def __init__(self, tx: Transaction, plan: str, at: str) -> None:
        self._epoch = datetime.fromisoformat(timetable_head(tx, plan).table.epoch)
        self._now = (datetime.fromisoformat(at) - self._epoch).total_seconds()
        self._first: dict[str, int] = {}
        self._pressed: dict[str, PlannedOperation] = {}
        for work in operations_between(tx, plan):
            for bar in work.bars:
                self._first[bar] = min(work.start_s, self._first.get(bar, work.start_s))
                if work.step == "laminate":
                    self._pressed[bar] = work

    def starts_within(self, bar: str, seconds: int) -> bool:
        """Whether the first work on a bar starts sooner than so many seconds from the instant."""
        return bar in self._first and self._first[bar] < self._now + seconds

    def ready(self, bar: str, stays: KeptBar | None) -> str | None:
        """When the glue of a bar is set that the press has by the instant, or had; None where it has not."""
        if stays is not None and stays.ready is not None:
            return stays.ready
        work = self._pressed.get(bar)
        if work is None or work.start_s >= self._now:
            return None
        return (self._epoch + timedelta(seconds=work.end_s + work.hold_s)).isoformat()
