"""Linear parts: base channel, top caps, corner angles, opening channel and roof trims cover their runs once, with laps."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from solver.domain.building import Opening, RoofPlane, Wall
from solver.domain.material import Material
from solver.domain.piece import Piece
from solver.takeoff.check.caps import in_one_plane
from solver.takeoff.check.coverage_scan import Spot
from solver.takeoff.check.faces import plant_cut_height
from solver.takeoff.check.plan_geometry import FINE, PlanLine, Side, lengths_agree, panel_ends, panel_thickness
from solver.takeoff.check.proof import TakeoffProof
from solver.units import round_half_up

Run = tuple[Spot, Spot]
Stretch = tuple[int, int]


def check_runs(proof: TakeoffProof) -> None:
    """Judge every linear part of the walls."""
    for wall in proof.building.walls:
        _base(proof, wall)
        _caps(proof, wall)
        _angles(proof, wall)
        _frames(proof, wall)
    for piece in proof.takeoff.pieces:
        if not piece.is_panel:
            _stock(proof, piece)
    linear = sum(not piece.is_panel for piece in proof.takeoff.pieces)
    proof.checked.append(f"{linear} linear parts within their stock, each run covered once, with its laps and stagger")


def _stock(proof: TakeoffProof, piece: Piece) -> None:
    name = Material.parse(piece.material).item
    profile = next((one for one in proof.plant.profiles if one.id == name), None)
    if profile is None:
        proof.add_fault(piece.mark, f"{name!r} is no profile of this plant", "a profile of the catalog")
        return
    longest = max(item.length_nm for item in profile.stock)
    if piece.length_nm > longest + (2 * profile.flange_nm if piece.role == "opening_channel" else 0):
        proof.add_fault(
            piece.mark,
            f"{proof.shown(piece.length_nm)} is longer than its stock",
            f"at most {proof.shown(longest)}",
        )


def _once(proof: TakeoffProof, where: str, what: str, got: Iterable[Stretch], wanted: Sequence[Stretch], lap: int = 0) -> None:
    """Note where stretches do not cover the wanted ones exactly once; neighbours may lap by exactly `lap`."""
    left = sorted(got)
    for low, high in wanted:
        place = low
        while left and left[0][0] <= place and left[0][0] >= low - 1 and place < high:
            first, last = left.pop(0)
            if place > low and place - first not in (0, lap):
                proof.add_fault(where, f"{what} laps {proof.shown(place - first)}", f"butted, or lapped {proof.shown(lap)}")
            if last <= place:
                break
            place = last
        if abs(place - high) > 1:
            size, at = proof.shown(abs(high - place)), proof.shown(place)
            told = f"leaves a gap of {size} at {at}" if place < high else f"runs over by {size} at {at}"
            proof.add_fault(where, f"{what} {told}", "its run covered once")
    for first, last in left:
        at = f"from {proof.shown(first)} to {proof.shown(last)}"
        proof.add_fault(where, f"{what} lies {at} where none belongs, or twice", "its run covered once")


def _along(piece: Piece) -> Stretch:
    us = [u for u, _ in piece.outline]
    return min(us), max(us)


def _base(proof: TakeoffProof, wall: Wall) -> None:
    pieces = proof.pieces_of(wall.id, "base_channel")
    if not wall.on_slab:
        if pieces:
            proof.add_fault(str(wall.id), "base channel on a wall that does not stand on the slab", "none")
        return
    left, right = panel_ends(proof.building, proof.plant, wall)
    start, end = round_half_up(left.outside), round_half_up(right.outside)
    doors = sorted((max(start, opening.u0_nm), min(end, opening.u1_nm)) for opening in wall.openings if opening.z0_nm == 0)
    edges = [start, *(u for door in doors for u in door), end]
    wanted = [(a, b) for a, b in zip(edges[::2], edges[1::2], strict=True) if a < b]
    _once(proof, str(wall.id), "base channel", [_along(piece) for piece in pieces], wanted)
    for piece in pieces:
        low, high = _along(piece)
        shift = (
            round_half_up(left.inside - left.outside) if low == start else 0,
            round_half_up(right.inside - right.outside) if high == end else 0,
        )
        _mitred(proof, piece, high - low, shift)


def _mitred(proof: TakeoffProof, piece: Piece, length: int, shift: tuple[int, int]) -> None:
    """A channel's outside edge is its run; its inside edge reaches `shift` from it at either end, as the walls' faces do."""
    got = (
        piece.edge_a[1] - piece.edge_a[0],
        piece.edge_b[0] - piece.edge_a[0],
        piece.edge_b[1] - piece.edge_a[1],
    )
    if any(abs(a - b) > 1 for a, b in zip(got, (length, *shift), strict=True)):
        proof.add_fault(
            piece.mark,
            f"its edges are {proof.shown(got[0])} long, {proof.shown(got[1])} and {proof.shown(got[2])} apart at its ends",
            f"{proof.shown(length)} long, {proof.shown(shift[0])} and {proof.shown(shift[1])} apart: mitred in plan",
        )


def _caps(proof: TakeoffProof, wall: Wall) -> None:
    pieces = proof.pieces_of(wall.id, "top_cap")
    low, high = _cap_end(proof, wall, "left"), _cap_end(proof, wall, "right")
    lines = [(a, b) for a, b in pairwise(_straight(wall.top)) if a[0] < b[0]]
    wanted = []
    for n, (a, b) in enumerate(lines):
        wanted.append((low if n == 0 else a[0], high if n == len(lines) - 1 else b[0]))
    _once(proof, str(wall.id), "top cap", [_along(piece) for piece in pieces], wanted)
    joints = _joints(proof, wall)
    told: Counter[int] = Counter(
        item.got_nm for item in proof.takeoff.broken if item.rule == "stagger" and item.where == wall.id
    )
    ends = {edge for stretch in wanted for edge in stretch}
    for splice in sorted({edge for piece in pieces for edge in _along(piece)} - ends):
        apart = min((abs(joint - splice) for joint in joints), default=proof.plant.stagger_nm)
        if apart < proof.plant.stagger_nm:
            if told[apart] > 0:
                told[apart] -= 1
            else:
                shown = f"{proof.shown(apart)} from a panel joint, under the stagger of {proof.shown(proof.plant.stagger_nm)}"
                proof.add_fault(str(wall.id), f"a cap splice lies {shown}", "a splice clear of joints, or the break listed")
    for apart, count in told.items():
        if count > 0:
            proof.add_fault(
                str(wall.id), f"a stagger of {proof.shown(apart)} is told as broken, and is not", "breaks as they are"
            )


def _straight(top: Sequence[Spot]) -> list[Spot]:
    """A top without points in the middle of a straight line."""
    kept: list[Spot] = []
    for n, point in enumerate(top):
        if kept and n + 1 < len(top):
            (ax, ay), (bx, by), (cx, cy) = kept[-1], point, top[n + 1]
            if ax < bx < cx and (bx - ax) * (cy - ay) == (by - ay) * (cx - ax):
                continue
        kept.append(point)
    return kept


def _joints(proof: TakeoffProof, wall: Wall) -> list[int]:
    spans = [_along(piece) for piece in proof.pieces_of(wall.id, "wall_panel")]
    if not spans:
        return []
    ends = {min(span[0] for span in spans), max(span[1] for span in spans)}
    return sorted({edge for span in spans for edge in span} - ends)


def _cap_end(proof: TakeoffProof, wall: Wall, side: Side) -> int:
    """Where a cap ends: with the panels where both tops are level; else one runs through and the other stops against it."""
    left, right = panel_ends(proof.building, proof.plant, wall)
    end, corner = (left, wall.left) if side == "left" else (right, wall.right)
    own = round_half_up(end.outside)
    other = next((one for one in proof.building.walls if one.id == corner.neighbour), None)
    if corner.joint != "mitred" or other is None:
        return own
    ours, theirs = _level(wall, side), _level(other, "right" if side == "left" else "left")
    if (ours and theirs) or in_one_plane(proof, wall, side, other):
        return own
    through = ours if ours != theirs else side == "right"
    outside_corner = corner.interior_udeg <= 180_000_000
    if through == outside_corner:
        return own
    met = PlanLine.of(wall).crossing_with(0, PlanLine.of(other), panel_thickness(proof.plant, other))
    return own if met is None else round_half_up(met)


def _level(wall: Wall, side: str) -> bool:
    lines = [(a, b) for a, b in pairwise(wall.top) if a[0] < b[0]]
    a, b = lines[0] if side == "left" else lines[-1]
    return a[1] == b[1]


def _angles(proof: TakeoffProof, wall: Wall) -> None:
    """Angles outside and inside each corner, as high as the lower wall, none where an opening meets it."""
    other = next((one for one in proof.building.walls if one.id == wall.left.neighbour), None)
    pieces = proof.pieces_of(wall.id, "corner_angle")
    if other is None or abs(wall.left.interior_udeg - 180_000_000) < 2:
        return
    shift = other.base_z_nm - wall.base_z_nm
    height = min(wall.top[0][1], other.top[-1][1] + shift)
    gaps = sorted(
        [(opening.z0_nm, opening.z1_nm) for opening in wall.openings if opening.u0_nm == 0]
        + [(opening.z0_nm + shift, opening.z1_nm + shift) for opening in other.openings if opening.u1_nm == other.length_nm]
    )
    wanted, foot = [], 0
    for low, high in gaps:
        if low > foot:
            wanted.append((foot, low))
        foot = max(foot, high)
    if foot < height:
        wanted.append((foot, height))
    profile = next((one for one in proof.plant.profiles if pieces and one.id == Material.parse(pieces[0].material).item), None)
    faces: dict[int, list[Stretch]] = {}
    for piece in pieces:
        zs = [z for _, z in piece.outline]
        faces.setdefault(piece.outline[0][0], []).append((min(zs), max(zs)))
    if len(faces) != 2 and wanted:
        proof.add_fault(str(wall.id), f"corner {wall.left.id} has angles on {len(faces)} faces", "one outside and one inside")
    for stretches in faces.values():
        _once(proof, str(wall.id), f"corner angle at {wall.left.id}", stretches, wanted, profile.lap_nm if profile else 0)


@dataclass(frozen=True, slots=True)
class FrameSide:
    """One side of an opening's frame: its run, the length of its web, and how far its tips reach past it in all."""

    run: Run
    web: float
    tips: float


