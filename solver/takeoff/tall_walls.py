"""Walls taller than any panel: planned horizontal joints, where the family may be end-lapped."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from solver.domain.building import Wall
from solver.domain.cut_shape import refit_line_ends
from solver.domain.plant import PanelFamily, Plant
from solver.takeoff.openings import HeightBand
from solver.takeoff.panels import PanelSlot
from solver.takeoff.piece_drafts import longest_panel_made
from solver.takeoff.wall_tops import top_points

Part = tuple[PanelSlot, HeightBand]


def cut_at_planned_joints(parts: Sequence[Part], wall: Wall, family: PanelFamily, plant: Plant) -> list[Part]:
    """Return the parts of a wall's panels with those that would be too long cut at the wall's planned joints.

    One row of joints runs through the wall, as high as the lower panels can be made, clear of the heads and sills of openings
    where that can be. A part that no joint can help is left as it is: it is a fault of the order.
    """
    limit, _ = longest_panel_made(family, plant)
    long = [part for part in parts if _top(part, wall)[1] - part[1].foot_nm > limit]
    if not long or not family.end_lap_nm:
        return list(parts)
    lines = _lines(long, wall, family, limit)
    return [cut for part in parts for cut in (_cut(part, lines, family.end_lap_nm) if part in long else [part])]


def _top(part: Part, wall: Wall) -> tuple[int, int]:
    """The lowest and the highest place of a part's head as it is cut."""
    slot, storey = part
    if storey.head_nm is not None:
        return storey.head_nm, storey.head_nm
    more = slot.side_growths_nm
    heights = [z for _, z in refit_line_ends(top_points(wall.top, slot.u0, slot.u1), slot.u0 - more[0], slot.u1 + more[1])]
    return min(heights), max(heights)


def _lines(long: Sequence[Part], wall: Wall, family: PanelFamily, limit: int) -> list[int]:
    """Heights of the rows of joints, from the foot up."""
    lap, clear = family.end_lap_nm, family.joint_clear_nm
    foot = min(storey.foot_nm for _, storey in long)
    lowest = min(_top(part, wall)[0] for part in long)
    highest = max(_top(part, wall)[1] for part in long)
    edges = [edge for item in wall.openings for edge in (item.z0_nm, item.z1_nm)]
    lines: list[int] = []
    reach = foot + limit
    while highest - (lines[-1] if lines else foot) + (lap if lines else 0) > limit:
        most = min(reach, lowest - lap)
        below = lines[-1] if lines else foot
        places = [most, *(edge - clear for edge in edges if below < edge - clear < most)]
        free = [place for place in places if all(abs(place - edge) >= clear for edge in edges)]
        line = max(free, default=most)
        if line <= below:
            break  # the top dips below the joint that it would need
        lines.append(line)
        reach = line + limit - lap
    return lines


def _cut(part: Part, lines: Sequence[int], lap: int) -> list[Part]:
    """A part cut at every line within it; each upper one laps over the one below."""
    slot, storey = part
    inner = [line for line in lines if storey.foot_nm < line and (storey.head_nm is None or line < storey.head_nm)]
    feet, heads = [storey.foot_nm, *inner], [*inner, storey.head_nm]
    return [
        (slot, replace(storey, foot_nm=foot, head_nm=head, lap_nm=lap if n else 0, over=storey.over if n == 0 else None))
        for n, (foot, head) in enumerate(zip(feet, heads, strict=True))
    ]
