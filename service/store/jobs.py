"""The jobs table, the truth in every mode: claim by conditional UPDATE, every later write fenced by the owner's token."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Row, and_, func, insert, or_, select, update
from sqlalchemy.sql.elements import ColumnElement

from service.clock import now_ms, now_text
from service.contracts.faults import Fault
from service.contracts.plans import Job, JobKind, PlanWanted, PromiseWanted, ReplanWanted, Wanted
from service.errors import LostLease, NotFound
from service.store.tables import jobs
from solver.codec import decode, encode

KINDS: dict[JobKind, type[Wanted]] = {kind.KIND: kind for kind in (PlanWanted, PromiseWanted, ReplanWanted)}


@dataclass(frozen=True, slots=True)
class Renewed:
    """What renewing a lease told: whether the job is still ours, and whether someone asked to stop it."""

    held: bool
    cancel_asked: bool


class SqlJobs:
    """Stored jobs."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

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
                asked_at=now_text(),
                lease_ms=0,
                sent_ms=now_ms(),
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
            raise NotFound("plan", job_id)
        return _job(row)

    def newest(self, limit: int, *kinds: JobKind) -> tuple[Job, ...]:
        """Return the jobs of these kinds asked for last, newest first."""
        asked = select(jobs).where(jobs.c.kind.in_(kinds)).order_by(jobs.c.asked_at.desc(), jobs.c.id).limit(limit)
        return tuple(_job(row) for row in self._connection.execute(asked))

    def claimable(self, limit: int, *kinds: JobKind) -> tuple[str, ...]:
        """Return jobs (of these kinds, where any is named) that wait, or whose owner fell silent, oldest first."""
        asked = select(jobs.c.id).where(_free(now_ms())).order_by(jobs.c.asked_at).limit(limit)
        if kinds:
            asked = asked.where(jobs.c.kind.in_(kinds))
        return tuple(self._connection.execute(asked).scalars())

    def claim(self, job_id: str, token: str, *, lease_s: float, deaths_most: int) -> bool:
        """Take a free job over; false when another has it or it has ended.

        A job whose owner fell silent counts one death; too many, and it ends as failed instead.
        """
        now = now_ms()
        silent = and_(jobs.c.id == job_id, jobs.c.status == "working", jobs.c.lease_ms < now)
        self._connection.execute(
            update(jobs).where(silent).values(status="waiting", owner=None, deaths=jobs.c.deaths + 1, lease_ms=0)
        )
        self._give_up(job_id, deaths_most)
        taken = self._connection.execute(
            update(jobs)
            .where(jobs.c.id == job_id, jobs.c.status == "waiting")
            .values(
                status="working",
                owner=token,
                lease_ms=now + int(lease_s * 1000),
                started_at=func.coalesce(jobs.c.started_at, now_text()),
                doing="starting",
                fraction=0.0,
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
            .values(status="failed", doing="given up", ended_at=now_text(), faults=json.dumps([encode(fault)]))
        )
        self._connection.execute(
            update(jobs)
            .where(jobs.c.id == job_id, jobs.c.status == "waiting", jobs.c.cancel_asked)
            .values(status="cancelled", doing="stopped", ended_at=now_text())
        )

    def renew(self, job_id: str, token: str, *, lease_s: float, doing: str, fraction: float) -> Renewed:
        """Keep a job for another lease and tell how far it is."""
        kept = self._connection.execute(
            update(jobs)
            .where(_held(job_id, token))
            .values(lease_ms=now_ms() + int(lease_s * 1000), doing=doing[:2000], fraction=fraction)
        )
        if kept.rowcount != 1:
            return Renewed(False, False)
        asked = self._connection.execute(select(jobs.c.cancel_asked).where(jobs.c.id == job_id)).scalar_one()
        return Renewed(True, bool(asked))

    def died(self, job_id: str, token: str, *, deaths_most: int) -> None:
        """Give a job back after its process died, and count the death."""
        self._connection.execute(
            update(jobs)
            .where(_held(job_id, token))
            .values(status="waiting", owner=None, lease_ms=0, deaths=jobs.c.deaths + 1, doing="waiting", fraction=0.0)
        )
        self._give_up(job_id, deaths_most)

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
                ended_at=now_text(),
                plan=plan,
                answer=answer,
                faults=json.dumps([encode(fault) for fault in faults]),
            )
        )
        if ended.rowcount != 1:
            raise LostLease(job_id)

    def ask_cancel(self, job_id: str) -> Job:
        """Cancel a waiting job at once, ask a working one to stop; an ended one stays as it is. Raises NotFound."""
        self._connection.execute(
            update(jobs)
            .where(jobs.c.id == job_id, jobs.c.status == "waiting")
            .values(status="cancelled", doing="stopped", ended_at=now_text(), cancel_asked=True)
        )
        self._connection.execute(update(jobs).where(jobs.c.id == job_id, jobs.c.status == "working").values(cancel_asked=True))
        return self.get(job_id)

    def to_resend(self, *, older_s: float) -> tuple[str, ...]:
        """Return free jobs that were last sent to the broker longer ago than this, and note them as sent now."""
        now = now_ms()
        asked = select(jobs.c.id).where(_free(now), jobs.c.sent_ms < now - int(older_s * 1000)).order_by(jobs.c.asked_at)
        found = tuple(self._connection.execute(asked).scalars())
        if found:
            self._connection.execute(update(jobs).where(jobs.c.id.in_(found)).values(sent_ms=now))
        return found

    def counts(self) -> dict[str, int]:
        """Return how many jobs there are by status."""
        asked = select(jobs.c.status, func.count()).group_by(jobs.c.status)
        return {str(row[0]): int(row[1]) for row in self._connection.execute(asked)}


def _free(now: int) -> ColumnElement[bool]:
    return or_(jobs.c.status == "waiting", and_(jobs.c.status == "working", jobs.c.lease_ms < now))


def _held(job_id: str, token: str) -> ColumnElement[bool]:
    return and_(jobs.c.id == job_id, jobs.c.status == "working", jobs.c.owner == token)


def _job(row: Row[*tuple[Any, ...]]) -> Job:
    return Job(
        id=row.id,
        status=row.status,
        wanted=decode(KINDS[row.kind], json.loads(row.wanted), name="wanted"),
        doing=row.doing,
        fraction=row.fraction,
        asked_at=row.asked_at,
        started_at=row.started_at,
        ended_at=row.ended_at,
        deaths=row.deaths,
        cancel_asked=bool(row.cancel_asked),
        plan=row.plan,
        answer=row.answer,
        faults=tuple(decode(Fault, fault, name="fault") for fault in json.loads(row.faults)),
    )
