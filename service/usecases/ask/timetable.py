"""What each machine of a plan does: the timetable, a machine's calendar, its work in a time."""

from __future__ import annotations

from service.contracts.timetable import MachineList
from service.errors import NotFound
from service.ports import Store
from service.reports.calendars import machine_calendar
from service.reports.machines import machine_list
from service.reports.timetable import timetable_csv
from service.usecases.ask.drawings import plan_part_about, plan_plant
from solver.documents.texts import Language
from solver.domain.timetable import Timetable

WEEK_S = 7 * 86_400


def plan_timetable(job_id: str, *, store: Store) -> Timetable:
    """Return the timetable of a done plan. Raises NotFound."""
    return plan_part_about(job_id, "schedule", Timetable, "plant", store=store)


def machine_names(table: Timetable) -> list[str]:
    """Return the machines of a timetable: the plant's, in its order, then any other that something runs on."""
    known = [machine.id for machine in table.job.machines]
    return known + sorted({one.machine for one in table.operations} - set(known))


def plan_calendar(job_id: str, machine: str, language: Language, *, store: Store) -> str:
    """Return a machine's work as an iCalendar file. Raises NotFound."""
    table = plan_timetable(job_id, store=store)
    if machine not in machine_names(table):
        raise NotFound("machine", machine)
    return machine_calendar(table, machine, plan=job_id, language=language)


def plan_timetable_csv(job_id: str, *, store: Store) -> str:
    """Return the timetable as CSV, times in the plant's zone. Raises NotFound."""
    return timetable_csv(plan_timetable(job_id, store=store), plan_plant(job_id, store=store).time_zone)


def plan_machines(job_id: str, from_s: int, to_s: int | None, *, store: Store) -> MachineList:
    """Return what each machine does from a second of the plan to another, a week where none is given. Raises NotFound."""
    return machine_list(plan_timetable(job_id, store=store), from_s, from_s + WEEK_S if to_s is None else max(to_s, from_s))
