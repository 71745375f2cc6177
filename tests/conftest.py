"""Holds every test to it that who writes to the store does not think meanwhile."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from service.store.unit_of_work import SqlStore
from tests.writing import WRITING, watched


@pytest.fixture(autouse=True)
def nothing_thought_while_writing() -> Iterator[None]:
    """Look at every transaction that writes: nothing large is decoded in it and nothing solved."""
    found: list[str] = []
    SqlStore.writing = watched(found)  # type: ignore[method-assign]  # put back below
    try:
        yield
    finally:
        SqlStore.writing = WRITING  # type: ignore[method-assign]
    assert found == [], f"thought while a transaction that writes was open: {', '.join(dict.fromkeys(found))}"
