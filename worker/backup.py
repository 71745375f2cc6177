"""A consistent copy of the SQLite store while the service runs: `python -m worker.backup FOLDER`."""

from __future__ import annotations

import os
import sqlite3
import sys
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy.engine import make_url

from service.settings import Settings, read_settings

KEPT = 14


class NotBackedUp(RuntimeError):
    """No whole copy was made; those made before are untouched."""


def backup(settings: Settings, folder: Path) -> Path:
    """Return the path of a fresh whole copy; older ones beyond the newest fourteen are removed.

    It is written beside, checked, then renamed: only what is whole has a copy's name, so that failed nights push no good
    copy out. Raises ValueError off SQLite, and NotBackedUp.
    """
    url = make_url(settings.database_url)
    if url.get_backend_name() != "sqlite" or url.database is None:
        raise ValueError("this copies SQLite only; for PostgreSQL use pg_dump")
    made = folder / f"sawbill-{datetime.now(UTC).strftime('%Y%m%dT%H%M%S%f')}.db"
    begun = made.with_suffix(".part")
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        for left in folder.glob("sawbill-*.part"):  # of a night that was cut off
            left.unlink()
        os.close(os.open(begun, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
        _copy(Path(url.database), begun)
        begun.rename(made)
    except (OSError, sqlite3.Error) as error:
        begun.unlink(missing_ok=True)
        raise NotBackedUp(f"no copy was made in {folder}: {error}") from error
    for old in sorted(folder.glob("sawbill-*.db"))[:-KEPT]:
        old.unlink()
    return made


def _copy(store: Path, to: Path) -> None:
    with (
        closing(sqlite3.connect(f"{store.absolute().as_uri()}?mode=ro", uri=True)) as source,
        closing(sqlite3.connect(to)) as copy,
    ):
        source.backup(copy)
        (found,) = copy.execute("PRAGMA integrity_check(1)").fetchone()
    if found != "ok":
        raise sqlite3.DatabaseError(f"the copy is not whole: {found}")
    with to.open("rb") as written:
        os.fsync(written.fileno())


if __name__ == "__main__":
    try:
        sys.stdout.write(f"{backup(read_settings(), Path(sys.argv[1]))}\n")
    except (NotBackedUp, ValueError) as error:
        sys.exit(str(error))
