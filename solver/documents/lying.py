"""Where the parts of a piece lie once it is on a table: ends to cut after the bar's own cuts, outlines, openings, holes.

All go from the piece's own frame to the table by `Lay.place`. In the piece's frame `across` counts from the left edge of its
blank and `along` from its foot; set shapes come into it by the named allowances.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from solver.domain.cut_plan import Bar, BarPiece
from solver.domain.document import LyingHole, LyingShape, SecondCut
from solver.domain.lay import WEB, EdgeName, Lay, Lies
from solver.domain.material import Material
from solver.domain.piece import EndCut, Piece
from solver.domain.plant import Plant
from solver.units import MicroDeg, Nm

Line = tuple[tuple[int, int], tuple[int, int]]  # across, along: on the longer face where the cut is tilted
_EXACT_NM = 1_000  # a micrometre: closer than that, an end is made already


def lay_of_piece(plant: Plant, piece: Piece, lay: Lay, *, whole: bool = False) -> Lies:
    """Return how a piece lies, with the names of its edges; `whole`: its blank, that has both joints still."""
    edges: tuple[EdgeName, EdgeName] = ("left", "right")
    if piece.is_panel and _has_groove(plant, piece):
        groove, tongue = (whole or edge.kind == "joint" for edge in (piece.left, piece.right))
        edges = ("groove" if groove else "left", "tongue" if tongue else "right")
    names = Material.parse(piece.material).colours
    plain = not piece.is_panel and piece.edge_a == piece.edge_b and not piece.holes and not has_tilted_end(piece)
    colours = (names[0], names[1]) if piece.is_panel and len(names) == 2 else ("", "")
    return Lies(lay=lay, role=piece.role, edges=edges, colours=colours, square=plain)


def has_tilted_end(piece: Piece) -> bool:
    """Return whether an end of a piece is cut by a tilted blade."""
    return bool(piece.foot.tilt_udeg or piece.head.tilt_udeg)


def _has_groove(plant: Plant, piece: Piece) -> bool:
    name = Material.parse(piece.material).item
    return any(family.id == name and family.edges == "tongue_groove" for family in plant.families)


@dataclass(frozen=True, slots=True)
class BladeTilt:
    """How a blade leans through the thickness at the end of a piece as it lies.

    Figures are on one face, the upper one or the lower; on the other face the end lies `back_nm` further into the piece,
    square to the cut (less than 0: further out).
    """

    tilt_udeg: MicroDeg = MicroDeg(0)
    long_up: bool = False
    on_upper: bool = True
    back_nm: float = 0.0

    @property
    def radians(self) -> float:
        """The tilt in radians."""
        return math.radians(self.tilt_udeg / 1e6)

    def arris_nm(self, lean_udeg: int, *, piece_before: bool) -> Nm:
        """Return how far from the figures the other face ends, along the bar; less than 0: towards zero."""
        along = self.back_nm / math.cos(math.radians(lean_udeg / 1e6))
        return Nm(round(-along if piece_before else along))


UPRIGHT = BladeTilt()


def tilt_of(plant: Plant, piece: Piece, end: EndCut, lay: Lay) -> BladeTilt:
    """Return how the blade leans at an end of a piece that lies so: figures are on a panel's longer face, a trim's web."""
    if not end.tilt_udeg:
        return UPRIGHT
    deep, told = piece.thickness_nm, end.long_face
    if not piece.is_panel:
        deep = plant.profile(Material.parse(piece.material).item).flange_nm
        told = WEB.get(piece.role, end.long_face)
    back = deep * math.tan(math.radians(end.tilt_udeg / 1e6))
    return BladeTilt(
        tilt_udeg=end.tilt_udeg,
        long_up=lay.is_up(end.long_face),
        on_upper=lay.is_up(told),
        back_nm=back if told == end.long_face else -back,
    )


def end_tilts(plant: Plant, piece: Piece, lay: Lay) -> tuple[BladeTilt, BladeTilt]:
    """Return how the blade leans at the end nearer zero and at the other one; a peaked panel is parted square here."""
    if piece.peak_nm is not None:
        return UPRIGHT, UPRIGHT
    near, far = (piece.foot, piece.head) if lay.zero == "foot" else (piece.head, piece.foot)
    return tilt_of(plant, piece, near, lay), tilt_of(plant, piece, far, lay)


def slot_tilts(plant: Plant, bar: Bar, slot: BarPiece, lay: Lay, pieces: Mapping[str, Piece]) -> tuple[BladeTilt, BladeTilt]:
    """Return how the blade leans at both ends of a blank; one of two rips with ends of their own is parted square."""
    if slot.way == "left_rip" and not rips_cut_alike(bar, slot, pieces):
        return UPRIGHT, UPRIGHT
    return end_tilts(plant, pieces[slot.piece], lay.turned(slot.turn))


def upper_face_line(line: tuple[Nm, Nm], tilt: BladeTilt, lean_udeg: int, *, piece_before: bool) -> tuple[Nm, Nm]:
    """Return where a cut crosses the edge at the fence and the far edge on the upper face."""
    more = 0 if tilt.on_upper else tilt.arris_nm(lean_udeg, piece_before=piece_before)
    return Nm(line[0] + more), Nm(line[1] + more)


def same_blade_setting(before: BladeTilt, after: BladeTilt) -> bool:
    """Return whether a blade set once could make both ends: tilted alike, the long face of one above, of the other below."""
    return before.tilt_udeg == after.tilt_udeg and (not before.tilt_udeg or before.long_up != after.long_up)


def rips_cut_alike(bar: Bar, slot: BarPiece, pieces: Mapping[str, Piece]) -> bool:
    """Return whether the cuts that free a blank of two rips make the ends of both: level ones, alike."""
    mates = [pieces[piece.piece] for piece in bar.pieces if piece.way != "drop" and piece.edge_a == slot.edge_a]
    level = all(mate.edge_a == mate.edge_b and mate.peak_nm is None for mate in mates)
    return level and len({(mate.edge_a, mate.foot, mate.head) for mate in mates}) == 1


def second_cuts(plant: Plant, bar: Bar, slot: BarPiece, pieces: Mapping[str, Piece]) -> tuple[SecondCut, ...]:
    """Return the ends that are cut after the bar's own cuts, as the panel lies on the saw, its foot at zero.

    The slopes of a peaked panel; the ends of two rips from one blank that differ, and of a piece from an opening's drop, each
    once it has its own width.
    """
    piece = pieces[slot.piece]
    own_width = slot.way != "whole"
    if piece.peak_nm is None and (not own_width or (slot.way != "drop" and rips_cut_alike(bar, slot, pieces))):
        return ()
    lay = plant.lays.on_saw(piece.role)
    length = -1 if slot.way == "drop" else slot.edge_a[1] - slot.edge_a[0]
    made = list(_ends_of(piece)) if piece.peak_nm is None else list(_slopes(piece))
    low, high = _extremes(piece) if own_width else (0, piece.width_nm)
    within = [(line, end) for line, end in made if max(line[0][0], low) < min(line[1][0], high) or piece.peak_nm is None]
    wanted = [(line, end) for line, end in within if not _is_made(line, end, length)]
    return tuple(_second(piece, lay, line, end, low, high) for line, end in (*wanted, *_steps(within)))


def _steps(lines: Sequence[tuple[Line, tuple[str, EndCut]]]) -> Iterator[tuple[Line, tuple[str, EndCut]]]:
    """Where an end steps between two stretches: a cut along the panel."""
    for (one, end), (other, next_end) in pairwise(lines):
        upright = not end[1].tilt_udeg and not next_end[1].tilt_udeg  # tilted ones meet within the thickness
        if upright and end[0] == next_end[0] and abs(one[1][1] - other[0][1]) > _EXACT_NM:
            yield (one[1], other[0]), (end[0], EndCut())


def _is_made(line: Line, end: tuple[str, EndCut], length: int) -> bool:
    """Whether the cut that freed the blank made this end: upright, at the blank's own end."""
    at = 0 if end[0] == "foot" else length
    return not end[1].tilt_udeg and all(abs(along - at) <= _EXACT_NM for _, along in line)


