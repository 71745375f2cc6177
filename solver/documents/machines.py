"""Rows of machine sheets: rips and bevels, router and drill work by shape, blanks for the brake, slitting patterns."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Literal

from solver.documents.index import PlanIndex, material_words, short_name
from solver.domain.building import Point
from solver.domain.document import BrakeRow, DropRow, RipRow, ShapeRow, SlitSheet
from solver.domain.ids import GroupId, OrderId, PieceId
from solver.domain.piece import Piece
from solver.units import Grams, Nm

_SIDES: tuple[Literal["left", "right"], ...] = ("left", "right")


def rip_rows(index: PlanIndex) -> tuple[RipRow, ...]:
    """Return every long edge to rip or bevel, alike bevels together, so that the tilt is set as seldom as can be."""
    rows = [row for piece in index.pieces.values() for row in _rips(index, piece)]
    return tuple(sorted(rows, key=lambda row: (row.bevel_udeg, row.what)))


def _rips(index: PlanIndex, piece: Piece) -> Iterable[RipRow]:
    for side in _SIDES:
        edge = piece.left if side == "left" else piece.right
        if edge.kind == "joint":
            continue
        yield RipRow(
            piece=piece.id,
            mark=piece.mark,
            what=material_words(piece.material),
            length_nm=piece.length_nm,
            side=side,
            bevel_udeg=edge.bevel_udeg,
            outside_nm=edge.outside_nm,
            inside_nm=edge.inside_nm,
            crew=index.plant.crew(piece.weight_g),
            bundle_name=_bundle_name(index, piece),
        )


def panel_shapes(index: PlanIndex) -> tuple[ShapeRow, ...]:
    """Return all panels by shape, in order of standing of the first of each."""
    return _shapes(index, lambda piece: piece.is_panel)


def router_shapes(index: PlanIndex) -> tuple[ShapeRow, ...]:
    """Return panels with openings or foot pockets, by shape."""
    return _shapes(index, lambda piece: piece.is_panel and bool(piece.cutouts or piece.holes))


def drop_rows(index: PlanIndex) -> tuple[DropRow, ...]:
    """Return what falls out of panels at openings, alike drops together, the largest of a material first."""
    used: dict[tuple[PieceId | None, str | None], list[str]] = {}
    for slot in (slot for cut in index.plan.cuts for bar in cut.bars for slot in bar.pieces if slot.host is not None):
        used.setdefault((slot.host, slot.opening), []).append(index.pieces[slot.piece].mark)
    found: dict[tuple[str, Nm, Nm, Literal["both", "left", "right", "none"], tuple[str, ...]], list[str]] = {}
    for drops in index.drops.values():
        for drop in drops:
            makes = tuple(used.get((drop.piece, drop.opening), ()))
            key = (material_words(drop.material), drop.width_nm, drop.length_nm, drop.joints, makes)
            found.setdefault(key, []).append(index.pieces[drop.piece].mark)
    rows = [
        DropRow(what=what, width_nm=width, length_nm=length, joints=joints, marks=tuple(marks), makes=makes)
        for (what, width, length, joints, makes), marks in found.items()
    ]
    return tuple(sorted(rows, key=lambda row: (row.what, -row.width_nm * row.length_nm, row.marks)))


def drill_shapes(index: PlanIndex) -> tuple[ShapeRow, ...]:
    """Return linear parts with holes, by shape."""
    return _shapes(index, lambda piece: not piece.is_panel and bool(piece.holes))


def _shapes(index: PlanIndex, wanted: Callable[[Piece], bool]) -> tuple[ShapeRow, ...]:
    found: dict[Piece, list[Piece]] = {}
    for piece in index.pieces.values():
        if wanted(piece):
            found.setdefault(_shape_of(piece), []).append(piece)
    return tuple(
        ShapeRow(
            pieces=tuple(alike),
            bundle_names=tuple(dict.fromkeys(_bundle_name(index, piece) for piece in alike)),
            drops=index.drops.get(alike[0].id, ()),
        )
        for alike in found.values()
    )


def _shape_of(piece: Piece) -> Piece:
    """Return the piece without its names and its place on the wall: equal for pieces that are made alike."""
    low = (min(x for x, _ in piece.outline), min(y for _, y in piece.outline))

    def moved(points: tuple[Point, ...]) -> tuple[Point, ...]:
        return tuple((Nm(x - low[0]), Nm(y - low[1])) for x, y in points)

    cutouts = tuple(replace(cutout, opening="", outline=moved(cutout.outline)) for cutout in piece.cutouts)
    return replace(
        piece,
        id=PieceId(""),
        order=OrderId(""),
        revision=0,
        mark="",
        part="",
        group=GroupId(""),
        stands=0,
        weight_g=Grams(0),
        outline=moved(piece.outline) if piece.is_panel else (),
        cutouts=cutouts,
        holes=tuple(replace(hole, anchor="") for hole in piece.holes),
        notes=(),
    )


def brake_rows(index: PlanIndex) -> tuple[BrakeRow, ...]:
    """Return the blanks to form, by material and length."""
    profiles = {profile.id: profile for profile in index.plant.profiles}
    found: dict[tuple[str, Nm], list[str]] = {}
    for piece in index.pieces.values():
        if not piece.is_panel:
            found.setdefault((piece.material, piece.length_nm), []).append(piece.mark)
    rows = []
    for (material, length), marks in sorted(found.items()):
        profile = profiles.get(material.split("|")[0])
        if profile is not None and profile.bends:
            rows.append(
                BrakeRow(
                    what=material_words(material),
                    gauge=profile.gauge,
                    blank_nm=profile.blank_nm,
                    bends=profile.bends,
                    length_nm=length,
                    marks=tuple(marks),
                )
            )
    return tuple(rows)


def slit_sheets(index: PlanIndex) -> tuple[SlitSheet, ...]:
    """Return a sheet for every coil material that is slit."""
    return tuple(SlitSheet(what=material_words(part.material), job=part.job, result=part.result) for part in index.plan.slits)


def _bundle_name(index: PlanIndex, piece: Piece) -> str:
    bundle, _ = index.places.get(piece.id, (None, 0))
    return short_name(bundle.id) if bundle else ""
