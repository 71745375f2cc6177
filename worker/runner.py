"""The runner: without a broker, straight from the jobs table, each job in a process of its own.

What must be answered at once has a place of its own beside the plans, and a process that has loaded the solver already."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Sequence
from dataclasses import dataclass
from uuid import uuid4

import structlog
from sqlalchemy.exc import SQLAlchemyError

from service.contracts.plans import JobKind
from service.parent import end_with_parent
from service.ports import Store
from service.settings import Settings, read_settings
from worker.claimed_job import claim_job
from worker.log import set_up_logging
from worker.wiring import open_store

log = structlog.get_logger()
OVERTIME_S = 120.0  # beyond its search a job may be so long without telling of any progress: reading, drawing, storing
SLOW: tuple[JobKind, ...] = ("plan",)
QUICK: tuple[JobKind, ...] = ("promise", "replan")  # what the planner waits for
STOP_GRACE_S = 10.0  # a job that is asked to stop and does not is killed after this


@dataclass
class JobProcess:
    """A job's process."""

    job_id: str
    token: str
    process: subprocess.Popen[bytes]
    kill_at: float
    quick: bool
    told: tuple[str, float] = ("", 0.0)  # how far it was when we last looked
    cancel_seen: float | None = None


class Runner:
    """Claims waiting jobs, starts a process for each, gives back what a dead process held."""

    def __init__(self, settings: Settings, *, store: Store, command: Sequence[str] | None = None) -> None:
        self._settings, self._store = settings, store
        self._command = list(command) if command else [sys.executable, "-m", "worker.job_process"]
        self._children: list[JobProcess] = []
        self._ready: subprocess.Popen[bytes] | None = None  # has loaded the solver and waits for a quick job

    def run(self, stop: threading.Event) -> None:
        """Work until told to stop; a database that is away for a moment is waited for."""
        while not stop.wait(self._settings.poll_seconds):
            try:
                self._make_ready()
                self.step()
            except SQLAlchemyError as error:
                log.warning("the store does not answer", error=str(error)[:200])
                stop.wait(1.0)
        for child in self._children:
            child.process.kill()
            child.process.wait()
            with self._store.writing() as tx:  # we stop, so it ends: no death of its own
                tx.jobs.release_for_retry(child.job_id, child.token)
        if self._ready is not None:
            self._ready.kill()
            self._ready.communicate()  # waits, and closes what it listened to

    def step(self) -> None:
        """Look once: reap, kill what is over time or will not stop, start what waits."""
        self._reap()
        self._watch()
        quick = sum(child.quick for child in self._children)
        self._start_some(1 - quick, *QUICK)
        self._start_some(self._settings.jobs_at_once - (len(self._children) - quick), *SLOW)

    def _start_some(self, room: int, *kinds: JobKind) -> None:
        if room > 0:
            with self._store.reading() as tx:
                waiting = tx.jobs.claimable(room, *kinds)
            ours = {child.job_id for child in self._children}  # while the store was away their leases may have run out
            for job_id in waiting:
                if job_id not in ours:
                    self._start(job_id, quick=kinds == QUICK)

    def _make_ready(self) -> None:
        """Keep a process that is ready for a quick job; none is started while one works, which would take its time."""
        if self._ready is not None and self._ready.poll() is not None:
            self._ready.communicate()
            self._ready = None
        if self._ready is None and not any(child.quick for child in self._children):
            self._ready = self._process("wait", stdin=subprocess.PIPE)

    def _process(self, *arguments: str, stdin: int | None = None) -> subprocess.Popen[bytes]:
        environment = {**os.environ, **self._settings.environment()}
        return subprocess.Popen([*self._command, *arguments, str(os.getpid())], env=environment, stdin=stdin)

    def _hand_over(self, job_id: str, token: str) -> subprocess.Popen[bytes] | None:
        """The ready process, told its job; None where there is none, or it died meanwhile."""
        process, self._ready = self._ready, None
        if process is None or process.stdin is None or process.poll() is not None:
            return None
        try:
            with process.stdin:
                process.stdin.write(f"{job_id} {token}\n".encode())
        except BrokenPipeError:
            process.wait()
            return None
        return process

    def _start(self, job_id: str, *, quick: bool) -> None:
        token = uuid4().hex
        if not claim_job(job_id, token, store=self._store, settings=self._settings):
            return
        with self._store.reading() as tx:
            seconds = tx.jobs.get(job_id).wanted.seconds
        process = (self._hand_over(job_id, token) if quick else None) or self._process(job_id, token)
        log.info("job started", job=job_id, process=process.pid)
        self._children.append(JobProcess(job_id, token, process, time.monotonic() + seconds + OVERTIME_S, quick))

    def _reap(self) -> None:
        for child in list(self._children):
            code = child.process.poll()
            if code is not None:
                log.info("job's process ended", job=child.job_id, process=child.process.pid, code=code)
                self._give_back(child)
                self._children.remove(child)

    def _give_back(self, child: JobProcess) -> None:
        with self._store.writing() as tx:  # does nothing where the process ended its job itself
            tx.jobs.record_death(child.job_id, child.token, deaths_most=self._settings.deaths_most)

    def _watch(self) -> None:
        now = time.monotonic()
        for child in self._children:
            with self._store.reading() as tx:
                job = tx.jobs.get(child.job_id)
            asked, told = job.cancel_asked, (job.doing, job.fraction)
            if told != child.told:  # it gets on: many sheets take longer than the search, and are no part of it
                child.told, child.kill_at = told, max(child.kill_at, now + OVERTIME_S)
            child.cancel_seen = (child.cancel_seen or now) if asked else None
            if now > child.kill_at or (child.cancel_seen is not None and now > child.cancel_seen + STOP_GRACE_S):
                log.warning("job's process killed", job=child.job_id, cancelled=asked)
                child.process.kill()


def run(settings: Settings, stop: threading.Event, command: Sequence[str] | None = None) -> None:
    """Run until told to stop."""
    store = open_store(settings)
    try:
        Runner(settings, store=store, command=command).run(stop)
    finally:
        store.close()


def main(arguments: list[str], command: Sequence[str] | None = None) -> None:
    """Run as a process of its own: `python -m worker.runner [PARENT]`."""
    settings = read_settings()
    set_up_logging(settings)
    if arguments:
        end_with_parent(int(arguments[0]))
    stop = threading.Event()
    for name in (signal.SIGTERM, signal.SIGINT):
        signal.signal(name, lambda *_: stop.set())
    log.info("runner started", process=os.getpid(), at_once=settings.jobs_at_once)
    run(settings, stop, command)


if __name__ == "__main__":
    main(sys.argv[1:])
