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


TEXT_MOST = 2000


def to_fault(path: str, problem: str, fix: str) -> Fault:
    """Return a fault that can be sent and stored whatever the input held: no text empty, endless or with control characters."""
    return Fault(
        path=_clean(path) or "document", problem=_clean(problem) or "is wrong", fix=_clean(fix) or "see /api/openapi.json"
    )


def _clean(text: str) -> str:
    return "".join(letter if ord(letter) >= 32 and not 0xD800 <= ord(letter) <= 0xDFFF else "?" for letter in text)[:TEXT_MOST]


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """Every fault of a request, and nothing stored."""

    status: Literal["refused", "impossible", "not_found", "moved_on"]
    faults: tuple[Fault, ...]
