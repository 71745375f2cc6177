"""Marks and the order of standing: numbers within each wall that no other part changes, one order for the building."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from solver.domain.building import Building
from solver.domain.ids import GroupId, piece_id
from solver.domain.piece import Piece, Role
from solver.domain.takeoff import BrokenRule
from solver.takeoff.order_of_walls import levels_from_lowest, wall_loops
from solver.takeoff.standing import supports_first

_IN_GROUP: tuple[Role, ...] = (
    "wall_panel",
    "roof_panel",
    "opening_channel",
    "base_channel",
    "top_cap",
    "corner_angle",
    "track",
    "stud",
    "header",
    "eave_trim",
    "rake_trim",
    "ridge_trim",
    "hip_trim",
    "valley_trim",
    "furring",
)
_STANDS: tuple[Role, ...] = (
    "base_channel",
    "wall_panel",
    "opening_channel",
    "corner_angle",
    "top_cap",
    "track",
    "stud",
    "header",
    "furring",
    "roof_panel",
    "valley_trim",
    "eave_trim",
    "rake_trim",
    "hip_trim",
    "ridge_trim",
)


def assign_marks(
    building: Building, pieces: Sequence[Piece], broken: Sequence[BrokenRule]
) -> tuple[list[Piece], list[BrokenRule]]:
    """Return the pieces marked, in order of standing, and the broken rules naming marks instead of drafts.

    A mark is its group's id and a number within the group: panels first, left to right and foot up, then the other roles as
    they were made. Pieces stand level by level, walls before roofs: base channel, both panels of the start corner, then along
    the run, what hangs over a full-width opening after what carries it, the channels of other openings, corner angles, caps,
    framing; then the roofs' planes.
    """
    count: dict[GroupId, int] = {}
    marks: dict[str, str] = {}
    marked = []
    for piece in sorted(pieces, key=lambda item: _IN_GROUP.index(item.role)):
        number = count.get(piece.group, 0) + 1
        count[piece.group] = number
        name = f"{piece.group}-{number:02}"
        marks[str(piece.id)] = name
        marked.append(replace(piece, mark=name, id=piece_id(building.order, name)))
    standing = number_standing_order(building, marked)
    return standing, [replace(item, where=marks.get(item.where, item.where)) for item in broken]


def number_standing_order(building: Building, pieces: Sequence[Piece]) -> list[Piece]:
    """Return the pieces numbered from 1 in their order of standing."""
    keys = _Keys(building, pieces)
    standing = supports_first(building, sorted(pieces, key=keys.of))
    return [replace(piece, stands=n) for n, piece in enumerate(standing, start=1)]


class _Keys:
    """Sorts pieces by where and when they stand."""

    def __init__(self, building: Building, pieces: Sequence[Piece]) -> None:
        self.ccw = building.direction == "ccw"
        self.level = {level: n for n, level in enumerate(levels_from_lowest(building))}
        self.other = {wall.id: n for n, wall in enumerate(building.bearing)}
        self.plane = {plane.id: n for n, plane in enumerate(building.roof)}
        self.wall: dict[GroupId, int] = {}
        self.loop: dict[GroupId, int] = {}
        self.first: dict[GroupId, int] = {}  # where the panels start that meet their loop's first corner, by wall
        self.second: dict[GroupId, int] = {}
        runs = wall_loops(building)
        for n, wall in enumerate(wall for loop in runs for wall in loop.walls):
            self.wall[wall.id] = n
        for number, loop in enumerate(runs):
            self.loop |= {wall.id: number for wall in loop.walls}
            self.first[loop.walls[0].id] = min(self._along(pieces, loop.walls[0].id), default=0)
            if loop.closed and len(loop.walls) > 1:
                self.second[loop.walls[-1].id] = max(self._along(pieces, loop.walls[-1].id), default=0)

    def of(self, piece: Piece) -> tuple[int, ...]:
        """Where a piece comes: level, role, loop, its first corner, wall, along, foot."""
        role = _STANDS.index(piece.role)
        if piece.group in self.wall:
            along, foot = self._place(piece), min(point[1] for point in piece.outline)
            corner, loop = self._corner(piece, along), self.loop[piece.group]
            place = (self.level[piece.part], role, loop, corner, self.wall[piece.group])
            as_made = piece.role in ("opening_channel", "corner_angle")  # frame by frame, corner by corner
            return place if as_made else (*place, along, foot)
        if piece.group in self.other:
            return (self.level.get(piece.part, 0), role, self.other[piece.group])
        return (len(self.level), self.plane.get(piece.group, len(self.plane)), role)

    def _corner(self, piece: Piece, along: int) -> int:
        """First and second: the panels on either side of the loop's first corner; then all others."""
        if piece.role != "wall_panel":
            return 2
        if self.first.get(piece.group) == along:
            return 0
        return 1 if self.second.get(piece.group) == along else 2

    def _place(self, piece: Piece) -> int:
        us = [point[0] for point in piece.outline]
        return min(us) if self.ccw else -max(us)

    def _along(self, pieces: Sequence[Piece], wall: GroupId) -> list[int]:
        return [self._place(piece) for piece in pieces if piece.group == wall and piece.role == "wall_panel"]
