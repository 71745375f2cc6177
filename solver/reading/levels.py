"""Levels: one wall band for each wall of the outline that a level stands on."""

from __future__ import annotations

from solver.domain.building import Corner, JointKind, Point
from solver.domain.ids import GroupId
from solver.domain.order import Level, LevelWall, Outline, TopOutline
from solver.reading.draft import Reading, WallDraft
from solver.reading.geometry import polygon_contains, rounded_root
from solver.reading.outlines import corner_angle, note_repeat
from solver.units import MM, MicroDeg, Nm

HIGHEST_NM = 100_000 * MM
CLOSE_NM = MM  # what a given outline may differ from what it should meet


def note_shared_names(reading: Reading) -> None:
    """Note levels, roofs and bearing walls that share an id: marks and deliveries name them alike."""
    seen: dict[str, str] = {}
    parts = reading.parts
    groups = (("levels", parts.levels), ("roofs", parts.roofs), ("bearing_walls", parts.bearing))
    for field, items in groups:
        for n, item in enumerate(items):
            if item is not None:
                note_repeat(reading, seen, item.id, f"{field}[{n}].id")


def read_levels(reading: Reading) -> None:
    """Draft the walls of all levels."""
    for n, level in enumerate(reading.parts.levels):
        if level is None:
            continue
        path = f"levels[{n}]"
        if abs(level.base_nm) > HIGHEST_NM:
            reading.faults.add(f"{path}.base", f"{reading.show(level.base_nm)} is over 100 m", "a height of the building")
        if level.outline not in reading.parts.outlines:
            names = ", ".join(reading.parts.outlines) or "an outline"
            reading.faults.add(f"{path}.outline", f"{level.outline!r} is not an outline of this order", f"one of {names}")
            continue
        outline = reading.parts.outlines[level.outline]
        if outline is not None and len(outline.walls) == len(outline.corners):
            _draft_level(reading, level, outline, path)
    _stack_faults(reading)


def _draft_level(reading: Reading, level: Level, outline: Outline, path: str) -> None:
    for name in level.walls:
        if name not in outline.walls:
            known = ", ".join(outline.walls)
            reading.faults.add(f"{path}.walls.{name}", f"outline {level.outline!r} has no such wall", f"one of {known}")
    for m, name in enumerate(outline.walls):
        reading.add_wall(_draft_wall(reading, level, outline, m, name, path))


def _draft_wall(reading: Reading, level: Level, outline: Outline, m: int, name: str, path: str) -> WallDraft:
    own = level.walls.get(name, LevelWall())
    after = (m + 1) % len(outline.corners)
    a, b = outline.corners[m].at, outline.corners[after].at
    length = rounded_root((b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2)
    base = level.base_nm if own.base_nm is None else own.base_nm
    if abs(base) > HIGHEST_NM:
        reading.faults.add(f"{path}.walls.{name}.base", f"{reading.show(base)} is over 100 m", "a height of the building")
    where = f"{path}.walls.{name}.top" if own.top is not None else f"{path}.top"
    return WallDraft(
        id=GroupId(f"{level.id}.{name}"),
        level=level.id,
        name=name,
        path=where,
        a=a,
        b=b,
        length_nm=length,
        base_z_nm=base,
        top=_given_top(reading, level, own, length, base, where),
        left=_corner(level, outline, m, name, outline.walls[m - 1]),
        right=_corner(level, outline, after, name, outline.walls[after]),
        on_slab=not _stands_on_a_level(reading, level, a, b),
    )


def _corner(level: Level, outline: Outline, n: int, wall: str, other: str) -> Corner:
    corner = outline.corners[n]
    joint: JointKind = "mitred"
    if corner.joint is not None and corner.joint.kind == "lapped":
        joint = "lapped_through" if corner.joint.through == wall else "lapped_between"
    return Corner(
        id=corner.id,
        neighbour=GroupId(f"{level.id}.{other}"),
        interior_udeg=_micro(corner_angle(outline, n)),
        joint=joint,
    )


def _micro(angle: int) -> MicroDeg:
    whole = round(angle / 1000) * 1000  # corners rounded to nanometres leave noise far below a thousandth of a degree
    return MicroDeg(whole if abs(angle - whole) <= 2 else angle)


def _given_top(reading: Reading, level: Level, own: LevelWall, length: Nm, base: Nm, path: str) -> tuple[Point, ...] | None:
    if isinstance(own.top, TopOutline):
        return _outline_top(reading, own.top, length, f"{path}.outline")
    said = level.top if own.top is None else own.top
    if said == "roof":
        return None
    assert isinstance(said, int)
    height = said if own.top is not None else level.base_nm + said - base
    if height <= 0:
        reading.faults.add(path, f"the wall would be {reading.show(height)} high", "a top above its base")
        return ()
    if height > HIGHEST_NM:
        reading.faults.add(path, f"{reading.show(height)} is over 100 m", "a height of the building")
        return ()
    return ((Nm(0), Nm(height)), (length, Nm(height)))


def _outline_top(reading: Reading, top: TopOutline, length: Nm, path: str) -> tuple[Point, ...]:
    points = list(top.outline)
    before = len(reading.faults.found)
    if points[0][0] != 0:
        reading.faults.add(f"{path}[0][0]", f"starts at {reading.show(points[0][0])}", "0: the wall's left end")
    if abs(points[-1][0] - length) > CLOSE_NM:
        shown = reading.show(points[-1][0])
        reading.faults.add(f"{path}[{len(points) - 1}][0]", f"ends at {shown}", f"{reading.show(length)}: the wall's right end")
    for n, (u, z) in enumerate(points):
        if not 0 < z <= HIGHEST_NM:
            reading.faults.add(f"{path}[{n}][1]", f"{reading.show(z)} is no height", "a height above the base, up to 100 m")
        if n and u < points[n - 1][0]:
            reading.faults.add(f"{path}[{n}][0]", f"{reading.show(u)} runs backwards", "points from left to right")
        if n > 1 and u == points[n - 1][0] == points[n - 2][0]:
            reading.faults.add(f"{path}[{n}][0]", "is the third point at one place", "two points at a step")
    if points[0][0] == points[1][0] or points[-1][0] == points[-2][0]:
        reading.faults.add(path, "begins or ends with a step", "steps between the wall's ends")
    if len(reading.faults.found) > before:
        return ()
    points[-1] = (length, points[-1][1])
    return tuple(points)


def _stands_on_a_level(reading: Reading, level: Level, a: Point, b: Point) -> bool:
    middle = ((a[0] + b[0]) // 2, (a[1] + b[1]) // 2)
    for other in reading.parts.levels:
        if other is None or other.id == level.id or other.base_nm >= level.base_nm:
            continue
        outline = reading.parts.outlines.get(other.outline)
        if outline is not None and (
            other.outline == level.outline or polygon_contains([corner.at for corner in outline.corners], middle)
        ):
            return True
    return False


def _stack_faults(reading: Reading) -> None:
    levels = [(n, level) for n, level in enumerate(reading.parts.levels) if level is not None]
    for n, level in levels:
        for _, below in levels:
            same = below.outline == level.outline and below.id != level.id
            if not same or not isinstance(below.top, int):
                continue
            top = below.base_nm + below.top
            if below.base_nm <= level.base_nm < top and (below.base_nm < level.base_nm or below.id < level.id):
                reading.faults.add(
                    f"levels[{n}].base",
                    f"{reading.show(level.base_nm)} is below the top of level {below.id!r} at {reading.show(top)}",
                    "levels of one outline one above the other",
                )
