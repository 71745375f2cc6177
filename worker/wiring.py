"""What a worker works with: the store, the plant, the pipeline and the printer; wired here only."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any, cast
from zoneinfo import ZoneInfo

from service.catalog import read_plant
from service.languages import choose_language
from service.ports import Queue
from service.printing.labels import Dpi, LabelSize
from service.queue import CeleryQueue, TableQueue
from service.settings import Settings
from service.store.unit_of_work import SqlStore
from service.usecases.make.plan import Pipeline, Printer, Tell
from solver.domain.plan import Plan
from solver.domain.plant import Plant


def open_store(settings: Settings) -> SqlStore:
    """Return the store that the settings name."""
    return SqlStore(settings.database_url)


def open_queue(settings: Settings) -> Queue:
    """Return how waiting jobs are told of: by the broker that the settings name, else by the table alone."""
    return CeleryQueue(settings.broker) if settings.broker else TableQueue()


def plant_of_settings(settings: Settings) -> Plant:
    """Return the plant catalog that the settings name, else the demo plant. Raises InputError."""
    return read_plant(Path(settings.plant) if settings.plant else None)


def load_solver(plant: Plant) -> None:
    """Load what answers promises and says how a plan goes on, and run its inner loops once, for who is to answer at once."""
    import service.usecases.make.replanning  # noqa: F401 - loading it, with what promises need, is what is asked for
    from service.usecases.make.stages import answer_stage_job
    from service.warm_up import JOBS

    for stage, job in JOBS:
        if stage in ("nest", "load"):
            answer_stage_job(stage, {**job, "time_limit_s": 0.2}, plant=plant)


def load_pipeline() -> Pipeline:
    """Return what makes plans; loads the solver libraries when it is called."""

    def plan(*given: Any, **named: Any) -> Plan:
        from service.usecases.make.proof_process import proving_in_process
        from solver.pipeline import make_plan

        with proving_in_process() as apart:
            return make_plan(*given, apart=apart, **named)

    return plan


def sheet_printer(settings: Settings) -> Printer:
    """Return what draws a plan's sheets and tables into a folder, in the language and for the label printer of the settings."""
    return _printer(settings, times_only=False)


def timetable_printer(settings: Settings) -> Printer:
    """Return what draws a plan's tables and those of its sheets that quote the timetable."""
    return _printer(settings, times_only=True)


def _printer(settings: Settings, *, times_only: bool) -> Printer:
    def sheets_and_tables(plan: Plan, plant: Plant, folder: Path, tell: Tell) -> None:
        from service.printing.sheets import OF_TIMES
        from service.reports.tables import write_tables
        from service.usecases.make.sheets import draw_sheets

        tell("tables", 0.0)
        write_tables(plan, folder, plant)
        made = datetime.now(ZoneInfo(plant.time_zone)).strftime("%Y-%m-%d %H:%M")
        draw_sheets(
            plan,
            plant,
            folder,
            made=made,
            tell=tell,
            language=choose_language(settings.language, ""),
            size=cast(LabelSize, settings.label_size),
            dpi=cast(Dpi, settings.label_dpi),
            only=OF_TIMES if times_only else None,
        )

    return sheets_and_tables
