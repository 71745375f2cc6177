"""Ways to tell that a job waits: none (the runner looks into the table itself), or a broker's message with the job's id."""

from __future__ import annotations

from typing import Any

import structlog

log = structlog.get_logger()
TASK = "make_plan"


class TableQueue:
    """Says nothing: the runner finds waiting jobs in the table within a tenth of a second."""

    def send(self, job_id: str) -> None:
        """Do nothing."""


class CeleryQueue:
    """Sends the job's id through a broker; where that fails the sweeper sends it later, so nothing is lost."""

    def __init__(self, broker: str) -> None:
        from celery import Celery

        self._app: Any = Celery(broker=broker)
        self._app.conf.update(
            broker_connection_timeout=2,
            broker_transport_options={"socket_connect_timeout": 2, "socket_timeout": 5},
            task_publish_retry=False,
        )

    def send(self, job_id: str) -> None:
        """Send the id; a broker that is away is logged, for the job is in the table."""
        try:
            self._app.send_task(TASK, args=[job_id], ignore_result=True)
        except Exception as error:
            log.warning("job not sent, the sweeper will", job=job_id, error=type(error).__name__)
