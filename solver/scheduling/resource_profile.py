"""How much of something is taken when: a step function of time, for people at work and for what waits in a room."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Iterable
from itertools import accumulate

from solver.scheduling.calendar import Calendar

FAR = 2**62  # later than any time: until nobody knows when

Span = tuple[int, int]  # half-open


def working_spans(calendar: Calendar, start: int, end: int) -> list[Span]:
    """Return the open times between start and end: when work that may pause is really done."""
    made, at = [], start
    for n in range(calendar.first_closure_after(start), len(calendar.closed)):
        low, high = calendar.closed[n]
        if low >= end:
            break
        if low > at:
            made.append((at, low))
        at = high
    if at < end:
        made.append((at, end))
    return made


class ResourceProfile:
    """What is taken of a limited number of places: a step function of time."""

    def __init__(self, size: int) -> None:
        """Start with nothing taken of `size`."""
        self.size = size
        self._times = [0]
        self._taken = [0]

    @classmethod
    def of(cls, size: int, taken: Iterable[tuple[Span, int]]) -> ResourceProfile:
        """Return the level with something taken over each span, FAR as an end being for ever. O(n log n)."""
        changes = Counter({0: 0})
        for (low, high), count in taken:
            if low < high:
                changes[low] += count
                if high < FAR:
                    changes[high] -= count
        made = cls(size)
        made._times = sorted(changes)
        made._taken = list(accumulate(changes[time] for time in made._times))
        return made

    def copy(self) -> ResourceProfile:
        """Return the same level, to change apart."""
        made = ResourceProfile(self.size)
        made._times, made._taken = self._times.copy(), self._taken.copy()
        return made

    def end_of_last_conflict(self, spans: Iterable[Span], count: int) -> int | None:
        """Return the end of the last time within the spans at which `count` more would be too many; FAR: for ever."""
        found = None
        for low, high in spans:
            at = bisect_right(self._times, low) - 1 if low < high else len(self._times)
            while at < len(self._times) and self._times[at] < high:
                if self._taken[at] + count > self.size:
                    found = self._times[at + 1] if at + 1 < len(self._times) else FAR
                at += 1
        return found

    def take(self, spans: Iterable[Span], count: int) -> None:
        """Take `count` more over the spans; less where it is negative."""
        for low, high in spans:
            if low < high:
                first, last = self._cut(low), self._cut(high) if high < FAR else len(self._times)
                for n in range(first, last):
                    self._taken[n] += count

    def _cut(self, time: int) -> int:
        at = bisect_left(self._times, time)
        if at == len(self._times) or self._times[at] != time:
            self._times.insert(at, time)
            self._taken.insert(at, self._taken[at - 1])
        return at
