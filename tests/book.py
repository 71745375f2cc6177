"""Helps tests of the book: an application over a fresh store, and the proof that its state is what its events make."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.app import make_app
from service.settings import Settings
from service.store.migrate import upgrade_store
from service.store.unit_of_work import SqlStore
from tests.servers import own_schema

AT = "2031-05-05T07:{:02}:00-06:00"


class Floor:
    """The application over a store, told of things that happen."""

    def __init__(self, url: str) -> None:
        self.settings = Settings(database=url)
        self.store = SqlStore(url)
        upgrade_store(self.store.engine)
        self.web = TestClient(make_app(self.settings), base_url="http://localhost")
        self._told = 0

    def tell(self, kind: str, minute: int = 0, *, status: int = 201, **more: Any) -> Any:
        """Tell an event in the form of its kind and return the answer."""
        self._told += 1
        event = {"id": f"t{self._told}", "kind": kind, "at": AT.format(minute), "device": "saw-1", **more}
        answer = self.web.post("/api/events", json=event)
        assert answer.status_code == status, answer.text
        return answer.json()

    def move(self, kind: str, *, status: int = 201, **more: Any) -> Any:
        """Tell a movement of stock and return the answer."""
        self._told += 1
        answer = self.web.post("/api/stock/movements", json={"id": f"m{self._told}", "kind": kind, **more})
        assert answer.status_code == status, answer.text
        return answer.json()

    def get(self, path: str, **params: Any) -> Any:
        """Return what a GET below /api answers."""
        answer = self.web.get(f"/api/{path}", params=params)
        assert answer.status_code == 200, answer.text
        return answer.json()

    def piece(self, name: str) -> tuple[int, str]:
        """Return a piece's making and where it is."""
        found = self.get(f"pieces/{name}")
        return found["making"], found["state"]

    def prove(self) -> None:
        """Hold the state that is kept against what the events alone make of it."""
        with self.store.reading() as tx:
            assert tx.book.differences() == ()

    def close(self) -> None:
        """Close the store."""
        self.store.close()


@contextmanager
def fresh(backend: str, request: pytest.FixtureRequest, folder: Path) -> Iterator[str]:
    """Give the URL of a fresh store: SQLite, or a schema of the module's `database`."""
    with ExitStack() as stack:
        url = f"sqlite:///{folder / 'book.db'}"
        yield stack.enter_context(own_schema(request.getfixturevalue("database"))) if backend == "postgres" else url
