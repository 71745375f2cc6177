"""Screws, sealant, fillers and anchors counted a second way: places set out along lines one by one, lengths from the building.

Takeoff counts by pieces as cut; here lines are those of the pieces as they stand and of the building's own edges, so counts may
differ by a screw at the ends of a part, never by a line.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise

from solver.domain.building import RoofPlane, Wall
from solver.takeoff.check.coverage_scan import Spot
from solver.takeoff.check.plan_geometry import PlanLine, panel_ends, panel_thickness
from solver.takeoff.check.proof import TakeoffProof

CLOSE_NM = 1_000
METRE = 10**9
LINES = {
    "base_line": ("base_channel",),
    "cap_line": ("top_cap",),
    "corner_line": ("corner_angle",),
    "opening_line": ("opening_channel",),
    "trim_line": ("eave_trim", "rake_trim", "ridge_trim", "hip_trim", "valley_trim"),
}


def check_hardware(proof: TakeoffProof) -> None:
    """Judge what each rule of the catalog asks for against what the takeoff lists for it."""
    got: dict[tuple[str, str], int] = defaultdict(int)
    for line in proof.takeoff.hardware:
        got[line.item, line.why] += line.quantity
    for rule in proof.plant.hardware:
        if rule.spacing_nm is not None:
            ends = [length for length in _drawn(proof, rule.per) if length > 0]
            wanted = Fraction(sum(len(range(0, round(length), rule.spacing_nm)) + 1 for length in ends))
            slack = 2 * len(ends)
        else:
            found = _amount(proof, rule.per)
            if found is None:
                continue
            wanted, slack = found, 0
        wanted *= Fraction(str(rule.rate))
        have = got[rule.item, rule.why]
        if abs(have - wanted) > 1 + slack * rule.rate + wanted / 100:
            proof.add_fault(f"hardware {rule.item}", f"{have} for {rule.per}", f"about {math.ceil(wanted)}: {rule.why}")
    proof.checked.append(f"{len(proof.plant.hardware)} rules of hardware counted again, by lines, joints, edges and anchors")


def _drawn(proof: TakeoffProof, per: str) -> Iterator[float]:
    """Lengths of the lines of a kind, as their parts stand."""
    if per == "gable_line":
        for wall in proof.building.walls:
            yield from (math.dist(a, b) for a, b in _heads(proof, wall) if wall.under_roof and a[1] != b[1])
        return
    if per == "eave_line":
        yield from (float(length) for length in _eaves(proof, wedge=False) for _ in range(2))
        return
    if per == "wall_edge_line":
        yield from (length for plane in proof.building.roof for length in _sides(plane, "wall") for _ in range(2))
        return
    for piece in proof.takeoff.pieces:
        if piece.role in LINES[per]:
            yield from [math.dist(piece.outline[0], piece.outline[-1])] * 2


def _heads(proof: TakeoffProof, wall: Wall) -> list[tuple[Spot, Spot]]:
    """The straight stretches of a wall's top, from its panels: those in one line joined."""
    lines: list[tuple[Spot, Spot]] = []
    stretches = []
    for piece in proof.pieces_of(wall.id, "wall_panel"):
        ring: list[Spot] = [*piece.outline, piece.outline[0]]
        top = [(b, a) for a, b in pairwise(ring) if b[0] < a[0]]
        stretches += [(a, b) for a, b in top if _near_top(wall, a) and _near_top(wall, b)]
    for a, b in sorted(stretches):
        (u0, z0), (u1, z1) = lines[-1] if lines else (a, b)
        flat = abs((z1 - z0) * (b[0] - u1) - (b[1] - z1) * (u1 - u0)) <= 4 * (u1 - u0 + b[0] - u1)
        if lines and (u1, z1) == a and flat:
            lines[-1] = ((u0, z0), b)
        else:
            lines.append((a, b))
    return lines


def _near_top(wall: Wall, spot: Spot) -> bool:
    """Whether a place lies on the wall's top; its end lines run on past the wall's ends."""
    lines = [(a, b) for a, b in pairwise(wall.top) if a[0] < b[0]]
    for n, ((u0, z0), (u1, z1)) in enumerate(lines):
        from_left, to_right = u0 if n else min(u0, spot[0]), u1 if n < len(lines) - 1 else max(u1, spot[0])
        if from_left <= spot[0] <= to_right and abs(z0 + Fraction((z1 - z0) * (spot[0] - u0), u1 - u0) - spot[1]) <= 2:
            return True
    return False


