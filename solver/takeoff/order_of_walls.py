"""The order in which walls stand: each level's loop in the direction of standing, from the start corner where it has that."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from solver.domain.building import Building, Wall


@dataclass(frozen=True, slots=True, kw_only=True)
class WallLoop:
    """Walls of one level in the order they stand, each meeting the next; closed where the last meets the first."""

    level: str
    walls: tuple[Wall, ...]
    closed: bool

    @property
    def is_fully_mitred(self) -> bool:
        """Whether every corner is mitred, so that one panel closes the loop and can't be pushed in (case S5)."""
        return self.closed and all(wall.left.joint == "mitred" and wall.right.joint == "mitred" for wall in self.walls)


def levels_from_lowest(building: Building) -> list[str]:
    """Return the levels from the lowest up."""
    base: dict[str, int] = {}
    for wall in building.walls:
        base[wall.level] = min(base.get(wall.level, wall.base_z_nm), wall.base_z_nm)
    return sorted(base, key=lambda level: base[level])


def wall_loops(building: Building) -> list[WallLoop]:
    """Return all walls as loops, level by level; in each level the loop with the start corner comes first."""
    found = []
    for level in levels_from_lowest(building):
        found += _loops_of([wall for wall in building.walls if wall.level == level], building)
    return found


def _loops_of(walls: Sequence[Wall], building: Building) -> list[WallLoop]:
    ccw = building.direction == "ccw"
    left = {wall.id: wall for wall in walls}
    found = []
    while left:
        rest = list(left.values())
        first = next((wall for wall in rest if _begins(wall, ccw=ccw) == building.start_corner), None) or _open_end(
            rest, ccw=ccw
        )
        chain, wall = [], first
        while True:
            chain.append(left.pop(wall.id))
            onward = (wall.right if ccw else wall.left).neighbour
            if onward is None or onward not in left:
                break
            wall = left[onward]
        closed = (chain[-1].right if ccw else chain[-1].left).neighbour == first.id
        found.append(WallLoop(level=first.level, walls=tuple(chain), closed=closed))
    return found


def _begins(wall: Wall, *, ccw: bool) -> str:
    return wall.left.id if ccw else wall.right.id


def _open_end(walls: Sequence[Wall], *, ccw: bool) -> Wall:
    """The wall that nothing meets where the run begins, else the first."""
    return next((wall for wall in walls if (wall.left if ccw else wall.right).neighbour is None), walls[0])


def leading_joint(building: Building) -> str:
    """Return which joint leads as panels are set, the groove being on the left seen from outside (case S4)."""
    return "tongue" if building.direction == "ccw" else "groove"