def _frames(proof: TakeoffProof, wall: Wall) -> None:
    """Channel on every side of an opening but a door's foot and a corner's open side; long points by the flange (case G16).

    A side longer than its stock is a chain of lengths, butted.
    """
    pieces = proof.pieces_of(wall.id, "opening_channel")
    flange = max((_flange(proof, piece) for piece in pieces), default=0)
    left = list(pieces)
    for side in (side for opening in wall.openings for side in _sides(opening, wall, flange)):
        chain = _chain(left, side.run)
        for piece in chain:
            left.remove(piece)
        if not chain:
            proof.add_fault(str(wall.id), f"1 opening channel is missing from {_place(proof, side.run)}", "one on each side")
            continue
        edges = sorted(
            sum(edge[1] - edge[0] for edge in edges)
            for edges in ([piece.edge_a for piece in chain], [piece.edge_b for piece in chain])
        )
        if abs(edges[0] - side.web) > 2 or abs(edges[1] - side.web - side.tips) > 3:
            proof.add_fault(
                chain[0].mark,
                f"its web is {proof.shown(edges[0])}, its long points {proof.shown(edges[1])}",
                f"web {proof.shown(round(side.web))}, long points {proof.shown(round(side.web + side.tips))}",
            )
    for piece in left:
        run = (piece.outline[0], piece.outline[1])
        proof.add_fault(str(wall.id), f"1 opening channel too many at {_place(proof, run)}", "one on each side")


