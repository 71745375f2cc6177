"""Random shells of walls: outlines of 4 to 20 corners at 60 to 300 degrees, tops, openings over joints and at corners."""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from dataclasses import replace

from solver.domain.building import Building, Corner, Opening, Wall
from solver.domain.ids import GroupId
from solver.units import INCH, Nm
from tests.generators.walls import building_of, walls_of

Place = tuple[float, float]
IN = 25.4


def shell(seed: int) -> Building:
    """The random shell of a seed: the same building each time."""
    chance = random.Random(seed)
    corners = outline(chance)
    height = chance.choice([96, 108, 120, 132]) * IN
    family = chance.choice(["W4", "W6"])
    walls = list(walls_of(corners, height=height, family=family))
    ways = chance.choice(["mitred", "mitred", "lapped", "mixed"])
    walls = [replace(wall, top=_top(chance, wall, height)) for wall in walls]
    walls = _joined(chance, walls, ways)
    walls = [replace(wall, openings=_openings(chance, wall)) for wall in walls]
    if chance.random() < 0.4:
        walls = _corner_window(chance, walls)
    levels = [walls]
    if all(len(wall.top) == 2 and wall.top[0][1] == wall.top[1][1] for wall in walls):
        for n in range(chance.choice([0, 0, 1, 2])):
            levels.append(_storey(chance, walls, n + 2, round(height * 1e6)))
    return building_of(
        [wall for level in levels for wall in level],
        start_corner=f"c{chance.randrange(len(corners))}",
        direction=chance.choice(["ccw", "cw"]),
        anchor_holes=chance.choice(["template", "as_measured"]),
    )


def outline(chance: random.Random) -> list[Place]:
    """A simple outline, counter-clockwise: a box with bays, jogs and cut-off corners, turned by any angle."""
    wide, deep = chance.randint(180, 640) * IN, chance.randint(180, 480) * IN
    sides = []
    ring: list[Place] = [(0, 0), (wide, 0), (wide, deep), (0, deep)]
    for n, a in enumerate(ring):
        b = ring[(n + 1) % 4]
        sides.append(_side(chance, a, b))
    points = [point for side in sides for point in side]
    if chance.random() < 0.5:
        points = _cut_off(chance, points)
    turn = chance.choice([0, 0, 0, math.pi / 2, chance.uniform(0, 2 * math.pi)])
    return [(x * math.cos(turn) - y * math.sin(turn), x * math.sin(turn) + y * math.cos(turn)) for x, y in points]


def _side(chance: random.Random, a: Place, b: Place) -> list[Place]:
    """A side from a to b, sometimes with a bay out or in, square or slanted."""
    length = math.dist(a, b)
    if chance.random() < 0.45 or length < 200 * IN:
        return [a]
    out = chance.choice([-1, 1]) * chance.randint(30, 70) * IN
    first = chance.uniform(0.3, 0.4) * length
    last = chance.uniform(0.6, 0.7) * length
    lean = chance.choice([0, 0, abs(out) * math.tan(math.radians(chance.choice([15, 30, 45])))])
    lean = min(lean, (last - first) / 3)
    dx, dy = (b[0] - a[0]) / length, (b[1] - a[1]) / length

    def at(along: float, aside: float) -> Place:
        return (a[0] + dx * along + dy * aside, a[1] + dy * along - dx * aside)

    return [a, at(first, 0), at(first + lean, out), at(last - lean, out), at(last, 0)]


def _cut_off(chance: random.Random, points: Sequence[Place]) -> list[Place]:
    """One outer corner cut off at a slant."""
    n = 0
    before, at, after = points[-1], points[0], points[1]
    size = chance.randint(36, 60) * IN
    back, on = math.dist(before, at), math.dist(at, after)
    if min(back, on) < 3 * size:
        return list(points)
    first = tuple(at[k] + (before[k] - at[k]) * size / back for k in (0, 1))
    last = tuple(at[k] + (after[k] - at[k]) * size / on for k in (0, 1))
    return [(first[0], first[1]), (last[0], last[1]), *points[n + 1 :]]


