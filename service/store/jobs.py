"""The jobs table, the truth in every mode: claim by conditional UPDATE, every later write fenced by the owner's token."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Row, and_, func, insert, or_, select, text, update
from sqlalchemy.sql.elements import ColumnElement

from service.clock import monotonic_ms, utc_now_text
from service.contracts.faults import Fault
from service.contracts.jobs import JOB_TYPES
from service.contracts.making import Making
from service.contracts.plans import Job, JobKind, Wanted
from service.errors import LostLease, NotFound
from service.lru_cache import LruCache
from service.store.tables import jobs
from solver.codec import decode, encode

AHEAD_MOST_MS = 150_000  # no lease, no pause is longer: what lies further ahead was told before the machine's last start
ANEW: dict[str, Any] = {"fraction": 0.0, "making": None, "keep_asked": False}  # of a job that is to begin from the start
WANTED: LruCache = LruCache(512)  # what jobs were asked for, by its text: every list of plans reads fifty


@dataclass(frozen=True, slots=True)
class LeaseRenewal:
    """What renewing a lease told: whether the job is still ours, and whether it is to stop, or to keep what it has."""

    held: bool
    cancel_asked: bool
    keep_asked: bool = False


class SqlJobs:
    """Stored jobs."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def _now_ms(self) -> int:
        """This moment by a clock that all processes share: the database's, or this machine's where the store is a file."""
        if self._connection.dialect.name == "sqlite":
            return monotonic_ms()
        asked = text("SELECT CAST(EXTRACT(EPOCH FROM clock_timestamp()) * 1000 AS BIGINT)")
        return int(self._connection.execute(asked).scalar_one())

    def add(self, job_id: str, wanted: Wanted) -> Job:
        """Store a waiting job and return it."""
        self._connection.execute(
            insert(jobs).values(
                id=job_id,
                kind=wanted.KIND,
                status="waiting",
                wanted=json.dumps(encode(wanted)),
                doing="waiting",
                fraction=0.0,
                asked_at=utc_now_text(),
                lease_ms=0,
                sent_ms=self._now_ms(),
                not_before_ms=0,
                deaths=0,
                cancel_asked=False,
                faults="[]",
            )
        )
        return self.get(job_id)

    def get(self, job_id: str) -> Job:
        """Return a job. Raises NotFound."""
        row = self._connection.execute(select(jobs).where(jobs.c.id == job_id)).one_or_none()
        if row is None:
            raise NotFound("job", job_id)
        return _job(row)

    def newest(self, limit: int, *kinds: JobKind) -> tuple[Job, ...]:
        """Return the jobs (of these kinds, where any is named) asked for last, newest first."""
        asked = select(jobs).order_by(jobs.c.asked_at.desc(), jobs.c.id).limit(limit)
        if kinds:
            asked = asked.where(jobs.c.kind.in_(kinds))
        return tuple(_job(row) for row in self._connection.execute(asked))

    def claimable(self, limit: int, *kinds: JobKind) -> tuple[str, ...]:
        """Return jobs (of these kinds, where any is named) that wait, or whose owner fell silent, oldest first."""
        asked = select(jobs.c.id).where(_free(self._now_ms())).order_by(jobs.c.asked_at).limit(limit)
        if kinds:
            asked = asked.where(jobs.c.kind.in_(kinds))
        return tuple(self._connection.execute(asked).scalars())

    def claim(self, job_id: str, token: str, *, lease_s: float, deaths_most: int) -> bool:
        """Take a free job over; false when another has it or it has ended.

        A job whose owner fell silent counts one death; too many, and it ends as failed instead.
        """
        now = self._now_ms()
        silent = and_(jobs.c.id == job_id, _silent(now))
        self._connection.execute(
            update(jobs).where(silent).values(status="waiting", owner=None, deaths=jobs.c.deaths + 1, lease_ms=0)
        )
        self._give_up(job_id, deaths_most)
        taken = self._connection.execute(
            update(jobs)
            .where(jobs.c.id == job_id, _may_begin(now))
            .values(
                status="working",
                owner=token,
                lease_ms=now + int(lease_s * 1000),
                started_at=func.coalesce(jobs.c.started_at, utc_now_text()),
                doing="starting",
                **ANEW,
            )
        )
        return taken.rowcount == 1

    def _give_up(self, job_id: str, deaths_most: int) -> None:
        fault = Fault(
            path="job",
            problem=f"its process died {deaths_most} times",
            fix="look at the log; ask again with fewer orders or less time",
        )
        self._connection.execute(
            update(jobs)
            .where(jobs.c.id == job_id, jobs.c.status == "waiting", jobs.c.deaths >= deaths_most)
            .values(status="failed", doing="given up", ended_at=utc_now_text(), faults=json.dumps([encode(fault)]))
        )
        self._connection.execute(
            update(jobs)
            .where(jobs.c.id == job_id, jobs.c.status == "waiting", jobs.c.cancel_asked)
            .values(status="cancelled", doing="stopped", ended_at=utc_now_text())
        )

    def renew(
        self, job_id: str, token: str, *, lease_s: float, doing: str, fraction: float, making: Making | None = None
    ) -> LeaseRenewal:
        """Keep a job for another lease and tell how far it is."""
        told = None if making is None else json.dumps(encode(making))
        kept = self._connection.execute(
            update(jobs)
            .where(_held(job_id, token))
            .values(lease_ms=self._now_ms() + int(lease_s * 1000), doing=doing[:2000], fraction=fraction, making=told)
        )
        if kept.rowcount != 1:
            return LeaseRenewal(False, False)
        asked = self._connection.execute(select(jobs.c.cancel_asked, jobs.c.keep_asked).where(jobs.c.id == job_id)).one()
        return LeaseRenewal(True, bool(asked.cancel_asked), bool(asked.keep_asked))

    def record_death(self, job_id: str, token: str, *, deaths_most: int) -> None:
        """Give a job back after its process died, and count the death."""
        self._connection.execute(
            update(jobs)
            .where(_held(job_id, token))
            .values(status="waiting", owner=None, lease_ms=0, deaths=jobs.c.deaths + 1, doing="waiting", **ANEW)
        )
        self._give_up(job_id, deaths_most)

    def release_for_retry(self, job_id: str, token: str, *, pause_s: float = 0.0) -> None:
        """Give back a job that we own, to be begun again after a pause; no death is counted."""
        self._connection.execute(
            update(jobs)
            .where(_held(job_id, token))
            .values(
                status="waiting",
                owner=None,
                lease_ms=0,
                not_before_ms=self._now_ms() + int(pause_s * 1000),
                doing="waiting",
                **ANEW,
            )
        )

    def end(
        self,
        job_id: str,
        token: str,
        status: str,
        *,
        doing: str,
        plan: str | None = None,
        answer: str | None = None,
        faults: Sequence[Fault] = (),
    ) -> None:
        """End a job that we own. Raises LostLease when it is no longer ours."""
        ended = self._connection.execute(
            update(jobs)
            .where(_held(job_id, token))
            .values(
                status=status,
                owner=None,
                doing=doing,
                fraction=1.0 if status == "done" else jobs.c.fraction,
                ended_at=utc_now_text(),
                making=None,
                plan=plan,
                answer=answer,
                faults=json.dumps([encode(fault) for fault in faults]),
            )
        )
        if ended.rowcount != 1:
            raise LostLease(job_id)

    def request_cancel(self, job_id: str) -> Job:
        """Cancel a waiting job at once, ask a working one to stop; an ended one stays as it is. Raises NotFound."""
        self._connection.execute(
            update(jobs)
            .where(jobs.c.id == job_id, jobs.c.status == "waiting")
            .values(status="cancelled", doing="stopped", ended_at=utc_now_text(), cancel_asked=True)
        )
        self._connection.execute(update(jobs).where(jobs.c.id == job_id, jobs.c.status == "working").values(cancel_asked=True))
        return self.get(job_id)

    def request_keep(self, job_id: str) -> Job:
        """Ask a working job to end its search with what it has; any other stays as it is. Raises NotFound."""
        self._connection.execute(update(jobs).where(jobs.c.id == job_id, jobs.c.status == "working").values(keep_asked=True))
        return self.get(job_id)

    def due_for_resend(self, *, older_s: float) -> tuple[str, ...]:
        """Return free jobs that were last sent to the broker longer ago than this, and note them as sent now."""
        now = self._now_ms()
        long_ago = or_(jobs.c.sent_ms < now - int(older_s * 1000), jobs.c.sent_ms > now + AHEAD_MOST_MS)
        asked = select(jobs.c.id).where(_free(now), long_ago).order_by(jobs.c.asked_at)
        found = tuple(self._connection.execute(asked).scalars())
        if found:
            self._connection.execute(update(jobs).where(jobs.c.id.in_(found)).values(sent_ms=now))
        return found

    def counts(self) -> dict[str, int]:
        """Return how many jobs there are by status."""
        asked = select(jobs.c.status, func.count()).group_by(jobs.c.status)
        return {str(row[0]): int(row[1]) for row in self._connection.execute(asked)}


