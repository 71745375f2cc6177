"""The plant's workplaces as machines: their hours, their set-ups, the people they share."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime
from itertools import pairwise

from solver.domain.plant import Plant
from solver.domain.timetable import Machine, Pool
from solver.errors import Faults, NoPlan
from solver.scheduling.shifts import closed_times
from solver.scheduling.steps import Key, Work, set_up

HORIZON_DAYS = 120


def machines(work: Work, epoch: datetime) -> tuple[Machine, ...]:
    """The plant's workplaces with their hours, known for as long as all of the work could take on the one least open.

    Raises NoPlan where work that may not pause is longer than any stretch of hours of the machines that can do it.
    """
    places = work.plant.workplaces
    closed = {place.id: closed_times(place, work.plant, epoch=epoch, days=HORIZON_DAYS) for place in places}
    _refuse_what_never_fits(work, closed)
    steps = [step for job in work.jobs.values() for step in job.operations]
    used = {name for step in steps for name in step.on}
    opened = [HORIZON_DAYS * 86_400 - sum(high - low for low, high in closed[name]) for name in used]
    longer = sum(max(step.on.values()) for step in steps) // max(1, min(opened, default=1))
    if longer:
        days = HORIZON_DAYS * (1 + longer)
        closed = {place.id: closed_times(place, work.plant, epoch=epoch, days=days) for place in places}
    keys: list[Key] = sorted(work.families, key=work.families.__getitem__)
    tables = {place.id: tuple(tuple(set_up(place, one, two) for two in keys) for one in keys) for place in places}
    return tuple(
        Machine(id=place.id, closed=closed[place.id], setup=tables[place.id] if any(map(any, tables[place.id])) else None)
        for place in places
    )


def _refuse_what_never_fits(work: Work, closed: Mapping[str, tuple[tuple[int, int], ...]]) -> None:
    longest = {name: max((b[0] - a[1] for a, b in pairwise(((0, 0), *shut))), default=0) for name, shut in closed.items()}
    faults = Faults()
    for (job_id, index), meaning in work.meaning.items():
        step = work.jobs[job_id].operations[index]
        if not step.pause and all(seconds > longest[name] for name, seconds in step.on.items()):
            room = max(longest[name] for name in step.on)
            what = f"{meaning.step} takes {min(step.on.values()) / 60:.0f} min in one go, open at most {room / 60:.0f} min"
            faults.add(f"timetable.{meaning.about}", what, "smaller lots, or longer hours without a break")
    if faults:
        raise NoPlan(*faults.found)


def pools(plant: Plant) -> Iterator[Pool]:
    """Give the groups of people that some workplaces share, each workplace with its crew."""
    crews = {place.id: place.crew for place in plant.workplaces}
    for group in plant.people:
        uses = {place: crews[place] for place in group.at if crews.get(place)}
        if uses:
            yield Pool(id=group.id, size=group.count, uses=uses)
