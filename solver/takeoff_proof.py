"""The proof of one takeoff, as a plan states it: judged and digested alone, so that it can be done apart from the rest."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Sequence
from typing import Any

from solver.codec import encode
from solver.domain.building import Building
from solver.domain.plan import Part, without_search_seconds
from solver.domain.plant import Plant
from solver.domain.takeoff import Takeoff
from solver.takeoff.check import check

Work = tuple[Building, Plant, Takeoff, Takeoff | None]
Apart = Callable[[Sequence[Work]], Callable[[], list[tuple[bool, str]]]]


def json_digest(data: Any) -> str:
    """Return the SHA-256 of JSON data, keys in order."""
    return hashlib.sha256(json.dumps(data, sort_keys=True, separators=(",", ":")).encode()).hexdigest()


def part_digest(part: Part) -> str:
    """Return the digest of a part of a plan, the seconds of its search aside."""
    return json_digest(encode(without_search_seconds(part)))


def prove_takeoff(building: Building, plant: Plant, takeoff: Takeoff, earlier: Takeoff | None) -> tuple[bool, str]:
    """Return whether a takeoff holds by its own check, and its digest."""
    return check(building, plant, takeoff, earlier).sound, part_digest(takeoff)


def lazy_takeoff_proofs(work: Sequence[Work]) -> Callable[[], list[tuple[bool, str]]]:
    """Return what proves each takeoff when it is called: the way of a caller that has no other process."""
    return lambda: [prove_takeoff(*one) for one in work]
