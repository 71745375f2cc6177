"""Walls in plan: where the lines of their faces meet at corners, in fractions fine enough to be exact to the nanometre."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from solver.domain.building import Building, Wall
from solver.domain.ids import GroupId
from solver.domain.plant import Plant

Side = Literal["left", "right"]
Place = tuple[Fraction, Fraction]
FINE = 10**12


def vector_length(dx: int, dy: int) -> Fraction:
    """Return a plan vector's length to 1e-12 nm."""
    return Fraction(math.isqrt((dx * dx + dy * dy) * FINE * FINE), FINE)


@dataclass(frozen=True, slots=True)
class PlanLine:
    """A wall's line in plan: its left end, unit vector along and unit vector inward."""

    x: int
    y: int
    along: Place
    size: Fraction

    @classmethod
    def of(cls, wall: Wall) -> PlanLine:
        """Return the line of a wall's outside face."""
        return cls.of_points(wall.a, wall.b)

    @classmethod
    def of_points(cls, a: tuple[int, int], b: tuple[int, int]) -> PlanLine:
        """Return the line from one place in plan to another."""
        dx, dy = b[0] - a[0], b[1] - a[1]
        size = vector_length(dx, dy)
        return cls(a[0], a[1], (dx / size, dy / size), size)

    def place(self, along: Fraction | int, inward: Fraction | int) -> Place:
        """Return a place in plan from its distance along and inward."""
        ax, ay = self.along
        return self.x + ax * along - ay * inward, self.y + ay * along + ax * inward

    def where(self, place: Place) -> Place:
        """Return how far along and inward a place in plan lies."""
        dx, dy = place[0] - self.x, place[1] - self.y
        ax, ay = self.along
        return dx * ax + dy * ay, dy * ax - dx * ay

    def crossing_with(self, inward: int, other: PlanLine, other_inward: int) -> Fraction | None:
        """Return where along this line, moved inward, another one moved inward crosses it; none where they are parallel."""
        ax, ay = self.along
        bx, by = other.along
        turn = ax * by - ay * bx
        if abs(turn) < Fraction(1, 10**6):
            return None
        px, py = self.place(0, inward)
        qx, qy = other.place(0, other_inward)
        return ((qx - px) * by - (qy - py) * bx) / turn


@dataclass(frozen=True, slots=True)
class PanelEnd:
    """Where a wall's panels end on either face, measured along the wall from its left end."""

    outside: Fraction
    inside: Fraction


def panel_ends(building: Building, plant: Plant, wall: Wall) -> tuple[PanelEnd, PanelEnd]:
    """Return where a wall's panels must end on the left and on the right, from its corners' joints."""
    walls = {one.id: one for one in building.walls}
    return _end(walls, plant, wall, "left"), _end(walls, plant, wall, "right")


def panel_thickness(plant: Plant, wall: Wall) -> int:
    """Return the thickness of a wall's panels."""
    return plant.family(wall.family).thickness_nm


def _end(walls: dict[GroupId, Wall], plant: Plant, wall: Wall, side: Side) -> PanelEnd:
    corner = wall.left if side == "left" else wall.right
    own = Fraction(0) if side == "left" else PlanLine.of(wall).size
    if corner.neighbour is None or corner.joint == "free" or corner.neighbour not in walls:
        return PanelEnd(own, own)
    other = walls[corner.neighbour]
    line, theirs = PlanLine.of(wall), PlanLine.of(other)
    thick, their_thick = panel_thickness(plant, wall), panel_thickness(plant, other)
    inside_corner = corner.interior_udeg > 180_000_000
    near, far = 0, their_thick  # the other wall's faces
    if corner.joint == "mitred":
        faces = (near, far)
    elif (corner.joint == "lapped_through") != inside_corner:
        faces = (near, near)  # ends flush with the other's outside face
    else:
        faces = (far, far)  # ends at, or runs on to, the other's inside face
    outside, inside = line.crossing_with(0, theirs, faces[0]), line.crossing_with(thick, theirs, faces[1])
    return PanelEnd(own if outside is None else outside, own if inside is None else inside)


def lengths_agree(value: Fraction | int, wanted: Fraction | int, slack: int = 1) -> bool:
    """Return whether two lengths agree to a nanometre, half of it for each one's own rounding."""
    return abs(Fraction(value) - wanted) <= slack
