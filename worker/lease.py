"""The side thread that keeps a job ours while the solver thinks, tells how far it is, and hears a cancel."""

from __future__ import annotations

import threading
from collections.abc import Callable
from types import TracebackType

import structlog
from sqlalchemy.exc import SQLAlchemyError

from service.ports import Store
from service.usecases.make.progress import ProgressReport

log = structlog.get_logger()


class Lease:
    """Renews a job's lease every third of it; `stop()` is true once someone cancelled or the job is ours no more,
    `keep()` once someone asked to end the search and keep what it has.

    Where `stopping()` is true the job is given back.
    """

    def __init__(
        self, job_id: str, token: str, *, lease_s: float, store: Store, stopping: Callable[[], bool] = lambda: False
    ) -> None:
        self._job_id, self._token, self._lease_s, self._store = job_id, token, lease_s, store
        self._stopping = stopping
        self._told = ("starting", 0.0)
        self._watched: Callable[[], ProgressReport] | None = None
        self._end = threading.Event()
        self._stop = threading.Event()
        self._keep = threading.Event()
        self._thread = threading.Thread(target=self._run, name=f"lease {job_id}", daemon=True)

    def __enter__(self) -> Lease:
        self._thread.start()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self._end.set()
        self._thread.join()

    def stop(self) -> bool:
        """Return whether the work should end now."""
        return self._stop.is_set()

    def keep(self) -> bool:
        """Return whether the search should end now with what it has."""
        return self._keep.is_set()

    def watch(self, told: Callable[[], ProgressReport]) -> None:
        """Ask `told` how far it is from now on, whenever the lease is renewed."""
        self._watched = told

    def tell(self, text: str, fraction: float) -> None:
        """Note what is happening and how far it is; the thread writes it down."""
        self._told = (text, min(max(fraction, self._told[1]), 1.0))  # never backwards: a bar that jumps back is no progress

    def _run(self) -> None:
        beat = min(self._lease_s / 3, 0.5)
        while not self._end.wait(beat):
            try:
                if self._stopping():
                    self._put_back()
                    return
                self._renew()
            except SQLAlchemyError as error:  # the database may be away for a moment; the lease decides, not we
                log.warning("lease not renewed", job=self._job_id, error=str(error)[:200])

    def _put_back(self) -> None:
        """Our process was told to end: another begins the job again, and it is no death of the job's."""
        with self._store.writing() as tx:
            tx.jobs.release_for_retry(self._job_id, self._token)
        self._stop.set()

    def _renew(self) -> None:
        (doing, fraction), making = self._told, None
        if self._watched is not None:
            told = self._watched()
            doing, fraction, making = told.doing, told.fraction, told.making
        with self._store.writing() as tx:
            renewed = tx.jobs.renew(
                self._job_id, self._token, lease_s=self._lease_s, doing=doing, fraction=fraction, making=making
            )
        if renewed.keep_asked:
            self._keep.set()
        if renewed.cancel_asked or not renewed.held:
            self._stop.set()
