"""Anchors: the catalog's rules, never looser than the published code, and the holes and pockets at each of them.

IRC R403.1.6 (written for wood plates): bolts at least 1/2 in, at most 6 ft apart, at least two a plate section, one not more
than 12 in and not less than seven bolt diameters from each end of it. Steel track is R603.3.1's or the engineer's to say.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from itertools import pairwise

from solver.domain.building import Wall
from solver.domain.piece import Piece
from solver.domain.takeoff import Anchor
from solver.takeoff.check.proof import TakeoffProof
from solver.units import FOOT, INCH

CODE_SPACING, CODE_END, CODE_DIAMETERS, CODE_COUNT = 6 * FOOT, 12 * INCH, 7, 2  # IRC R403.1.6


def check_bolts(proof: TakeoffProof) -> None:
    """Judge the anchor plan, the channel's holes and the panels' pockets."""
    rules = proof.plant.anchors
    if rules.spacing_nm > CODE_SPACING or rules.end_nm > CODE_END or rules.code_diameters < CODE_DIAMETERS:
        proof.add_fault("plant.anchors", "looser than IRC R403.1.6", "at most 6 ft apart, 7 diameters to 12 in from ends")
    for name, count in Counter(anchor.id for anchor in proof.takeoff.anchors).items():
        if count > 1:
            proof.add_fault(name, "two anchors have this id", "an id of its own")
    for wall in proof.building.walls:
        anchors = sorted((one for one in proof.takeoff.anchors if one.wall == wall.id), key=lambda one: one.along_nm)
        if not wall.on_slab:
            if anchors:
                proof.add_fault(str(wall.id), "anchors on a wall that does not stand on the slab", "none")
            continue
        _wall(proof, wall, anchors)
    proof.checked.append(f"{len(proof.takeoff.anchors)} anchors within the catalog's rules and IRC R403.1.6, holes and pockets")


def _wall(proof: TakeoffProof, wall: Wall, anchors: Sequence[Anchor]) -> None:
    measured = [(one.along_nm, one.across_nm) for one in proof.building.measured if one.on == wall.id]
    as_measured = bool(measured) and proof.building.anchor_holes == "as_measured"
    if as_measured and sorted(measured) != sorted((anchor.along_nm, anchor.across_nm) for anchor in anchors):
        proof.add_fault(str(wall.id), "its anchors are not the bolts as measured", "each bolt where it was measured")
    thickness = proof.plant.family(wall.family).thickness_nm
    told = [item for item in proof.takeoff.broken if item.rule == "spacing" and item.where == wall.id]
    short: Counter[int] = Counter(item.got_nm for item in told)
    seen = 0
    for piece in proof.pieces_of(wall.id, "base_channel"):
        low, high = _bolt_line(piece)
        zero = piece.outline[0][0] - (piece.edge_a[0] - min(piece.edge_a[0], piece.edge_b[0]))
        under = [anchor for anchor in anchors if low <= anchor.along_nm <= high]
        seen += len(under)
        if not as_measured:
            _section(proof, piece, under, low, high, short)
            for one in under:
                if abs(2 * one.across_nm - thickness) > 1:
                    proof.add_fault(one.id, "is not on the channel's middle line", f"{proof.shown(thickness // 2)} across")
        _holes(proof, piece, under, zero)
    if seen != len(anchors):
        proof.add_fault(
            str(wall.id), f"{len(anchors) - seen} anchors lie under no base channel", "bolts under the channel only"
        )
    for piece in proof.pieces_of(wall.id, "wall_panel"):
        _pockets(proof, piece, anchors)


def _bolt_line(piece: Piece) -> tuple[int, int]:
    """A section's two ends on its middle line: half way between its outside and inside edge."""
    start = piece.outline[0][0]
    near, far = piece.edge_b[0] - piece.edge_a[0], piece.edge_b[1] - piece.edge_a[0]
    return start + near // 2, start + (piece.edge_a[1] - piece.edge_a[0] + far) // 2


def _section(proof: TakeoffProof, piece: Piece, under: Sequence[Anchor], low: int, high: int, short: Counter[int]) -> None:
    rules = proof.plant.anchors
    clear = max(CODE_DIAMETERS, rules.code_diameters) * rules.diameter_nm
    if len(under) < max(CODE_COUNT, rules.least_per_section):
        length = max(x for x, _ in piece.outline) - piece.outline[0][0]
        if short[length] > 0 and under:
            short[length] -= 1
        else:
            proof.add_fault(
                piece.mark, f"{len(under)} anchors hold this section", "at least two a section, or the break listed"
            )
        return
    for gap, end in ((under[0].along_nm - low, "left"), (high - under[-1].along_nm, "right")):
        if not clear <= gap <= rules.end_nm:
            proof.add_fault(
                piece.mark,
                f"its {end} anchor is {proof.shown(gap)} from the section's end",
                f"{proof.shown(clear)} (seven diameters) to {proof.shown(rules.end_nm)}",
            )
    for one, other in pairwise(under):
        apart = other.along_nm - one.along_nm
        if apart > min(rules.spacing_nm, CODE_SPACING):
            proof.add_fault(other.id, f"is {proof.shown(apart)} from {one.id}", f"at most {proof.shown(rules.spacing_nm)}")


def _holes(proof: TakeoffProof, piece: Piece, under: Sequence[Anchor], zero: int) -> None:
    got = Counter((hole.anchor, hole.along_nm + zero, hole.across_nm) for hole in piece.holes if hole.kind == "hole")
    want = Counter((one.id, int(one.along_nm), one.across_nm) for one in under)
    if got != want:
        names = ", ".join(sorted({str(key[0]) for key in (got - want) | (want - got)}))
        proof.add_fault(piece.mark, f"its holes and its anchors differ at {names}", "one hole at each anchor under it")
    size = proof.plant.anchors.diameter_nm + proof.plant.anchors.hole_over_nm
    for hole in piece.holes:
        if hole.kind == "hole" and hole.across_size_nm != size:
            proof.add_fault(piece.mark, f"a hole of {proof.shown(hole.across_size_nm)}", proof.shown(size))


def _pockets(proof: TakeoffProof, piece: Piece, anchors: Sequence[Anchor]) -> None:
    if min(z for _, z in piece.outline) != 0:
        return
    low, high = min(u for u, _ in piece.outline), max(u for u, _ in piece.outline)
    doors = [(min(u for u, _ in cut.outline), max(u for u, _ in cut.outline)) for cut in piece.cutouts
             if min(z for _, z in cut.outline) == 0]  # fmt: skip
    over = {
        anchor.id for anchor in anchors if low < anchor.along_nm < high and not any(a <= anchor.along_nm <= b for a, b in doors)
    }
    got = {hole.anchor: hole for hole in piece.holes if hole.kind == "pocket"}
    for name in sorted(over - set(got)):
        proof.add_fault(piece.mark, f"has no pocket over anchor {name}", "a pocket in the foot over each bolt")
    places = {anchor.id: anchor.along_nm for anchor in anchors}
    for name, hole in got.items():
        if name not in places or hole.along_nm + low != places[name]:
            proof.add_fault(piece.mark, f"its pocket for {name} is not over it", "a pocket in the foot over each bolt")
