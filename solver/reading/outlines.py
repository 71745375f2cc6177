"""Outlines: simple polygons, counter-clockwise, with corners that can be joined."""

from __future__ import annotations

import math
from collections.abc import Iterable

from solver.domain.order import Outline, OutlineCorner
from solver.reading.draft import Reading
from solver.reading.geometry import crossing_edges, interior_udeg, twice_area
from solver.units import MM, SIXTEENTH

WIDEST_NM = 500_000 * MM
SMALLEST_UDEG, LARGEST_UDEG = 60_000_000, 300_000_000
SLACK_UDEG = 1_000  # rounding of corners to whole nanometres and of the angle itself


def check_outlines(reading: Reading) -> None:
    """Note the faults of all outlines."""
    seen: dict[str, str] = {}
    for name, outline in reading.parts.outlines.items():
        path = f"outlines.{name}"
        if outline is None:
            continue
        if not name.replace("-", "").replace("_", "").isalnum() or len(name) > 40:
            reading.faults.add(path, f"{name[:40]!r} is not an id", "up to 40 letters, digits, _ and -")
        for n, corner in enumerate(outline.corners):
            note_repeat(reading, seen, corner.id, f"{path}.corners[{n}].id")
        _repeated_walls(reading, outline, path)
        if len(outline.walls) != len(outline.corners):
            reading.faults.add(
                f"{path}.walls",
                f"{len(outline.walls)} walls for {len(outline.corners)} corners",
                "one wall for each corner: wall n runs from corner n to corner n + 1",
            )
        if not _size_faults(reading, outline, path):
            _shape_faults(reading, outline, path)


def note_repeat(reading: Reading, seen: dict[str, str], name: str, path: str) -> None:
    """Note a fault when a name was given before; `seen` maps names to their first path."""
    if name in seen:
        reading.faults.add(path, f"{name!r} is given twice, first at {seen[name]}", "an id of its own")
    else:
        seen[name] = path


def _repeated_walls(reading: Reading, outline: Outline, path: str) -> None:
    seen: dict[str, str] = {}
    for n, name in enumerate(outline.walls):
        note_repeat(reading, seen, name, f"{path}.walls[{n}]")


def _size_faults(reading: Reading, outline: Outline, path: str) -> bool:
    before = len(reading.faults.found)
    for n, corner in enumerate(outline.corners):
        for axis in (0, 1):
            if abs(corner.at[axis]) > WIDEST_NM:
                shown = reading.show(corner.at[axis])
                reading.faults.add(
                    f"{path}.corners[{n}].at[{axis}]", f"{shown} is over 500 m", "a place on the building's plot"
                )
    return len(reading.faults.found) > before


def _shape_faults(reading: Reading, outline: Outline, path: str) -> None:
    points = [corner.at for corner in outline.corners]
    short = False
    for n, point in enumerate(points):
        after = points[(n + 1) % len(points)]
        if abs(point[0] - after[0]) < SIXTEENTH and abs(point[1] - after[1]) < SIXTEENTH:
            where = f"{path}.corners[{(n + 1) % len(points)}]"
            reading.faults.add(where, f"lies on corner {outline.corners[n].id!r}", "corners at least 1/16 in apart")
            short = True
    if short:
        return
    crossing = crossing_edges(points)
    if crossing:
        first, second = (_wall_name(outline, n) for n in crossing)
        reading.faults.add(
            f"{path}.corners", f"walls {first} and {second} cross or touch", "an outline that does not cross or touch itself"
        )
    elif twice_area(points) == 0:
        reading.faults.add(f"{path}.corners", "encloses nothing", "corners that enclose an area")
    elif twice_area(points) < 0:
        reading.faults.add(f"{path}.corners", "runs clockwise", "corners counter-clockwise, seen from above")
    else:
        for n in range(len(points)):
            _corner_faults(reading, outline, n, f"{path}.corners[{n}]")


def _wall_name(outline: Outline, n: int) -> str:
    return repr(outline.walls[n]) if n < len(outline.walls) else f"number {n}"


def corner_angle(outline: Outline, n: int) -> int:
    """Return the inside angle at corner n, in millionths of a degree."""
    points = [corner.at for corner in outline.corners]
    return interior_udeg(points[n - 1], points[n], points[(n + 1) % len(points)])


def _corner_faults(reading: Reading, outline: Outline, n: int, path: str) -> None:
    corner, angle = outline.corners[n], corner_angle(outline, n)
    if not SMALLEST_UDEG - SLACK_UDEG <= angle <= LARGEST_UDEG + SLACK_UDEG:
        reading.faults.add(path, f"the inside angle is {angle / 1e6:.1f} degrees", "an inside angle of 60 to 300 degrees")
        return
    if corner.joint is not None and corner.joint.kind == "lapped":
        names = [outline.walls[m] for m in (n - 1, n) if -len(outline.walls) <= m < len(outline.walls)]
        _through_faults(reading, corner, names, path)
        return
    if corner.joint is not None and corner.joint.through is not None:
        reading.faults.add(f"{path}.joint.through", "a mitred corner has no wall that runs through", "no `through`")
    problem = _out_of_reach(reading, angle)
    if problem:
        reading.faults.add(f"{path}.joint", problem, 'a lapped joint: {"kind": "lapped", "through": one of its walls}')


def _through_faults(reading: Reading, corner: OutlineCorner, names: Iterable[str], path: str) -> None:
    assert corner.joint is not None
    if corner.joint.through is None:
        reading.faults.add(f"{path}.joint.through", "is missing", "the wall that runs through")
    elif corner.joint.through not in names:
        shown = " or ".join(names)
        reading.faults.add(f"{path}.joint.through", f"{corner.joint.through!r} does not end at this corner", shown)


def _out_of_reach(reading: Reading, angle_udeg: int) -> str:
    """Return why the panel saw can't cut a mitre, or nothing: half the turn as tilt, t / cos(bevel) as depth (case G1)."""
    bevel = abs(180_000_000 - angle_udeg) // 2
    saw, family = reading.plant.saw, reading.wall_family
    if bevel > saw.tilt_udeg + SLACK_UDEG:
        return f"a mitre needs a tilt of {bevel / 1e6:.1f} degrees, over the saw's {saw.tilt_udeg / 1e6:.1f}"
    if family is not None:
        depth = family.thickness_nm / math.cos(math.radians(bevel / 1e6))
        if depth > saw.depth_nm + SIXTEENTH // 16:
            return f"a mitre needs a cut {reading.show(round(depth))} deep, over the saw's {reading.show(saw.depth_nm)}"
    return ""
