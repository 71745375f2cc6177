"""A plan's work scheduled in hours that have no end: listed as far as the timetable reaches, and farther where it does."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from solver.domain.timetable import ScheduleResult, Slot
from solver.scheduling.plant.operations import PlantWork
from solver.scheduling.schedule import schedule
from solver.search import Search


def schedule_within_listed_hours(work: PlantWork, search: Search) -> tuple[PlantWork, ScheduleResult]:
    """Return a plan's timetable, and its work with hours listed beyond the last operation.

    A timetable that reaches the end of the lists is made again with longer ones: beyond them machines would never close.
    """
    while True:
        result = schedule(work.job, search)
        if not exceeds_listed_hours(work, result.operations):
            return work, result
        work = double_listed_hours(work)


def exceeds_listed_hours(work: PlantWork, slots: Iterable[Slot]) -> bool:
    """Return whether an operation lies beyond the hours that are listed."""
    return work.hours is not None and any(slot.end > work.hours.until_s for slot in slots)


def double_listed_hours(work: PlantWork) -> PlantWork:
    """Return the work with hours listed twice as far."""
    assert work.hours is not None  # else nothing lies beyond
    hours = replace(work.hours, days=2 * work.hours.days)
    return replace(work, hours=hours, job=replace(work.job, machines=hours.with_listed_hours(work.job.machines)))
