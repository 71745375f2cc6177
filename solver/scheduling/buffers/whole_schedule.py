"""A whole schedule whose work moves one piece at a time, the order on each machine as it is: the ground of both shifts."""

from __future__ import annotations

from collections.abc import Sequence

from solver.domain.timetable import ScheduleJob, Slot
from solver.scheduling.buffers.flows import buffer_flows
from solver.scheduling.buffers.partial_schedule import PartialSchedule
from solver.scheduling.precedence import Key, slots_by_start


class BookedSchedule:
    """All work with its machines and people booked, and what comes before and behind each piece on its machine."""

    def __init__(self, task: ScheduleJob, slots: Sequence[Slot]) -> None:
        """Begin with a timetable that is sound."""
        self.partial, self.flows = PartialSchedule(task), buffer_flows(task.rooms)
        self.ordered = slots_by_start(task.jobs, slots)
        self.slots: dict[Key, Slot] = {(slot.job, slot.index): slot for slot in self.ordered}
        self.before: dict[Key, Key] = {}  # on its machine
        self.behind: dict[Key, Key] = {}
        last: dict[str, Key] = {}
        for key, slot in self.slots.items():
            if slot.machine in last:
                self.before[key], self.behind[last[slot.machine]] = last[slot.machine], key
            last[slot.machine] = key
            self.book(slot, 1)

    def book(self, slot: Slot, sign: int) -> None:
        """Book the people of a piece of work (sign 1), or give them back (-1)."""
        self.partial.book(slot.machine, slot.start, slot.end, sign)

    def move(self, slot: Slot, start: int, end: int) -> None:
        """Let a piece of work whose people were given back run at another time."""
        moved = Slot(job=slot.job, index=slot.index, machine=slot.machine, start=start, end=end)
        self.slots[slot.job, slot.index] = moved
        self.book(moved, 1)

    def is_last(self, slot: Slot) -> bool:
        """Return whether a piece of work is the last of its job: what the job brings is there once it ends."""
        return slot.index == len(self.partial.jobs[slot.job].operations) - 1

    def set_up(self, machine: str, before: Slot | None, slot: Slot) -> int:
        """Return the set-up that a machine needs for a piece of work behind another one, or as it is at the start."""
        made_for = self.partial.machines[machine]
        family = made_for.initial if before is None else self.partial.step(before).family
        if made_for.setup is None or family is None:
            return 0
        return made_for.setup[family][self.partial.step(slot).family]
