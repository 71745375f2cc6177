"""Hip and skeleton roofs: one pitch over a closed ring of walls, each plane named by the first wall at its eave."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from solver.domain.building import Point
from solver.domain.ids import GroupId
from solver.domain.order import HipRoof, SkeletonRoof
from solver.reading.draft import PlaneDraft, Reading, WallDraft, names_by_other_walls
from solver.reading.geometry import rounded_root
from solver.reading.levels import CLOSE_NM, HIGHEST_NM
from solver.reading.pitches import read_pitch
from solver.reading.skeleton import SkeletonError, UnsettledError, skeleton_planes


def draft_skeleton(reading: Reading, roof: HipRoof | SkeletonRoof, walls: Sequence[WallDraft], path: str) -> None:
    """Draft the planes of a hip or skeleton roof over its walls, or note why there are none."""
    pitch = read_pitch(reading, roof.pitch, f"{path}.pitch")
    if abs(roof.eave_z_nm) > HIGHEST_NM:
        reading.faults.add(f"{path}.eave_z", f"{reading.show(roof.eave_z_nm)} is over 100 m", "a height of the building")
    if not walls or any(wall.length_nm < CLOSE_NM for wall in walls):
        return  # told where the walls were read
    ring = _ring(walls)
    if ring is None:
        reading.faults.add(f"{path}.over", "the walls do not close a ring", "a level, or all walls around one outline")
        return
    corners = [wall.a for wall in ring]
    if roof.kind == "hip" and not _is_rectangle(corners):
        reading.faults.add(f"{path}.over", "the walls are no rectangle", "kind skeleton for any other outline")
        return
    if pitch is None:
        return
    try:
        planes = skeleton_planes(corners, overhang_nm=roof.overhang.eave_nm)
    except UnsettledError as error:
        reading.faults.add(f"{path}.over", f"{error}: its eaves meet too nearly at one point", "explicit planes")
        return
    except SkeletonError as error:
        reading.faults.add(f"{path}.overhang", str(error), "a smaller overhang, or explicit planes")
        return
    rise, run, shown = pitch
    for plane in planes:
        first = ring[plane.walls[0]]
        reading.planes.append(
            PlaneDraft(
                id=GroupId(f"{roof.id}.{first.name}"),
                roof=roof.id,
                path=path,
                a=first.a,
                b=first.b,
                z_nm=roof.eave_z_nm,
                rise=rise,
                run=run,
                pitch_shown=shown,
                plan=list(plane.plan),
                edges=list(plane.edges),
                cut=roof.cut,
                line=Fraction(rounded_root((first.b[0] - first.a[0]) ** 2 + (first.b[1] - first.a[1]) ** 2)),
                also=names_by_other_walls(roof.id, first, [ring[n] for n in plane.walls[1:]]),
            )
        )


def _ring(walls: Sequence[WallDraft]) -> list[WallDraft] | None:
    """Return the walls in order around their outline, one of those that stand on another, or nothing if they do not close."""
    after: dict[Point, WallDraft] = {}
    for wall in walls:
        after.setdefault(wall.a, wall)
    ring = [walls[0]]
    while ring[-1].b != ring[0].a:
        following = after.get(ring[-1].b)
        if following is None or len(ring) > len(after):
            return None
        ring.append(following)
    return ring if len(ring) == len(after) else None


def _is_rectangle(corners: Sequence[Point]) -> bool:
    """Whether corners run around a rectangle, in any direction, walls of one line taken together."""
    turns = []
    for n, corner in enumerate(corners):
        before, after = corners[n - 1], corners[(n + 1) % len(corners)]
        one = corner[0] - before[0], corner[1] - before[1]
        other = after[0] - corner[0], after[1] - corner[1]
        across = one[0] * other[1] - one[1] * other[0]
        along = one[0] * other[0] + one[1] * other[1]
        if abs(across) > abs(along) * Fraction(1, 10**6):
            turns.append(abs(along) <= across * Fraction(1, 10**6))
    return turns == [True] * 4
