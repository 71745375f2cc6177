"""When a machine is open: where work fits in one piece, and where work that may pause ends."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable


class Calendar:
    """The closed times of one machine: half-open, disjoint, in order; open for ever after the last."""

    def __init__(self, closed: Iterable[tuple[int, int]]) -> None:
        self.closed = _merged(closed)
        self._starts = [start for start, _ in self.closed]
        self._ends = [end for _, end in self.closed]

    @property
    def last_end(self) -> int:
        """The time from which the machine is never closed again."""
        return self.closed[-1][1] if self.closed else 0

    def first_closure_after(self, time: int) -> int:
        """Return where in `closed` the first stands that ends after a time."""
        return bisect_right(self._ends, time)

    def first_open(self, time: int) -> int:
        """Return the first open time at or after `time`."""
        at = bisect_right(self._starts, time) - 1
        if at >= 0 and time < self.closed[at][1]:
            return self.closed[at][1]
        return time

    def fit(self, time: int, work: int, *, pause: bool) -> tuple[int, int]:
        """Return start and end of `work` begun as early as can be at or after `time`."""
        if work == 0:
            return time, time
        start = self.first_open(time)
        at = bisect_right(self._starts, start)
        if pause:
            end = start + work
            while at < len(self.closed) and self.closed[at][0] < end:
                end += self.closed[at][1] - self.closed[at][0]
                at += 1
            return start, end
        while at < len(self.closed) and self.closed[at][0] < start + work:
            start = self.closed[at][1]
            at += 1
        return start, start + work

    def open_intervals(self, horizon: int) -> list[tuple[int, int]]:
        """Return the open times as half-open intervals, up to `horizon`."""
        made, at = [], 0
        for start, end in self.closed:
            if start > at and at < horizon:
                made.append((at, min(start, horizon)))
            at = max(at, end)
        if at < horizon:
            made.append((at, horizon))
        return made

    def starts(self, work: int, horizon: int) -> list[tuple[int, int]]:
        """Return the starts (closed intervals) from which `work` runs in one piece before `horizon`."""
        return [(low, high - work) for low, high in self.open_intervals(horizon) if high - low >= work]


def _merged(closed: Iterable[tuple[int, int]]) -> list[tuple[int, int]]:
    made: list[tuple[int, int]] = []
    for start, end in sorted(closed):
        if made and start <= made[-1][1]:
            made[-1] = (made[-1][0], max(made[-1][1], end))
        elif end > start:
            made.append((start, end))
    return made
