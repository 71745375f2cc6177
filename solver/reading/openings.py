"""Openings: on their wall or roof plane, clear of each other, and linked where they turn a corner."""

from __future__ import annotations

import math

from solver.domain.building import Head, Opening
from solver.domain.order import OrderOpening
from solver.reading.draft import PlaneDraft, Reading, WallDraft
from solver.reading.geometry import lowest_between, polygon_contains_box
from solver.reading.outlines import note_repeat
from solver.units import Nm

Placed = tuple[int, OrderOpening, Opening]


def read_openings(reading: Reading) -> None:
    """Place all openings on their walls and planes, noting every fault."""
    seen: dict[str, str] = {}
    placed: dict[str, list[Placed]] = {}
    for n, opening in enumerate(reading.parts.openings):
        if opening is None:
            continue
        path = f"openings[{n}]"
        note_repeat(reading, seen, opening.id, f"{path}.id")
        made = _place(reading, opening, path)
        if made is not None:
            plane = reading.plane(opening.on)
            placed.setdefault(plane.id if plane else opening.on, []).append((n, opening, made))
    for held in placed.values():
        _overlaps(reading, held)
    _links(reading, {opening.id: (n, opening, made) for held in placed.values() for n, opening, made in held})
    for group, held in placed.items():
        target = reading.wall(group) or reading.plane(group)
        if target is not None:
            target.openings = sorted((made for _, _, made in held), key=lambda one: (one.u0_nm, one.z0_nm))


def _place(reading: Reading, opening: OrderOpening, path: str) -> Opening | None:
    wall, plane = reading.wall(opening.on), reading.plane(opening.on)
    _head_faults(reading, opening, path)
    _bit_faults(reading, opening, path)
    if wall is None and plane is None:
        if not reading.unread(opening.on) and not _on_unbuilt(reading, opening.on):
            problem = f"{opening.on!r} is no wall or roof plane of this order"
            reading.faults.add(f"{path}.on", problem, _groups(reading, opening))
        return None
    low = _foot(reading, opening, path, on_wall=wall is not None)
    left = Nm(opening.from_left_nm + (plane.also.get(opening.on, 0) if plane is not None else 0))
    made = Opening(
        id=opening.id,
        kind=opening.kind,
        u0_nm=left,
        u1_nm=Nm(left + opening.width_nm),
        z0_nm=low,
        z1_nm=Nm(low + opening.height_nm),
        head=_head(opening),
        corner_with=opening.corner_with,
    )
    if wall is not None:
        _on_wall(reading, opening, made, wall, path)
    elif plane is not None:
        _on_plane(reading, opening, made, plane, path)
    return made


def _groups(reading: Reading, opening: OrderOpening) -> str:
    names = [name for plane in reading.planes for name in (plane.id, *plane.also)]
    if opening.kind != "skylight":
        names = [wall.id for wall in reading.walls]
    return "one of " + ", ".join(names[:12]) + (", ..." if len(names) > 12 else "") if names else "a wall such as L1.S"


def _on_unbuilt(reading: Reading, group: str) -> bool:
    """Return whether a group belongs to a roof whose planes were refused already."""
    first = group.split(".", maxsplit=1)[0]
    roofs = [roof for roof in reading.parts.roofs if roof is not None and roof.id == first]
    levels = [level for level in reading.parts.levels if level is not None and level.id == first]
    if levels:
        outline = reading.parts.outlines.get(levels[0].outline)
        return outline is None or len(outline.walls) != len(outline.corners)
    return bool(roofs) and not any(plane.roof == first for plane in reading.planes)


def _head(opening: OrderOpening) -> Head | None:
    said = opening.head
    if said is None:
        return None
    return Head(kind=said.kind, rise_nm=said.rise_nm, left_nm=said.left_nm, right_nm=said.right_nm)


def _foot(reading: Reading, opening: OrderOpening, path: str, *, on_wall: bool) -> Nm:
    wanted, other = ("sill", "up") if on_wall else ("up", "sill")
    said = opening.sill_nm if on_wall else opening.up_nm
    stray = opening.up_nm if on_wall else opening.sill_nm
    if stray is not None:
        place = "a wall" if on_wall else "a roof plane"
        reading.faults.add(f"{path}.{other}", f"an opening on {place} has no `{other}`", f"`{wanted}`")
    if opening.kind == "door":
        if said:
            reading.faults.add(f"{path}.{wanted}", f"a door with a sill of {reading.show(said)}", "0, or a window")
        return Nm(0)
    if said is None:
        reading.faults.add(f"{path}.{wanted}", "is missing", "a length")
        return Nm(0)
    if on_wall and said < 0:
        reading.faults.add(f"{path}.sill", f"{reading.show(said)} is below the wall's base", "0 or more")
    return said


