"""The sweeper, where a broker hands out jobs: sends again what waits too long or whose owner fell silent."""

from __future__ import annotations

import signal
import sys
import threading

import structlog
from sqlalchemy.exc import SQLAlchemyError

from service.parent import end_with_parent
from service.ports import Queue, Store
from service.settings import Settings, read_settings
from worker.log import set_up_logging
from worker.wiring import open_queue, open_store

log = structlog.get_logger()


def sweep_command() -> list[str]:
    """Return how the sweeper is started."""
    return [sys.executable, "-m", "worker.sweep"]


def sweep_once(*, store: Store, queue: Queue, settings: Settings) -> tuple[str, ...]:
    """Send free jobs again that were last sent too long ago, and return them. A job sent twice is made once."""
    with store.writing() as tx:
        found = tx.jobs.due_for_resend(older_s=settings.resend_seconds)
    for job_id in found:
        queue.send(job_id)
        log.info("job sent again", job=job_id)
    return found


def run(settings: Settings, stop: threading.Event) -> None:
    """Sweep until told to stop."""
    store, queue = open_store(settings), open_queue(settings)
    while not stop.wait(min(settings.resend_seconds, settings.lease_seconds) / 3):
        try:
            sweep_once(store=store, queue=queue, settings=settings)
        except SQLAlchemyError as error:
            log.warning("the store does not answer", error=str(error)[:200])
    store.close()


def main(arguments: list[str]) -> None:
    """Run as a process of its own: `python -m worker.sweep [PARENT]`."""
    settings = read_settings()
    set_up_logging(settings)
    if arguments:
        end_with_parent(int(arguments[0]))
    stop = threading.Event()
    for name in (signal.SIGTERM, signal.SIGINT):
        signal.signal(name, lambda *_: stop.set())
    run(settings, stop)


if __name__ == "__main__":
    main(sys.argv[1:])
