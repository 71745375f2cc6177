"""Orders in the store: one row a revision, the document as it came in."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import Connection, Row, and_, func, select

from service.contracts.orders import OrderLine, OrderRead
from service.errors import NotFound
from service.store.engine import insert_new
from service.store.tables import orders


class SqlOrders:
    """Stored orders."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def digest(self, order_id: str, revision: int) -> str | None:
        """Return the digest of a stored revision, or None."""
        asked = select(orders.c.digest).where(orders.c.id == order_id, orders.c.revision == revision)
        return self._connection.execute(asked).scalar_one_or_none()

    def newest(self, order_id: str) -> int | None:
        """Return the newest stored revision of an order, or None."""
        asked = select(func.max(orders.c.revision)).where(orders.c.id == order_id)
        found: int | None = self._connection.execute(asked).scalar_one()
        return found

    def add(self, line: OrderLine, *, digest: str, document: str) -> bool:
        """Store one revision; false where it is there already, as that of another who sent it meanwhile."""
        added = self._connection.execute(
            insert_new(self._connection, orders)
            .values(
                id=line.id,
                revision=line.revision,
                name=line.name,
                need_by=line.need_by,
                received_at=line.received_at,
                digest=digest,
                document=document,
            )
            .returning(orders.c.id)
        )
        return added.first() is not None

    def lines(self) -> tuple[OrderLine, ...]:
        """Return every order at its newest revision, newest first."""
        top = select(orders.c.id, func.max(orders.c.revision).label("revision")).group_by(orders.c.id).subquery()
        asked = (
            select(orders.c.id, orders.c.revision, orders.c.name, orders.c.need_by, orders.c.received_at)
            .join(top, and_(top.c.id == orders.c.id, top.c.revision == orders.c.revision))
            .order_by(orders.c.received_at.desc(), orders.c.id)
        )
        return tuple(_line(row) for row in self._connection.execute(asked))

    def read(self, order_id: str) -> OrderRead:
        """Return an order at its newest revision. Raises NotFound."""
        asked = select(orders).where(orders.c.id == order_id).order_by(orders.c.revision)
        rows: Sequence[Row[*tuple[Any, ...]]] = self._connection.execute(asked).all()
        if not rows:
            raise NotFound("order", order_id)
        row = rows[-1]
        return OrderRead(
            id=row.id,
            revision=row.revision,
            name=row.name,
            need_by=row.need_by,
            received_at=row.received_at,
            revisions=tuple(one.revision for one in rows),
            document=json.loads(row.document),
        )

    def document(self, order_id: str, revision: int) -> Mapping[str, Any]:
        """Return the document of one revision. Raises NotFound."""
        asked = select(orders.c.document).where(orders.c.id == order_id, orders.c.revision == revision)
        found = self._connection.execute(asked).scalar_one_or_none()
        if found is None:
            raise NotFound("order", f"{order_id}, revision {revision}")
        read: Mapping[str, Any] = json.loads(found)
        return read


def _line(row: Row[*tuple[Any, ...]]) -> OrderLine:
    return OrderLine(id=row.id, revision=row.revision, name=row.name, need_by=row.need_by, received_at=row.received_at)
