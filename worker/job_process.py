"""One job in a process of its own: `python -m worker.job_process JOB TOKEN PARENT`, settings in the environment.

`python -m worker.job_process wait PARENT` loads the solver, then waits for "JOB TOKEN" on standard input."""

from __future__ import annotations

import sys

from service.parent import end_with_parent
from service.settings import read_settings
from service.usecases.make.plan import Pipeline, Printer
from worker.claimed_job import run_job
from worker.log import set_up_logging
from worker.wiring import load_pipeline as real_pipeline
from worker.wiring import load_solver, open_store, plant_of_settings
from worker.wiring import sheet_printer as real_printer


def main(arguments: list[str], pipeline: Pipeline | None = None, printer: Printer | None = None) -> None:
    """Do the job that the runner claimed for us with this token."""
    *named, parent = arguments
    end_with_parent(int(parent))
    settings = read_settings()
    set_up_logging(settings)
    plant = plant_of_settings(settings)
    if named == ["wait"]:
        load_solver(plant)
        named = sys.stdin.readline().split()
        if not named:  # nobody needs us any more
            return
    job_id, token = named
    store = open_store(settings)
    run_job(
        job_id,
        token,
        store=store,
        settings=settings,
        plant=plant,
        pipeline=pipeline or real_pipeline(),
        printer=printer or real_printer(settings),
    )
    store.close()


if __name__ == "__main__":
    main(sys.argv[1:])
