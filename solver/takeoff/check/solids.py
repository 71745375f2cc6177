"""Panels as solids: at corners they fill the mitre or lap without colliding or gaping; at ridges they leave the gap only."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction
from itertools import combinations

from solver.domain.building import RoofPlane, Wall
from solver.domain.piece import Piece
from solver.takeoff.check.plan_geometry import Place, PlanLine, panel_thickness
from solver.takeoff.check.proof import TakeoffProof
from solver.takeoff.check.runs import in_space

TOUCH_NM = 3  # rounding of two panels' corners; far below any sealant
REACH_NM = 2 * 10**9  # how far along a wall another one's end may stand: past a narrow panel at the corner


def check_solids(proof: TakeoffProof) -> None:
    """Compare the panels on both sides of each corner in plan, and the slopes on both sides of each ridge in section."""
    walls = {wall.id: wall for wall in proof.building.walls}
    for wall in proof.building.walls:
        other = walls.get(wall.right.neighbour) if wall.right.neighbour else None
        if other is not None:
            _corner(proof, wall, other)
    for one, other_plane in combinations(proof.building.roof, 2):
        _ridge(proof, one, other_plane)
    proof.checked.append("panel solids at corners and ridges: no collision, no gap beyond the sealant's or the ridge's own")


def panel_footprint(proof: TakeoffProof, wall: Wall, piece: Piece) -> list[Place]:
    """Return a wall panel in plan as it is cut and stands: its outside face and its inside face, at their own lengths."""
    line, thick = PlanLine.of(wall), panel_thickness(proof.plant, wall)
    u0, u1 = min(u for u, _ in piece.outline), max(u for u, _ in piece.outline)
    left = piece.left.outside_nm - piece.left.inside_nm
    right = piece.right.outside_nm - piece.right.inside_nm
    return [line.place(u0, 0), line.place(u1, 0), line.place(u1 + right, thick), line.place(u0 - left, thick)]


def _corner(proof: TakeoffProof, wall: Wall, other: Wall) -> None:
    """Judge the two panels at a corner: the wall seen on the left of it ends there, the other starts there."""
    ours, theirs = proof.pieces_of(wall.id, "wall_panel"), proof.pieces_of(other.id, "wall_panel")
    if not ours or not theirs:
        return
    last = max(max(u for u, _ in piece.outline) for piece in ours)
    first = min(min(u for u, _ in piece.outline) for piece in theirs)
    left = next(piece for piece in ours if max(u for u, _ in piece.outline) == last)
    right = next(piece for piece in theirs if min(u for u, _ in piece.outline) == first)
    one, two = panel_footprint(proof, wall, left), panel_footprint(proof, other, right)
    depth = overlap_depth(one, two)
    if depth > TOUCH_NM:
        size = proof.shown(round(depth))
        proof.add_fault(
            f"{left.mark} and {right.mark}", f"collide by {size} at corner {wall.right.id}", "a mitre or lap that meets"
        )
    ours_too = [panel_footprint(proof, wall, piece) for piece in ours if last - max(u for u, _ in piece.outline) < REACH_NM]
    theirs_too = [
        panel_footprint(proof, other, piece) for piece in theirs if min(u for u, _ in piece.outline) - first < REACH_NM
    ]
    gap = _gap(one, two, ours_too, theirs_too)
    sealant = max(family.joint_growth_nm for family in proof.plant.families if family.id == wall.family)
    if gap > sealant + TOUCH_NM:
        proof.add_fault(
            f"{left.mark} and {right.mark}",
            f"gape by {proof.shown(round(gap))} at corner {wall.right.id}",
            "a mitre or lap that meets",
        )


def overlap_depth(one: Sequence[Place], two: Sequence[Place]) -> Fraction:
    """Return how deep two convex counter-clockwise polygons overlap: area of what both hold over its greatest extent."""
    ring = list(one)
    for n, a in enumerate(two):
        b = two[(n + 1) % len(two)]
        ring = _clip(ring, a, b)
        if len(ring) < 3:
            return Fraction(0)
    turns = [p[0] * q[1] - q[0] * p[1] for p, q in zip(ring, [*ring[1:], ring[0]], strict=True)]
    area = Fraction(abs(sum(turns, Fraction(0)))) / 2
    xs, ys = [p[0] for p in ring], [p[1] for p in ring]
    return area / max(max(xs) - min(xs), max(ys) - min(ys), Fraction(1))


def _clip(ring: Sequence[Place], a: Place, b: Place) -> list[Place]:
    """What of a polygon lies to the left of a line."""

    def side(p: Place) -> Fraction:
        return (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])

    kept: list[Place] = []
    for p, q in zip(ring, [*ring[1:], ring[0]], strict=True):
        here, there = side(p), side(q)
        if here >= 0:
            kept.append(p)
        if (here > 0 > there) or (here < 0 < there):
            part = here / (here - there)
            kept.append((p[0] + (q[0] - p[0]) * part, p[1] + (q[1] - p[1]) * part))
    return kept


def _gap(
    one: Sequence[Place], two: Sequence[Place], ours: Sequence[Sequence[Place]], theirs: Sequence[Sequence[Place]]
) -> float:
    """How far apart two panels are at a corner: the farther of the left one's end corners from the right wall's edges,
    or of the right one's from the left wall's, whichever joint closes more (a lap closes along one of them only)."""

    def far(points: Sequence[Place], rings: Sequence[Sequence[Place]]) -> float:
        sides = [side for ring in rings for side in zip(ring, [*ring[1:], ring[0]], strict=True)]
        return max(min(_distance(p, a, b) for a, b in sides) for p in points)

    return min(far((one[1], one[2]), theirs), far((two[0], two[3]), ours))


def _distance(p: Place, a: Place, b: Place) -> float:
    dx, dy = b[0] - a[0], b[1] - a[1]
    square = dx * dx + dy * dy
    part = max(Fraction(0), min(Fraction(1), ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / square)) if square else Fraction(0)
    return math.hypot(float(p[0] - a[0] - dx * part), float(p[1] - a[1] - dy * part))


def _ridge(proof: TakeoffProof, one: RoofPlane, other: RoofPlane) -> None:
    """Where two slopes share a ridge, their panels' ends as cut leave the level gap and do not run into each other."""
    for edge in _ridges(one):
        twin = next((item for item in _ridges(other) if _meet(edge[1], item[1])), None)
        if twin is None:
            continue
        reach = [_reach(proof, plane, y) for plane, y in ((one, edge[0]), (other, twin[0]))]
        if any(item is None for item in reach):
            continue
        gap = sum(item[0] for item in reach if item is not None)
        upper = sum(item[1] for item in reach if item is not None)
        wanted = max(plane_gap for plane_gap in (_gap_of(proof, one), _gap_of(proof, other)))
        if abs(gap - wanted) > 2 * TOUCH_NM:
            proof.add_fault(
                f"{one.id} and {other.id}",
                f"leave a level gap of {proof.shown(round(gap))} between their lower edges at the ridge",
                f"{proof.shown(wanted)}",
            )
        if upper < -2 * TOUCH_NM:
            proof.add_fault(
                f"{one.id} and {other.id}", f"collide by {proof.shown(round(-upper))} at the ridge", "ends that meet"
            )


