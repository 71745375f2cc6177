"""The plant's workplaces as machines: their hours, their set-ups, the people they share."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import pairwise

from solver.domain.plant import Plant
from solver.domain.timetable import Machine, Pool
from solver.errors import FaultCollector, NoPlan
from solver.scheduling.plant.shifts import closed_times
from solver.scheduling.plant.steps import Key, PlantJobs, setup_seconds

DAY_S = 86_400
AFTER_DAYS = 120  # that hours are listed for, from when the last work may start; lists go on by as many where work needs them


@dataclass(frozen=True, slots=True)
class ListedHours:
    """Until when, in seconds from the epoch, the closed times of machines are listed; calendars themselves have no end."""

    plant: Plant
    epoch: datetime
    days: int

    @property
    def until_s(self) -> int:
        """The end of the lists: nothing may be placed beyond, where a machine that has no list would never close."""
        return self.days * DAY_S

    def closed(self) -> dict[str, tuple[tuple[int, int], ...]]:
        """Return the closed times of each workplace."""
        return {place.id: closed_times(place, self.plant, epoch=self.epoch, days=self.days) for place in self.plant.workplaces}

    def with_listed_hours(self, machines: Iterable[Machine]) -> tuple[Machine, ...]:
        """Return machines with these hours."""
        closed = self.closed()
        return tuple(replace(machine, closed=closed[machine.id]) for machine in machines)


def plant_machines(work: PlantJobs, epoch: datetime, *, from_s: int = 0) -> tuple[tuple[Machine, ...], ListedHours]:
    """Return the plant's workplaces with their hours, and how far they are listed: about as far as work can reach.

    That is from the last release, or `from_s`, for as long as all of the work could take on the machine least open. Work that
    reaches farther (see `hours.in_hours`) has them listed farther. Raises NoPlan where work that may not pause is longer than
    any stretch of hours of the machines that can do it.
    """
    first = ListedHours(work.plant, epoch, AFTER_DAYS)
    closed = first.closed()
    _refuse_what_never_fits(work, closed)
    steps = [step for job in work.jobs.values() for step in job.operations]
    used = {name for step in steps for name in step.on}
    opened = [first.until_s - sum(high - low for low, high in closed[name]) for name in used]
    longer = sum(max(step.on.values()) for step in steps) // max(1, min(opened, default=1))
    start = max([from_s, *(job.release for job in work.jobs.values())])
    hours = replace(first, days=-(-start // DAY_S) + AFTER_DAYS * (1 + longer))
    keys: list[Key] = sorted(work.families, key=work.families.__getitem__)
    places = work.plant.workplaces
    tables = {place.id: tuple(tuple(setup_seconds(place, one, two) for two in keys) for one in keys) for place in places}
    bare = (Machine(id=place.id, setup=tables[place.id] if any(map(any, tables[place.id])) else None) for place in places)
    return hours.with_listed_hours(bare), hours


def _refuse_what_never_fits(work: PlantJobs, closed: Mapping[str, tuple[tuple[int, int], ...]]) -> None:
    longest = {name: max((b[0] - a[1] for a, b in pairwise(((0, 0), *shut))), default=0) for name, shut in closed.items()}
    faults = FaultCollector()
    for (job_id, index), meaning in work.meaning.items():
        step = work.jobs[job_id].operations[index]
        if not step.pause and all(seconds > longest[name] for name, seconds in step.on.items()):
            room = max(longest[name] for name in step.on)
            what = f"{meaning.step} takes {min(step.on.values()) / 60:.0f} min in one go, open at most {room / 60:.0f} min"
            faults.add(f"timetable.{meaning.about}", what, "smaller lots, or longer hours without a break")
    if faults:
        raise NoPlan(*faults.found)


def people_pools(plant: Plant) -> Iterator[Pool]:
    """Give the groups of people that some workplaces share, each workplace with its crew."""
    crews = {place.id: place.crew for place in plant.workplaces}
    for group in plant.people:
        uses = {place: crews[place] for place in group.at if crews.get(place)}
        if uses:
            yield Pool(id=group.id, size=group.count, uses=uses)
