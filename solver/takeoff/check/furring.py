"""Furring: strips lie on the inside face, clear of openings and roof, at every free end and no farther apart than asked.

Lines are drawn across the strips, halfway between all places where anything begins or ends; what is free on each line is
compared with the strips that cross it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from solver.domain.building import Furring, Wall
from solver.domain.material import Material
from solver.domain.piece import Piece
from solver.takeoff.check.plan_geometry import PlanLine, Side, panel_thickness
from solver.takeoff.check.proof import TakeoffProof

NEAR_NM = 2
CLOSE_NM = 1_000  # heights of a roof plane and of the top that it makes, each rounded once
Exact = int | Fraction
Slope = tuple[Exact, Exact, Exact, Exact]  # a straight stretch of a top: u, z to u, z


@dataclass(frozen=True, slots=True)
class StripBox:
    """A strip or an opening: its extent across the strips, and along them."""

    low: Exact
    high: Exact
    start: Exact
    end: Exact


@dataclass(frozen=True, slots=True)
class FreeSpan:
    """What is free on a line across the strips, and whether its ends are edges that want a strip (not a slope)."""

    low: Exact
    high: Exact
    low_hard: bool = True
    high_hard: bool = True


def check_furring(proof: TakeoffProof) -> None:
    """Judge the furring of every wall."""
    count = 0
    for wall in proof.building.walls:
        pieces = proof.pieces_of(wall.id, "furring")
        count += len(pieces)
        if wall.furring is None:
            if pieces:
                proof.add_fault(str(wall.id), "is furred and was not asked to be", "no furring")
            continue
        if wall.furring.spacing_nm not in proof.plant.furring.spacings_nm:
            proof.add_fault(str(wall.id), "its furring spacing is none of the plant's", "a spacing of the catalog")
        _wall(proof, wall, wall.furring, pieces)
    if count:
        proof.checked.append(f"{count} strips of furring on inside faces, clear of openings and roof, spaced as asked")


def _wall(proof: TakeoffProof, wall: Wall, asked: Furring, pieces: Sequence[Piece]) -> None:
    upright = asked.runs == "upright"
    width = max((piece.width_nm for piece in pieces), default=0)
    boxes = []
    for piece in pieces:
        (u0, z0), (u1, z1) = piece.outline[0], piece.outline[-1]
        if (u0 != u1) if upright else (z0 != z1):
            proof.add_fault(piece.mark, f"does not run {asked.runs}", f"{asked.runs}, as ordered")
            continue
        across, start, end = (u0, z0, z1) if upright else (z0, u0, u1)
        boxes.append(
            (piece, StripBox(across - Fraction(width, 2), across + Fraction(width, 2), min(start, end), max(start, end)))
        )
    voids = [
        StripBox(item.u0_nm, item.u1_nm, item.z0_nm, item.z1_nm)
        if upright
        else StripBox(item.z0_nm, item.z1_nm, item.u0_nm, item.u1_nm)
        for item in wall.openings
    ]
    left, right = _inside(proof, wall, "left"), _inside(proof, wall, "right")
    tops = _tops(proof, wall, left, right)
    for piece, box in boxes:
        _within(proof, piece, box, voids, (left, right), tops, upright=upright)
        _length(proof, piece, box)
    face = _Face(
        left, right, tops, voids, [box for _, box in boxes], asked.spacing_nm, width, proof.plant.furring.least_nm, upright
    )
    said: set[str] = set()
    for place in _lines(face):
        for free in _free(face, place):
            for low, high in _bare(face, free, place):
                said.add(f"no strip from {proof.shown(round(low))} to {proof.shown(round(high))}")
    for text in sorted(said):
        proof.add_fault(f"{wall.id} furring", text, f"one at every free edge, and every {proof.shown(asked.spacing_nm)}")


@dataclass(frozen=True, slots=True)
class _Face:
    left: Exact
    right: Exact
    tops: Sequence[Slope]
    voids: Sequence[StripBox]
    strips: Sequence[StripBox]
    spacing: int
    width: int
    least: int
    upright: bool


def _inside(proof: TakeoffProof, wall: Wall, side: Side) -> Exact:
    """Where a wall's inside face meets the other wall's, along the wall."""
    corner = wall.left if side == "left" else wall.right
    own = Fraction(0) if side == "left" else PlanLine.of(wall).size
    other = next((one for one in proof.building.walls if one.id == corner.neighbour), None)
    if other is None or corner.joint == "free":
        return own
    met = PlanLine.of(wall).crossing_with(
        panel_thickness(proof.plant, wall), PlanLine.of(other), panel_thickness(proof.plant, other)
    )
    return own if met is None else met


def _tops(proof: TakeoffProof, wall: Wall, left: Exact, right: Exact) -> list[Slope]:
    """The straight stretches of a wall's top on its inside face: as outside, but down where the roof falls inward."""
    flat = [(a, b) for a, b in pairwise(wall.top) if a[0] < b[0]]
    line, thick = PlanLine.of(wall), panel_thickness(proof.plant, wall)
    planes = [plane for plane in proof.building.roof if str(plane.id) in wall.under_roof]
    found: list[Slope] = []
    for n, ((u0, z0), (u1, z1)) in enumerate(flat):
        middle, rise = Fraction(u0 + u1, 2), Fraction(z1 - z0, u1 - u0)
        down = Fraction(0)
        for plane in planes:
            over = PlanLine.of_points(plane.a, plane.b)
            outside, inside = (
                plane.z_nm + over.where(line.place(middle, inward))[1] * plane.rise / plane.run for inward in (0, thick)
            )
            if abs(outside - wall.base_z_nm - Fraction(z0 + z1, 2)) <= CLOSE_NM:
                down = max(down, outside - inside)
        start = left if n == 0 else max(left, u0)
        end = right if n == len(flat) - 1 else min(right, u1)
        if start < end:
            found.append((start, z0 + rise * (start - u0) - down, end, z0 + rise * (end - u0) - down))
    return found