def _ends_of(piece: Piece) -> Iterator[tuple[Line, tuple[str, EndCut]]]:
    width, zero = piece.width_nm, piece.zero_nm
    yield ((0, piece.edge_a[0] - zero), (width, piece.edge_b[0] - zero)), ("foot", piece.foot)
    yield ((0, piece.edge_a[1] - zero), (width, piece.edge_b[1] - zero)), ("head", piece.head)


def _slopes(piece: Piece) -> Iterator[tuple[Line, tuple[str, EndCut]]]:
    """The stretches of a peaked panel's foot and head, left to right, with their own allowances."""
    count = len(piece.outline)
    edges = [(piece.outline[n], piece.outline[(n + 1) % count]) for n in range(count)]
    low = sorted((a, b) for a, b in edges if a[0] < b[0])
    high = sorted((b, a) for a, b in edges if a[0] > b[0])
    for name, stretches, cuts, main in (
        ("foot", low, piece.foot_cuts, piece.foot),
        ("head", high, piece.head_cuts, piece.head),
    ):
        lines = [tuple(point_on_blank(piece, point) for point in stretch) for stretch in stretches]
        for n, ((first, second), cut) in enumerate(zip(lines, cuts or (main,) * len(lines), strict=True)):
            more = _more(piece, cut) if name == "head" else 0
            from_u = min(first[0], 0) if n == 0 else first[0]  # the outer ones run on to the edges of the blank
            to_u = max(second[0], piece.width_nm) if n == len(lines) - 1 else second[0]
            low_z, high_z = (
                first[1] + (second[1] - first[1]) * (u - first[0]) // (second[0] - first[0]) for u in (from_u, to_u)
            )
            yield ((from_u, low_z + more), (to_u, high_z + more)), (name, cut)


