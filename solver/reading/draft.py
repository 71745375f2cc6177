"""What reading holds while it resolves an order: walls, planes and the paths they came from."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from solver.domain.building import Corner, Finish, Furring, Opening, Point, RoofEdge
from solver.domain.ids import GroupId
from solver.domain.order import RoofCut
from solver.domain.plant import PanelFamily, Plant, Profile
from solver.errors import FaultCollector
from solver.reading.geometry import Spot, divided_by_root, twice_triangle_area
from solver.reading.order_parts import OrderParts
from solver.units import Nm, show_length


@dataclass(slots=True, kw_only=True)
class WallDraft:
    """A wall being read; `top` is None until a roof makes it."""

    id: GroupId
    level: str
    name: str
    path: str  # where its top is said
    a: Point
    b: Point
    length_nm: Nm
    base_z_nm: Nm
    top: tuple[Point, ...] | None
    left: Corner
    right: Corner
    on_slab: bool
    under_roof: tuple[str, ...] = ()
    openings: list[Opening] = field(default_factory=list)
    furring: Furring | None = None


@dataclass(slots=True, kw_only=True)
class PlaneDraft:
    """A roof plane being read: its outline in plan, exact, with the kind of each edge."""

    id: GroupId
    roof: str
    path: str
    a: Point
    b: Point
    z_nm: Nm
    rise: int
    run: int
    pitch_shown: str
    plan: list[Spot]
    edges: list[RoofEdge]
    cut: RoofCut
    line: Fraction  # length of a to b, exact or to 1e-12 nm
    outline: tuple[Point, ...] = ()
    also: Mapping[str, Nm] = field(default_factory=dict)  # names by its other walls, and how far their left ends lie along it
    openings: list[Opening] = field(default_factory=list)

    def height(self, at: Spot) -> Fraction:
        """Return the absolute height of the lower face over a place in plan."""
        return self.z_nm + Fraction(twice_triangle_area(self.a, self.b, at)) / self.line * Fraction(self.rise, self.run)


def names_by_other_walls(roof: str, first: WallDraft, others: Iterable[WallDraft]) -> dict[str, Nm]:
    """Return the names of a plane by its other walls, in line with the first, and where each one's left end lies along it."""
    dx, dy = first.b[0] - first.a[0], first.b[1] - first.a[1]
    square = dx * dx + dy * dy
    return {
        f"{roof}.{wall.name}": divided_by_root((wall.a[0] - first.a[0]) * dx + (wall.a[1] - first.a[1]) * dy, square)
        for wall in others
        if wall.name != first.name and square
    }


@dataclass(slots=True, kw_only=True)
class Reading:
    """One order on its way to a building."""

    parts: OrderParts
    plant: Plant
    faults: FaultCollector
    walls: list[WallDraft] = field(default_factory=list)
    walls_by_id: dict[str, WallDraft] = field(default_factory=dict)
    planes: list[PlaneDraft] = field(default_factory=list)
    wall_family: PanelFamily | None = None
    roof_family: PanelFamily | None = None
    stud: Profile | None = None
    wall_finish: Finish = Finish(outside="", inside="")
    roof_finish: Finish = Finish(outside="", inside="")
    trim: str = ""

    def show(self, length_nm: int | Fraction) -> str:
        """Return a length as the order's people read it."""
        return show_length(round(length_nm), self.parts.unit)

    def add_wall(self, wall: WallDraft) -> None:
        """Keep a wall."""
        self.walls.append(wall)
        self.walls_by_id.setdefault(wall.id, wall)

    def wall(self, group: str) -> WallDraft | None:
        """Return the wall of an id, if there is one."""
        return self.walls_by_id.get(group)

    def plane(self, group: str) -> PlaneDraft | None:
        """Return the roof plane of an id, if there is one."""
        return next((plane for plane in self.planes if plane.id == group or group in plane.also), None)

    def unread(self, name: str) -> bool:
        """Return whether a name, or the part it begins with, belongs to something that could not be read."""
        return name in self.parts.unread or name.split(".", maxsplit=1)[0] in self.parts.unread