def _on_wall(reading: Reading, opening: OrderOpening, made: Opening, wall: WallDraft, path: str) -> None:
    if opening.kind == "skylight":
        reading.faults.add(f"{path}.on", "a skylight on a wall", "a roof plane such as R.S")
    if made.u0_nm < 0:
        reading.faults.add(f"{path}.from_left", f"{reading.show(made.u0_nm)} is off the wall", "0 or more")
    if made.u1_nm > wall.length_nm:
        reading.faults.add(
            f"{path}.width",
            f"ends {reading.show(made.u1_nm)} from the left, off wall {wall.id}, which is {reading.show(wall.length_nm)} long",
            "an opening within its wall",
        )
    if made.u0_nm >= 0 and made.u1_nm <= wall.length_nm:
        _corner_clearance(reading, opening, made, wall, path)
        if wall.top and made.z1_nm > 0:
            room = lowest_between(wall.top, made.u0_nm, made.u1_nm)
            if made.z1_nm >= room:
                head, top = reading.show(made.z1_nm), reading.show(math.floor(room))
                problem = f"the head is at {head}, where wall {wall.id} is only {top} high"
                reading.faults.add(f"{path}.height", problem, "an opening below the wall's top")


def _corner_clearance(reading: Reading, opening: OrderOpening, made: Opening, wall: WallDraft, path: str) -> None:
    """Note an opening that reaches into a corner, where the neighbour stands, without being linked to one round it."""
    thickness = reading.wall_family.thickness_nm if reading.wall_family else 0
    for gap, corner, field in (
        (made.u0_nm, wall.left, "from_left"),
        (wall.length_nm - made.u1_nm, wall.right, "width"),
    ):
        if opening.corner_with is not None and gap == 0:
            continue
        turn = math.radians((180_000_000 - corner.interior_udeg) / 2e6)
        need = thickness if corner.joint == "lapped_between" else math.ceil(thickness * math.tan(max(0.0, turn)))
        if gap < need or gap == 0:
            shown = reading.show(need)
            reading.faults.add(
                f"{path}.{field}",
                f"lies {reading.show(gap)} from corner {corner.id!r}, within the {shown} where the next wall stands",
                f"at least {shown} clear, or two openings linked by `corner_with`",
            )


def _on_plane(reading: Reading, opening: OrderOpening, made: Opening, plane: PlaneDraft, path: str) -> None:
    if opening.kind in ("window", "door"):
        reading.faults.add(f"{path}.on", f"a {opening.kind} on a roof plane", "a wall, or a skylight or vent")
    if opening.corner_with is not None:
        reading.faults.add(f"{path}.corner_with", "an opening in a roof turns no corner", "no `corner_with`")
    if plane.outline and not polygon_contains_box(plane.outline, (made.u0_nm, made.z0_nm), (made.u1_nm, made.z1_nm)):
        reading.faults.add(path, f"does not lie within roof plane {plane.id}", "an opening clear of the plane's edges")


def _head_faults(reading: Reading, opening: OrderOpening, path: str) -> None:
    head = opening.head
    if head is None:
        return
    wanted = {"arch": {"rise"}, "trapezoid": {"left", "right"}, "round": set()}[head.kind]
    for name in ("rise", "left", "right"):
        value = getattr(head, f"{name}_nm")
        if (value is not None) != (name in wanted):
            problem = "is missing" if value is None else f"a {head.kind} head has no `{name}`"
            reading.faults.add(f"{path}.head.{name}", problem, "a length" if value is None else f"no `{name}`")
        elif value is not None and value > opening.height_nm:
            reading.faults.add(f"{path}.head.{name}", f"{reading.show(value)} is over the height", "part of the height")
    if head.kind == "round" and opening.width_nm != opening.height_nm:
        reading.faults.add(f"{path}.height", "a round opening is not as high as wide", "width and height alike")
    if head.kind == "arch" and head.rise_nm is not None and 2 * head.rise_nm > opening.width_nm:
        reading.faults.add(f"{path}.head.rise", "is over half the width: no circle's arc", "at most half the width")
    if head.kind == "trapezoid" and head.left_nm and head.right_nm and max(head.left_nm, head.right_nm) != opening.height_nm:
        reading.faults.add(f"{path}.head", "neither side is as high as the opening", "one side equal to the height")


