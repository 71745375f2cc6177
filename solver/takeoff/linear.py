"""Linear parts of walls: base channel in sections that the anchor plan fixes, top cap, corner angles."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Literal

from solver.domain.building import Building, Wall
from solver.domain.cut_plan import Turn
from solver.domain.ids import GroupId
from solver.domain.piece import EndCut, Hole, Piece
from solver.domain.plant import Plant, Profile
from solver.domain.takeoff import Anchor, BrokenRule
from solver.takeoff.anchors import ChannelSection, section_holes
from solver.takeoff.linear_runs import lapped_spans, longest_stock
from solver.takeoff.panels import TopBevel, top_bevel
from solver.takeoff.piece_drafts import Edge, linear_piece, profile_for
from solver.takeoff.splices import RunToSplice, best_splices, splice_from
from solver.takeoff.wall_ends import HALF_TURN, WallEnd, butt_lap_nm, inside_corner_nm, vector_from_corner
from solver.takeoff.wall_tops import height_after, height_before, straight_lines
from solver.takeoff.walls import PanelledWall
from solver.units import MicroDeg, Nm, isqrt_nearest

Side = Literal["left", "right"]
SWAPS: tuple[Turn, ...] = ("as_is", "end_for_end")


def base_sections(building: Building, plant: Plant, wall: Wall, ends: tuple[WallEnd, WallEnd]) -> list[ChannelSection]:
    """Return the sections of a wall's base channel, left to right: broken at doors, spliced where stock is used best.

    Laid from the end nearest the start corner; no section is too short for its two bolts. Mitred in plan.
    """
    if not wall.on_slab:
        return []
    profile = profile_for(plant, "base_channel", plant.family(wall.family).thickness_nm)
    start, end = ends[0].stop_nm, wall.length_nm - ends[1].stop_nm
    doors = sorted((max(start, item.u0_nm), min(end, item.u1_nm)) for item in wall.openings if item.z0_nm == 0)
    starts, stops = [start, *(u1 for _, u1 in doors)], [*(u0 for u0, _ in doors), end]
    found = []
    for u0, u1 in zip(starts, stops, strict=True):
        if u0 >= u1:
            continue
        left = (ends[0].inner_nm, "corner") if u0 == start else (0, "door")
        right = (ends[1].inner_nm, "corner") if u1 == end else (0, "door")
        low, high, least = u0 - max(0, left[0]), u1 + max(0, right[0]), 2 * plant.anchors.end_nm
        long = RunToSplice(low=low, high=high, first_nm=low + least, last_nm=high - least, stock=profile.stock)
        places = [u0, *splice_from(long, from_low=building.direction == "ccw").places, u1]
        for n, (near, far) in enumerate(pairwise(places)):
            found.append(
                ChannelSection(
                    wall=wall,
                    start_nm=near,
                    end_nm=far,
                    left_inner_nm=left[0] if n == 0 else 0,
                    right_inner_nm=right[0] if n == len(places) - 2 else 0,
                    left_why=left[1] if n == 0 else "splice",
                    right_why=right[1] if n == len(places) - 2 else "splice",
                )
            )
    return found


def base_channels(
    building: Building, plant: Plant, sections: Sequence[ChannelSection], anchors: Sequence[Anchor]
) -> list[Piece]:
    """Return the base channel pieces of sections, with a hole at each of their anchors; they may alternate (case G17)."""
    planned = building.anchor_holes == "as_measured" and not building.measured
    pieces = []
    for section in sections:
        profile = profile_for(plant, "base_channel", plant.family(section.wall.family).thickness_nm)
        notes = ("drill only after the bolts are measured: holes shown as planned",) if planned else ()
        if building.anchor_holes == "template":
            notes = ("goes ahead as the template of the pour",)
        pieces.append(
            _along(
                building,
                profile,
                "base_channel",
                section.wall,
                ((section.start_nm, 0), (section.end_nm, 0)),
                section.left_inner_nm,
                section.right_inner_nm,
                holes=section_holes(section, anchors, plant),
                notes=notes,
            )
        )
    return pieces


def _along(
    building: Building,
    profile: Profile,
    role: Literal["base_channel", "top_cap"],
    wall: Wall,
    run: tuple[tuple[int, int], tuple[int, int]],
    left_inner: int,
    right_inner: int,
    *,
    tilts: tuple[int, int] = (0, 0),
    rise_nm: int = 0,
    holes: tuple[Hole, ...] = (),
    notes: tuple[str, ...] = (),
) -> Piece:
    """A channel along a wall: outside edge the run's own length, inside edge farther out by what each mitre gives it.

    `rise_nm`: how much higher its inside edge is, on a bevelled top; the web is as much wider, the flanges narrower.
    """
    (u0, z0), (u1, z1) = run
    length = u1 - u0 if z0 == z1 else isqrt_nearest((u1 - u0) ** 2 + (z1 - z0) ** 2)
    width: int = profile.width_nm or profile.blank_nm
    if rise_nm:
        width = isqrt_nearest(width**2 + rise_nm**2)
        notes = (*notes, "web bent to the bevel of the top: wider, the flanges narrower by as much")
    return linear_piece(
        building,
        profile,
        role=role,
        wall=wall,
        run=run,
        width_nm=width,
        edges=((0, length), (-left_inner, length + right_inner)),
        turns=SWAPS,
        foot=_plumb(_swing(left_inner, width), tilts[0], web_long=z0 > z1),
        head=_plumb(_swing(right_inner, width), tilts[1], web_long=z1 > z0),
        holes=holes,
        notes=notes,
    )


def _plumb(swing: MicroDeg, tilt: int, *, web_long: bool) -> EndCut:
    """An end of a cap; cut plumb, its web (on top, the inside of `Lay`) is the longer side at the higher end of a slope."""
    if not tilt:
        return EndCut(swing_udeg=swing)
    return EndCut(swing_udeg=swing, tilt_udeg=MicroDeg(tilt), long_face="inside" if web_long else "outside")


def _swing(inner_nm: int, width_nm: int) -> MicroDeg:
    return MicroDeg(round(math.degrees(math.atan2(abs(inner_nm), width_nm)) * 1e6))


@dataclass(frozen=True, slots=True, kw_only=True)
class CapEnd:
    """Where a wall's cap ends: how far inside the wall's end, and what its mitre adds to the inside edge."""

    stop_nm: int
    inner_nm: int = 0


def top_caps(
    building: Building, plant: Plant, panelled: Mapping[GroupId, PanelledWall], ends: Mapping[GroupId, tuple[WallEnd, WallEnd]]
) -> tuple[list[Piece], list[BrokenRule]]:
    """Return the caps along the tops of all walls: mitred between level tops of one height only, else butted (case G13).

    Splices lie at least the stagger from the panel joints below, where that uses stock best; where no place does, the broken
    stagger is told. Lengths along a slope are the slope's.
    """
    walls = {wall.id: wall for wall in building.walls}
    pieces, broken = [], []
    for wall in building.walls:
        profile = profile_for(plant, "top_cap", plant.family(wall.family).thickness_nm)
        bevels = {one.id: top_bevel(building, plant, one) for one in _with_neighbours(wall, walls)}
        left = wall_cap_end(building, wall, "left", walls, ends, plant, bevels)
        right = wall_cap_end(building, wall, "right", walls, ends, plant, bevels)
        made, gave = _caps(building, plant, profile, panelled[wall.id], left, right, bevels[wall.id])
        pieces += made
        broken += gave
    return pieces, broken


def _with_neighbours(wall: Wall, walls: Mapping[GroupId, Wall]) -> list[Wall]:
    names = [wall.left.neighbour, wall.right.neighbour]
    return [wall, *(walls[name] for name in names if name is not None)]


def wall_cap_end(
    building: Building,
    wall: Wall,
    side: Side,
    walls: Mapping[GroupId, Wall],
    ends: Mapping[GroupId, tuple[WallEnd, WallEnd]],
    plant: Plant,
    bevels: Mapping[GroupId, TopBevel | None],
) -> CapEnd:
    """Return how a wall's cap ends at a corner: with the panels, but where mitred tops do not lie in one plane it is butted.

    They do where both are level, and where a gable's slope meets an eave that is bevelled to the same roof plane. Else the
    level one runs through, or the wall that ends at the corner seen left to right, and the other stops against it.
    """
    end = ends[wall.id][0 if side == "left" else 1]
    corner = wall.left if side == "left" else wall.right
    if corner.joint != "mitred" or corner.neighbour is None:
        return CapEnd(stop_nm=end.stop_nm, inner_nm=end.inner_nm)
    other = walls[corner.neighbour]
    other_side: Side = "right" if side == "left" else "left"
    ours, theirs = _corner_line(wall, side), _corner_line(other, other_side)
    if ours.level and theirs.level:
        return CapEnd(stop_nm=0, inner_nm=end.inner_nm if ours.height_nm == theirs.height_nm else 0)
    if ours.level != theirs.level and _one_plane(building, (wall, side), (other, other_side), bevels):
        return CapEnd(stop_nm=0, inner_nm=end.inner_nm)
    through = ours.level if ours.level != theirs.level else side == "right"
    inside_corner = corner.interior_udeg > 180_000_000
    if through != inside_corner:  # a through cap at an outside corner, or one that stops at the face of an inside corner
        return CapEnd(stop_nm=0)
    thickness = plant.family(other.family).thickness_nm
    return CapEnd(
        stop_nm=butt_lap_nm(wall, side, -thickness if inside_corner else thickness, vector_from_corner(other, other_side))
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Line:
    height_nm: int
    level: bool


def _corner_line(wall: Wall, side: Side) -> _Line:
    lines = straight_lines(wall.top)
    (_, z0), (_, z1) = lines[0] if side == "left" else lines[-1]
    return _Line(height_nm=wall.base_z_nm + (z0 if side == "left" else z1), level=z0 == z1)


def _one_plane(
    building: Building, one: tuple[Wall, Side], two: tuple[Wall, Side], bevels: Mapping[GroupId, TopBevel | None]
) -> bool:
    """Whether a gable's slope and an eave bevelled to the roof meet at a square corner and follow one plane of it."""
    eave, gable = (one, two) if _corner_line(*one).level else (two, one)
    bevel = bevels[eave[0].id]
    corner = eave[0].left if eave[1] == "left" else eave[0].right
    square = abs(corner.interior_udeg - HALF_TURN) == HALF_TURN // 2
    if bevel is None or not square or _corner_line(*eave).height_nm != _corner_line(*gable).height_nm:
        return False
    (u0, z0), (u1, z1) = straight_lines(gable[0].top)[0 if gable[1] == "left" else -1]
    rise = z1 - z0 if gable[1] == "left" else z0 - z1
    shared = [plane for plane in building.roof if plane.id in eave[0].under_roof and plane.id in gable[0].under_roof]
    return any(abs(rise * plane.run - (u1 - u0) * plane.rise) <= 1_000 * plane.run for plane in shared)