def _more(piece: Piece, cut: EndCut) -> int:
    """What a stretch of the head is cut longer than it stands: a tilted one by its longer face, a level one by the gap."""
    found = 0
    for allowance in piece.allowances:
        if (
            allowance.edge == "head"
            and (allowance.name != "long_face" or cut.tilt_udeg)
            and (allowance.name != "ridge_gap" or not cut.swing_udeg)
        ):
            found += allowance.amount_nm
    return found


def point_on_blank(piece: Piece, point: tuple[int, int]) -> tuple[int, int]:
    """Return where a place of the set shape lies in the piece's blank: from its left edge, from its foot."""
    left, foot = min(x for x, _ in piece.outline), min(y for _, y in piece.outline)
    more = {
        edge: sum(allowance.amount_nm for allowance in piece.allowances if allowance.edge == edge) for edge in ("left", "foot")
    }
    return piece.left.outside_nm + more["left"] + point[0] - left, more["foot"] + point[1] - foot - piece.zero_nm


def _extremes(piece: Piece) -> tuple[int, int]:
    """How far the piece itself reaches in its blank, left and right, on its wider face."""
    low = min(piece.left.outside_nm, piece.left.inside_nm)
    return low, piece.width_nm - min(piece.right.outside_nm, piece.right.inside_nm)