def _free(now: int) -> ColumnElement[bool]:
    return or_(_may_begin(now), _silent(now))


def _may_begin(now: int) -> ColumnElement[bool]:
    return and_(jobs.c.status == "waiting", ~jobs.c.not_before_ms.between(now + 1, now + AHEAD_MOST_MS))


def _silent(now: int) -> ColumnElement[bool]:
    return and_(jobs.c.status == "working", ~jobs.c.lease_ms.between(now, now + AHEAD_MOST_MS))


def _held(job_id: str, token: str) -> ColumnElement[bool]:
    return and_(jobs.c.id == job_id, jobs.c.status == "working", jobs.c.owner == token)


def _job(row: Row[*tuple[Any, ...]]) -> Job:
    return Job(
        id=row.id,
        status=row.status,
        wanted=WANTED.get(
            (row.kind, row.wanted), lambda: decode(JOB_TYPES[row.kind].spec, json.loads(row.wanted), name="wanted")
        ),
        doing=row.doing,
        fraction=row.fraction,
        asked_at=row.asked_at,
        started_at=row.started_at,
        ended_at=row.ended_at,
        deaths=row.deaths,
        cancel_asked=bool(row.cancel_asked),
        keep_asked=bool(row.keep_asked),
        making=None if row.making is None else decode(Making, json.loads(row.making), name="making"),
        plan=row.plan,
        answer=row.answer,
        faults=tuple(decode(Fault, fault, name="fault") for fault in json.loads(row.faults)),
    )