def _within(
    proof: TakeoffProof,
    piece: Piece,
    box: StripBox,
    voids: Sequence[StripBox],
    ends: tuple[Exact, Exact],
    tops: Sequence[Slope],
    *,
    upright: bool,
) -> None:
    u0, u1, z0, z1 = (box.low, box.high, box.start, box.end) if upright else (box.start, box.end, box.low, box.high)
    if u0 < ends[0] - NEAR_NM or u1 > ends[1] + NEAR_NM or z0 < 0:
        proof.add_fault(piece.mark, "runs off its wall's inside face", "a strip within the face")
    for a, za, b, zb in tops:
        low, high = max(a, u0), min(b, u1)
        if low < high:
            over = z1 - min(za + (zb - za) * Fraction(place - a) / (b - a) for place in (low, high))
            if over > NEAR_NM:
                shown = proof.shown(round(over))
                proof.add_fault(piece.mark, f"stands {shown} above the top on the inside", "a strip below the top")
                break
    for void in voids:
        apart = max(void.low - box.high, box.low - void.high, void.start - box.end, box.start - void.end)
        if apart < -NEAR_NM:
            proof.add_fault(piece.mark, "lies across an opening", "a strip beside it")


def _length(proof: TakeoffProof, piece: Piece, box: StripBox) -> None:
    laps = sum(item.amount_nm for item in piece.allowances if item.name == "lap")
    wanted = box.end - box.start + laps
    if not -NEAR_NM <= wanted - piece.length_nm <= NEAR_NM:
        proof.add_fault(piece.mark, f"is {proof.shown(piece.length_nm)} long", f"{proof.shown(round(wanted))}: its run and lap")
    profile = next((one for one in proof.plant.profiles if one.id == Material.parse(piece.material).item), None)
    if laps and profile is not None and laps != profile.lap_nm:
        proof.add_fault(piece.mark, f"it laps {proof.shown(laps)}", proof.shown(profile.lap_nm))


def _lines(face: _Face) -> Iterator[Fraction]:
    """Where lines are drawn across the strips: halfway between the places at which anything begins or ends.

    None where openings begin and end within less than the shortest strip: a strip for that stretch alone is not worth having.
    """
    cuts: set[Exact] = {0} if face.upright else {face.left, face.right}
    for box in (*face.voids, *face.strips):
        cuts |= {box.start, box.end}
    for a, za, b, zb in face.tops:
        cuts |= {za, zb} if face.upright else {a, b}
    low: Exact = 0 if face.upright else face.left
    high: Exact = max(max(top[1], top[3]) for top in face.tops) if face.upright else face.right
    edges = sorted({low, high, *(place for box in face.voids for place in (box.start, box.end) if low < place < high)})
    wide = [(a, b) for a, b in pairwise(edges) if b - a >= face.least]
    for one, other in pairwise(sorted(place for place in cuts if low <= place <= high)):
        if other - one > 2 * NEAR_NM and any(a <= one and other <= b for a, b in wide):
            yield (one + Fraction(other)) / 2


