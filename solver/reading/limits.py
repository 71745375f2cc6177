"""How many of each thing one order may hold: beyond it the order is refused before its geometry is looked at."""

from __future__ import annotations

from solver.domain.order import PlanesRoof
from solver.reading.draft import Reading

MOST = {"outlines": 20, "corners of outlines": 1000, "walls": 1000, "roof planes": 100, "points of roof planes": 1000}


def exceeds_order_limits(reading: Reading) -> bool:
    """Return whether an order holds more than one order may; each excess is noted."""
    parts = reading.parts
    outlines = [outline for outline in parts.outlines.values() if outline is not None]
    walls = 0
    for level in parts.levels:
        outline = parts.outlines.get(level.outline) if level is not None else None
        walls += len(outline.walls) if outline is not None else 0
    explicit = [plane for roof in parts.roofs if isinstance(roof, PlanesRoof) for plane in roof.planes]
    found = {
        "outlines": (len(parts.outlines), "outlines"),
        "corners of outlines": (sum(len(outline.corners) for outline in outlines), "outlines"),
        "walls": (walls, "levels"),
        "roof planes": (len(explicit), "roofs"),
        "points of roof planes": (sum(len(plane.plan) for plane in explicit), "roofs"),
    }
    before = len(reading.faults.found)
    for name, (count, path) in found.items():
        if count > MOST[name]:
            reading.faults.add(path, f"{count} {name} in one order", f"at most {MOST[name]}; split the order")
    return len(reading.faults.found) > before
