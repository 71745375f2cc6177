"""Roof panels as solids at hips and valleys: cut faces on both sides lie in one upright plane, so none collide and none gape.

Where lower edges are comes from the set shapes, in exact fractions; where upper edges are, from the saw's own settings (swing,
tilt, which face is the longer one), in space.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from solver.domain.building import RoofPlane
from solver.domain.piece import EndCut, Piece
from solver.takeoff.check.coverage_scan import Spot
from solver.takeoff.check.proof import TakeoffProof
from solver.takeoff.check.runs import in_space
from solver.takeoff.check.slopes import boundary_chains

TOUCH_NM = 1_000  # corners of planes met at an angle are rounded each in its own plane; far below any sealant
LEAST_NM = 1_000_000  # stretches shorter than this are not compared
Vector = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class EdgePanelCut:
    """A panel's cut at a shared edge: its stretch along the edge's line in space, and how its upper edge misses the upright."""

    piece: Piece
    start: tuple[Fraction, ...]
    end: tuple[Fraction, ...]
    short: float  # level distance by which the upper edge stays short of the upright plane through the lower one


@dataclass(frozen=True, slots=True)
class HipOrValley:
    """A hip or valley of one plane, in space, with the panels' cuts along it."""

    plane: RoofPlane
    kind: str
    a: tuple[Fraction, ...]
    b: tuple[Fraction, ...]
    sides: tuple[EdgePanelCut, ...]


def check_hips_and_valleys(proof: TakeoffProof) -> None:
    """Compare the panels on both sides of every hip and valley."""
    edges = [edge for plane in proof.building.roof for edge in _edges(proof, plane)]
    for n, edge in enumerate(edges):
        twins = [other for other in edges if other.plane is not edge.plane and other.kind == edge.kind]
        bare = _unmet(edge, twins)
        if bare > TOUCH_NM:
            name = f"{edge.plane.id} {edge.kind}"
            proof.add_fault(
                name, f"meets no other slope for {proof.shown(round(bare))}", "two slopes that meet along all of it"
            )
        for other in edges[:n]:
            if other in twins:
                _compare(proof, edge, other)
    if edges:
        proof.checked.append(f"{len(edges)} sides of hips and valleys: panels meet in one upright plane, no collision, no gap")


def _edges(proof: TakeoffProof, plane: RoofPlane) -> Iterator[HipOrValley]:
    held = [(piece, *stretch) for piece in proof.pieces_of(plane.id, "roof_panel") for stretch in _stretches(piece)]
    for n, kind in enumerate(plane.edges):
        a, b = plane.outline[n], plane.outline[(n + 1) % len(plane.outline)]
        if kind not in ("hip", "valley") or a[0] == b[0]:
            continue
        sides = tuple(
            EdgePanelCut(piece, in_space(plane, p), in_space(plane, q), _short(plane, piece, (p, q), cut, outward))
            for piece, p, q, cut, outward in held
            if _on(p, a, b) and _on(q, a, b)
        )
        yield HipOrValley(plane, kind, in_space(plane, a), in_space(plane, b), sides)


def _stretches(piece: Piece) -> Iterator[tuple[Spot, Spot, EndCut, int]]:
    """Each stretch of a panel's foot and head, left to right, with its cut and whether out of the panel is up or down."""
    if len(piece.outline) < 3:
        return
    low, high = boundary_chains(piece)
    for chain, cuts, main, outward in ((low, piece.foot_cuts, piece.foot, -1), (high, piece.head_cuts, piece.head, 1)):
        parts = [(p, q) for p, q in pairwise(chain) if p[0] < q[0]]
        settings = cuts if len(cuts) == len(parts) else (main,) * len(parts)
        yield from ((p, q, cut, outward) for (p, q), cut in zip(parts, settings, strict=True))