def _free(face: _Face, place: Fraction) -> list[FreeSpan]:
    parts = _under(face, place) if face.upright else _up_to_top(face, place)
    for void in sorted(face.voids, key=lambda box: box.low):
        if void.start < place < void.end:
            parts = [rest for part in parts for rest in _without(part, void)]
    return parts


def _under(face: _Face, z: Fraction) -> list[FreeSpan]:
    """From where to where along the wall its top is above a height."""
    found: list[FreeSpan] = []
    part: FreeSpan
    for a, za, b, zb in face.tops:
        if min(za, zb) >= z:
            part = FreeSpan(a, b, low_hard=True, high_hard=True)
        elif max(za, zb) <= z:
            continue
        else:
            cross = a + (b - a) * Fraction(z - za) / (zb - za)
            part = FreeSpan(cross, b, low_hard=False) if zb > za else FreeSpan(a, cross, high_hard=False)
        if found and found[-1].high == part.low:
            part = FreeSpan(found[-1].low, part.high, found[-1].low_hard, part.high_hard)
            found.pop()
        found.append(part)
    return found


def _up_to_top(face: _Face, u: Fraction) -> list[FreeSpan]:
    for a, za, b, zb in face.tops:
        if a <= u <= b:
            return [FreeSpan(0, za + (zb - za) * Fraction(u - a) / (b - a), high_hard=za == zb)]
    return []


def _without(part: FreeSpan, void: StripBox) -> Iterator[FreeSpan]:
    if part.low < min(part.high, void.low):
        hard = True if void.low < part.high else part.high_hard
        yield FreeSpan(part.low, min(part.high, void.low), part.low_hard, hard)
    if max(part.low, void.high) < part.high:
        hard = True if void.high > part.low else part.low_hard
        yield FreeSpan(max(part.low, void.high), part.high, hard, part.high_hard)


def _bare(face: _Face, free: FreeSpan, place: Fraction) -> Iterator[tuple[Exact, Exact]]:
    """Stretches of what is free that have no strip where one belongs and could stand."""
    width = face.width
    held = sorted((box.low, box.high) for box in face.strips if box.start < place < box.end)
    held = [strip for strip in held if strip[1] > free.low - NEAR_NM and strip[0] < free.high + NEAR_NM]
    if free.high - free.low < 2 * width:
        if not held and free.high - free.low >= width and free.low_hard and free.high_hard:
            middle = (free.low + Fraction(free.high)) / 2
            if _stands(face, middle, place):
                yield free.low, free.high
        return
    first, last = (held[0][0], held[-1][1]) if held else (free.high, free.low)
    for bare, hard, at in (
        (first - free.low, free.low_hard, free.low + Fraction(width, 2)),
        (free.high - last, free.high_hard, free.high - Fraction(width, 2)),
    ):
        if bare > (NEAR_NM if hard else face.spacing) and _stands(face, at, place):
            yield at - Fraction(width, 2), at + Fraction(width, 2)
    for (a, b), (c, d) in pairwise(held):
        middle = (b + Fraction(c)) / 2
        if c + d - a - b > 2 * (face.spacing + NEAR_NM) and _stands(face, middle, place):
            yield b, c


def _stands(face: _Face, at: Fraction, place: Fraction) -> bool:
    """Whether a strip there would be long enough to be worth having: what is free along it, around the place."""
    half = Fraction(face.width, 2)
    low, high = _along_top(face, at, half, place)
    for box in face.voids:
        if box.low < at + half and box.high > at - half:
            if box.start < place < box.end:
                return False
            low, high = (max(low, box.end), high) if box.end <= place else (low, min(high, box.start))
    return high - low >= face.least + NEAR_NM


def _along_top(face: _Face, at: Fraction, half: Fraction, place: Fraction) -> tuple[Exact, Exact]:
    """From where to where along a strip the wall is high enough for it."""
    if face.upright:
        heights = [
            za + (zb - za) * Fraction(min(max(u, a), b) - a) / (b - a)
            for a, za, b, zb in face.tops
            for u in (at - half, at + half)
            if a < at + half and b > at - half
        ]
        return 0, min(heights, default=0)
    return next(((part.low, part.high) for part in _under(face, at + half) if part.low < place < part.high), (0, 0))
