"""Marks the slow tests, which `make test` leaves out and `make test-all` runs."""

from __future__ import annotations

import pytest

from tests.slow import SLOW


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark what `tests/slow.py` names, a file or one test, with its reason."""
    for item in items:
        file = item.nodeid.partition("::")[0]
        reason = SLOW.get(file) or SLOW.get(item.nodeid.partition("[")[0]) or SLOW.get(item.nodeid)
        if reason:
            item.add_marker(pytest.mark.slow(reason=reason))
