"""Inner parts: end laps bear on walls, bearing walls have their track, studs and headers, hardware is in whole packs."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from fractions import Fraction

from solver.domain.building import BearingWall, Point, RoofPlane
from solver.domain.piece import Piece
from solver.takeoff.check.proof import TakeoffProof
from solver.takeoff.check.runs import in_space
from solver.units import MM

NEAR_NM = 2
Stretch = tuple[int, int]


def check_interior(proof: TakeoffProof) -> None:
    """Judge laps, bearing walls and hardware."""
    for plane in proof.building.roof:
        for piece in proof.pieces_of(plane.id, "roof_panel"):
            if any(item.name == "end_lap" for item in piece.allowances):
                _borne(proof, plane, piece)
    for wall in proof.building.bearing:
        _framed(proof, wall)
    _packs(proof)
    proof.checked.append("end laps on walls; bearing walls: track, studs and headers; hardware in whole packs")


def _borne(proof: TakeoffProof, plane: RoofPlane, piece: Piece) -> None:
    """At least half of a lapped panel's foot lies over a wall: lines in plan, in exact fractions."""
    foot = min(y for _, y in piece.outline)
    xs = [x for x, y in piece.outline if y == foot]
    a, b = (in_space(plane, (x, foot))[:2] for x in (min(xs), max(xs)))
    lines: list[tuple[Point, Point]] = [(wall.a, wall.b) for wall in proof.building.walls]
    lines += [(wall.a, wall.b) for wall in proof.building.bearing]
    dx, dy = b[0] - a[0], b[1] - a[1]
    square = dx * dx + dy * dy
    best = Fraction(0)
    for line in lines:
        asides = [((p[0] - a[0]) * dy - (p[1] - a[1]) * dx) ** 2 for p in line]
        if square and max(asides) <= square * MM**2:
            parts = sorted(((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / square for p in line)
            best = max(best, min(Fraction(1), parts[1]) - max(Fraction(0), parts[0]))
    if 2 * best < 1 - Fraction(1, 10**6):
        proof.add_fault(piece.mark, "its end lap has no wall under half of its width", "a lap over a wall")


def _framed(proof: TakeoffProof, wall: BearingWall) -> None:
    """Track along foot (but for openings) and top, studs no farther apart than the plant's spacing, two headers over each."""
    name = str(wall.id)
    gaps = sorted((item.from_nm, item.from_nm + item.width_nm) for item in wall.openings)
    floors: list[Stretch] = []
    place = 0
    for low, high in gaps:
        floors.append((place, low))
        place = high
    floors.append((place, wall.length_nm))
    tracks = proof.pieces_of(wall.id, "track")
    _once(proof, f"{name} bottom track", [piece for piece in tracks if piece.outline[0][1] == 0], floors)
    _once(proof, f"{name} top track", [piece for piece in tracks if piece.outline[0][1] != 0], [(0, wall.length_nm)])
    heads = Counter((piece.outline[0][0], piece.outline[-1][0]) for piece in proof.pieces_of(wall.id, "header"))
    for low, high in gaps:
        over = sum(count for (left, right), count in heads.items() if left < low and right > high)
        if over != 2:
            proof.add_fault(f"{name} header", f"{over} over the opening at {proof.shown(low)}", "two that bear beside it")
    places = sorted(piece.outline[0][0] for piece in proof.pieces_of(wall.id, "stud"))
    for low, high in gaps:
        places = [x for x in places if not low < x < high]
    for left, right in zip([0, *places], [*places, wall.length_nm], strict=True):
        across = sum(max(0, min(right, high) - max(left, low)) for low, high in gaps)
        if right - left - across > proof.plant.stud_spacing_nm + NEAR_NM:
            proof.add_fault(
                f"{name} studs",
                f"none from {proof.shown(left)} to {proof.shown(right)}",
                f"one every {proof.shown(proof.plant.stud_spacing_nm)} beside openings",
            )


def _once(proof: TakeoffProof, where: str, pieces: Iterable[Piece], wanted: Iterable[Stretch]) -> None:
    """Parts that butt cover each stretch once, and nothing else."""
    held = sorted((min(a[0], b[0]), max(a[0], b[0])) for a, b in (piece.outline for piece in pieces))
    joined: list[Stretch] = []
    for low, high in held:
        if joined and low == joined[-1][1] and not any(low == start for start, _ in wanted):
            joined[-1] = (joined[-1][0], high)
        else:
            joined.append((low, high))
    if joined != [stretch for stretch in wanted if stretch[0] < stretch[1]]:
        proof.add_fault(where, "does not cover its run once", "track along the whole wall, none across an opening's foot")


def _packs(proof: TakeoffProof) -> None:
    """Packs of an item add up to what all groups take of it for one reason, rounded up once."""
    held: dict[tuple[str, str], list[tuple[int, int, int]]] = defaultdict(list)
    for line in proof.takeoff.hardware:
        held[(line.item, line.why)].append((line.quantity, line.pack, line.packs))
    for (item, _), lines in held.items():
        total, pack = sum(quantity for quantity, _, _ in lines), lines[0][1]
        packs = sum(packs for _, _, packs in lines)
        if packs != -(-total // pack):
            proof.add_fault(f"hardware {item}", f"{packs} packs of {pack} for {total}", f"{-(-total // pack)} packs")
