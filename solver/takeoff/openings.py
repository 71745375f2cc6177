"""Openings: what they leave of each panel they touch, and the channel that frames them, web to the opening."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from solver.domain.building import Building, Opening, Wall
from solver.domain.piece import Cutout, EndCut, Piece
from solver.domain.plant import Plant, Profile
from solver.takeoff.parts import linear_piece, profile_for
from solver.units import MicroDeg, Nm, round_half_up

MITRE = MicroDeg(45_000_000)


@dataclass(frozen=True, slots=True, kw_only=True)
class Storey:
    """A part of a panel between full-width openings: from which height to which (None: up to the wall's top)."""

    foot_nm: int
    head_nm: int | None
    over: str | None = None  # the full-width opening below it


def spring_nm(opening: Opening) -> int:
    """Return the height up to which an opening is cut at the plant: its head, or the spring line of an odd one."""
    head = opening.head
    if head is None:
        return opening.z1_nm
    if head.kind == "arch":
        return opening.z1_nm - (head.rise_nm or 0)
    if head.kind == "trapezoid":
        return opening.z0_nm + min(head.left_nm or 0, head.right_nm or 0)
    return (opening.z0_nm + opening.z1_nm) // 2


def storeys(openings: Sequence[Opening], u0: int, u1: int) -> list[Storey]:
    """Return what the openings that take the whole width of a panel leave of it, from the foot up (case G18)."""
    parts, foot, over = [], 0, None
    for opening in sorted((item for item in openings if item.u0_nm <= u0 and item.u1_nm >= u1), key=lambda item: item.z0_nm):
        if opening.z0_nm > foot:
            parts.append(Storey(foot_nm=foot, head_nm=opening.z0_nm, over=over))
        foot, over = spring_nm(opening), opening.id
    parts.append(Storey(foot_nm=foot, head_nm=None, over=over))
    return parts


def cutouts(openings: Sequence[Opening], u0: int, u1: int, foot: int, head: int) -> tuple[Cutout, ...]:
    """Return what openings cut from a piece between two joints and two heights, with the joints that each drop has."""
    found = []
    for item in openings:
        left, right = max(u0, item.u0_nm), min(u1, item.u1_nm)
        low, high = max(foot, item.z0_nm), min(head, spring_nm(item))
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
    door, high = item.z0_nm == 0, spring_nm(item)
    at_left = item.corner_with is not None and item.u0_nm == 0  # the other half of a corner opening goes on here
    at_right = item.corner_with is not None and item.u1_nm == wall.length_nm
    sides: list[tuple[str, tuple[tuple[int, int], tuple[int, int]], bool, bool]] = []
    if not door:
        sides.append(("sill", ((item.u0_nm, item.z0_nm), (item.u1_nm, item.z0_nm)), not at_left, not at_right))
    if not at_left:
        sides.append(("left jamb", ((item.u0_nm, item.z0_nm), (item.u0_nm, high)), not door, True))
    if not at_right:
        sides.append(("right jamb", ((item.u1_nm, item.z0_nm), (item.u1_nm, high)), not door, True))
    sides.append(("head", ((item.u0_nm, high), (item.u1_nm, high)), not at_left, not at_right))
    flange = profile.flange_nm
    pieces = []
    for name, run, near, far in sides:
        web = run[1][0] - run[0][0] + run[1][1] - run[0][1]
        if web == 0:
            continue
        start = flange if near else 0
        notes = [f"{name} of {item.id}", "web faces the opening"]
        if item.head is not None and name == "head":
            notes.append("finish in the field from the delivered unit; relief-cut a curved channel to bend")
        pieces.append(
            linear_piece(
                building,
                profile,
                role="opening_channel",
                wall=wall,
                run=run,
                width_nm=flange or profile.blank_nm,
                edge_a=(0, start + web + (flange if far else 0)),
                edge_b=(start, start + web),
                turns=("as_is",),
                foot=EndCut(swing_udeg=MITRE) if near else EndCut(),
                head=EndCut(swing_udeg=MITRE) if far else EndCut(),
                notes=tuple(notes),
            )
        )
    return pieces


def net_area(outline: Sequence[tuple[int, int]], holes: Sequence[Cutout]) -> Fraction:
    """Return the area of a set shape less its cutouts, in square nanometres."""
    return _area(outline) - sum((_area(hole.outline) for hole in holes), Fraction(0))


def _area(outline: Sequence[tuple[int, int]]) -> Fraction:
    pairs = zip(outline, [*outline[1:], outline[0]], strict=True)
    return Fraction(sum(a[0] * b[1] - b[0] * a[1] for a, b in pairs), 2)


def rounded(value: Fraction) -> int:
    """Return the nearest whole number."""
    return round_half_up(value)
