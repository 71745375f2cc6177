"""A whole plan from order documents, and its files in a folder."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from service.printing.labels import Dpi, LabelSize
from service.usecases.make.stages import clock
from solver.codec import encode
from solver.documents.texts import Language
from solver.domain.building import Building
from solver.domain.plan import Plan
from solver.domain.plant import Plant
from solver.domain.takeoff import Takeoff
from solver.errors import FieldFault, InputError
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


def plan_orders(
    buildings: tuple[Building, ...],
    plant: Plant,
    *,
    epoch: str,
    limit_s: float,
    seed: int,
    tell: Tell,
    previous: tuple[Takeoff, ...] = (),
) -> Plan:
    """Return the plan of some buildings within `limit_s` seconds, keeping earlier marks. Raises InputError and NoPlan."""
    from solver.pipeline import make_plan

    return make_plan(buildings, plant, Search(seed=seed, left_s=clock(limit_s), tell=tell), epoch=epoch, previous=previous)


def checkable(plan: Plan, orders: Sequence[Any]) -> dict[str, Any]:
    """Return a plan with its job inside, as `sawbill check` reads it."""
    return {"stage": "plan", "job": {"orders": list(orders)}, "result": encode(plan)}


def write_plan(
    plan: Plan,
    orders: Sequence[Any],
    plant: Plant,
    out: Path,
    *,
    made: str,
    tell: Tell,
    language: Language = "en",
    size: LabelSize = "4x6",
    dpi: Dpi = 203,
) -> dict[str, Path]:
    """Write the plan, its tables and its sheets into a folder; return the paths by file name.

    `made`: when, in the plant's time (ISO 8601 without a zone), as it stands on the sheets; `language` of all paper
    and calendars; `size` and `dpi` of the labels.
    """
    from service.printing.sheets import write_sheets
    from service.reports.tables import write_tables
    from service.reports.timetable import write_timetable

    out.mkdir(parents=True, exist_ok=True)
    path = out / "plan.json"
    path.write_text(json.dumps(checkable(plan, orders), ensure_ascii=False, allow_nan=False), encoding="utf-8")
    tell("tables", 0.0)
    written = [path, *write_tables(plan, out).values()]
    stamp = datetime.fromisoformat(made).replace(tzinfo=ZoneInfo(plant.time_zone))
    written += write_timetable(plan.timetable, plant.time_zone, out, plant=plant.id, made=stamp, language=language).values()
    written += write_sheets(plan, plant, out, made=made, tell=tell, language=language, size=size, dpi=dpi).values()
    return {one.name: one for one in written}
