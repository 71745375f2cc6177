"""Rows of machine sheets: rips and bevels, router and drill work by shape, blanks for the brake, slitting patterns."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Literal

from solver.documents.index import PlanIndex
from solver.documents.lying import lay_of_piece, lying_shape
from solver.domain.building import Point
from solver.domain.document import BrakeRow, DropRow, RipRow, ShapeRow, SlitSheet
from solver.domain.ids import GroupId, OrderId, PieceId
from solver.domain.lay import OTHER_FACE, OTHER_SIDE, Lay, Lies
from solver.domain.material import Material
from solver.domain.piece import Piece
from solver.units import Grams, Nm

_SIDES: tuple[Literal["left", "right"], ...] = ("left", "right")


def rip_rows(index: PlanIndex) -> tuple[RipRow, ...]:
    """Return every long edge to rip or bevel, alike bevels together, so that the tilt is set as seldom as can be."""
    rows = [row for piece in index.pieces.values() for row in _rips(index, piece)]
    return tuple(sorted(rows, key=lambda row: (row.bevel_udeg, row.upper_nm > row.lower_nm, _setup(row.lies), row.what)))


def _setup(lies: Lies | None) -> tuple[str, ...]:
    """What rows that lie alike have in common, so that they stand together."""
    return () if lies is None else (lies.lay.fence, lies.lay.up, *lies.edges, *lies.colours)


def _rips(index: PlanIndex, piece: Piece) -> Iterable[RipRow]:
    sides = [side for side in _SIDES if (piece.left if side == "left" else piece.right).kind != "joint"]
    for at, side in enumerate(sides, 1):
        edge, other = (piece.left, piece.right) if side == "left" else (piece.right, piece.left)
        lay = Lay.along(index.plant.lays.bevel_saw, fence=OTHER_SIDE[side])
        made = min(other.outside_nm, other.inside_nm) if at == 2 else 0  # the fence touches the edge that is cut already
        kept = {"outside": Nm(piece.width_nm - made - edge.outside_nm), "inside": Nm(piece.width_nm - made - edge.inside_nm)}
        yield RipRow(
            piece=piece.id,
            mark=piece.mark,
            name=index.name_of(piece),
            what=index.names.of(piece.material),
            length_nm=piece.length_nm,
            side=side,
            lies=lay_of_piece(index.plant, piece, lay),
            at=at,
            of=len(sides),
            bevel_udeg=edge.bevel_udeg,
            upper_nm=kept[lay.up],
            lower_nm=kept[OTHER_FACE[lay.up]],
            bundle_name=index.bundle_name_of(piece.id),
        )


def panel_shapes(index: PlanIndex) -> tuple[ShapeRow, ...]:
    """Return all panels by shape, in order of standing of the first of each."""
    return _shapes(index, lambda piece: piece.is_panel)


def router_shapes(index: PlanIndex) -> tuple[ShapeRow, ...]:
    """Return panels with openings or foot pockets, by shape."""
    return _shapes(index, lambda piece: piece.is_panel and bool(piece.cutouts or piece.holes), at="router")


def drop_rows(index: PlanIndex) -> tuple[DropRow, ...]:
    """Return what falls out of panels at openings, alike drops together, the largest of a material first."""
    used: dict[tuple[PieceId | None, str | None], list[str]] = {}
    for slot in (slot for cut in index.plan.cuts for bar in cut.bars for slot in bar.pieces if slot.host is not None):
        used.setdefault((slot.host, slot.opening), []).append(index.name_of(index.pieces[slot.piece]))
    found: dict[tuple[str, Nm, Nm, Literal["both", "left", "right", "none"], tuple[str, ...]], list[str]] = {}
    for drops in index.drops.values():
        for drop in drops:
            makes = tuple(used.get((drop.piece, drop.opening), ()))
            key = (index.names.of(drop.material), drop.width_nm, drop.length_nm, drop.joints, makes)
            found.setdefault(key, []).append(index.name_of(index.pieces[drop.piece]))
    rows = [
        DropRow(what=what, width_nm=width, length_nm=length, joints=joints, marks=tuple(marks), makes=makes)
        for (what, width, length, joints, makes), marks in found.items()
    ]
    return tuple(sorted(rows, key=lambda row: (row.what, -row.width_nm * row.length_nm, row.marks)))


def drill_shapes(index: PlanIndex) -> tuple[ShapeRow, ...]:
    """Return linear parts with holes, by shape."""
    return _shapes(index, lambda piece: not piece.is_panel and bool(piece.holes), at="drill")


def _shapes(
    index: PlanIndex, wanted: Callable[[Piece], bool], at: Literal["router", "drill"] | None = None
) -> tuple[ShapeRow, ...]:
    found: dict[Piece, list[Piece]] = {}
    for piece in index.pieces.values():
        if wanted(piece):
            found.setdefault(_shape_of(piece), []).append(piece)
    rows = [
        ShapeRow(
            pieces=tuple(alike),
            names=tuple(index.name_of(piece) for piece in alike),
            bundle_names=tuple(dict.fromkeys(index.bundle_name_of(piece.id) for piece in alike)),
            drops=index.drops.get(alike[0].id, ()),
            lies=None if at is None else lay_of_piece(index.plant, alike[0], _lay_at(index, alike[0], at)),
            shape=None if at is None else lying_shape(alike[0], _lay_at(index, alike[0], at)),
        )
        for alike in found.values()
    ]
    return tuple(rows if at is None else sorted(rows, key=lambda row: _setup(row.lies)))


def _lay_at(index: PlanIndex, piece: Piece, at: Literal["router", "drill"]) -> Lay:
    return index.plant.lays.panel("router") if at == "router" else index.plant.lays.linear(piece.role, "drill")


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
            found.setdefault((piece.material, piece.length_nm), []).append(index.name_of(piece))
    rows = []
    for (material, length), marks in sorted(found.items()):
        profile = profiles.get(Material.parse(material).item)
        if profile is not None and profile.bends:
            rows.append(
                BrakeRow(
                    what=index.names.of(material),
                    gauge=profile.gauge,
                    blank_nm=profile.blank_nm,
                    bends=profile.bends,
                    length_nm=length,
                    marks=tuple(marks),
                    paint_up=index.plant.lays.brake == "paint_up",
                )
            )
    return tuple(rows)


def slit_sheets(index: PlanIndex) -> tuple[SlitSheet, ...]:
    """Return a sheet for every coil material that is slit."""
    up = index.plant.lays.brake == "paint_up"
    return tuple(
        SlitSheet(
            what=index.names.of(part.material),
            strips={strip.id: index.names.of(strip.id) for strip in part.job.strips},
            job=part.job,
            result=part.result,
            paint_up=up,
        )
        for part in index.plan.slits
    )
