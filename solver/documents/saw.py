"""Rows of saw sheets: bar by bar, where to cut on the near and far edge, what each cut frees, where it goes next."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Literal

from solver.documents.index import PlanIndex, material_words, short_name
from solver.documents.ways import way_note
from solver.domain.cut_plan import Bar, BarPiece, CutPlan, Turn
from solver.domain.document import SawBar, SawCut, SawPiece, SawSheet
from solver.domain.piece import EndCut, Piece
from solver.units import MicroDeg, Nm

_EXACT_NM = 1_000  # a micrometre: closer than that, two faces are one cut


def saw_sheets(index: PlanIndex) -> tuple[SawSheet, ...]:
    """Return a sheet for every material, bars in cut order; panels first."""
    sheets = [saw_sheet(index, cut) for cut in index.plan.cuts if cut.bars]
    return tuple(sorted(sheets, key=lambda sheet: not sheet.bars[0].panel))


def saw_sheet(index: PlanIndex, cut: CutPlan) -> SawSheet:
    """Return the sheet of one material."""
    return SawSheet(
        material=cut.material,
        what=material_words(cut.material),
        bars=tuple(saw_bar(index, cut, bar, n) for n, bar in enumerate(cut.bars, 1)),
    )


def saw_bar(index: PlanIndex, cut: CutPlan, bar: Bar, at: int) -> SawBar:
    """Return one bar's cuts and pieces; `at` is its number on the sheet."""
    width = cut.job.width_nm or max((index.pieces[slot.piece].width_nm for slot in bar.pieces), default=Nm(1))
    return SawBar(
        at=at,
        bar=bar,
        width_nm=width,
        panel=any(index.pieces[slot.piece].is_panel for slot in bar.pieces),
        keep_from_nm=cut.job.keep_from_nm,
        cuts=tuple(_cuts(index, bar, width, cut.job.kerf_nm)),
        pieces=tuple(_piece(index, bar, slot, n) for n, slot in enumerate(bar.pieces, 1)),
    )


def _cuts(index: PlanIndex, bar: Bar, width: Nm, kerf: Nm) -> Iterator[SawCut]:
    last: tuple[tuple[Nm, Nm], EndCut, bool] | None = None
    for slot in bar.blanks:
        piece = index.pieces[slot.piece]
        first, second = _ends(piece, slot.turn)
        if slot.way == "left_rip" and _right_ends(index, bar, slot) != (first, second):
            first = second = EndCut()  # each rip is cut to its own end once they are apart
        faces_up = slot.turn in ("as_is", "end_for_end")
        start, end = (slot.edge_a[0], slot.edge_b[0]), (slot.edge_a[1], slot.edge_b[1])
        if last is None:
            if max(start) > _EXACT_NM or first.tilt_udeg:
                yield _cut("trim", start, width, piece, first)
        elif not _one_cut(last[0], start, width, kerf) or not _one_tilt(last[1], last[2], first, faces_up):
            yield _cut("start", start, width, piece, first)
        if min(end) < bar.length_nm - _EXACT_NM or second.tilt_udeg:
            yield _cut("part", end, width, piece, second)
        last = end, second, faces_up


def _right_ends(index: PlanIndex, bar: Bar, slot: BarPiece) -> tuple[EndCut, EndCut]:
    """Return the ends of the other rip in a blank."""
    other = next(item for item in bar.pieces if item.way == "right_rip" and item.edge_a == slot.edge_a)
    return _ends(index.pieces[other.piece], other.turn)


def _ends(piece: Piece, turn: Turn) -> tuple[EndCut, EndCut]:
    """Return how a piece's end nearer the bar's zero, and its other end, are cut; of a peaked one both are square here."""
    if piece.peak_nm is not None:
        return EndCut(), EndCut()
    return (piece.foot, piece.head) if turn in ("as_is", "over") else (piece.head, piece.foot)


def _one_cut(end: tuple[Nm, Nm], start: tuple[Nm, Nm], width: Nm, kerf: Nm) -> bool:
    """Return whether the cut that frees a piece also starts the next: parallel faces, one kerf apart square to the cut."""
    near, far = start[0] - end[0], start[1] - end[1]
    lean = math.atan2(end[1] - end[0], width)
    return abs(near - far) <= _EXACT_NM and near * math.cos(lean) <= kerf + _EXACT_NM


def _one_tilt(before: EndCut, before_up: bool, after: EndCut, after_up: bool) -> bool:
    """Return whether a tilted blade makes both ends: tilted alike, the long face of one above, of the other below."""
    if before.tilt_udeg != after.tilt_udeg:
        return False
    above, next_above = (before.long_face == "outside") == before_up, (after.long_face == "outside") == after_up
    return not before.tilt_udeg or above != next_above


def _cut(kind: Literal["trim", "start", "part"], at: tuple[Nm, Nm], width: Nm, piece: Piece, end: EndCut) -> SawCut:
    lean = math.degrees(math.atan2(at[1] - at[0], width))
    back = piece.thickness_nm * math.tan(math.radians(end.tilt_udeg / 1e6)) / math.cos(math.radians(lean))
    return SawCut(
        kind=kind,
        near_nm=at[0],
        far_nm=at[1],
        lean_udeg=MicroDeg(round(lean * 1_000_000)),
        piece=piece.id,
        mark=piece.mark,
        tilt_udeg=end.tilt_udeg,
        long_face=end.long_face,
        arris_nm=Nm(round(-back if kind == "part" else back)),
    )


def _piece(index: PlanIndex, bar: Bar, slot: BarPiece, at: int) -> SawPiece:
    piece = index.pieces[slot.piece]
    bundle, _ = index.places.get(slot.piece, (None, 0))
    edges = (("left", piece.left), ("right", piece.right))
    return SawPiece(
        at=at,
        piece=piece.id,
        mark=piece.mark,
        turn=slot.turn,
        long_nm=piece.length_nm,
        weight_g=piece.weight_g,
        crew=index.plant.crew(piece.weight_g),
        bundle=bundle.id if bundle else None,
        bundle_name=short_name(bundle.id) if bundle else "",
        slopes=piece.peak_nm is not None,
        tilt_udeg=MicroDeg(max(piece.foot.tilt_udeg, piece.head.tilt_udeg)),
        rips=tuple("left" if side == "left" else "right" for side, edge in edges if edge.kind == "rip"),
        bevels=tuple(("left" if side == "left" else "right", edge.bevel_udeg) for side, edge in edges if edge.kind == "mitre"),
        openings=len(piece.cutouts),
        pockets=sum(1 for hole in piece.holes if hole.kind == "pocket"),
        holes=sum(1 for hole in piece.holes if hole.kind == "hole"),
        way=way_note(bar, slot, {item.piece: index.pieces[item.piece].mark for item in bar.pieces}),
    )