def _lowest(piece: Piece, low: int, high: int) -> int:
    """How far up its blank a panel's lowest point is, within its own width: more than 0 where its foot slopes."""
    lines = _ends_of(piece) if piece.peak_nm is None else _slopes(piece)
    found = []
    for ((u0, z0), (u1, z1)), (end, _) in lines:
        if end == "foot" and max(u0, low) < min(u1, high):
            found += [z0 + (z1 - z0) * (u - u0) // (u1 - u0) for u in (max(u0, low), min(u1, high))]
    return min(found, default=0)


def _second(piece: Piece, lay: Lay, line: Line, end: tuple[str, EndCut], low: int, high: int) -> SecondCut:
    """Return a cut as it lies, told within the panel: at its edges, where the line goes from edge to edge."""
    whole = piece.peak_nm is None
    (u0, z0), (u1, z1) = line
    if u0 < u1:
        from_u, to_u = (low, high) if whole else (max(u0, low), min(u1, high))
        z0, z1 = (z0 + (z1 - z0) * (u - u0) // (u1 - u0) for u in (from_u, to_u))
        u0, u1 = from_u, to_u
    width = high - low
    ends = [lay.place(u - low, z, width_nm=width, length_nm=piece.length_nm) for u, z in ((u0, z0), (u1, z1))]
    near, far = sorted(ends, key=lambda place: place[1])
    return SecondCut(
        end="foot" if end[0] == "foot" else "head",
        near_nm=Nm(near[0]),
        near_in_nm=Nm(near[1]),
        far_nm=Nm(far[0]),
        far_in_nm=Nm(far[1]),
        swing_udeg=MicroDeg(round(math.degrees(math.atan2(far[0] - near[0], far[1] - near[1])) * 1_000_000)),
        tilt_udeg=end[1].tilt_udeg,
        long_up=bool(end[1].tilt_udeg) and lay.is_up(end[1].long_face),
    )


def lying_shape(piece: Piece, lay: Lay) -> LyingShape:
    """Return a piece as it lies: its outline, what is cut out of it, its holes; from zero, and from its edge at the fence.

    A panel has its own width then: the fence touches the wider of its two faces, and the stop at zero its lowest point.
    What the outline shows is the set shape.
    """
    if not piece.is_panel:
        return _lying_part(piece, lay)
    low, high = _extremes(piece)
    lowest = _lowest(piece, low, high)

    def lying(points: Sequence[tuple[int, int]]) -> tuple[tuple[Nm, Nm], ...]:
        found = []
        for point in points:
            across, along = point_on_blank(piece, point)
            x, y = lay.place(across - low, along - lowest, width_nm=high - low, length_nm=piece.length_nm)
            found.append((Nm(x), Nm(y)))
        return tuple(found)

    left = min(x for x, _ in piece.outline)
    foot = min(y for _, y in piece.outline)
    holes = []
    for hole in piece.holes:
        ((x, y),) = lying([(left + hole.along_nm, foot)])
        deep = hole.across_nm if lay.is_up("outside") else piece.thickness_nm - hole.across_nm
        holes.append(LyingHole(kind=hole.kind, x_nm=x, y_nm=y, down_nm=Nm(deep), size_nm=hole.across_size_nm))
    return LyingShape(
        outline=lying(piece.outline),
        cutouts=tuple((cut.opening, lying(cut.outline)) for cut in piece.cutouts),
        holes=tuple(holes),
    )


def _lying_part(piece: Piece, lay: Lay) -> LyingShape:
    (a0, a1), (b0, b1) = piece.edge_a, piece.edge_b
    size = {"width_nm": piece.width_nm, "length_nm": piece.length_nm}
    corners = ((0, a0), (0, a1), (piece.width_nm, b1), (piece.width_nm, b0))
    places = [lay.place(*corner, **size) for corner in corners]
    holes = []
    for hole in piece.holes:
        x, y = lay.place(hole.across_nm, hole.along_nm, **size)
        holes.append(LyingHole(kind=hole.kind, x_nm=Nm(x), y_nm=Nm(y), down_nm=Nm(0), size_nm=hole.across_size_nm))
    return LyingShape(outline=tuple((Nm(x), Nm(y)) for x, y in places), cutouts=(), holes=tuple(holes))