def _chain(pieces: Sequence[Piece], run: Run) -> list[Piece]:
    """Return parts that follow each other along a run from end to end, or nothing."""
    whole = [piece for piece in pieces if (piece.outline[0], piece.outline[1]) == run]
    if whole:
        return whole[:1]
    chain: list[Piece] = []
    place = run[0]
    while place != run[1]:
        onward = [piece for piece in pieces if piece.outline[0] == place and piece not in chain and _between(piece, run)]
        if not onward:
            return []
        chain.append(onward[0])
        place = onward[0].outline[1]
    return chain


def _between(piece: Piece, run: Run) -> bool:
    """Whether a part's far end lies on a run, to 2 nm."""
    (u0, z0), (u1, z1) = run
    u, z = piece.outline[1]
    return abs((u - u0) * (z1 - z0) - (z - z0) * (u1 - u0)) <= 2 * (u1 - u0 + abs(z1 - z0))


def _sides(opening: Opening, wall: Wall, flange: int) -> list[FrameSide]:
    """The sides of a frame, by going round its corners: where two straight sides meet, each tip reaches past by the flange over
    the tangent of half the angle between them."""
    u0, u1, z0, z1 = opening.u0_nm, opening.u1_nm, opening.z0_nm, plant_cut_height(opening)
    head = opening.head
    if head is not None and head.kind == "round":
        half = FrameSide(((u0, z1), (u1, z1)), math.pi * (u1 - u0) / 2, 0)
        return [half, half]
    tops = (z1, z1)
    if head is not None and head.kind == "trapezoid":
        tops = (z0 + (head.left_nm or 0), z0 + (head.right_nm or 0))
    linked = opening.corner_with is not None
    stands = (tops[0] > z0 and not (linked and u0 == 0), tops[1] > z0 and not (linked and u1 == wall.length_nm))
    slope = math.atan2(tops[1] - tops[0], u1 - u0)
    at_head = [
        flange / math.tan(math.pi / 4 + turn / 2) if has else 0.0 for has, turn in zip(stands, (slope, -slope), strict=True)
    ]
    rise = (head.rise_nm or 0) if head is not None and head.kind == "arch" else 0
    span = math.hypot(u1 - u0, tops[1] - tops[0])
    if rise:
        radius = ((u1 - u0) ** 2 / 4 + rise**2) / (2 * rise)
        span, at_head = 2 * radius * math.acos((radius - rise) / radius), [0.0, 0.0]
    sides = [FrameSide(((u0, tops[0]), (u1, tops[1])), span, sum(at_head))]
    for u, top, has, tip in zip((u0, u1), tops, stands, at_head, strict=True):
        if has:
            sides.append(FrameSide(((u, z0), (u, top)), top - z0, tip + (flange if z0 > 0 else 0)))
    if z0 > 0:
        sides.append(FrameSide(((u0, z0), (u1, z0)), u1 - u0, flange * sum(stands)))
    return sides


