"""A consistent copy of the SQLite store while the service runs: `python -m worker.backup FOLDER`."""

from __future__ import annotations

import sqlite3
import sys
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy.engine import make_url

from service.settings import Settings, read_settings

KEPT = 14


def backup(settings: Settings, folder: Path) -> Path:
    """Return the path of a fresh copy; older ones beyond the newest fourteen are removed. Raises ValueError off SQLite."""
    url = make_url(settings.database_url)
    if url.get_backend_name() != "sqlite" or url.database is None:
        raise ValueError("this copies SQLite only; for PostgreSQL use pg_dump")
    folder.mkdir(parents=True, exist_ok=True)
    made = folder / f"sawbill-{datetime.now(UTC).strftime('%Y%m%dT%H%M%S%f')}.db"
    with closing(sqlite3.connect(f"file:{url.database}?mode=ro", uri=True)) as store, closing(sqlite3.connect(made)) as copy:
        store.backup(copy)
    for old in sorted(folder.glob("sawbill-*.db"))[:-KEPT]:
        old.unlink()
    return made


if __name__ == "__main__":
    sys.stdout.write(f"{backup(read_settings(), Path(sys.argv[1]))}\n")
