"""The timetable as rows for people and spreadsheets, in the plant's own time, and as files beside a plan."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from service.reports.calendars import machine_calendar
from service.reports.cells import escape_formula
from solver.documents.names import ThingNames
from solver.domain.timetable import Timetable
from solver.domain.work_ids import operation_id

COLUMNS = (
    "machine",
    "step",
    "about",
    "name",
    "order",
    "bars",
    "bar names",
    "from",
    "to",
    "work min",
    "set-up min",
    "sets after h",
    "makes late",
)


def timetable_rows(table: Timetable, names: ThingNames) -> Iterator[dict[str, Any]]:
    """Give a row for each operation, machine by machine in order of time; times in the plant's zone with their offset.

    Ids are for programs; beside each stands its name.
    """
    time_zone = names.plant.time_zone
    zone, epoch = ZoneInfo(time_zone), datetime.fromisoformat(table.epoch)
    work = {operation_id(job.id, n): step.on for job in table.job.jobs for n, step in enumerate(job.operations)}
    rank = {machine.id: n for n, machine in enumerate(table.job.machines)}
    late: dict[str, list[str]] = {}
    for promise in table.deliveries:
        for link in promise.chain:
            late.setdefault(link.operation, []).append(f"{promise.order} {promise.delivery}")
    for operation in sorted(table.operations, key=lambda op: (rank.get(op.machine, len(rank)), op.machine, op.start_s, op.id)):
        seconds = work.get(operation.id, {}).get(operation.machine, operation.end_s - operation.start_s)
        at = [(epoch + timedelta(seconds=when)).astimezone(zone).isoformat() for when in (operation.start_s, operation.end_s)]
        values = (
            operation.machine,
            operation.step,
            operation.about,
            names.of(operation.about),
            operation.order,
            " ".join(operation.bars),
            "; ".join(map(names.of, operation.bars)),
            *at,
            round(seconds / 60, 2),
            round(operation.setup_s / 60, 2),
            round(operation.hold_s / 3600, 2),
            ", ".join(late.get(operation.id, ())),
        )
        yield dict(zip(COLUMNS, map(escape_formula, values), strict=True))


def timetable_csv(table: Timetable, names: ThingNames) -> str:
    """Return the rows as CSV (RFC 4180), the names of the columns first, behind a byte order mark."""
    out = io.StringIO(newline="")
    out.write("\ufeff")  # without it spreadsheets take UTF-8 for the computer's own code page: señal becomes seÃ±al
    writer = csv.DictWriter(out, COLUMNS)
    writer.writeheader()
    writer.writerows(timetable_rows(table, names))
    return out.getvalue()


def write_timetable(table: Timetable, names: ThingNames, out: Path, *, made: datetime) -> dict[str, Path]:
    """Write the timetable as CSV, and a folder with a calendar for each machine that has work; return both paths by name.

    `made`: when the plan was made, aware.
    """
    paths = {"timetable.csv": out / "timetable.csv", "calendars": out / "calendars"}
    paths["timetable.csv"].write_bytes(timetable_csv(table, names).encode())
    paths["calendars"].mkdir(exist_ok=True)
    named = names.table(table)
    for machine in {operation.machine for operation in table.operations}:
        name = "".join(letter if letter.isalnum() or letter in "-_." else "-" for letter in machine)
        text = machine_calendar(named, machine, plant=names.plant.id, made=made, language=names.language)
        (paths["calendars"] / f"{name}.ics").write_bytes(text.encode())
    return paths
