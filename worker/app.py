"""The Celery application, for the scaled mode: `celery -A worker.app worker`, settings in the environment."""

from __future__ import annotations

from typing import Any

from celery import Celery

from service.settings import Settings, read_settings

SHEETS_MOST_S = 3_600  # what reading, checking, drawing and storing may take beyond the search, of very many orders


def make_celery(settings: Settings) -> Any:
    """Return the application: a message is a job's id; it is acknowledged late, and the table decides who may work."""
    made = Celery("sawbill", broker=settings.broker or "memory://", include=["worker.tasks"])
    made.conf.update(
        task_acks_late=True,
        task_reject_on_worker_lost=True,
        worker_prefetch_multiplier=1,
        task_ignore_result=True,
        result_backend=None,
        task_serializer="json",
        accept_content=["json"],
        worker_hijack_root_logger=False,
        worker_max_tasks_per_child=50,
        broker_connection_retry_on_startup=True,
        # longer than the longest plan, or a long one is delivered twice; the lease in the table is what brings it back
        broker_transport_options={"visibility_timeout": settings.plan_seconds_most + SHEETS_MOST_S + 300},
        task_time_limit=settings.plan_seconds_most + SHEETS_MOST_S,
    )
    return made


app = make_celery(read_settings())
