"""The anchor plan: where the slab's bolts go, the holes in the base channel and the pockets in the panels above them.

The published floor is IRC R403.1.6 (written for wood plates): at least two bolts a section, one within 12 in and at least
seven diameters from each end, 6 ft apart; the catalog's rules are never looser. Steel track is R603.3.1 or the engineer's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from solver.domain.building import Building, Wall
from solver.domain.piece import Hole, Piece
from solver.domain.plant import AnchorRules, Plant
from solver.domain.takeoff import Anchor, BrokenRule
from solver.units import Nm


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelSection:
    """One length of base channel along a wall: its outside edge, what mitres add inside, and why it ends where it does."""

    wall: Wall
    start_nm: int
    end_nm: int
    left_inner_nm: int = 0
    right_inner_nm: int = 0
    left_why: str = "splice"
    right_why: str = "splice"


def section_bolts(section: ChannelSection, rules: AnchorRules) -> list[tuple[int, str]]:
    """Return the places of a section's bolts along its wall, with the rule that asked for each (case G15).

    The bolt line is mid-channel, where a mitred end lies half the mitre from the corner. End bolts are `end_nm` from an outside
    corner, a door or a splice (at an inside corner, from the channel's end); the others spaced evenly, no wider than allowed.
    A section too short for two bolts has one, in its middle.
    """
    left_end, right_end = section.start_nm - section.left_inner_nm // 2, section.end_nm + section.right_inner_nm // 2
    clear = rules.code_diameters * rules.diameter_nm
    farthest_left = section.start_nm - max(0, section.left_inner_nm + 1) // 2  # halves of a nanometre go outward
    farthest_right = section.end_nm + max(0, section.right_inner_nm + 1) // 2
    low = max(left_end + clear, farthest_left + rules.end_nm)
    high = min(right_end - clear, farthest_right - rules.end_nm)
    if high - low < clear:  # too short for the usual ends: a quarter of the length, as far as the code's clearance allows
        inset = max(clear, (right_end - left_end) // 4)
        low, high = left_end + inset, right_end - inset
    if low >= high:
        return [((left_end + right_end) // 2, "spacing")]
    count = max(rules.least_per_section, -((low - high) // rules.spacing_nm) + 1)
    steps = count - 1
    places = [low + (2 * (high - low) * n + steps) // (2 * steps) for n in range(count)]
    return [
        (place, section.left_why if n == 0 else section.right_why if n == steps else "spacing")
        for n, place in enumerate(places)
    ]


def plan_anchors(building: Building, plant: Plant, sections: Sequence[ChannelSection]) -> tuple[list[Anchor], list[BrokenRule]]:
    """Return the bolts of all sections, and sections that the published floor of two bolts can't be kept for.

    On a wall whose bolts were measured after the pour, those are the anchors (case S6).
    """
    measured = {item.on for item in building.measured} if building.anchor_holes == "as_measured" else set()
    anchors: list[Anchor] = []
    broken = []
    for wall in building.walls:
        mine = [section for section in sections if section.wall.id == wall.id]
        if wall.id in measured:
            anchors += [
                Anchor(id=item.id, wall=wall.id, along_nm=item.along_nm, across_nm=item.across_nm, why="measured")
                for item in building.measured
                if item.on == wall.id
            ]
            continue
        across = Nm(plant.family(wall.family).thickness_nm // 2)
        number = 0
        for section in mine:
            bolts = section_bolts(section, plant.anchors)
            if len(bolts) < plant.anchors.least_per_section:
                short = section.end_nm - section.start_nm
                need = 3 * plant.anchors.code_diameters * plant.anchors.diameter_nm
                broken.append(BrokenRule(rule="spacing", where=str(wall.id), wanted_nm=Nm(need), got_nm=Nm(short)))
            for along, why in bolts:
                number += 1
                anchors.append(
                    Anchor(id=f"{wall.id}-A{number:02}", wall=wall.id, along_nm=Nm(along), across_nm=across, why=why)
                )
    return anchors, broken


def section_holes(section: ChannelSection, anchors: Sequence[Anchor], plant: Plant) -> tuple[Hole, ...]:
    """Return the holes of a channel section, one at each anchor that stands under it."""
    size = Nm(plant.anchors.diameter_nm + plant.anchors.hole_over_nm)
    return tuple(
        Hole(
            kind="hole",
            anchor=item.id,
            along_nm=Nm(item.along_nm - section.start_nm + max(0, section.left_inner_nm)),  # the piece's zero end
            across_nm=item.across_nm,
            across_size_nm=size,
        )
        for item in anchors
        if item.wall == section.wall.id and _over(section, item.along_nm)
    )


def _over(section: ChannelSection, along: int) -> bool:
    low = section.start_nm - max(0, section.left_inner_nm)
    high = section.end_nm + max(0, section.right_inner_nm)
    return low <= along < high or (along == high and section.right_why != "splice")


def add_bolt_pockets(pieces: Sequence[Piece], anchors: Sequence[Anchor], plant: Plant) -> list[Piece]:
    """Return pieces with a pocket in the foot of each panel over a bolt; astride a joint, both panels have it."""
    half = plant.anchors.pocket_nm // 2
    return [_pocketed(piece, anchors, half) if piece.role == "wall_panel" else piece for piece in pieces]


def _pocketed(piece: Piece, anchors: Sequence[Anchor], half: int) -> Piece:
    if piece.outline[0][1] != 0:
        return piece
    low, high = piece.outline[0][0], piece.outline[1][0]
    doors = [hole.outline for hole in piece.cutouts if hole.outline[0][1] == 0]
    pockets = []
    for item in anchors:
        if item.wall != piece.group or not low - half < item.along_nm < high + half:
            continue
        if any(door[0][0] <= item.along_nm <= door[1][0] for door in doors):
            continue
        pockets.append(
            Hole(
                kind="pocket",
                anchor=item.id,
                along_nm=Nm(item.along_nm - low),
                across_nm=item.across_nm,
                across_size_nm=Nm(2 * half),
            )
        )
    return replace(piece, holes=tuple(pockets)) if pockets else piece


def measured_bolt_warnings(
    building: Building, plant: Plant, pieces: Sequence[Piece], anchors: Sequence[Anchor]
) -> tuple[str, ...]:
    """Return where bolts as measured are looser than the catalog's rules and the published floor: the engineer's to say."""
    if building.anchor_holes != "as_measured":
        return ()
    told = []
    for wall in building.walls:
        bolts = sorted(
            (item for item in anchors if item.wall == wall.id and item.why == "measured"), key=lambda item: item.along_nm
        )
        if not bolts:
            continue
        channels = [piece for piece in pieces if piece.role == "base_channel" and piece.group == wall.id]
        drilled = {hole.anchor for piece in channels for hole in piece.holes}
        told += [f"{item.id} stands under no base channel of {wall.id}" for item in bolts if item.id not in drilled]
        for piece in channels:
            told += _looser(piece, [item for item in bolts if item.id in {hole.anchor for hole in piece.holes}], plant)
        middle, third = plant.family(wall.family).thickness_nm / 2, plant.family(wall.family).thickness_nm / 6
        told += [
            f"{item.id} stands outside the middle third of the channel"
            for item in bolts
            if abs(item.across_nm - middle) > third
        ]
    return tuple(f"{text}: ask the engineer of record before setting" for text in told)


def _looser(piece: Piece, bolts: Sequence[Anchor], plant: Plant) -> list[str]:
    rules = plant.anchors
    if len(bolts) < rules.least_per_section:
        return [f"{piece.mark} has {len(bolts)} bolts as measured, under {rules.least_per_section}"]
    start, end = piece.outline[0][0], piece.outline[1][0]
    told = []
    for item, gap in ((bolts[0], bolts[0].along_nm - start), (bolts[-1], end - bolts[-1].along_nm)):
        if not rules.code_diameters * rules.diameter_nm <= gap <= rules.end_nm:
            told.append(f"{item.id} as measured is {gap / 25.4e6:.2f} in from the end of {piece.mark}")
    for one, other in pairwise(bolts):
        apart = other.along_nm - one.along_nm
        if apart > rules.spacing_nm:
            told.append(f"{one.id} and {other.id} as measured are {apart / 25.4e6:.2f} in apart")
    return told
