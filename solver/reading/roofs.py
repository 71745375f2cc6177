"""Gable and shed roofs on rectangles: planes named by the wall at their eave, with overhangs; ridge gaps come at takeoff."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from solver.domain.building import Point, RoofEdge
from solver.domain.ids import GroupId
from solver.domain.order import GableRoof, PlanesRoof, ShedRoof
from solver.reading.draft import PlaneDraft, Reading, WallDraft, names_by_other_walls
from solver.reading.geometry import Spot, rounded_root
from solver.reading.levels import CLOSE_NM, HIGHEST_NM
from solver.reading.pitches import read_pitch
from solver.reading.planes import draft_planes
from solver.reading.skeleton_roofs import draft_skeleton
from solver.units import FOOT, Nm

WIDEST_OVERHANG_NM = 12 * FOOT


@dataclass(frozen=True, slots=True, kw_only=True)
class Rectangle:
    """A rectangle along x and y, with the walls on each side: south, east, north, west."""

    low: Point
    high: Point
    sides: tuple[tuple[WallDraft, ...], ...]

    def corner(self, side: int) -> Point:
        """Return the left end of a side, seen from outside."""
        x, y = ((0, 0), (1, 0), (1, 1), (0, 1))[side]
        return (self.high if x else self.low)[0], (self.high if y else self.low)[1]

    def size(self, side: int) -> tuple[int, int]:
        """Return a side's length and the depth behind it."""
        across, up = self.high[0] - self.low[0], self.high[1] - self.low[1]
        return (across, up) if side % 2 == 0 else (up, across)

    def place(self, side: int, along: Fraction | int, inward: Fraction | int) -> Spot:
        """Return the plan position of a place given along a side and inward from it."""
        x, y = self.corner(side)
        dx, dy = ((1, 0), (0, 1), (-1, 0), (0, -1))[side]
        return x + dx * along - dy * inward, y + dy * along + dx * inward


def read_roofs(reading: Reading) -> None:
    """Draft the planes of all roofs."""
    for n, roof in enumerate(reading.parts.roofs):
        path = f"roofs[{n}]"
        if roof is None:
            continue
        if isinstance(roof, PlanesRoof):
            walls_under_roof(reading, roof.over, f"{path}.over")
            draft_planes(reading, roof, path)
        elif isinstance(roof, GableRoof | ShedRoof):
            _on_rectangle(reading, roof, path)
        else:
            _overhang_fault(reading, roof.overhang.eave_nm, f"{path}.overhang.eave")
            draft_skeleton(reading, roof, walls_under_roof(reading, roof.over, f"{path}.over"), path)


def walls_under_roof(reading: Reading, over: str | tuple[str, ...] | None, path: str) -> list[WallDraft]:
    """Return the walls whose tops a roof makes, or note names that are none."""
    if over is None:
        return []
    if isinstance(over, str):
        found = [wall for wall in reading.walls if wall.level == over]
        known = [level.id for level in reading.parts.levels if level is not None]
        if not found and over not in known and not reading.unread(over):
            reading.faults.add(path, f"{over!r} is not a level of this order", "one of " + ", ".join(known))
        return found
    made: list[WallDraft] = []
    for n, name in enumerate(over):
        wall = reading.wall(name)
        if wall is not None and wall in made:
            reading.faults.add(f"{path}[{n}]", f"{name!r} is given twice", "each wall once")
        elif wall is not None:
            made.append(wall)
        elif not reading.unread(name):
            reading.faults.add(f"{path}[{n}]", f"{name!r} is not a wall of this order", "a wall such as L1.S")
    return made


def rectangle_of(reading: Reading, over: str | tuple[str, ...], path: str, kind: str) -> Rectangle | None:
    """Return the rectangle that a roof's walls stand on, or note that they stand on none."""
    walls = walls_under_roof(reading, over, path)
    if not walls:
        return None
    xs = [end[0] for wall in walls for end in (wall.a, wall.b)]
    ys = [end[1] for wall in walls for end in (wall.a, wall.b)]
    low, high = (Nm(min(xs)), Nm(min(ys))), (Nm(max(xs)), Nm(max(ys)))
    lines = ((1, low[1]), (0, high[0]), (1, high[1]), (0, low[0]))
    sides: list[list[WallDraft]] = [[], [], [], []]
    for wall in walls:
        side = next((s for s, (axis, at) in enumerate(lines) if wall.a[axis] == wall.b[axis] == at), None)
        if side is None or low[0] == high[0] or low[1] == high[1]:
            reading.faults.add(
                path,
                f"wall {wall.id} does not lie on a rectangle along x and y with the others",
                f"a {kind} roof over a rectangle; explicit planes for anything else",
            )
            return None
        sides[side].append(wall)
    for side, held in enumerate(sides):
        held.sort(key=lambda wall: (wall.a[side % 2] * (1 if side < 2 else -1), wall.base_z_nm))
    return Rectangle(low=low, high=high, sides=tuple(tuple(held) for held in sides))


