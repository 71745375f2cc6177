"""The tasks: three lines each; safe to deliver twice."""

from __future__ import annotations

from service.queue import TASK
from worker.app import app
from worker.broker_job import do_job


@app.task(name=TASK)  # type: ignore[untyped-decorator]  # Celery ships no types
def make_plan(job_id: str) -> None:
    """Make the plan of one job, if nobody else has it."""
    do_job(job_id)