def _place(proof: TakeoffProof, run: Run) -> str:
    (u0, z0), (u1, z1) = run
    return f"{proof.shown(u0)}, {proof.shown(z0)} to {proof.shown(u1)}, {proof.shown(z1)}"


def _flange(proof: TakeoffProof, piece: Piece) -> int:
    name = Material.parse(piece.material).item
    profile = next((one for one in proof.plant.profiles if one.id == name), None)
    return profile.flange_nm if profile else 0


def check_trims(proof: TakeoffProof) -> None:
    """Judge the roof's trims: every eave and rake, and every ridge, hip and valley once for both its planes."""
    roles = {"eave": "eave_trim", "rake": "rake_trim", "ridge": "ridge_trim", "hip": "hip_trim", "valley": "valley_trim"}
    shared: list[tuple[str, tuple[tuple[Fraction, ...], tuple[Fraction, ...]], bool]] = []
    for plane in proof.building.roof:
        count = len(plane.outline)
        for n, kind in enumerate(plane.edges):
            if kind not in roles:
                continue
            start, end = plane.outline[n], plane.outline[(n + 1) % count]
            pieces = [piece for piece in proof.pieces_of(plane.id, roles[kind]) if _on(piece, start, end)]
            if kind in ("ridge", "hip", "valley"):
                _turned(proof, plane, f"{plane.id} {kind}", (in_space(plane, start), in_space(plane, end)))
                shared.append((f"{plane.id} {kind}", (in_space(plane, start), in_space(plane, end)), bool(pieces)))
                if not pieces:
                    continue
            _trim(proof, f"{plane.id} {kind}", pieces, start, end)
    for n, (name, ends, has) in enumerate(shared):
        twins = [other for m, other in enumerate(shared) if m != n and _same(ends, other[1])]
        if not has and not any(other[2] for other in twins):
            proof.add_fault(name, "has no trim on either of its planes", "its run covered once")
        if has and any(other[2] for other in twins):
            proof.add_fault(name, "has its trim twice, once on each plane", "its run covered once")
    if proof.building.roof:
        proof.checked.append("eaves, rakes, ridges, hips and valleys: trims cover each run once, with their laps")


