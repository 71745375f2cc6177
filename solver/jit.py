"""Compiled inner loops where numba is installed; the same functions in plain Python, slower, where it is not."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar, cast

F = TypeVar("F", bound=Callable[..., object])

try:
    from numba import njit as _njit
except ImportError:  # the optional extra: requirements/fast.in
    _njit = None

COMPILED = _njit is not None


def compiled(function: F) -> F:
    """Return the function in machine code (kept on disk; other threads run meanwhile), or as it is without numba."""
    return function if _njit is None else cast(F, _njit(cache=True, nogil=True)(function))