def rake_overhangs(
    reading: Reading, rake: int | Mapping[str, int], rectangle: Rectangle, sides: tuple[int, int], path: str
) -> tuple[int, int]:
    """Return how far a roof reaches past its two gable sides, or note walls that are none of them."""
    if isinstance(rake, int):
        _overhang_fault(reading, rake, path)
        return rake, rake
    names = [{wall.name for wall in rectangle.sides[side]} for side in sides]
    found = [Nm(0), Nm(0)]
    for name, value in rake.items():
        where = next((n for n, held in enumerate(names) if name in held), None)
        if where is None:
            known = ", ".join(sorted(names[0] | names[1])) or "a gable wall"
            reading.faults.add(f"{path}.{name}", "is no wall under a rake of this roof", f"one of {known}")
        else:
            _overhang_fault(reading, value, f"{path}.{name}")
            found[where] = Nm(value)
    for n, held in enumerate(names):
        if not held & set(rake):
            known = ", ".join(sorted(held)) or "the other gable"
            reading.faults.add(path, "says one rake only", f"an overhang at {known} too")
            found[n] = Nm(0)
    return found[0], found[1]


def _overhang_fault(reading: Reading, size: int, path: str) -> None:
    if not 0 <= size <= WIDEST_OVERHANG_NM:
        reading.faults.add(path, f"{reading.show(size)} is no overhang", f"0 to {reading.show(WIDEST_OVERHANG_NM)}")


def _on_rectangle(reading: Reading, roof: GableRoof | ShedRoof, path: str) -> None:
    rectangle = rectangle_of(reading, roof.over, f"{path}.over", roof.kind)
    pitch = read_pitch(reading, roof.pitch, f"{path}.pitch")
    if abs(roof.eave_z_nm) > HIGHEST_NM:
        reading.faults.add(f"{path}.eave_z", f"{reading.show(roof.eave_z_nm)} is over 100 m", "a height of the building")
    if rectangle is None or pitch is None:
        return
    if isinstance(roof, GableRoof):
        _overhang_fault(reading, roof.overhang.eave_nm, f"{path}.overhang.eave")
        eaves = (0, 2) if roof.ridge == "x" else (1, 3)
        rakes = (eaves[0] + 1) % 4, (eaves[0] + 3) % 4
        right, left = rake_overhangs(reading, roof.overhang.rake, rectangle, rakes, f"{path}.overhang.rake")
        top = Fraction(rectangle.size(eaves[0])[1], 2)
        below = roof.overhang.eave_nm
        for side, ends in ((eaves[0], (left, right)), (eaves[1], (right, left))):
            _draft(reading, roof, rectangle, side, (-below, top), ends, ("eave", "rake", "ridge", "rake"), path, pitch)
        return
    for name in ("low", "high"):
        _overhang_fault(reading, getattr(roof.overhang, f"{name}_nm"), f"{path}.overhang.{name}")
    low = next((s for s, held in enumerate(rectangle.sides) if any(wall.name == roof.low for wall in held)), None)
    if low is None:
        known = ", ".join(wall.name for held in rectangle.sides for wall in held)
        reading.faults.add(f"{path}.low", f"{roof.low!r} is no wall under this roof", f"one of {known}")
        return
    right, left = rake_overhangs(
        reading, roof.overhang.rake, rectangle, ((low + 1) % 4, (low + 3) % 4), f"{path}.overhang.rake"
    )
    reach = (-roof.overhang.low_nm, Fraction(rectangle.size(low)[1] + roof.overhang.high_nm))
    _draft(reading, roof, rectangle, low, reach, (left, right), ("eave", "rake", "open", "rake"), path, pitch)


def _draft(
    reading: Reading,
    roof: GableRoof | ShedRoof,
    rectangle: Rectangle,
    side: int,
    reach: tuple[int, Fraction],
    ends: tuple[int, int],
    kinds: tuple[RoofEdge, ...],
    path: str,
    pitch: tuple[int, int, str],
) -> None:
    if not rectangle.sides[side]:
        reading.faults.add(f"{path}.over", "has no wall under one of its eaves", "walls on every eave side of the roof")
        return
    first = rectangle.sides[side][0]
    length = rectangle.size(side)[0]
    low, high = reach
    plan = [
        rectangle.place(side, -ends[0], low),
        rectangle.place(side, length + ends[1], low),
        rectangle.place(side, length + ends[1], high),
        rectangle.place(side, -ends[0], high),
    ]
    rise, run, shown = pitch
    line = rounded_root((first.b[0] - first.a[0]) ** 2 + (first.b[1] - first.a[1]) ** 2)
    if line == 0 or length < CLOSE_NM:
        return
    reading.planes.append(
        PlaneDraft(
            id=GroupId(f"{roof.id}.{first.name}"),
            roof=roof.id,
            path=path,
            a=first.a,
            b=first.b,
            z_nm=roof.eave_z_nm,
            rise=rise,
            run=run,
            pitch_shown=shown,
            plan=plan,
            edges=list(kinds),
            cut=roof.cut,
            line=Fraction(line),
            also=names_by_other_walls(roof.id, first, rectangle.sides[side][1:]),
        )
    )