def _bit_faults(reading: Reading, opening: OrderOpening, path: str) -> None:
    """Note what is smaller than the router's bit, which cannot cut it."""
    bit, head = reading.plant.router_bit_nm, opening.head
    wrong = [name for name in ("width", "height") if getattr(opening, f"{name}_nm") < bit]
    for name in wrong:
        size = reading.show(getattr(opening, f"{name}_nm"))
        reading.faults.add(
            f"{path}.{name}", f"{size} is under the router's bit of {reading.show(bit)}", "an opening that it cuts"
        )
    if wrong or head is None or head.kind == "round":
        return
    lower = [side for side in (head.left_nm, head.right_nm) if side is not None]
    square = opening.height_nm - (head.rise_nm or 0) if head.kind == "arch" else min(lower, default=Nm(0))
    if 0 < square < bit:
        problem = f"leaves {reading.show(square)} to cut square below it, under the router's bit of {reading.show(bit)}"
        reading.faults.add(f"{path}.head", problem, "none, or as much as the bit cuts")


def _overlaps(reading: Reading, held: list[Placed]) -> None:
    """Note openings of one wall that touch or overlap another, one fault an opening."""
    active: list[Placed] = []
    for item in sorted(held, key=lambda one: one[2].u0_nm):
        n, _, made = item
        active = [other for other in active if other[2].u1_nm >= made.u0_nm]
        for m, _, other in active:
            if made.z0_nm <= other.z1_nm and other.z0_nm <= made.z1_nm:
                (_, first_id), (last, last_id) = sorted(((n, made.id), (m, other.id)))
                problem = f"{last_id!r} overlaps or touches opening {first_id!r}"
                reading.faults.add(f"openings[{last}]", problem, "openings apart, or one opening")
                break
        active.append(item)


def _links(reading: Reading, placed: dict[str, Placed]) -> None:
    known = {opening.id for opening in reading.parts.openings if opening is not None}
    for n, opening, made in placed.values():
        partner = opening.corner_with
        if partner is None or reading.wall(opening.on) is None:
            continue
        path = f"openings[{n}].corner_with"
        if partner not in known:
            if not reading.unread(partner):
                reading.faults.add(path, f"{partner!r} is no opening of this order", "the opening round the corner")
        elif partner in placed:
            _, other, other_made = placed[partner]
            if other.corner_with != opening.id:
                reading.faults.add(path, f"{partner!r} is not linked back", f"`corner_with` {opening.id!r} on {partner!r}")
            elif partner == opening.id:
                reading.faults.add(path, "is linked to itself", "the opening round the corner")
            elif opening.id < partner:
                _meet(reading, (opening, made), (other, other_made), path)


def _meet(reading: Reading, one: tuple[OrderOpening, Opening], other: tuple[OrderOpening, Opening], path: str) -> None:
    walls = reading.wall(one[0].on), reading.wall(other[0].on)
    if walls[0] is None or walls[1] is None:
        return
    for left, right, left_wall, right_wall in (
        (one[1], other[1], walls[0], walls[1]),
        (other[1], one[1], walls[1], walls[0]),
    ):
        if (
            left_wall.right.neighbour == right_wall.id
            and right_wall.left.neighbour == left_wall.id
            and left.u1_nm == left_wall.length_nm
            and right.u0_nm == 0
        ):
            for field, a, b in (("sill", left.z0_nm, right.z0_nm), ("head", left.z1_nm, right.z1_nm)):
                apart = abs(left_wall.base_z_nm + a - right_wall.base_z_nm - b)
                if apart:
                    shown = reading.show(apart)
                    reading.faults.add(
                        path, f"{field}s of {left.id!r} and {right.id!r} differ by {shown}", f"one and the same {field}"
                    )
            return
    reading.faults.add(
        path,
        f"{one[1].id!r} and {other[1].id!r} do not meet at a corner",
        "one ends where its wall ends, the other starts at 0",
    )
