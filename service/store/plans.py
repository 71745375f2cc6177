"""Plans in the store: a manifest, and parts that plans share by the hash of their contents."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from typing import Any

from sqlalchemy import Connection, func, insert, select

from service.clock import now_text
from service.contracts.plans import Document, DocumentLine, PartLine, PlanManifest
from service.errors import NotFound
from service.store.tables import documents, parts, plan_parts, plans, releases
from solver.codec import decode, encode


def canonical(data: Any) -> str:
    """Return JSON data as the one text that is hashed and stored."""
    return json.dumps(data, ensure_ascii=False, separators=(",", ":"), sort_keys=True)


class SqlPlans:
    """Stored plans."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def add(self, manifest: PlanManifest, bodies: Sequence[tuple[str, str]], files: Iterable[Document]) -> None:
        """Store a plan, the parts it brings (digest and body) and its files; parts that are there already are shared."""
        if self._connection.execute(select(plans.c.id).where(plans.c.id == manifest.id)).first() is not None:
            return
        wanted = dict(bodies)
        asked = select(parts.c.digest).where(parts.c.digest.in_(list(wanted)))
        there = set(self._connection.execute(asked).scalars())
        fresh = [{"digest": digest, "body": body} for digest, body in wanted.items() if digest not in there]
        if fresh:
            self._connection.execute(insert(parts), fresh)
        text = canonical(encode(manifest))
        self._connection.execute(insert(plans).values(id=manifest.id, made_at=now_text(), manifest=text))
        rows = [
            {"plan": manifest.id, "position": n, "stage": line.stage, "about": line.about, "digest": line.digest}
            for n, line in enumerate(manifest.parts)
        ]
        self._connection.execute(insert(plan_parts), rows)
        for file in files:
            self._connection.execute(
                insert(documents).values(plan=manifest.id, name=file.name, media_type=file.media_type, body=file.body)
            )

    def manifest(self, plan_id: str) -> PlanManifest:
        """Return a plan's manifest. Raises NotFound."""
        found = self._connection.execute(select(plans.c.manifest).where(plans.c.id == plan_id)).scalar_one_or_none()
        if found is None:
            raise NotFound("plan", plan_id)
        return decode(PlanManifest, json.loads(found), name="plan")

    def part(self, plan_id: str, digest: str) -> str:
        """Return the JSON of one part of a plan. Raises NotFound."""
        asked = (
            select(parts.c.body)
            .join(plan_parts, plan_parts.c.digest == parts.c.digest)
            .where(plan_parts.c.plan == plan_id, parts.c.digest == digest)
            .limit(1)
        )
        found: str | None = self._connection.execute(asked).scalar_one_or_none()
        if found is None:
            raise NotFound("part", digest)
        return found

    def parts_of(self, plan_id: str, stage: str) -> tuple[PartLine, ...]:
        """Return the lines of a plan's parts of one stage, in the plan's order."""
        asked = (
            select(plan_parts.c.stage, plan_parts.c.about, plan_parts.c.digest)
            .where(plan_parts.c.plan == plan_id, plan_parts.c.stage == stage)
            .order_by(plan_parts.c.position)
        )
        return tuple(PartLine(stage=row.stage, about=row.about, digest=row.digest) for row in self._connection.execute(asked))

    def newest_part(self, stage: str, about: str) -> str | None:
        """Return the JSON of the part of a stage about something in the newest plan that has one, or None."""
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

    def release(self, plan_id: str) -> str:
        """Make a plan the floor's and return since when."""
        now = now_text()
        self._connection.execute(insert(releases).values(plan=plan_id, released_at=now))
        return now
