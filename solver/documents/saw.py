"""Rows of saw sheets: bar by bar, where to cut on the near and far edge, what each cut frees, where it goes next."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Literal

from solver.documents.index import PlanIndex
from solver.documents.lying import BladeTilt, lay_of_piece, same_blade_setting, second_cuts, slot_tilts, upper_face_line
from solver.documents.numbering import BarNumber
from solver.documents.shared_blanks import shared_blank_note
from solver.domain.cut_plan import Bar, BarPiece, CutPlan
from solver.domain.document import SawBar, SawCut, SawPiece, SawSheet
from solver.domain.ids import BarId
from solver.domain.piece import Piece
from solver.domain.plant import Plant
from solver.units import MicroDeg, Nm

_EXACT_NM = 1_000  # a micrometre: closer than that, two faces are one cut


def saw_sheets(index: PlanIndex) -> tuple[SawSheet, ...]:
    """Return a sheet for every machine, its bars in cut order, numbered as the saw's page numbers them."""
    bars = {bar.id: (cut, bar) for cut in index.plan.cuts for bar in cut.bars}
    sheets: dict[str, list[SawBar]] = {}
    for name, number in index.numbers.items():
        sheets.setdefault(number.machine, []).append(saw_bar(index, *bars[BarId(name)], number))
    made = [SawSheet(machine=machine, bars=tuple(rows)) for machine, rows in sheets.items()]
    return tuple(sorted(made, key=lambda sheet: not sheet.bars[0].panel))


def saw_bar(index: PlanIndex, cut: CutPlan, bar: Bar, number: BarNumber) -> SawBar:
    """Return one bar's cuts and pieces."""
    width = cut.job.width_nm or max((index.pieces[slot.piece].width_nm for slot in bar.pieces), default=Nm(1))
    first = index.pieces[bar.pieces[0].piece]
    lay = index.plant.lays.on_saw(first.role)
    return SawBar(
        at=number.at,
        of=number.of,
        bar=lay.bar(bar),
        what=index.names.of(cut.material),
        lies=replace(
            lay_of_piece(index.plant, first, lay, whole=True), square=all(_square(index, slot) for slot in bar.pieces)
        ),
        width_nm=width,
        panel=any(index.pieces[slot.piece].is_panel for slot in bar.pieces),
        keep_from_nm=cut.job.keep_from_nm,
        cuts=tuple(bar_cuts(index.plant, bar, index.pieces, kerf_nm=cut.job.kerf_nm)),
        pieces=tuple(_piece(index, bar, slot, n) for n, slot in enumerate(bar.pieces, 1)),
    )


def _square(index: PlanIndex, slot: BarPiece) -> bool:
    piece = index.pieces[slot.piece]
    return lay_of_piece(index.plant, piece, index.plant.lays.on_saw(piece.role)).square


def bar_cuts(plant: Plant, bar: Bar, pieces: Mapping[str, Piece], *, kerf_nm: Nm) -> Iterator[SawCut]:
    """Yield the cuts of a bar in order, as it lies on its saw; `pieces` by id, at least its own.

    A cut that frees a piece also starts the next one where the two ends are parallel through and through and a kerf apart.
    """
    lay = plant.lays.on_saw(pieces[bar.pieces[0].piece].role)
    last: _End | None = None
    for slot in bar.blanks:
        piece = pieces[slot.piece]
        first, second = slot_tilts(plant, bar, slot, lay, pieces)
        start, end = lay.near_far(slot.edge_a[0], slot.edge_b[0]), lay.near_far(slot.edge_a[1], slot.edge_b[1])
        if last is None:
            if max(start) > _EXACT_NM or first.tilt_udeg:
                yield _cut("trim", start, piece, first)
        elif not _one_cut(last, _End(start, first, piece.width_nm), kerf_nm):
            yield _cut("start", start, piece, first)
        if min(end) < bar.length_nm - _EXACT_NM or second.tilt_udeg:
            yield _cut("part", end, piece, second)
        last = _End(end, second, piece.width_nm)


@dataclass(frozen=True, slots=True)
class _End:
    """An end of a piece on the bar: where it crosses the two edges, how it leans, and how wide the piece is."""

    line: tuple[Nm, Nm]
    tilt: BladeTilt
    width_nm: Nm

    @property
    def lean(self) -> float:
        """From square, in radians."""
        return math.atan2(self.line[1] - self.line[0], self.width_nm)


def _one_cut(end: _End, start: _End, kerf: Nm) -> bool:
    """Return whether the cut that frees a piece also starts the next: parallel through and through, a kerf apart."""
    if (
        not same_blade_setting(end.tilt, start.tilt)
        or abs(math.tan(end.lean) - math.tan(start.lean)) * end.width_nm > _EXACT_NM
    ):
        return False
    udeg = round(math.degrees(end.lean) * 1_000_000)
    one = upper_face_line(end.line, end.tilt, udeg, piece_before=True)
    other = upper_face_line(start.line, start.tilt, udeg, piece_before=False)
    return (other[0] - one[0]) * math.cos(end.lean) * math.cos(end.tilt.radians) <= kerf + _EXACT_NM


def _cut(kind: Literal["trim", "start", "part"], at: tuple[Nm, Nm], piece: Piece, tilt: BladeTilt) -> SawCut:
    lean = MicroDeg(round(math.degrees(math.atan2(at[1] - at[0], piece.width_nm)) * 1_000_000))
    return SawCut(
        kind=kind,
        near_nm=at[0],
        far_nm=at[1],
        lean_udeg=lean,
        piece=piece.id,
        mark=piece.mark,
        tilt_udeg=tilt.tilt_udeg,
        long_up=tilt.long_up,
        on_upper=tilt.on_upper,
        arris_nm=tilt.arris_nm(lean, piece_before=kind == "part"),
    )


def _piece(index: PlanIndex, bar: Bar, slot: BarPiece, at: int) -> SawPiece:
    piece = index.pieces[slot.piece]
    bundle, _ = index.places.get(slot.piece, (None, 0))
    edges = (("left", piece.left), ("right", piece.right))
    return SawPiece(
        at=at,
        piece=piece.id,
        mark=piece.mark,
        name=index.name_of(piece),
        turn=slot.turn,
        long_nm=piece.length_nm,
        weight_g=piece.weight_g,
        lift=index.plant.lift(piece.weight_g),
        bundle=bundle.id if bundle else None,
        bundle_name=index.bundle_name_of(piece.id),
        lies=lay_of_piece(index.plant, piece, index.plant.lays.on_saw(piece.role).turned(slot.turn)),
        seconds=second_cuts(index.plant, bar, slot, index.pieces),
        tilt_udeg=MicroDeg(max(piece.foot.tilt_udeg, piece.head.tilt_udeg)),
        rips=tuple("left" if side == "left" else "right" for side, edge in edges if edge.kind == "rip"),
        bevels=tuple(("left" if side == "left" else "right", edge.bevel_udeg) for side, edge in edges if edge.kind == "mitre"),
        openings=len(piece.cutouts),
        pockets=sum(1 for hole in piece.holes if hole.kind == "pocket"),
        holes=sum(1 for hole in piece.holes if hole.kind == "hole"),
        way=shared_blank_note(bar, slot, {item.piece: index.name_of(index.pieces[item.piece]) for item in bar.pieces}),
    )
