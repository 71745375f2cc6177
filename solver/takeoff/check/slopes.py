"""Roof panels: lengths with the ridge gap and the long upper face, and the saw's swing and tilt, from vectors in space."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

from solver.domain.building import RoofEdge, RoofPlane
from solver.domain.piece import EndCut, Piece
from solver.domain.plant import PanelFamily
from solver.takeoff.check.coverage_scan import Spot
from solver.takeoff.check.panels import SLACK_UDEG
from solver.takeoff.check.proof import TakeoffProof

Chain = list[Spot]


def check_slopes(proof: TakeoffProof) -> None:
    """Judge the lengths and end cuts of every roof panel."""
    for plane in proof.building.roof:
        family = proof.family(plane.family)
        if family is None:
            continue
        for piece in proof.pieces_of(plane.id, "roof_panel"):
            if len(piece.outline) >= 3:
                _panel(proof, plane, family, piece)
    if proof.building.roof:
        proof.checked.append("roof panels: ridge gap, laps and long faces by name, swing and tilt of every end cut")


def boundary_chains(piece: Piece) -> tuple[Chain, Chain]:
    """Return the lower and the upper boundary of a panel, left to right, upright stretches left out of the ends."""
    ring: Chain = list(piece.outline)
    left, right = min(x for x, _ in ring), max(x for x, _ in ring)
    start = ring.index(min((p for p in ring if p[0] == left), key=lambda p: p[1]))
    ring = ring[start:] + ring[:start]
    far = ring.index(max((p for p in ring if p[0] == right), key=lambda p: p[1]))
    low, high = ring[: far + 1], [*ring[far:], ring[0]]
    while len(low) > 1 and low[-2][0] == right:
        low.pop()
    high.reverse()
    while len(high) > 1 and high[1][0] == left:
        high.pop(0)
    return low, high


def _kind(plane: RoofPlane, a: Spot, b: Spot) -> RoofEdge | None:
    """The kind of the plane's edge that a stretch of a panel lies on; none where it lies inside the plane."""
    middle = Fraction(a[0] + b[0], 2)
    height = Fraction(a[1] + b[1], 2)
    for n, kind in enumerate(plane.edges):
        (x0, y0), (x1, y1) = sorted((plane.outline[n], plane.outline[(n + 1) % len(plane.outline)]))
        if x0 < x1 and x0 <= middle <= x1 and abs(y0 + (y1 - y0) * (middle - x0) / (x1 - x0) - height) <= 2:
            return kind
    return None


def _root(value: Fraction) -> int:
    return (math.isqrt(math.floor(4 * value)) + 1) // 2


def _head_more(plane: RoofPlane, family: PanelFamily, kind: RoofEdge | None) -> dict[str, int]:
    """What a head of a kind is cut longer than it stands, by name, from the pitch."""
    slope = Fraction(plane.rise, plane.run)
    more = {}
    if kind == "ridge" and family.ridge_gap_nm:
        more["ridge_gap"] = -_root(Fraction(family.ridge_gap_nm, 2) ** 2 * (1 + slope * slope))
    if plane.rise and (kind in ("hip", "valley") or (kind == "ridge" and plane.ridge_cut == "plumb")):
        more["long_face"] = math.floor(family.thickness_nm * slope + Fraction(1, 2))
    return more


def _panel(proof: TakeoffProof, plane: RoofPlane, family: PanelFamily, piece: Piece) -> None:
    low, high = boundary_chains(piece)
    feet = [(a, b, _kind(plane, a, b)) for a, b in pairwise(low) if a[0] < b[0]]
    heads = [(a, b, _kind(plane, a, b)) for a, b in pairwise(high) if a[0] < b[0]]
    if not feet or not heads:
        proof.add_fault(piece.mark, "its set shape has no foot or no head", "a panel that runs up the slope")
        return
    lap = sum(item.amount_nm for item in piece.allowances if item.name == "end_lap")
    if lap not in (0, family.end_lap_nm) or (lap and feet[0][2] is not None):
        proof.add_fault(
            piece.mark,
            f"an end lap of {proof.shown(lap)}",
            f"{proof.shown(family.end_lap_nm)} over a support, or none",
        )
    _named(proof, plane, family, piece, [kind for *_, kind in heads])
    edge = _cut_edge(proof, plane, family, piece)
    tops = [y + sum(_head_more(plane, family, kind).values()) for a, b, kind in heads for _, y in _up_to(a, b, edge)]
    bottoms = [y for a, b, _ in feet for _, y in _up_to(a, b, edge)]
    zero = min(y for _, y in low) - lap
    ends = ((bottoms[0] - lap - zero, tops[0] - zero), (bottoms[-1] - lap - zero, tops[-1] - zero))
    wanted = [(min(bottom, top), top) for bottom, top in ends]  # what of a tip lies within the ridge gap is cut away
    off = max(abs(got - want) for side, should in zip((piece.edge_a, piece.edge_b), wanted, strict=True)
              for got, want in zip(side, should, strict=True))  # fmt: skip
    if piece.peak_nm is not None:
        off = max(off, abs(piece.peak_nm - (max(tops) - zero)))
    if off > 2:
        proof.add_fault(
            piece.mark,
            f"it is cut {proof.shown(round(off))} off what its set shape and named allowances give",
            "cut less set as the named ridge gap, long face and end lap",
        )
    _angles(proof, plane, piece, "foot", piece.foot, feet)
    _angles(proof, plane, piece, "head", piece.head, heads)


