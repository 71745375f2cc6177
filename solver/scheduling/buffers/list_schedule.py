"""Work placed piece by piece in the order of a timetable, each where it finds room; what finds none is passed over."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from heapq import heapify, heappop, heappush

from solver.domain.timetable import ScheduleJob, Slot
from solver.scheduling.buffers.contents import BufferContents
from solver.scheduling.buffers.partial_schedule import PartialSchedule
from solver.scheduling.precedence import Key, in_precedence_order, successors_by_job

Turn = tuple[int, int, int, int, int]  # whose turn it is: when work was to start or bring something, then what is steady


def list_schedule(
    task: ScheduleJob,
    slots: Sequence[Slot],
    contents: BufferContents,
    *,
    overtake: bool,
    kept: Mapping[Key, Slot] | None = None,
    not_before: Mapping[Key, int] | None = None,
    over: Callable[[], bool] = lambda: False,
) -> tuple[Slot, ...] | None:
    """Place work by when it was to start, or to end where it brings something into a room.

    Work that finds no room until other work fetches something, or after which what is left could not pass, is passed over.
    `overtake`: others of its machine may go before it then; else they wait for it. Where all is passed over, the next of the
    first unfinished job of the order that keeps to the rooms goes: what it waits for comes before it in that order, and all
    that is left can pass in that order, so it always can. So all gets placed. None: time is up before.
    """
    ready = _Ready(task, slots, contents, kept or {}, PartialSchedule(task, not_before))
    choose = ready.any_that_fits if overtake else ready.first_of_a_machine
    while ready.left:
        if over():
            return None
        slot, found = choose() or ready.in_known_order()
        ready.put(slot, *found)
    return tuple(ready.partial.slots)


Placed = tuple[Slot, tuple[int, int]]  # work, and when it fits


class _Ready:
    """Work that is left to place: by machine in order, and of all that whose turn has come."""

    def __init__(
        self,
        task: ScheduleJob,
        slots: Sequence[Slot],
        contents: BufferContents,
        kept: Mapping[Key, Slot],
        partial: PartialSchedule,
    ) -> None:
        self.partial, self.contents = partial, contents
        self.rank = {job.id: n for n, job in enumerate(in_precedence_order(task.jobs))}
        self.placed = dict.fromkeys(contents.last, 0)  # operations of each job
        self.waits = {job.id: len(set(job.after)) for job in task.jobs}
        self.followers = successors_by_job(task.jobs)
        self.left = {(slot.job, slot.index): slot for slot in slots if (slot.job, slot.index) not in kept}
        self.ready: list[tuple[Turn, Key]] = []  # all that it waits for is placed
        self.full: dict[Key, Turn] = {}  # found no room since something was fetched last
        self.fetched = -1
        self.at = 0  # in the order that keeps to the rooms: all before is done
        for slot in sorted(kept.values(), key=lambda one: (one.start, one.end, self.rank[one.job], one.index)):
            self.put(slot, slot.start, slot.end)
        self.ready = [(self._turn(slot), key) for key, slot in self.left.items() if self._free(key)]
        heapify(self.ready)
        self.lanes: dict[str, list[tuple[Turn, Key]]] = {}
        for key, slot in self.left.items():
            self.lanes.setdefault(slot.machine, []).append((self._turn(slot), key))
        for lane in self.lanes.values():
            lane.sort(reverse=True)

    def _turn(self, slot: Slot) -> Turn:
        brings = self.contents.brings(slot.job, slot.index)
        return (slot.end if brings else slot.start), not brings, slot.end, self.rank[slot.job], slot.index

    def _free(self, key: Key) -> bool:
        return self.placed[key[0]] == key[1] and (key[1] > 0 or not self.waits[key[0]])

    def put(self, slot: Slot, start: int, end: int) -> None:
        """Place work, and let what waits for it have its turn."""
        self.partial.put(slot, start, end)
        self.contents.note(replace(slot, start=start, end=end))
        self.left.pop((slot.job, slot.index), None)
        self.placed[slot.job] += 1
        freed = [(slot.job, slot.index + 1)]
        if slot.index == self.contents.last[slot.job]:
            for other in self.followers.get(slot.job, ()):
                self.waits[other] -= 1
                freed.append((other, 0))
        for key in freed:
            if key in self.left and self._free(key):
                heappush(self.ready, (self._turn(self.left[key]), key))
        if self.contents.fetched != self.fetched:
            self.fetched = self.contents.fetched
            for key, turn in self.full.items():
                heappush(self.ready, (turn, key))
            self.full.clear()

    def first_of_a_machine(self) -> Placed | None:
        """Return the next work of the machine whose turn is first, of those whose next work waits for nothing and fits."""
        for lane in self.lanes.values():
            while lane and lane[-1][1] not in self.left:
                lane.pop()
        for turn, key in sorted(lane[-1] for lane in self.lanes.values() if lane):
            found = self._fit(turn, key) if self._free(key) else None
            if found is not None:
                return found
        return None

    def any_that_fits(self) -> Placed | None:
        """Return the work whose turn is first, of all that waits for nothing and fits."""
        found = None
        while self.ready and found is None:
            turn, key = heappop(self.ready)
            found = self._fit(turn, key) if key in self.left else None
        return found

    def _fit(self, turn: Turn, key: Key) -> Placed | None:
        """Return work with the times at which it finds room; what finds none is put aside until something is fetched."""
        if key in self.full:
            return None
        found = self.contents.fit(self.partial, self.left[key])
        if found is None:
            self.full[key] = turn
            return None
        return self.left[key], found

    def in_known_order(self) -> Placed:
        """Return the next work of the first unfinished job of the order that keeps to the rooms, and when it fits."""
        order = self.contents.sequence.order
        while order[self.at] in self.contents.ended:
            self.at += 1
        name = order[self.at]
        slot = self.left[name, self.placed[name]]
        found = self.contents.fit(self.partial, slot, asked=False)
        assert found is not None  # all before it in the order that keeps to the rooms is done
        return slot, found
