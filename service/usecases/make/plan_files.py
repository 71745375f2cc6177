"""A whole plan from order documents, and its files in a folder."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from service.printing.labels import Dpi, LabelSize
from service.usecases.make.stages import countdown
from solver.codec import encode
from solver.documents.names import ThingNames
from solver.domain.building import Building
from solver.domain.floor_snapshot import FloorSnapshot
from solver.domain.plan import Plan
from solver.domain.plant import Plant
from solver.domain.takeoff import Takeoff
from solver.errors import FieldFault, InputError
from solver.language import ENGLISH, Language
from solver.progress_tracker import Report, ignore_progress
from solver.search import Search

Tell = Callable[[str, float], None]


def read_orders(orders: Sequence[tuple[str, Any]], plant: Plant) -> tuple[Building, ...]:
    """Return the buildings of named order documents. Raises InputError with the faults of all of them at once."""
    from solver.reading.read_order import read_order

    made: list[Building] = []
    faults: list[FieldFault] = []
    for name, data in orders:
        try:
            made.append(read_order(data, plant))
        except InputError as error:
            prefix = f"{name}: " if len(orders) > 1 else ""
            faults.extend(FieldFault(f"{prefix}{fault.path}", fault.problem, fault.fix) for fault in error.faults)
    ids = [building.order for building in made]
    twice = sorted({name for name in ids if ids.count(name) > 1})
    faults.extend(FieldFault("orders", f"order {name} is given twice", "each order once") for name in twice)
    if faults:
        raise InputError(*faults)
    return tuple(made)


def default_time_limit_s(orders: int) -> float:
    """Return the seconds in which so many orders are planned where nobody says how many: 20, one more an order beyond ten."""
    return 20.0 + max(0, orders - 10)


def plan_orders(
    buildings: tuple[Building, ...],
    plant: Plant,
    *,
    epoch: str,
    limit_s: float,
    seed: int,
    previous: tuple[Takeoff, ...] = (),
) -> Plan:
    """Return the plan of some buildings within `limit_s` seconds, keeping earlier marks. Raises InputError and NoPlan."""
    return plan_by_search(buildings, plant, Search(seed=seed, left_s=countdown(limit_s)), epoch=epoch, previous=previous)


def plan_by_search(
    buildings: tuple[Building, ...],
    plant: Plant,
    search: Search,
    *,
    epoch: str,
    previous: tuple[Takeoff, ...] = (),
    floor: FloorSnapshot | None = None,
    report: Report = ignore_progress,
) -> Plan:
    """Return the plan that a search gives, `report` told how far it is. Raises InputError and NoPlan."""
    from service.usecases.make.proof_process import proving_in_process
    from solver.pipeline import make_plan

    with proving_in_process() as apart:
        return make_plan(buildings, plant, search, epoch=epoch, previous=previous, floor=floor, report=report, apart=apart)


def plan_with_its_job(plan: Plan, orders: Sequence[Any], floor: FloorSnapshot | None = None) -> dict[str, Any]:
    """Return a plan with its job inside, orders and the floor that it goes on from, as `sawbill check` reads it."""
    job = {"orders": list(orders)} | ({} if floor is None else {"floor": encode(floor, unit=floor.unit)})
    return {"stage": "plan", "job": job, "result": encode(plan)}


def write_plan(
    plan: Plan,
    orders: Sequence[Any],
    plant: Plant,
    out: Path,
    *,
    floor: FloorSnapshot | None = None,
    made: str,
    tell: Tell,
    language: Language = ENGLISH,
    size: LabelSize = "4x6",
    dpi: Dpi = 203,
) -> dict[str, Path]:
    """Write the plan, its tables and its sheets into a folder; return the paths by file name.

    `made`: when, in the plant's time (ISO 8601 without a zone), as it stands on the sheets; `language` of all paper
    and calendars; `size` and `dpi` of the labels.
    """
    from service.reports.tables import write_tables
    from service.reports.timetable import write_timetable
    from service.usecases.make.sheets import draw_sheets
    from solver.floor_continuation import stock_of

    out.mkdir(parents=True, exist_ok=True)
    path = out / "plan.json"
    half = out / "plan.json.part"  # a plan that is there is whole, whenever its writer is killed
    half.write_text(json.dumps(plan_with_its_job(plan, orders, floor), ensure_ascii=False, allow_nan=False), encoding="utf-8")
    half.replace(path)
    tell("tables", 0.0)
    written = [path, *write_tables(plan, out, plant).values()]
    stamp = datetime.fromisoformat(made).replace(tzinfo=ZoneInfo(plant.time_zone))
    names = ThingNames.for_timetable(plant, language, plan.timetable, plan.sequences)
    written += write_timetable(plan.timetable, names, out, made=stamp).values()
    for old in out.glob("installation-*.pdf"):  # of orders that this plan may not have
        old.unlink()
    stock = stock_of(plant, floor)
    written += draw_sheets(plan, plant, out, made=made, tell=tell, language=language, size=size, dpi=dpi, stock=stock).values()
    return {one.name: one for one in written}