def _top(chance: random.Random, wall: Wall, height: float) -> tuple[tuple[Nm, Nm], ...]:
    """A level top mostly; else a gable of one or two peaks, a shed or a step. Ends keep the height, so that corners meet."""
    kind = chance.choice(["level"] * 5 + ["gable", "gables", "step", "shed"])
    h, length = Nm(round(height * 1e6)), wall.length_nm
    rise = Nm(length // chance.choice([4, 6, 12]))
    points: list[tuple[int, int]] = [(0, h), (length, h)]
    if h + rise < 270 * INCH and length > 100 * INCH:
        if kind == "gable":
            points = [(0, h), (length * 2 // 5, h + rise), (length, h)]
        if kind == "gables":
            third = length // 3
            points = [(0, h), (third // 2, h + rise // 3), (third, h), (2 * third, h + rise // 2), (length, h)]
        if kind == "step":
            points = [(0, h), (length // 2, h), (length // 2, h + 20 * INCH), (length, h + 20 * INCH)]
        if kind == "shed":
            points = [(0, h), (length, h + rise // 3)]
    return tuple((Nm(u), Nm(z)) for u, z in points)


def _joined(chance: random.Random, walls: Sequence[Wall], ways: str) -> list[Wall]:
    """Joints of corners: mitred where the saw's 45 degrees reach, else, or where chosen, lapped."""
    made = list(walls)
    for n, wall in enumerate(walls):
        turn = wall.left.interior_udeg
        near_square = 89_000_000 < turn < 271_000_000
        mitred = near_square and (ways == "mitred" or (ways == "mixed" and chance.random() < 0.6))
        ours, theirs = ("mitred", "mitred") if mitred else ("lapped_through", "lapped_between")
        if not mitred and chance.random() < 0.5:
            ours, theirs = theirs, ours
        made[n] = replace(made[n], left=_with(made[n].left, ours))
        made[n - 1] = replace(made[n - 1], right=_with(made[n - 1].right, theirs))
    return made


def _with(corner: Corner, joint: str) -> Corner:
    return replace(corner, joint=joint)  # type: ignore[arg-type]


def _openings(chance: random.Random, wall: Wall) -> tuple[Opening, ...]:
    """Doors and windows anywhere along a wall, clear of its ends and of each other, some one above the other."""
    found: list[Opening] = []
    place = 14 * INCH
    lowest = min(z for _, z in wall.top)
    while True:
        place += chance.randint(8, 120) * INCH // chance.choice([1, 1, 3])
        width = chance.choice([24, 36, 36, 48, 60, 96]) * INCH
        if place + width > wall.length_nm - 14 * INCH:
            return tuple(found)
        door = chance.random() < 0.25
        low, high = (0, 80 * INCH) if door else (chance.randint(40, 60) * INCH // 2, 80 * INCH)
        found.append(_opening(wall, len(found), place, place + width, low, high))
        if not door and low > 26 * INCH and chance.random() < 0.2:
            found.append(_opening(wall, len(found), place + 2 * INCH, place + width - 3 * INCH, 6 * INCH, low - 8 * INCH))
        elif lowest - high > 14 * INCH and chance.random() < 0.2:
            found.append(_opening(wall, len(found), place, place + width, high + 6 * INCH, lowest - 6 * INCH))
        place += width


def _opening(wall: Wall, n: int, u0: int, u1: int, z0: int, z1: int) -> Opening:
    return Opening(
        id=f"{wall.id}/{n}", kind="door" if z0 == 0 else "window", u0_nm=Nm(u0), u1_nm=Nm(u1), z0_nm=Nm(z0), z1_nm=Nm(z1)
    )


def _corner_window(chance: random.Random, walls: Sequence[Wall]) -> list[Wall]:
    """Two linked openings at a mitred corner."""
    made = list(walls)
    n = chance.randrange(len(walls))
    wall, before = made[n], made[n - 1]
    if wall.left.joint != "mitred" or min(wall.length_nm, before.length_nm) < 150 * INCH:
        return made
    size = 40 * INCH
    ours = replace(_opening(wall, 90, 0, size, 30 * INCH, 70 * INCH), corner_with=f"{before.id}/91")
    end = before.length_nm
    theirs = replace(_opening(before, 91, end - size, end, 30 * INCH, 70 * INCH), corner_with=ours.id)
    clear = size + 12 * INCH
    made[n] = replace(wall, openings=(ours, *(o for o in wall.openings if o.u0_nm > clear)))
    made[n - 1] = replace(before, openings=(*(o for o in before.openings if o.u1_nm < end - clear), theirs))
    return made


def _storey(chance: random.Random, walls: Sequence[Wall], number: int, height: int) -> list[Wall]:
    """Another storey on the same outline."""
    level = f"L{number}"

    def moved(corner: Corner) -> Corner:
        neighbour = GroupId(corner.neighbour.replace("L1.", f"{level}.")) if corner.neighbour else None
        return replace(corner, neighbour=neighbour)

    made = []
    for wall in walls:
        bare = replace(
            wall,
            id=GroupId(wall.id.replace("L1.", f"{level}.")),
            level=level,
            base_z_nm=Nm(height * (number - 1)),
            left=moved(wall.left),
            right=moved(wall.right),
            openings=(),
            on_slab=False,
        )
        made.append(replace(bare, openings=_openings(chance, bare)))
    return made
