"""What the order format can say and takeoff does not make yet, in one place: a part is dropped here when it is built."""

from __future__ import annotations

from solver.domain.order import OrderOpening
from solver.reading.draft import Reading


def built_head(reading: Reading, opening: OrderOpening, path: str) -> None:
    """Note a head that is not built yet."""
    if opening.head is not None:
        reading.faults.add(f"{path}.head", f"{opening.head.kind} heads are not built yet", "a square head")


def built_lengths(reading: Reading) -> None:
    """Note walls taller than any panel is made: planned joints within a level are not built yet."""
    family = reading.wall_family
    seen: set[str] = set()
    for wall in reading.walls:
        tallest = max((z for _, z in wall.top or ()), default=0)
        if family is not None and tallest > family.longest_nm and wall.path not in seen:
            seen.add(wall.path)
            reading.faults.add(
                wall.path,
                f"a panel of {wall.id} would be {reading.show(tallest)} long, over the {reading.show(family.longest_nm)} "
                f"that {family.id} is made in; joints within a level are not built yet",
                "lower walls, or levels stacked one on the other",
            )
