"""The catalogs that plans were asked for with, by the digest of their text: web and worker plan by the same one."""

from __future__ import annotations

from sqlalchemy import Connection, select

from service.clock import utc_now_text
from service.errors import NotFound
from service.store.engine import insert_new
from service.store.tables import catalogs


class SqlCatalogs:
    """Stored catalogs; none is ever changed or removed."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def keep(self, digest: str, body: str) -> None:
        """Store a catalog; one that is there already stays as it is, with the instant at which it was first used."""
        self._connection.execute(
            insert_new(self._connection, catalogs).values(digest=digest, body=body, first_used_at=utc_now_text())
        )

    def body(self, digest: str) -> str:
        """Return a catalog as it is stored. Raises NotFound."""
        found: str | None = self._connection.execute(
            select(catalogs.c.body).where(catalogs.c.digest == digest)
        ).scalar_one_or_none()
        if found is None:
            raise NotFound("catalog", digest)
        return found

    def first_used_at(self, digest: str) -> str:
        """Return the instant at which a plan was first asked for with a catalog. Raises NotFound."""
        found: str | None = self._connection.execute(
            select(catalogs.c.first_used_at).where(catalogs.c.digest == digest)
        ).scalar_one_or_none()
        if found is None:
            raise NotFound("catalog", digest)
        return found
