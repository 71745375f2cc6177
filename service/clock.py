"""Time at the edges: aware UTC instants as fixed-width text, which sorts as it reads."""

from __future__ import annotations

import time
from datetime import UTC, datetime


def now_ms() -> int:
    """Return this moment in milliseconds since 1970, for leases."""
    return time.time_ns() // 1_000_000


def now_text() -> str:
    """Return this moment as ISO 8601 in UTC with milliseconds."""
    return datetime.now(UTC).isoformat(timespec="milliseconds")
