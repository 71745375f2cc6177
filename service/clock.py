"""Time at the edges: aware UTC instants as fixed-width text, which sorts as it reads."""

from __future__ import annotations

import time
from datetime import UTC, datetime


def monotonic_ms() -> int:
    """Return milliseconds of a clock that nobody sets, the same for all processes of this machine: it counts from its start."""
    if hasattr(time, "CLOCK_BOOTTIME"):
        return time.clock_gettime_ns(time.CLOCK_BOOTTIME) // 1_000_000
    return time.monotonic_ns() // 1_000_000


def utc_now_text() -> str:
    """Return this moment as ISO 8601 in UTC with milliseconds."""
    return datetime.now(UTC).isoformat(timespec="milliseconds")
