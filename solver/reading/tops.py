"""Wall tops that follow a roof's lower face at the outside face, exactly, rounded once a point."""

from __future__ import annotations

import math
from fractions import Fraction
from itertools import pairwise

from solver.domain.building import Point
from solver.reading.draft import PlaneDraft, Reading, WallDraft
from solver.reading.geometry import Spot, height_at, polygon_contains, polygon_edges, twice_triangle_area
from solver.reading.levels import CLOSE_NM
from solver.reading.roofs import walls_under_roof
from solver.reading.snap_outline import SNAP_NM
from solver.units import Nm, round_half_up

INSIDE_NM = 1_000  # how far inside the outside face a place is judged: which plane covers it
Stretch = tuple[Fraction, Fraction, PlaneDraft]


def make_wall_tops(reading: Reading) -> None:
    """Give every wall that asks for it the top that its roofs make; note walls with none, and tops that disagree."""
    over: dict[str, list[PlaneDraft]] = {}
    for n, roof in enumerate(reading.parts.roofs):
        if roof is None:
            continue
        held = [plane for plane in reading.planes if plane.roof == roof.id and plane.path.startswith(f"roofs[{n}]")]
        quiet = len(reading.faults.found)
        walls = walls_under_roof(reading, roof.over, f"roofs[{n}].over")
        del reading.faults.found[quiet:]  # told when the roof was read
        for wall in walls:
            over.setdefault(wall.id, []).extend(held)
    said: set[str] = set()
    for wall in reading.walls:
        if wall.length_nm == 0:
            wall.top = wall.top or ()
            continue
        _make_top(reading, wall, over, said)


def _make_top(reading: Reading, wall: WallDraft, over: dict[str, list[PlaneDraft]], said: set[str]) -> None:
    planes = over.get(wall.id)
    if planes is None:
        if wall.top is None:
            wall.top = ()
            if wall.path not in said and not reading.parts.broken:
                said.add(wall.path)
                problem = "no roof is over it" if wall.path.count(".") > 1 else f"no roof is over level {wall.level!r}"
                reading.faults.add(wall.path, problem, "a height, or a roof with `over` that names it")
        return
    made = _profile(wall, planes)
    if made is None:
        wall.top = wall.top or ()
        if planes and not reading.faults and wall.top == ():
            reading.faults.add(wall.path, f"the roof does not cover all of wall {wall.id}", "planes over the whole wall")
        return
    stretches = _profile_points(made, wall)
    wall.under_roof = tuple(dict.fromkeys(plane.id for _, _, plane in made))
    if wall.top is None:
        wall.top = stretches
        low = min(z for _, z in stretches)
        if low <= 0:
            reading.faults.add(
                wall.path,
                f"the roof leaves wall {wall.id} no height: {reading.show(low)} at its lowest",
                "a higher eave, or a level without this wall",
            )
            wall.top = ()
    elif wall.top:
        _compare(reading, wall, stretches)


def _profile(wall: WallDraft, planes: list[PlaneDraft]) -> list[Stretch] | None:
    """Return which plane is lowest over each stretch of a wall, left to right, or None where a stretch has none."""
    square = wall.length_nm
    dx, dy = wall.b[0] - wall.a[0], wall.b[1] - wall.a[1]
    cuts = {Fraction(0), Fraction(1)}
    for plane in planes:
        for c, d in polygon_edges(plane.plan):
            cuts |= {part for part in _crossings(wall, c, d) if 0 < part < 1}
    cuts |= _meeting(wall, planes)
    made: list[Stretch] = []
    places = sorted(cuts)
    for low, high in pairwise(places):
        if (high - low) * square < 4 * INSIDE_NM:
            if made:
                made[-1] = (made[-1][0], high, made[-1][2])
            continue
        part, aside = (low + high) / 2, Fraction(INSIDE_NM, square)
        at = (wall.a[0] + dx * part, wall.a[1] + dy * part)
        inside = (at[0] - dy * aside, at[1] + dx * aside)
        above = [plane for plane in planes if polygon_contains(plane.plan, inside)]
        if not above:
            return None
        lowest = min(above, key=lambda plane: plane.height(at))
        start = low if made else Fraction(0)
        if made and made[-1][2] is lowest:
            made[-1] = (made[-1][0], high, lowest)
        else:
            made.append((start, high, lowest))
    return made or None


