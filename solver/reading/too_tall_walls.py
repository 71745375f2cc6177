"""What the order format can say and takeoff does not make of this catalog, in one place."""

from __future__ import annotations

from solver.reading.draft import Reading


def note_too_tall_walls(reading: Reading) -> None:
    """Note walls taller than any panel is made, of a family that may not be lapped: a planned joint laps."""
    family = reading.wall_family
    seen: set[str] = set()
    for wall in reading.walls:
        tallest = max((z for _, z in wall.top or ()), default=0)
        if family is not None and not family.end_lap_nm and tallest > family.longest_nm and wall.path not in seen:
            seen.add(wall.path)
            reading.faults.add(
                wall.path,
                f"a panel of {wall.id} would be {reading.show(tallest)} long, over the {reading.show(family.longest_nm)} "
                f"that {family.id} is made in, and {family.id} may not be lapped at a joint within a level",
                "lower walls, or levels stacked one on the other",
            )
