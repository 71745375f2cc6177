"""Plans in the store: a manifest, and parts that plans share by the hash of their contents."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from typing import Any

from sqlalchemy import Connection, Select, delete, func, insert, select

from service.clock import utc_now_text
from service.contracts.faults import Fault
from service.contracts.plans import Document, DocumentLine, OrderAt, PartLine, PlanManifest, PlanState
from service.errors import NotFound
from service.lru_cache import LruCache
from service.store.engine import insert_new
from service.store.tables import documents, parts, plan_numbers, plan_orders, plan_parts, plans, releases
from service.stored_form import from_stored_text, to_stored_text
from solver.codec import decode, encode

RELEASE_LOCK = 0x5A_B2  # PostgreSQL's advisory lock of who writes a plan's rows for the floor
STATE = (plans.c.id, plans.c.made_at, plans.c.job, plans.c.faults)
MANIFESTS: LruCache = LruCache(16)  # by their texts: every page of the floor asks for the plan's unit


class SqlPlans:
    """Stored plans."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def new_id(self) -> str:
        """Return a name that no plan had before: `P` and the plant's next running number, short enough to be said aloud."""
        given = self._connection.execute(insert(plan_numbers).values().returning(plan_numbers.c.number))
        return f"P{given.scalar_one()}"

    def add(
        self,
        manifest: PlanManifest,
        bodies: Sequence[tuple[str, str]],
        files: Iterable[Document],
        *,
        job: str | None = None,
        faults: Sequence[Fault] = (),
    ) -> None:
        """Store a plan, the parts it brings (digest and body) and its files; parts that are there already are shared."""
        values = {"id": manifest.id, "made_at": utc_now_text(), "manifest": to_stored_text(manifest), "job": job}
        told = json.dumps([encode(fault) for fault in faults])
        self._connection.execute(insert(plans).values(**values, faults=told))
        lines = [
            {"plan": manifest.id, "position": n, "order": order.id, "revision": order.revision}
            for n, order in enumerate(manifest.orders)
        ]
        if lines:
            self._connection.execute(insert(plan_orders), lines)
        wanted = dict(bodies)
        asked = select(parts.c.digest).where(parts.c.digest.in_(list(wanted)))
        there = set(self._connection.execute(asked).scalars())
        # in one order for all who store plans at once, or two that wait for each other's parts would never end
        fresh = [{"digest": digest, "body": body} for digest, body in sorted(wanted.items()) if digest not in there]
        if fresh:
            self._connection.execute(insert_new(self._connection, parts), fresh)
        rows = [
            {"plan": manifest.id, "position": n, "stage": line.stage, "about": line.about, "digest": line.digest}
            for n, line in enumerate(manifest.parts)
        ]
        self._connection.execute(insert(plan_parts), rows)
        for file in files:
            self._connection.execute(
                insert(documents).values(plan=manifest.id, name=file.name, media_type=file.media_type, body=file.body)
            )

    def known(self, plan_id: str) -> str:
        """Return the id of a plan that is stored. Raises NotFound."""
        if self._connection.execute(select(plans.c.id).where(plans.c.id == plan_id)).first() is None:
            raise NotFound("plan", plan_id)
        return plan_id

    def state(self, plan_id: str) -> PlanState:
        """Return a plan as lists tell it. Raises NotFound."""
        found = self._states(select(*STATE).where(plans.c.id == plan_id))
        if not found:
            raise NotFound("plan", plan_id)
        return found[0]

    def newest(self, limit: int) -> tuple[PlanState, ...]:
        """Return the plans made last, the newest first."""
        return self._states(select(*STATE).order_by(plans.c.made_at.desc(), plans.c.id).limit(limit))

    def _states(self, asked: Select[Any]) -> tuple[PlanState, ...]:
        rows = self._connection.execute(asked).all()
        of = select(plan_orders).where(plan_orders.c.plan.in_([row.id for row in rows])).order_by(plan_orders.c.position)
        orders: dict[str, list[OrderAt]] = {row.id: [] for row in rows}
        for line in self._connection.execute(of):
            orders[line.plan].append(OrderAt(id=line.order, revision=line.revision))
        now = self.released()
        return tuple(
            PlanState(
                id=row.id,
                made_at=row.made_at,
                job=row.job,
                orders=tuple(orders[row.id]),
                released=now is not None and now[0] == row.id,
                faults=tuple(decode(Fault, fault, name="fault") for fault in json.loads(row.faults)),
            )
            for row in rows
        )

    def manifest(self, plan_id: str) -> PlanManifest:
        """Return a plan's manifest. Raises NotFound."""
        found = self._connection.execute(select(plans.c.manifest).where(plans.c.id == plan_id)).scalar_one_or_none()
        if found is None:
            raise NotFound("plan", plan_id)
        text: str = found
        return MANIFESTS.get(text, lambda: from_stored_text(PlanManifest, text))

    def part(self, plan_id: str, digest: str) -> str:
        """Return one part of a plan as it is stored. Raises NotFound."""
        return self.staged_part(plan_id, digest)[1]

    def staged_part(self, plan_id: str, digest: str) -> tuple[str, str]:
        """Return the stage of one part of a plan, and the part as it is stored. Raises NotFound."""
        asked = (
            select(plan_parts.c.stage, parts.c.body)
            .join(parts, plan_parts.c.digest == parts.c.digest)
            .where(plan_parts.c.plan == plan_id, parts.c.digest == digest)
            .limit(1)
        )
        found = self._connection.execute(asked).one_or_none()
        if found is None:
            raise NotFound("part", digest)
        return found.stage, found.body

    def parts_of(self, plan_id: str, stage: str) -> tuple[PartLine, ...]:
        """Return the lines of a plan's parts of one stage, in the plan's order."""
        asked = (
            select(plan_parts.c.stage, plan_parts.c.about, plan_parts.c.digest)
            .where(plan_parts.c.plan == plan_id, plan_parts.c.stage == stage)
            .order_by(plan_parts.c.position)
        )
        return tuple(PartLine(stage=row.stage, about=row.about, digest=row.digest) for row in self._connection.execute(asked))

    def newest_part(self, stage: str, about: str) -> str | None:
        """Return the stored part of a stage about something in the newest plan that has one, or None."""
        asked = (
            select(parts.c.body)
            .join(plan_parts, plan_parts.c.digest == parts.c.digest)
            .join(plans, plans.c.id == plan_parts.c.plan)
            .where(plan_parts.c.stage == stage, plan_parts.c.about == about)
            .order_by(plans.c.made_at.desc(), plans.c.id)
            .limit(1)
        )
        found: str | None = self._connection.execute(asked).scalar_one_or_none()
        return found

    def documents(self, plan_id: str) -> tuple[DocumentLine, ...]:
        """Return the names and sizes of a plan's files."""
        asked = (
            select(documents.c.name, documents.c.media_type, func.length(documents.c.body).label("size"))
            .where(documents.c.plan == plan_id)
            .order_by(documents.c.name)
        )
        rows = self._connection.execute(asked)
        return tuple(DocumentLine(name=row.name, media_type=row.media_type, bytes=row.size) for row in rows)

    def document(self, plan_id: str, name: str) -> Document:
        """Return one file of a plan. Raises NotFound."""
        asked = select(documents).where(documents.c.plan == plan_id, documents.c.name == name)
        row = self._connection.execute(asked).one_or_none()
        if row is None:
            raise NotFound("document", name)
        return Document(name=row.name, media_type=row.media_type, body=bytes(row.body))

    def released(self) -> tuple[str, str] | None:
        """Return the plan that is the floor's now, and since when; None before the first release."""
        asked = select(releases.c.plan, releases.c.released_at).order_by(releases.c.number.desc()).limit(1)
        row = self._connection.execute(asked).one_or_none()
        return None if row is None else (row.plan, row.released_at)

    def take_release_back(self) -> None:
        """Forget the newest release: the plan of the one before it is the floor's again."""
        newest = select(func.max(releases.c.number)).scalar_subquery()
        self._connection.execute(delete(releases).where(releases.c.number == newest))

    def lock_releases(self) -> None:
        """Wait until nobody else releases a plan; called first in a transaction, which then sees what they did."""
        if self._connection.dialect.name == "postgresql":  # SQLite has one writer anyway
            self._connection.execute(select(func.pg_advisory_xact_lock(RELEASE_LOCK)))

    def release(self, plan_id: str) -> str:
        """Make a plan the floor's and return since when."""
        now = utc_now_text()
        self._connection.execute(insert(releases).values(plan=plan_id, released_at=now))
        return now
