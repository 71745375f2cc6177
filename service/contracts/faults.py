"""How every refusal looks over HTTP."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One fault: where, what is wrong, and what would be right."""

    path: str
    problem: str
    fix: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """Every fault of a request, and nothing stored."""

    status: Literal["refused", "impossible", "not_found"]
    faults: tuple[Fault, ...]