def _cut_edge(proof: TakeoffProof, plane: RoofPlane, family: PanelFamily, piece: Piece) -> int:
    """Where a panel is cut on its right: short of where it stands by the growth of its joint; the last one has none."""
    right = max(x for x, _ in piece.outline)
    last = max(x for one in proof.pieces_of(plane.id, "roof_panel") for x, _ in one.outline)
    return right if right == last else right - family.joint_growth_nm


def _up_to(a: Spot, b: Spot, edge: int) -> list[tuple[Fraction, Fraction]]:
    """Both ends of a stretch, stopped short at an edge on its own line; none where it lies beyond."""
    if a[0] >= edge:
        return []
    end = min(b[0], edge)
    return [(Fraction(a[0]), Fraction(a[1])), (Fraction(end), a[1] + Fraction((b[1] - a[1]) * (end - a[0]), b[0] - a[0]))]


def _named(proof: TakeoffProof, plane: RoofPlane, family: PanelFamily, piece: Piece, kinds: Sequence[RoofEdge | None]) -> None:
    want = sorted({item for kind in kinds for item in _head_more(plane, family, kind).items()})
    got = sorted({(item.name, item.amount_nm) for item in piece.allowances if item.edge == "head"})
    if [name for name, _ in want] != [name for name, _ in got] or any(
        abs(a[1] - b[1]) > 1 for a, b in zip(want, got, strict=True)
    ):
        shown = ", ".join(f"{name} {proof.shown(amount)}" for name, amount in want) or "none"
        proof.add_fault(piece.mark, "its allowances at the head are not those of its ridge, hip or square end", shown)


def _angles(
    proof: TakeoffProof,
    plane: RoofPlane,
    piece: Piece,
    name: str,
    cut: EndCut,
    stretches: Sequence[tuple[Spot, Spot, RoofEdge | None]],
) -> None:
    plumb = {"ridge": plane.ridge_cut == "plumb", "eave": plane.eave_cut == "plumb", "hip": True, "valley": True}
    wanted = []
    for a, b, kind in stretches:
        swing = math.degrees(math.atan2(abs(b[1] - a[1]), b[0] - a[0])) * 1e6
        upright = plane.rise > 0 and plumb.get(kind or "", False)
        wanted.append((swing, _tilt(plane, a, b) if upright else 0.0))
    cuts = piece.foot_cuts if name == "foot" else piece.head_cuts
    listed = [(float(one.swing_udeg), float(one.tilt_udeg)) for one in cuts] if len(wanted) > 1 else list(wanted)
    if len(listed) != len(wanted) or any(
        abs(a - b) > SLACK_UDEG for one, other in zip(listed, wanted, strict=True) for a, b in zip(one, other, strict=True)
    ):
        proof.add_fault(piece.mark, f"not every cut of its {name} is told, left to right", f"{len(wanted)} cuts, each as it is")
    most = max(wanted)
    if abs(cut.swing_udeg - most[0]) > SLACK_UDEG or abs(cut.tilt_udeg - most[1]) > SLACK_UDEG:
        proof.add_fault(
            piece.mark,
            f"its {name} is cut at {cut.swing_udeg / 1e6:.2f} degrees, tilted {cut.tilt_udeg / 1e6:.2f}",
            f"{most[0] / 1e6:.2f} from square, tilted {most[1] / 1e6:.2f}, so that it meets its neighbour",
        )


def _tilt(plane: RoofPlane, a: Spot, b: Spot) -> float:
    """Angle between the vertical plane through an edge and the one square to the panel, from their normals in space."""
    size = math.hypot(plane.rise, plane.run)
    cos, sin = plane.run / size, plane.rise / size
    x, y = b[0] - a[0], b[1] - a[1]
    edge = (x, y * cos, y * sin)
    face = (0.0, -sin, cos)
    square = (
        edge[1] * face[2] - edge[2] * face[1],
        edge[2] * face[0] - edge[0] * face[2],
        edge[0] * face[1] - edge[1] * face[0],
    )
    upright = (edge[1], -edge[0], 0.0)
    turn = sum(p * q for p, q in zip(square, upright, strict=True)) / (math.hypot(*square) * math.hypot(*upright))
    return math.degrees(math.acos(max(-1.0, min(1.0, abs(turn))))) * 1e6
