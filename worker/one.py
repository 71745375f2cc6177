"""One job in a process of its own: `python -m worker.one JOB TOKEN PARENT`, settings in the environment."""

from __future__ import annotations

import sys

from service.settings import read_settings
from service.usecases.make.plan import Pipeline, Printer
from worker.log import set_up_logging
from worker.parent import end_with_parent
from worker.run import run_job
from worker.wiring import open_store, plant_of_settings
from worker.wiring import pipeline as real_pipeline
from worker.wiring import printer as real_printer


def main(arguments: list[str], pipeline: Pipeline | None = None, printer: Printer | None = None) -> None:
    """Do the job that the runner claimed for us with this token."""
    job_id, token, parent = arguments
    end_with_parent(int(parent))
    settings = read_settings()
    set_up_logging(settings)
    store = open_store(settings)
    run_job(
        job_id,
        token,
        store=store,
        settings=settings,
        plant=plant_of_settings(settings),
        pipeline=pipeline or real_pipeline(),
        printer=printer or real_printer(settings),
    )
    store.close()


if __name__ == "__main__":
    main(sys.argv[1:])