def _gap_of(proof: TakeoffProof, plane: RoofPlane) -> int:
    family = proof.family(plane.family)
    return family.ridge_gap_nm if family else 0


def _ridges(plane: RoofPlane) -> list[tuple[int, tuple[tuple[Fraction, ...], tuple[Fraction, ...]]]]:
    found: list[tuple[int, tuple[tuple[Fraction, ...], tuple[Fraction, ...]]]] = []
    for n, kind in enumerate(plane.edges):
        a, b = plane.outline[n], plane.outline[(n + 1) % len(plane.outline)]
        if kind == "ridge" and b[0] < a[0]:  # at the plane's head: where a slope breaks it is the foot of the upper plane
            found.append((max(a[1], b[1]), (in_space(plane, a), in_space(plane, b))))
    return found


def _meet(one: tuple[tuple[Fraction, ...], ...], other: tuple[tuple[Fraction, ...], ...]) -> bool:
    """Whether two ridge lines lie on one line in space and overlap along it."""
    (a, b), (c, d) = one, other
    along = [q - p for p, q in zip(a, b, strict=True)]
    square = sum(v * v for v in along)
    if square == 0:
        return False
    parts = []
    for spot in (c, d):
        part = sum((s - p) * v for s, p, v in zip(spot, a, along, strict=True)) / square
        if any(abs(p + v * part - s) > 20 for s, p, v in zip(spot, a, along, strict=True)):
            return False
        parts.append(part)
    return min(max(parts), Fraction(1)) > max(min(parts), Fraction(0))


def _reach(proof: TakeoffProof, plane: RoofPlane, ridge_y: int) -> tuple[float, float] | None:
    """How far, level, the lower and the upper edge of a slope's panels stay short of the ridge's vertical plane."""
    size = math.hypot(plane.rise, plane.run)
    cos, sin = plane.run / size, plane.rise / size
    for piece in proof.pieces_of(plane.id, "roof_panel"):
        tops = [y for _, y in piece.outline if y == ridge_y]
        if len(tops) < 2 or piece.peak_nm is not None:
            continue
        foot = min(y for _, y in piece.outline) - sum(i.amount_nm for i in piece.allowances if i.name == "end_lap")
        longest = foot + max(piece.edge_a[1], piece.edge_b[1])  # of the longer face, along the slope
        plumb = piece.head.tilt_udeg > 0
        back = piece.thickness_nm * math.tan(math.radians(piece.head.tilt_udeg / 1e6)) if plumb else 0.0
        lower = longest - back
        upper = lower * cos + (back * cos) - piece.thickness_nm * sin  # the upper face lies up and back from the lower one
        return ridge_y * cos - lower * cos, ridge_y * cos - upper
    return None
