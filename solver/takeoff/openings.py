"""Openings: what they leave of each panel they touch, and the channel that frames them, web to the opening."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from solver.domain.building import Building, Opening, Wall
from solver.domain.piece import Cutout, EndCut, Piece
from solver.domain.plant import Plant, Profile
from solver.domain.takeoff import Drop
from solver.takeoff.opening_heads import FrameSide, frame_sides, plant_cut_box, spliced_side
from solver.takeoff.piece_drafts import linear_piece, profile_for
from solver.units import Nm


@dataclass(frozen=True, slots=True, kw_only=True)
class HeightBand:
    """A part of a panel between full-width openings: from which height to which (None: up to the wall's top)."""

    foot_nm: int
    head_nm: int | None
    over: str | None = None  # the full-width opening below it
    lap_nm: int = 0  # how far it laps down over the part below, at a planned joint


def height_bands(openings: Sequence[Opening], u0: int, u1: int) -> list[HeightBand]:
    """Return what the openings that take the whole width of a panel leave of it, from the foot up (case G18)."""
    parts, foot, over = [], 0, None
    wide = [item for item in openings if item.u0_nm <= u0 and item.u1_nm >= u1]
    cuts = [(box, item) for item in wide if (box := plant_cut_box(item)) and box.u0 <= u0 and box.u1 >= u1]
    for box, item in sorted(cuts, key=lambda pair: pair[0].z0):
        if box.z0 > foot:
            parts.append(HeightBand(foot_nm=foot, head_nm=box.z0, over=over))
        foot, over = box.z1, item.id
    parts.append(HeightBand(foot_nm=foot, head_nm=None, over=over))
    return parts


def cutouts(openings: Sequence[Opening], u0: int, u1: int, foot: int, head: int) -> tuple[Cutout, ...]:
    """Return what openings cut from a piece between two joints and two heights, with the joints that each drop has."""
    found = []
    for item in openings:
        box = plant_cut_box(item)
        if box is None:
            continue
        left, right = max(u0, box.u0), min(u1, box.u1)
        low, high = max(foot, box.z0), min(head, box.z1)
        if left >= right or low >= high or (left == u0 and right == u1):
            continue
        corners = ((left, low), (right, low), (right, high), (left, high))
        joints: Literal["left", "right", "none"] = "left" if left == u0 else "right" if right == u1 else "none"
        found.append(
            Cutout(
                opening=item.id,
                outline=tuple((Nm(u), Nm(z)) for u, z in corners),
                field_head=item.head is not None,
                drop_joints=joints,
            )
        )
    return tuple(found)


def opening_drops(pieces: Sequence[Piece]) -> tuple[Drop, ...]:
    """Return what falls out of each panel at its cutouts, in the order of the pieces."""
    found = []
    for piece in pieces:
        for hole in piece.cutouts:
            us, zs = [u for u, _ in hole.outline], [z for _, z in hole.outline]
            found.append(
                Drop(
                    piece=piece.id,
                    opening=hole.opening,
                    material=piece.material,
                    width_nm=Nm(max(us) - min(us)),
                    length_nm=Nm(max(zs) - min(zs)),
                    joints=hole.drop_joints,
                )
            )
    return tuple(found)


def field_finish_notes(openings: Sequence[Opening], u0: int, u1: int, foot: int, head: int) -> tuple[str, ...]:
    """Return a note for each odd head that a piece must be finished for in the field."""
    return tuple(
        f"{item.head.kind} of {item.id}: finish in the field from the delivered unit"
        for item in openings
        if item.head is not None and item.u0_nm < u1 and item.u1_nm > u0 and item.z0_nm < head and item.z1_nm > foot
    )


def opening_channels(building: Building, plant: Plant, wall: Wall) -> list[Piece]:
    """Return the channel around each opening of a wall: long points are the opening and a flange on each mitred end (G16).

    Sill, head, left and right; a door (no sill above the foot) has three sides. Its web faces the opening, so no piece may
    be turned but over itself: tips stay tips.
    """
    if not wall.openings:
        return []
    profile = profile_for(plant, "opening_channel", plant.family(wall.family).thickness_nm)
    pieces = []
    for item in wall.openings:
        pieces += _frame(building, wall, item, profile)
    return pieces


def _frame(building: Building, wall: Wall, item: Opening, profile: Profile) -> list[Piece]:
    open_left = item.corner_with is not None and item.u0_nm == 0  # the other half of a corner opening goes on here
    open_right = item.corner_with is not None and item.u1_nm == wall.length_nm
    longest = max(stock.length_nm for stock in profile.stock)
    sides = frame_sides(item, profile.flange_nm, open_left=open_left, open_right=open_right)
    return [_channel(building, wall, item, profile, part) for side in sides for part in spliced_side(side, longest)]


def _channel(building: Building, wall: Wall, item: Opening, profile: Profile, side: FrameSide) -> Piece:
    notes = [f"{side.name} of {item.id}", "web faces the opening"]
    if side.bent:
        notes.append("relief-cut to bend; fit in the field to the delivered unit")
    return linear_piece(
        building,
        profile,
        role="opening_channel",
        wall=wall,
        run=side.run,
        width_nm=profile.flange_nm or profile.blank_nm,
        edges=((0, side.near_nm + side.web_nm + side.far_nm), (side.near_nm, side.near_nm + side.web_nm)),
        turns=("as_is",),
        foot=EndCut(swing_udeg=side.near_udeg),
        head=EndCut(swing_udeg=side.far_udeg),
        notes=tuple(notes),
    )


def net_area(outline: Sequence[tuple[int, int]], holes: Sequence[Cutout]) -> Fraction:
    """Return the area of a set shape less its cutouts, in square nanometres."""
    return _area(outline) - sum((_area(hole.outline) for hole in holes), Fraction(0))


def _area(outline: Sequence[tuple[int, int]]) -> Fraction:
    pairs = zip(outline, [*outline[1:], outline[0]], strict=True)
    return Fraction(sum(a[0] * b[1] - b[0] * a[1] for a, b in pairs), 2)
