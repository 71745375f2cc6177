"""Rows for the site: installation sheets by elevation and roof plane, and the anchor plan for the slab crew."""

from __future__ import annotations

from collections.abc import Mapping

from solver.documents.index import PlanIndex, short_name
from solver.documents.lists import by_item
from solver.domain.building import Building, Wall
from solver.domain.document import AnchorRow, AnchorSheet, InstallationSheet, StandingRow
from solver.domain.piece import Piece
from solver.domain.takeoff import Takeoff
from solver.units import Nm


def installation_sheets(index: PlanIndex) -> tuple[InstallationSheet, ...]:
    """Return a sheet for every wall, roof plane and bearing wall that has pieces, in order of first standing."""
    return tuple(sheet for takeoff in index.plan.takeoffs for sheet in _sheets(index, takeoff))


def _sheets(index: PlanIndex, takeoff: Takeoff) -> list[InstallationSheet]:
    groups: dict[str, list[Piece]] = {}
    for piece in sorted(takeoff.pieces, key=lambda one: (one.stands, one.id)):
        groups.setdefault(piece.group, []).append(piece)
    walls = {wall.id: wall for wall in takeoff.building.walls}
    planes = {plane.id: plane for plane in takeoff.building.roof}
    return [
        InstallationSheet(
            order=takeoff.building.order,
            group=pieces[0].group,
            wall=walls.get(pieces[0].group),
            plane=planes.get(pieces[0].group),
            pieces=tuple(pieces),
            rows=tuple(_row(index, piece) for piece in pieces),
            hardware=by_item(line for line in takeoff.hardware if line.group == group),
            film_days=index.plant.film_days,
        )
        for group, pieces in groups.items()
    ]


def _row(index: PlanIndex, piece: Piece) -> StandingRow:
    bundle, from_top = index.places.get(piece.id, (None, 0))
    return StandingRow(
        stands=piece.stands,
        piece=piece.id,
        mark=piece.mark,
        role=piece.role,
        length_nm=piece.length_nm,
        weight_g=piece.weight_g,
        crew=index.plant.crew(piece.weight_g),
        bundle_name=short_name(bundle.id) if bundle else "",
        from_top=from_top,
        closing=piece.closing,
        field_head=any(cutout.field_head for cutout in piece.cutouts),
    )


def anchor_sheets(index: PlanIndex) -> tuple[AnchorSheet, ...]:
    """Return the anchor plan of every order that has anchors, rows from the corner where the crew starts."""
    return tuple(_anchors(index, takeoff) for takeoff in index.plan.takeoffs if takeoff.anchors)


def _anchors(index: PlanIndex, takeoff: Takeoff) -> AnchorSheet:
    begin = run_starts(takeoff.building)
    ccw = takeoff.building.direction == "ccw"
    rows = []
    for anchor in takeoff.anchors:
        start, length = begin.get(anchor.wall, (0, 0))
        along = anchor.along_nm if ccw else length - anchor.along_nm
        rows.append(AnchorRow(anchor=anchor, from_start_nm=Nm(start + along)))
    return AnchorSheet(
        building=takeoff.building,
        rows=tuple(sorted(rows, key=lambda row: (row.from_start_nm, row.anchor.id))),
        thickness_nm=tuple((family.id, family.thickness_nm) for family in index.plant.families),
        diameter_nm=index.plant.anchors.diameter_nm,
        projection_nm=index.plant.anchors.projection_nm,
    )


def run_starts(building: Building) -> Mapping[str, tuple[int, int]]:
    """Return for each slab wall how far along the outline it begins from the start corner, and its length.

    In the order's direction of standing; walls that no chain of corners reaches follow in the order given.
    """
    walls = [wall for wall in building.walls if wall.on_slab]
    ccw = building.direction == "ccw"

    def first(wall: Wall) -> str:
        return wall.left.id if ccw else wall.right.id

    def last(wall: Wall) -> str:
        return wall.right.id if ccw else wall.left.id

    made: dict[str, tuple[int, int]] = {}
    at, corner = 0, building.start_corner
    while len(made) < len(walls):
        left = [wall for wall in walls if wall.id not in made]
        wall = next((one for one in left if first(one) == corner), left[0])
        made[wall.id] = (at, wall.length_nm)
        at, corner = at + wall.length_nm, last(wall)
    return made