def _caps(
    building: Building,
    plant: Plant,
    profile: Profile,
    panelled: PanelledWall,
    left: CapEnd,
    right: CapEnd,
    bevel: TopBevel | None,
) -> tuple[list[Piece], list[BrokenRule]]:
    wall = panelled.wall
    low, high = left.stop_nm, wall.length_nm - right.stop_nm
    lines = straight_lines(wall.top)
    pieces, broken = [], []
    for n, (first, second) in enumerate(lines):
        u0 = low if n == 0 else first[0]
        u1 = high if n == len(lines) - 1 else second[0]
        if u0 >= u1:
            continue
        tilt = 0 if first[1] == second[1] else _swing(second[1] - first[1], second[0] - first[0])
        near_bend = n > 0 and lines[n - 1][1] == first
        far_bend = n < len(lines) - 1 and lines[n + 1][0] == second
        inner = (left.inner_nm if n == 0 else 0, right.inner_nm if n == len(lines) - 1 else 0)
        rise = second[1] - first[1]
        slope = isqrt_nearest((second[0] - first[0]) ** 2 + rise**2) if rise else second[0] - first[0]
        found = best_splices(
            RunToSplice(
                low=u0 - max(0, inner[0]),
                high=u1 + max(0, inner[1]),
                first_nm=u0,
                last_nm=u1 - plant.stagger_nm,
                stock=profile.stock,
                steep=Fraction(slope, second[0] - first[0]),
                joints=panelled.joints,
                clear_nm=plant.stagger_nm,
            )
        )
        broken += [
            BrokenRule(rule="stagger", where=str(wall.id), wanted_nm=plant.stagger_nm, got_nm=Nm(distance))
            for distance in found.too_near
        ]
        along = [inner[0] * slope // (second[0] - first[0]), inner[1] * slope // (second[0] - first[0])] if rise else inner
        places = [u0, *found.places, u1]
        for k, (near, far) in enumerate(pairwise(places)):
            pieces.append(
                _along(
                    building,
                    profile,
                    "top_cap",
                    wall,
                    ((near, height_after(wall.top, near)), (far, height_before(wall.top, far))),
                    along[0] if k == 0 else 0,
                    along[1] if k == len(places) - 2 else 0,
                    rise_nm=bevel.rise_nm if bevel else 0,
                    tilts=(tilt if k == 0 and near_bend else 0, tilt if k == len(places) - 2 and far_bend else 0),
                )
            )
    return pieces, broken


def corner_angles(building: Building, plant: Plant) -> list[Piece]:
    """Return the angles of each corner, outside and inside, cut to the lower of the two walls there.

    They belong to the wall that starts at the corner, stop at openings that meet there, and lap where longer than the stock.
    """
    walls = {wall.id: wall for wall in building.walls}
    pieces = []
    for wall in building.walls:
        if wall.left.neighbour is None or wall.left.interior_udeg == 180_000_000:
            continue
        other = walls[wall.left.neighbour]
        profile = profile_for(plant, "corner_angle", plant.family(wall.family).thickness_nm)
        height = min(wall.top[0][1], other.top[-1][1] + other.base_z_nm - wall.base_z_nm)
        inside = inside_corner_nm(
            plant.family(wall.family).thickness_nm,
            plant.family(other.family).thickness_nm,
            vector_from_corner(wall, "left"),
            vector_from_corner(other, "right"),
            inside_corner=wall.left.interior_udeg > HALF_TURN,
        )
        for face, place in (("outside", 0), ("inside", inside)):
            for foot, head in _beside_openings(wall, other, height):
                pieces += _angle(building, profile, wall, place, foot, head, face)
    return pieces


def _beside_openings(wall: Wall, other: Wall, height: int) -> list[tuple[int, int]]:
    """Parts of a corner's height that no opening reaches."""
    shift = other.base_z_nm - wall.base_z_nm
    gaps: list[Edge] = [(item.z0_nm, item.z1_nm) for item in wall.openings if item.u0_nm == 0]
    gaps += [(item.z0_nm + shift, item.z1_nm + shift) for item in other.openings if item.u1_nm == other.length_nm]
    parts: list[Edge] = []
    foot = 0
    for low, high in sorted(gaps):
        if low > foot:
            parts.append((foot, low))
        foot = max(foot, high)
    if foot < height:
        parts.append((foot, height))
    return parts


def _angle(building: Building, profile: Profile, wall: Wall, place: int, foot: int, head: int, face: str) -> list[Piece]:
    pieces = []
    for low, high in lapped_spans(Nm(head - foot), longest_stock(profile), profile.lap_nm):
        pieces.append(
            linear_piece(
                building,
                profile,
                role="corner_angle",
                wall=wall,
                run=((place, foot + low), (place, foot + high)),
                width_nm=profile.width_nm or profile.blank_nm,
                edges=((0, high - low), (0, high - low)),
                turns=("as_is", "end_for_end"),
                notes=(f"{face} of corner {wall.left.id}",),
            )
        )
    return pieces