def _on(spot: Spot, a: Spot, b: Spot) -> bool:
    dx, dy = b[0] - a[0], b[1] - a[1]
    square = dx * dx + dy * dy
    aside = (spot[1] - a[1]) * dx - (spot[0] - a[0]) * dy
    return aside * aside <= 4 * square and min(a[0], b[0]) - 2 <= spot[0] <= max(a[0], b[0]) + 2


def _short(plane: RoofPlane, piece: Piece, stretch: tuple[Spot, Spot], cut: EndCut, outward: int) -> float:
    """How far, level, the upper edge of a cut stays short of the upright plane through its lower edge; negative beyond it."""
    (x0, y0), (x1, y1) = stretch
    turn = math.radians(cut.swing_udeg / 1e6) * (1 if y1 >= y0 else -1)
    along, up = math.cos(turn), math.sin(turn)
    size = math.hypot(plane.rise, plane.run)
    cos, sin = plane.run / size, plane.rise / size

    def lifted(x: float, y: float) -> Vector:
        return x, y * cos, y * sin

    longer = {"outside": 1.0, "inside": -1.0, "both": 0.0}[cut.long_face] * math.tan(math.radians(cut.tilt_udeg / 1e6))
    out = lifted(-up * outward, along * outward)  # in the panel's plane, square to the cut, out of the panel
    face: Vector = (0.0, -sin, cos)
    over = [piece.thickness_nm * (f + longer * o) for f, o in zip(face, out, strict=True)]
    edge = lifted(x1 - x0, y1 - y0)  # where the set shape says that the lower edge lies
    level = math.hypot(edge[0], edge[1])
    normal = -edge[1] / level * outward, edge[0] / level * outward
    return -(over[0] * normal[0] + over[1] * normal[1])


def _unmet(edge: HipOrValley, twins: list[HipOrValley]) -> float:
    """The length of an edge that no twin lies along."""
    parts = sorted(part for twin in twins if (part := _part(edge, twin.a, twin.b)) is not None)
    size = math.dist([float(v) for v in edge.a], [float(v) for v in edge.b])
    bare, place = 0.0, 0.0
    for low, high in parts:
        bare += max(0.0, low - place)
        place = max(place, high)
    return (bare + max(0.0, 1.0 - place)) * size


def _part(edge: HipOrValley, c: tuple[Fraction, ...], d: tuple[Fraction, ...]) -> tuple[float, float] | None:
    """What part of an edge a line in space lies along, within rounding; nothing where it does not."""
    along = [q - p for p, q in zip(edge.a, edge.b, strict=True)]
    square = sum((v * v for v in along), Fraction(0))
    parts = []
    for spot in (c, d):
        part = sum(((s - p) * v for s, p, v in zip(spot, edge.a, along, strict=True)), Fraction(0)) / square
        if any(abs(p + v * part - s) > TOUCH_NM for s, p, v in zip(spot, edge.a, along, strict=True)):
            return None
        parts.append(float(part))
    low, high = max(0.0, min(parts)), min(1.0, max(parts))
    return (low, high) if low < high else None


def _compare(proof: TakeoffProof, edge: HipOrValley, other: HipOrValley) -> None:
    if _part(edge, other.a, other.b) is None:
        return
    size = math.dist([float(v) for v in edge.a], [float(v) for v in edge.b])
    spans = [[(side, part) for side in one.sides if (part := _part(edge, side.start, side.end))] for one in (edge, other)]
    for mine, (a, b) in spans[0]:
        for theirs, (c, d) in spans[1]:
            if (min(b, d) - max(a, c)) * size < LEAST_NM:
                continue
            gap = mine.short + theirs.short
            sealant = max(family.joint_growth_nm for family in proof.plant.families if family.id == edge.plane.family)
            if gap < -TOUCH_NM or gap > sealant + TOUCH_NM:
                what = "collide" if gap < 0 else "gape"
                proof.add_fault(
                    f"{mine.piece.mark} and {theirs.piece.mark}",
                    f"{what} by {proof.shown(round(abs(gap)))} on the upper face at the {edge.kind}",
                    "cuts in one upright plane",
                )