def _amount(proof: TakeoffProof, per: str) -> Fraction | None:
    """How much there is of what a rule counts by; none for what is not counted again here."""
    building = proof.building
    if per == "anchor":
        return Fraction(len({hole.anchor for piece in proof.takeoff.pieces for hole in piece.holes if hole.kind == "hole"}))
    if per == "panel_joint_m":
        return Fraction(_joints(proof), METRE)
    if per == "base_channel_m":
        return sum((_footing(proof, wall) for wall in building.walls if wall.on_slab), Fraction(0)) / METRE
    if per == "wall_edge_m":
        return sum((_edges(plane, "wall") for plane in building.roof), Fraction(0)) / METRE
    if per == "ridge_m":
        return sum((_edges(plane, "ridge") for plane in building.roof), Fraction(0)) / 2 / METRE
    if per == "opening":
        return Fraction(
            sum(len(wall.openings) for wall in building.walls) + sum(len(plane.openings) for plane in building.roof)
        )
    if per in ("eave_wall_m", "eave_wedge_m"):
        return sum((length for length in _eaves(proof, wedge=per == "eave_wedge_m")), Fraction(0)) / METRE
    return None


def _joints(proof: TakeoffProof) -> int:
    """Length of all joints: at each joint line what its sides have together, less the stretch that either covers."""
    sides: dict[tuple[str, int], list[list[tuple[int, int]]]] = defaultdict(lambda: [[], []])
    for piece in proof.takeoff.pieces:
        for n, edge in enumerate((piece.left, piece.right)) if piece.is_panel else ():
            place = (min if n == 0 else max)(x for x, _ in piece.outline)
            for a, b in pairwise([*piece.outline, piece.outline[0]]):
                if a[0] == place == b[0] and edge.kind == "joint":
                    sides[str(piece.group), place][n].append((min(a[1], b[1]), max(a[1], b[1])))
    total = 0
    for both in sides.values():
        stretches = sorted(both[0] + both[1])
        covered, reach = 0, stretches[0][0]
        for low, high in stretches:
            covered += max(0, high - max(low, reach))
            reach = max(reach, high)
        total += sum(high - low for low, high in stretches) - covered
    return total


def _footing(proof: TakeoffProof, wall: Wall) -> Fraction:
    """Length of a wall's foot between its panels' ends, doors left out."""
    left, right = panel_ends(proof.building, proof.plant, wall)
    doors = Fraction(0)
    for opening in wall.openings:
        if opening.z0_nm == 0:
            doors += min(right.outside, Fraction(opening.u1_nm)) - max(left.outside, Fraction(opening.u0_nm))
    return right.outside - left.outside - doors


def _edges(plane: RoofPlane, kind: str) -> Fraction:
    return Fraction(sum(round(length) for length in _sides(plane, kind)))


def _sides(plane: RoofPlane, kind: str) -> list[float]:
    ring = [*plane.outline, plane.outline[0]]
    return [math.dist(a, b) for (a, b), edge in zip(pairwise(ring), plane.edges, strict=True) if edge == kind]


def _eaves(proof: TakeoffProof, *, wedge: bool) -> Iterator[Fraction]:
    """Level heads of panels under a roof, each as long as it stands; with `wedge` only square ones under a rising roof."""
    planes = {str(plane.id): plane for plane in proof.building.roof}
    for wall in proof.building.walls:
        over = [planes[name] for name in wall.under_roof if name in planes]
        line, thick = PlanLine.of(wall), panel_thickness(proof.plant, wall)
        bevelled = any(piece.head.long_face == "inside" for piece in proof.pieces_of(wall.id, "wall_panel"))
        for a, b in _heads(proof, wall):
            middle, top = Fraction(a[0] + b[0], 2), wall.base_z_nm + a[1]
            if a[1] != b[1]:
                continue
            found = [plane for plane in over if abs(_height(plane, line, middle, 0) - top) <= CLOSE_NM]
            rise = max((_height(plane, line, middle, thick) - top for plane in found), default=Fraction(0))
            if found and (not wedge or (rise > CLOSE_NM and not bevelled)):
                yield Fraction(b[0] - a[0])


def _height(plane: RoofPlane, line: PlanLine, along: Fraction, inward: int) -> Fraction:
    _, level = PlanLine.of_points(plane.a, plane.b).where(line.place(along, inward))
    return plane.z_nm + level * plane.rise / plane.run
