"""Bearing walls, the start, anchors, the site and deliveries."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from functools import cache
from zoneinfo import ZoneInfo, available_timezones

from solver.domain.building import BearingOpening, BearingWall, Delivery, MeasuredAnchor
from solver.domain.ids import GroupId
from solver.domain.order import OrderBearingWall, OrderDelivery, OrderMeasured
from solver.reading.draft import Reading
from solver.reading.geometry import polygon_contains, rounded_root
from solver.reading.levels import CLOSE_NM
from solver.reading.outlines import note_repeat
from solver.units import Nm


def read_bearing_walls(reading: Reading) -> list[BearingWall]:
    """Return the interior bearing walls, noting those that stand nowhere."""
    made = []
    for n, wall in enumerate(reading.parts.bearing):
        if wall is not None:
            one = _bearing(reading, wall, f"bearing_walls[{n}]")
            if one is not None:
                made.append(one)
    return made


def _bearing(reading: Reading, wall: OrderBearingWall, path: str) -> BearingWall | None:
    level = next((one for one in reading.parts.levels if one is not None and one.id == wall.level), None)
    if level is None:
        if not reading.unread(wall.level):
            known = ", ".join(one.id for one in reading.parts.levels if one is not None)
            reading.faults.add(f"{path}.level", f"{wall.level!r} is not a level of this order", f"one of {known}")
        return None
    a, b = wall.line
    length = rounded_root((b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2)
    if length < CLOSE_NM:
        reading.faults.add(f"{path}.line", "has no length", "two points along the centreline")
    outline = reading.parts.outlines.get(level.outline)
    if outline is not None:
        for m, at in enumerate(wall.line):
            if not polygon_contains([corner.at for corner in outline.corners], at):
                problem = f"lies outside outline {level.outline!r}"
                reading.faults.add(f"{path}.line[{m}]", problem, "a place within the walls")
    return BearingWall(
        id=GroupId(wall.id),
        level=wall.level,
        a=a,
        b=b,
        length_nm=length,
        base_z_nm=level.base_nm,
        top_nm=wall.top_nm,
        family=reading.stud.id if reading.stud else "",
        openings=_bearing_openings(reading, wall, length, path),
    )


def _bearing_openings(reading: Reading, wall: OrderBearingWall, length: Nm, path: str) -> tuple[BearingOpening, ...]:
    seen: dict[str, str] = {}
    end, before = -1, ""
    made = []
    for n, one in sorted(enumerate(wall.openings), key=lambda item: item[1].from_nm):
        where = f"{path}.openings[{n}]"
        note_repeat(reading, seen, one.id, f"{where}.id")
        if one.from_nm <= end:
            reading.faults.add(where, f"{one.id!r} overlaps or touches opening {before!r}", "openings apart, or one opening")
        if one.from_nm + one.width_nm > length:
            shown = reading.show(one.from_nm + one.width_nm)
            reading.faults.add(f"{where}.width", f"ends at {shown}, off the wall's {reading.show(length)}", "within the wall")
        if one.height_nm >= wall.top_nm:
            reading.faults.add(f"{where}.height", "is not below the wall's top", f"under {reading.show(wall.top_nm)}")
        end, before = max(end, one.from_nm + one.width_nm), one.id
        made.append(BearingOpening(id=one.id, from_nm=one.from_nm, width_nm=one.width_nm, height_nm=one.height_nm))
    return tuple(made)


def read_start_corner(reading: Reading) -> tuple[str, str]:
    """Return the corner where the crew starts, and its way round; by default the first corner, counter-clockwise."""
    corners = _corner_ids(reading)
    start = reading.parts.start
    if start is None:
        return (corners[0] if corners else "", "ccw")
    if start.corner not in corners and not reading.parts.unread:
        known = ", ".join(corners[:20])
        reading.faults.add("start.corner", f"{start.corner!r} is not a corner of this order", f"one of {known}")
    return start.corner, start.direction


def _corner_ids(reading: Reading) -> list[str]:
    outlines = [outline for outline in reading.parts.outlines.values() if outline is not None]
    return [corner.id for outline in outlines for corner in outline.corners]


def read_measured_anchors(reading: Reading) -> list[MeasuredAnchor]:
    """Return the bolts as measured after the pour, along their walls from the left end."""
    anchors = reading.parts.anchors
    first = anchors.measured_from
    if first is not None and first not in _corner_ids(reading) and not reading.parts.unread:
        reading.faults.add("anchors.measured_from", f"{first!r} is not a corner of this order", "a corner's id")
    seen: dict[str, str] = {}
    made = []
    for n, one in enumerate(anchors.measured):
        path = f"anchors.measured[{n}]"
        note_repeat(reading, seen, one.id, f"{path}.id")
        bolt = _measured(reading, one, first, path)
        if bolt is not None:
            made.append(bolt)
    return made


def _measured(reading: Reading, one: OrderMeasured, first: str | None, path: str) -> MeasuredAnchor | None:
    wall = reading.wall(one.on)
    if wall is None:
        if not reading.unread(one.on):
            reading.faults.add(f"{path}.on", f"{one.on!r} is no wall of this order", "a wall such as L1.S")
        return None
    if not wall.on_slab:
        reading.faults.add(f"{path}.on", f"wall {one.on} does not stand on the slab", "a wall of the lowest level")
    if one.along_nm > wall.length_nm:
        shown = f"{reading.show(one.along_nm)} is off the wall's {reading.show(wall.length_nm)}"
        reading.faults.add(f"{path}.along", shown, "a place along the wall")
    thickness = reading.wall_family.thickness_nm if reading.wall_family else None
    if thickness is not None and one.across_nm > thickness:
        shown = f"{reading.show(one.across_nm)} is off the wall's thickness of {reading.show(thickness)}"
        reading.faults.add(f"{path}.across", shown, "a place under the wall, from its outside face")
    from_right = first is not None and wall.right.id == first
    along = Nm(wall.length_nm - one.along_nm) if from_right else one.along_nm
    return MeasuredAnchor(id=one.id, on=wall.id, along_nm=along, across_nm=one.across_nm)


@cache
def _zones() -> frozenset[str]:
    return frozenset(available_timezones())


def read_deliveries(reading: Reading) -> list[Delivery]:
    """Return the deliveries with their dock times, noting parts that no delivery or two bring."""
    parts = reading.parts
    said = parts.site.time_zone if parts.site is not None else None
    name = said or reading.plant.time_zone
    if name not in _zones():
        path = "site.time_zone"
        reading.faults.add(path, f"{name!r} is not a known time zone", "a zone such as America/Denver")
    zone = ZoneInfo(name) if name in _zones() else None
    if parts.site is not None and len(set(parts.site.unload_from)) < len(parts.site.unload_from):
        reading.faults.add("site.unload_from", "names a side twice", "each side once")
    seen: dict[str, str] = {}
    brought: dict[str, str] = {}
    made = []
    for n, one in enumerate(parts.deliveries):
        if one is None:
            continue
        note_repeat(reading, seen, one.id, f"deliveries[{n}].id")
        _parts_faults(reading, one, brought, f"deliveries[{n}].parts")
        made.append(_delivery(reading, one, zone, f"deliveries[{n}].need_by"))
    if not parts.broken:
        _unbrought(reading, brought)
    return [one for one in made if one is not None]


BASE = "base"  # what a delivery calls the base channel of all levels, where no level or roof has that name


def _part_ids(reading: Reading) -> list[str]:
    return [one.id for held in (reading.parts.levels, reading.parts.roofs) for one in held if one is not None]


def _names_base(reading: Reading, part: str) -> bool:
    return part == BASE and BASE not in _part_ids(reading)


def _parts_faults(reading: Reading, one: OrderDelivery, brought: dict[str, str], path: str) -> None:
    known = _part_ids(reading)
    known += [] if BASE in known else [BASE]
    for n, part in enumerate(one.parts):
        if part not in known:
            if part not in reading.parts.unread:
                names = ", ".join(known)
                reading.faults.add(
                    f"{path}[{n}]", f"{part!r} is no level or roof of this order, nor its base", f"one of {names}"
                )
        elif part in brought:
            reading.faults.add(f"{path}[{n}]", f"{part!r} comes twice, first at {brought[part]}", "each part in one delivery")
        else:
            brought[part] = f"{path}[{n}]"


def _unbrought(reading: Reading, brought: dict[str, str]) -> None:
    missing = [part for part in _part_ids(reading) if part not in brought]
    if missing:
        reading.faults.add("deliveries", f"none brings {', '.join(missing)}", "every level and roof in one delivery")


def _delivery(reading: Reading, one: OrderDelivery, zone: ZoneInfo | None, path: str) -> Delivery | None:
    try:
        local = datetime.fromisoformat(one.need_by)
    except ValueError as error:
        reading.faults.add(path, f"{one.need_by!r} is no date and time ({error})", "a local time such as 2031-05-12T07:00")
        return None
    if zone is None or reading.parts.site is None:
        return None
    if not 2000 <= local.year <= 2200:
        reading.faults.add(path, f"{one.need_by!r} is no year of a delivery", "a year from 2000 to 2200")
        return None
    need = local.replace(tzinfo=zone)  # a time that the clocks show twice: the first of the two
    if need.astimezone(UTC).astimezone(zone).replace(tzinfo=None) != local:
        reading.faults.add(path, f"{one.need_by!r} does not exist in {zone.key}: clocks skip it", "a time the clocks show")
        return None
    due = (need.astimezone(UTC) - timedelta(minutes=reading.parts.site.transit_minutes)).astimezone(zone)
    return Delivery(
        id=one.id,
        need_by=need.isoformat(),
        dock_due=due.isoformat(),
        priority=one.priority,
        parts=tuple(part for part in one.parts if not _names_base(reading, part)),
        base=any(_names_base(reading, part) for part in one.parts),
    )