def _crossings(wall: WallDraft, c: Spot, d: Spot) -> list[Fraction]:
    """Return where the line through an edge's stretch meets the wall, as parts of the wall's length."""
    at_c, at_d = twice_triangle_area(wall.a, wall.b, c), twice_triangle_area(wall.a, wall.b, d)
    square = (wall.b[0] - wall.a[0]) ** 2 + (wall.b[1] - wall.a[1]) ** 2
    if at_c == at_d:
        return [_part(wall, spot, square) for spot in (c, d)] if at_c == 0 else []
    if (at_c > 0) == (at_d > 0) and at_c != 0 and at_d != 0:
        return []
    share = Fraction(at_c) / (at_c - at_d)
    return [_part(wall, (c[0] + (d[0] - c[0]) * share, c[1] + (d[1] - c[1]) * share), square)]


def _part(wall: WallDraft, spot: Spot, square: int) -> Fraction:
    along = (spot[0] - wall.a[0]) * (wall.b[0] - wall.a[0]) + (spot[1] - wall.a[1]) * (wall.b[1] - wall.a[1])
    return Fraction(along) / square


def _meeting(wall: WallDraft, planes: list[PlaneDraft]) -> set[Fraction]:
    """Return where two planes are equally high over the wall's line: the lowest may change there."""
    found = set()
    ends = [(plane.height(wall.a), plane.height(wall.b)) for plane in planes]
    for n, (low, high) in enumerate(ends):
        for other_low, other_high in ends[n + 1 :]:
            first, last = low - other_low, high - other_high
            if first != last and (first < 0) != (last < 0):
                part = first / (first - last)
                if 0 < part < 1:
                    found.add(part)
    return found


def _profile_points(made: list[Stretch], wall: WallDraft) -> tuple[Point, ...]:
    points: list[Point] = []
    for low, high, plane in made:
        for part in (low, high):
            at = (wall.a[0] + (wall.b[0] - wall.a[0]) * part, wall.a[1] + (wall.b[1] - wall.a[1]) * part)
            height = plane.height(at)
            if abs(height - plane.z_nm) <= SNAP_NM:
                height = Fraction(plane.z_nm)  # a wall in line with the plane's own, but for the rounding of corners
            z = round_half_up(height - wall.base_z_nm)
            spot = (Nm(round_half_up(part * wall.length_nm)), Nm(z))
            if not points or points[-1] != spot:
                points.append(spot)
    return tuple(_without_needless(points))


def _without_needless(points: list[Point]) -> list[Point]:
    kept: list[Point] = []
    for n, point in enumerate(points):
        if (
            kept
            and n + 1 < len(points)
            and twice_triangle_area(kept[-1], point, points[n + 1]) == 0
            and kept[-1][0] < points[n + 1][0]
        ):
            continue
        if kept and kept[-1][0] == point[0] and abs(kept[-1][1] - point[1]) <= 2:
            continue  # two planes meet here, each rounded once
        kept.append(point)
    return kept


def _compare(reading: Reading, wall: WallDraft, made: tuple[Point, ...]) -> None:
    assert wall.top is not None
    worst, place = Fraction(0), 0
    for u in sorted({u for u, _ in (*wall.top, *made)}):
        if 0 <= u <= wall.length_nm:
            given, roof = height_at(wall.top, u), height_at(made, u)
            apart = max(abs(given[0] - roof[0]), abs(given[1] - roof[1]))
            if apart > worst:
                worst, place = apart, u
    if worst > CLOSE_NM:
        reading.faults.add(
            wall.path,
            f"the top of {wall.id} is {reading.show(math.ceil(worst))} from the roof's lower face "
            f"at {reading.show(place)} from its left end",
            'the roof\'s lower face within 1 mm, or "roof"',
        )
