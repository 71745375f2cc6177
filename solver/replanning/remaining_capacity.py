"""New work in the gaps of a timetable that stays: each operation where it fits first."""

from __future__ import annotations

from bisect import bisect_left, insort
from collections.abc import Iterable

from solver.domain.timetable import Operation, ScheduleJob, Slot
from solver.scheduling.rescheduling import Calendar

Busy = tuple[int, int, int]  # start, end, family


class RemainingCapacity:
    """What is left of the machines and people of a plan beside its slots; new work is added as it is placed."""

    def __init__(self, plan: ScheduleJob, slots: Iterable[Slot]) -> None:
        self.plan = plan
        family = {(job.id, n): step.family for job in plan.jobs for n, step in enumerate(job.operations)}
        self.machines = {machine.id: machine for machine in plan.machines}
        self.calendars = {machine.id: Calendar(machine.closed) for machine in plan.machines}
        self.busy: dict[str, list[Busy]] = {machine.id: [] for machine in plan.machines}
        self.pools = {m.id: [(p, p.uses[m.id]) for p in plan.pools if p.uses.get(m.id)] for m in plan.machines}
        for slot in slots:
            self.busy[slot.machine].append((slot.start, slot.end, family[slot.job, slot.index]))
        for held in self.busy.values():
            held.sort()

    def copy(self) -> RemainingCapacity:
        """Return the same gaps, to fill apart."""
        made = RemainingCapacity(self.plan, ())
        made.busy = {name: list(held) for name, held in self.busy.items()}
        return made

    def add(self, machine: str, start: int, end: int, family: int) -> None:
        """Note that a machine is taken."""
        insort(self.busy[machine], (start, end, family))

    def first(self, step: Operation, ready: int, *, alone: bool = False) -> tuple[int, int, str]:
        """Return where an operation ends first: end, start and machine. `alone`: as if set-ups and people cost nothing."""
        return min(self._on(name, work, step, ready, alone) for name, work in step.on.items())

    def _on(self, name: str, work: int, step: Operation, ready: int, alone: bool) -> tuple[int, int, str]:
        held, calendar = self.busy[name], self.calendars[name]
        at = bisect_left(held, (ready, -1, -1))
        while at > 0 and held[at - 1][1] > ready:
            at -= 1
        while True:
            before, after = (held[at - 1] if at else None), (held[at] if at < len(held) else None)
            low = max(ready, before[1] + (0 if alone else self._gap(name, before[2], step.family)) if before else 0)
            if before is None and not alone and self.machines[name].initial is not None:
                low = max(low, self._gap(name, self.machines[name].initial or 0, step.family))
            start, end = calendar.fit(low, work, pause=step.pause)
            if not alone and self.pools[name] and work:
                start, end = self._with_people(name, work, step, start, end)
            room = after is None or end + (0 if alone else self._gap(name, step.family, after[2])) <= after[0]
            if room:
                return end, start, name
            at += 1

    def _gap(self, name: str, before: int, after: int) -> int:
        setup = self.machines[name].setup
        return setup[before][after] if setup is not None else 0

    def _with_people(self, name: str, work: int, step: Operation, start: int, end: int) -> tuple[int, int]:
        """The first start from which people are free; work that pauses is taken to hold its people all the time."""
        while (later := self._people_free(name, start, end)) > start:
            start, end = self.calendars[name].fit(later, work, pause=step.pause)
        return start, end

    def _people_free(self, name: str, start: int, end: int) -> int:
        """`start`, or when people come free whom work in between needs."""
        for pool, need in self.pools[name]:
            edges: list[tuple[int, int]] = []
            for machine, uses in pool.uses.items():
                for low, high, _ in self.busy.get(machine, ()):
                    if low < end and high > start:
                        edges += [(low, uses), (high, -uses)]
            at = 0
            for _, change in sorted(edges):
                at += change
                if at + need > pool.size:
                    return min(high for high, change in edges if change < 0)
        return start
