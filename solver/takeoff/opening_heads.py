"""Odd heads: what of an opening is cut at the plant, and the lengths of channel that go round it.

An arched or sloped head is cut square to its spring line and finished in the field from the delivered unit (common practice, no
source); of a round opening the square that fits inside the circle is cut, so that nothing is cut that must stay.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from solver.domain.building import Opening
from solver.units import MicroDeg, isqrt_nearest

Spot = tuple[int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rectangle:
    """A rectangle on a wall or roof plane."""

    u0: int
    u1: int
    z0: int
    z1: int


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameSide:
    """One side of an opening's frame: the two points of its run, its web's length, what each end's mitre adds to the tips."""

    name: str
    run: tuple[Spot, Spot]
    web_nm: int
    near_nm: int = 0
    far_nm: int = 0
    near_udeg: MicroDeg = MicroDeg(0)
    far_udeg: MicroDeg = MicroDeg(0)
    bent: bool = False


def plant_cut_box(opening: Opening) -> Rectangle | None:
    """Return what is cut of an opening at the plant, or nothing where all of it waits for the field."""
    u0, u1, z0, z1 = opening.u0_nm, opening.u1_nm, opening.z0_nm, opening.z1_nm
    head = opening.head
    if head is not None and head.kind == "round":
        wide = u1 - u0
        inset = -(-(wide - math.isqrt(wide * wide // 2)) // 2)  # the square inside the circle, rounded inward
        return Rectangle(u0=u0 + inset, u1=u1 - inset, z0=z0 + inset, z1=z1 - inset)
    high = spring_nm(opening)
    return Rectangle(u0=u0, u1=u1, z0=z0, z1=high) if high > z0 else None


def spring_nm(opening: Opening) -> int:
    """Return the height of an opening's spring line: of its head where that is square."""
    head = opening.head
    if head is None:
        return opening.z1_nm
    if head.kind == "arch":
        return opening.z1_nm - (head.rise_nm or 0)
    if head.kind == "trapezoid":
        return opening.z0_nm + min(head.left_nm or 0, head.right_nm or 0)
    return (opening.z0_nm + opening.z1_nm) // 2


def arc_nm(width_nm: int, rise_nm: int) -> int:
    """Return the length of a circular arc over a width, by its rise."""
    half = width_nm / 2
    radius = (half * half + rise_nm * rise_nm) / (2 * rise_nm)
    reach = math.asin(min(1.0, half / radius))
    return round(2 * radius * (reach if rise_nm <= half else math.pi - reach))


def frame_sides(opening: Opening, flange_nm: int, *, open_left: bool, open_right: bool) -> list[FrameSide]:
    """Return the sides of an opening's frame: sill, left and right jamb, head; a door has no sill.

    `open_left`, `open_right`: the other half of a corner opening goes on there, so there is no jamb and no mitre.
    """
    u0, u1, z0 = opening.u0_nm, opening.u1_nm, opening.z0_nm
    head = opening.head
    if head is not None and head.kind == "round":
        run, half = ((u0, spring_nm(opening)), (u1, spring_nm(opening))), round(math.pi * (u1 - u0) / 2)
        return [FrameSide(name=name, run=run, web_nm=half, bent=True) for name in ("lower half", "upper half")]
    left, right = _jamb_tops(opening)
    corner = [(90.0, 90.0)] * 2  # interior angle at the foot and at the head of either jamb
    if head is not None and head.kind == "trapezoid":
        lean = math.degrees(math.atan2(right - left, u1 - u0))
        corner = [(90.0, 90 + lean), (90.0, 90 - lean)]
    arched = head is not None and head.kind == "arch"
    jambs = (left > z0 and not open_left, right > z0 and not open_right)
    sides: list[FrameSide] = []
    if z0 > 0:
        sides.append(_side("sill", ((u0, z0), (u1, z0)), flange_nm, [90.0 if jamb else None for jamb in jambs]))
    for name, u, top, stands, (foot, angle) in zip(
        ("left jamb", "right jamb"), (u0, u1), (left, right), jambs, corner, strict=True
    ):
        if stands:
            ends = [foot if z0 > 0 else None, None if arched else angle]
            sides.append(_side(name, ((u, z0), (u, top)), flange_nm, ends))
    run = ((u0, left), (u1, right))
    if arched and head is not None and head.rise_nm:
        sides.append(FrameSide(name="head", run=run, web_nm=arc_nm(u1 - u0, head.rise_nm), bent=True))
    else:
        sides.append(
            _side("head", run, flange_nm, [pair[1] if jamb else None for pair, jamb in zip(corner, jambs, strict=True)])
        )
    return sides


def _jamb_tops(opening: Opening) -> tuple[int, int]:
    head = opening.head
    if head is not None and head.kind == "trapezoid":
        return opening.z0_nm + (head.left_nm or 0), opening.z0_nm + (head.right_nm or 0)
    return spring_nm(opening), spring_nm(opening)


def _side(name: str, run: tuple[Spot, Spot], flange: int, angles: list[float | None]) -> FrameSide:
    """A straight side; at a corner of an interior angle its tips reach flange / tan(angle / 2) past its web (case G16)."""
    (u0, z0), (u1, z1) = run
    web = u1 - u0 + z1 - z0 if u0 == u1 or z0 == z1 else isqrt_nearest((u1 - u0) ** 2 + (z1 - z0) ** 2)
    tips, swings = [], []
    for angle in angles:
        tips.append(0 if angle is None else flange if angle == 90 else round(flange / math.tan(math.radians(angle / 2))))
        swings.append(MicroDeg(0 if angle is None else round((90 - angle / 2) * 1e6)))
    return FrameSide(name=name, run=run, web_nm=web, near_nm=tips[0], far_nm=tips[1], near_udeg=swings[0], far_udeg=swings[1])


def spliced_side(side: FrameSide, longest_nm: int) -> list[FrameSide]:
    """Return a side in as many even lengths as its stock asks for, butted square between its ends."""
    tips = side.near_nm + side.far_nm
    count = -(-(side.web_nm + tips) // longest_nm)
    if count == 1:
        return [side]
    count = -(-(side.web_nm + count * max(side.near_nm, side.far_nm)) // longest_nm)
    (u0, z0), (u1, z1) = side.run
    spots = [(u0 + (u1 - u0) * n // count, z0 + (z1 - z0) * n // count) for n in range(count + 1)]
    webs = [side.web_nm * (n + 1) // count - side.web_nm * n // count for n in range(count)]
    return [
        FrameSide(
            name=side.name,
            run=(spots[n], spots[n + 1]),
            web_nm=webs[n],
            near_nm=side.near_nm if n == 0 else 0,
            far_nm=side.far_nm if n == count - 1 else 0,
            near_udeg=side.near_udeg if n == 0 else MicroDeg(0),
            far_udeg=side.far_udeg if n == count - 1 else MicroDeg(0),
            bent=side.bent,
        )
        for n in range(count)
    ]
