"""How hard to look: the time, the seed and the ways to stop that a caller hands to a search."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import TypeVar

T = TypeVar("T")
LOOK_S = 0.1  # between looks whether a search should end


def _never() -> bool:
    return False


def _untold(_: str, __: float) -> None:
    return None


def _always_60() -> float:
    return 60.0


def _free(_: float) -> None:
    return None


@dataclass(frozen=True, slots=True, kw_only=True)
class Search:
    """What a solver may spend. The clock lives with the caller: `left_s()` tells the seconds that remain.

    Where the same answer is wanted each time (`clocked` false), no clock runs: `left_s()` falls by what work is said to
    `spend()`, in about the seconds that it takes on one machine that we know. Scheduling alone can be asked so.
    """

    seed: int = 1
    workers: int = 2
    left_s: Callable[[], float] = _always_60
    clocked: bool = True
    spend: Callable[[float], None] = _free
    stop: Callable[[], bool] = _never  # polled; True ends the search with the best plan so far
    tell: Callable[[str, float], None] = _untold  # what is happening, and how far (0 to 1)

    def over(self) -> bool:
        """Return whether the search should end now."""
        return self.left_s() <= 0 or self.stop()


class WorkBudget:
    """Seconds that only work uses up, for a search that is to find the same each time."""

    def __init__(self, seconds: float) -> None:
        """`seconds`: all there are."""
        self.seconds = seconds

    def left_s(self) -> float:
        """Return the seconds that are left."""
        return self.seconds

    def spend(self, seconds: float) -> None:
        """Take what a piece of work cost."""
        self.seconds -= seconds


def deterministic_search(seconds: float, *, seed: int, tell: Callable[[str, float], None] = _untold) -> Search:
    """Return a search that finds the same for the same seed, by work of about so many seconds."""
    purse = WorkBudget(seconds)
    return Search(seed=seed, left_s=purse.left_s, clocked=False, spend=purse.spend, tell=tell)


def with_time_limit(search: Search, seconds: float) -> Search:
    """Return the search with at most `seconds` of the time that is left, told nowhere: the caller has its own progress."""
    begun = search.left_s()
    return replace(search, left_s=lambda: min(search.left_s(), seconds - (begun - search.left_s())), tell=_untold)


@contextmanager
def calling_at_end(search: Search, end: Callable[[], None]) -> Iterator[None]:
    """While this lasts, have `end` called once the search should end: for a library that only knows its own time limit."""
    done = threading.Event()

    def look() -> None:
        while not done.wait(LOOK_S):
            if search.over():
                end()  # again each time: told before the library has begun, it would not hear

    watcher = threading.Thread(target=look, daemon=True)
    watcher.start()
    try:
        yield
    finally:
        done.set()
        watcher.join()


def call_timed(search: Search, work: Callable[[], T]) -> tuple[T, float]:
    """Return what `work` gives and the seconds it took, by the caller's clock."""
    begun = search.left_s()
    made = work()
    return made, round(begun - search.left_s(), 3)