def _turned(proof: TakeoffProof, plane: RoofPlane, name: str, line: tuple[tuple[Fraction, ...], ...]) -> None:
    """A ridge, hip or valley is where the roof turns: not where one plane goes on in another of the same roof."""
    middle = [(a + b) / 2 for a, b in zip(*line, strict=True)]
    for other in proof.building.roof:
        if other is plane or other.roof != plane.roof:
            continue
        ours, theirs = PlanLine.of_points(plane.a, plane.b), PlanLine.of_points(other.a, other.b)
        alike = all(abs(p - q) * 10**6 < 1 for p, q in zip(ours.along, theirs.along, strict=True))
        if not alike or plane.rise * other.run != other.rise * plane.run:
            continue
        along, up = theirs.where((middle[0], middle[1]))
        beside = min(x for x, _ in other.outline) - 20 <= along <= max(x for x, _ in other.outline) + 20
        if beside and abs(other.z_nm + up * other.rise / other.run - middle[2]) <= 20:
            proof.add_fault(
                name, f"is told between {plane.id} and {other.id}, which lie in one plane", "no trim where a roof goes on"
            )


def in_space(plane: RoofPlane, spot: Spot) -> tuple[Fraction, ...]:
    """Return where a place on a plane's lower face is in space."""
    size = Fraction(math.isqrt((plane.rise**2 + plane.run**2) * FINE**2), FINE)
    x, y = PlanLine.of_points(plane.a, plane.b).place(spot[0], spot[1] * plane.run / size)
    return x, y, plane.z_nm + spot[1] * plane.rise / size


def _same(one: tuple[tuple[Fraction, ...], ...], other: tuple[tuple[Fraction, ...], ...]) -> bool:
    def close(a: tuple[Fraction, ...], b: tuple[Fraction, ...]) -> bool:
        return all(abs(p - q) <= 20 for p, q in zip(a, b, strict=True))

    return (close(one[0], other[0]) and close(one[1], other[1])) or (close(one[0], other[1]) and close(one[1], other[0]))


def _on(piece: Piece, start: Spot, end: Spot) -> bool:
    """Whether both ends of a part lie on an edge, within rounding."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    square = dx * dx + dy * dy
    for x, y in piece.outline:
        along, aside = (x - start[0]) * dx + (y - start[1]) * dy, (y - start[1]) * dx - (x - start[0]) * dy
        if not -square // 10**9 <= along <= square + square // 10**9 or aside * aside > 4 * square:
            return False
    return True


def _trim(proof: TakeoffProof, where: str, pieces: Sequence[Piece], start: Spot, end: Spot) -> None:
    dx, dy = end[0] - start[0], end[1] - start[1]
    square = dx * dx + dy * dy
    if square == 0:
        return
    length = (math.isqrt(4 * square) + 1) // 2

    def along(spot: Spot) -> int:
        return round_half_up(Fraction((spot[0] - start[0]) * dx + (spot[1] - start[1]) * dy, square) * length)

    stretches = sorted((along(piece.outline[0]), along(piece.outline[1]), piece.mark) for piece in pieces)
    place = 0
    for low, high, mark in stretches:
        if abs(low - place) > 2:
            kind = "a gap" if low > place else "an overlap"
            proof.add_fault(
                where, f"{kind} of {proof.shown(abs(low - place))} in its trim before {mark}", "its run covered once"
            )
        place = high
    if abs(place - length) > 2:
        proof.add_fault(where, f"its trim ends {proof.shown(abs(length - place))} off its end", "its run covered once")
    for piece in pieces:
        last = abs(along(piece.outline[1]) - length) <= 2
        _lap(proof, piece, along(piece.outline[1]) - along(piece.outline[0]), last=last)


def _lap(proof: TakeoffProof, piece: Piece, share: int, *, last: bool) -> None:
    name = Material.parse(piece.material).item
    profile = next((one for one in proof.plant.profiles if one.id == name), None)
    named = sum(item.amount_nm for item in piece.allowances if item.name == "lap")
    cut = piece.edge_a[1] - piece.edge_a[0]
    if not lengths_agree(cut, share + named, 3):
        proof.add_fault(piece.mark, f"it is {proof.shown(cut)} long", f"{proof.shown(share + named)}: its run and its lap")
    wanted = 0 if last or profile is None else profile.lap_nm
    if abs(named - wanted) > 3:
        proof.add_fault(piece.mark, f"it laps {proof.shown(named)}", f"{proof.shown(wanted)}")
