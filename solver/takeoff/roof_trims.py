"""Trims of a roof: eave and rake trim of each plane, ridge, hip and valley trim once for the two planes that meet there."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from solver.domain.building import Building, Point, Point3, RoofEdge, RoofPlane
from solver.domain.piece import EndCut, Piece, Role
from solver.domain.plant import Plant
from solver.errors import FieldFault, NoPlan
from solver.takeoff.linear_runs import SQUARE, run_pieces
from solver.takeoff.piece_drafts import profile_for
from solver.takeoff.roof_space import pitch_udeg, same_line, to_space
from solver.units import MicroDeg

ROLE_OF: dict[RoofEdge, Role] = {
    "eave": "eave_trim",
    "rake": "rake_trim",
    "ridge": "ridge_trim",
    "hip": "hip_trim",
    "valley": "valley_trim",
}
SHARED: tuple[RoofEdge, ...] = ("ridge", "hip", "valley")
MITRE = EndCut(swing_udeg=MicroDeg(45_000_000))


@dataclass(frozen=True, slots=True)
class _Line:
    """An edge of a plane that takes trim, with the kinds of the edges before and after it."""

    plane: RoofPlane
    kind: RoofEdge
    start: Point
    end: Point
    before: RoofEdge
    after: RoofEdge

    @property
    def in_space(self) -> tuple[Point3, Point3]:
        return to_space(self.plane, self.start), to_space(self.plane, self.end)


def roof_trims(building: Building, plant: Plant) -> tuple[Piece, ...]:
    """Return the trims of all roof planes, in the order of the planes. Raises NoPlan where no profile fits an edge."""
    pieces: list[Piece] = []
    faults: list[FieldFault] = []
    for line in _lines(building):
        role, plane = ROLE_OF[line.kind], line.plane
        try:
            profile = profile_for(plant, role, plant.family(plane.family).thickness_nm)
        except NoPlan as refusal:
            faults += refusal.faults
            continue
        pieces += run_pieces(role, profile, line.start, line.end, building, group=plane.id, part=plane.roof, cuts=_cuts(line))
    if faults:
        raise NoPlan(*dict.fromkeys(faults))
    return tuple(pieces)


def _lines(building: Building) -> Iterator[_Line]:
    """Each line that takes trim, once: shared ones with the first of their planes."""
    seen: list[tuple[str, tuple[Point3, Point3]]] = []
    for plane in building.roof:
        for line in _edges(plane):
            if line.kind in SHARED:
                place = line.in_space
                if any(roof == plane.roof and same_line(other, place) for roof, other in seen):
                    continue
                seen.append((plane.roof, place))
            yield line


def _edges(plane: RoofPlane) -> Iterator[_Line]:
    count = len(plane.outline)
    for n in range(count):
        start, end = plane.outline[n], plane.outline[(n + 1) % count]
        kind = _kind(plane.edges[n], start, end)
        if kind in ROLE_OF:
            yield _Line(plane, kind, start, end, plane.edges[n - 1], plane.edges[(n + 1) % count])


def _kind(kind: RoofEdge, start: Point, end: Point) -> RoofEdge:
    """The kind of trim that an edge takes: the high edge of a shed is closed as an eave is."""
    high = kind == "open" and start[1] == end[1] and start[0] > end[0]
    return "eave" if high else kind


def _cuts(line: _Line) -> tuple[EndCut, EndCut]:
    """How a trim's ends are cut: plumb where a rake meets the ridge (case G13), mitred where eaves turn, else square.

    Mitres of 45 degrees are for square corners; at other corners the trim is fitted on site, so it stays square.
    """
    if line.kind == "rake":
        plumb = EndCut(swing_udeg=pitch_udeg(line.plane))
        return plumb if line.before == "ridge" else SQUARE, plumb if line.after == "ridge" else SQUARE
    if line.kind == "eave":
        return _eave_cut(line.plane, line.start, line.before), _eave_cut(line.plane, line.end, line.after)
    return SQUARE, SQUARE


def _eave_cut(plane: RoofPlane, corner: Point, neighbour: RoofEdge) -> EndCut:
    if neighbour not in ("hip", "valley"):
        return SQUARE
    index = plane.outline.index(corner)
    other = next(
        point for point in (plane.outline[index - 1], plane.outline[(index + 1) % len(plane.outline)]) if point[1] != corner[1]
    )
    dx, dy = abs(other[0] - corner[0]), abs(other[1] - corner[1])
    level_squared = dy * dy * plane.run**2 // (plane.rise**2 + plane.run**2)
    square_corner = abs(dx * dx - level_squared) <= max(dx, dy) * 4  # within rounding of 45 degrees in plan
    return MITRE if square_corner else SQUARE
