"""What was worked out once for what never changes again (a stored plan's pictures, a row's text), kept for the next request."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import TypeVar, cast

T = TypeVar("T")


class LruCache:
    """Values by key, at most `most` of them; those asked for longest ago go first. Threads may share it."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._values: OrderedDict[Hashable, object] = OrderedDict()
        self._lock = threading.Lock()
        self._making: dict[Hashable, threading.Lock] = {}

    def get(self, key: Hashable, make: Callable[[], T]) -> T:
        """Return the value kept under a key, made where there is none; what raises is not kept.

        Of those who ask at once one makes it and the others wait: fifty who made a page at once would take fifty times as long.
        """
        with self._lock:
            if key in self._values:
                self._values.move_to_end(key)
                return cast(T, self._values[key])
            alone = self._making.setdefault(key, threading.Lock())
        with alone:
            with self._lock:
                if key in self._values:
                    return cast(T, self._values[key])
            try:
                made = make()
                with self._lock:
                    self._values[key] = made
                    while len(self._values) > self._most:
                        self._values.popitem(last=False)
            finally:
                with self._lock:
                    self._making.pop(key, None)
        return made
