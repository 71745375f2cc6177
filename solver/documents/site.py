"""Rows for the site: installation sheets by elevation and roof plane."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from fractions import Fraction

from solver.documents.anchors import corners_of_wall, storey_runs
from solver.documents.index import PlanIndex
from solver.documents.lists import hardware_by_item
from solver.documents.sections import base_sections, corner_sections, ridge_sections
from solver.domain.building import Wall
from solver.domain.document import BeginSheet, EaveSection, InstallationSheet, Remark, StandingRow, StoreyPlan
from solver.domain.ids import GroupId, short_name
from solver.domain.piece import PANEL_ROLES, Piece, Role
from solver.domain.takeoff import Takeoff
from solver.units import Nm


def installation_sheets(index: PlanIndex, order: str | None = None) -> tuple[InstallationSheet, ...]:
    """Return a sheet for every wall, roof plane and bearing wall that has pieces, in order of first standing.

    `order`: of one house; absent: of all.
    """
    houses = (takeoff for takeoff in index.plan.takeoffs if order is None or takeoff.building.order == order)
    return tuple(sheet for takeoff in houses for sheet in _sheets(index, takeoff))


def begin_sheets(index: PlanIndex, order: str | None = None) -> Mapping[str, BeginSheet]:
    """Return, by order, where the crew begins; none of an order without pieces. `order`: of one house; absent: of all."""
    houses = (takeoff for takeoff in index.plan.takeoffs if order is None or takeoff.building.order == order)
    return {str(takeoff.building.order): _begin(index, takeoff) for takeoff in houses if takeoff.pieces}


def _begin(index: PlanIndex, takeoff: Takeoff) -> BeginSheet:
    building = takeoff.building
    pieces = sorted(takeoff.pieces, key=lambda one: (one.stands, one.id))
    panel = next((piece for piece in pieces if piece.is_panel), None)
    boxes = (bundle for bundle in index.bundles.values() if bundle.items and bundle.order == building.order)
    return BeginSheet(
        building=building,
        ground_storey=_storey(takeoff, "", [wall for wall in building.walls if wall.on_slab]),
        thickness_nm=tuple((family.id, family.thickness_nm) for family in index.plant.families),
        boxes=tuple((short_name(bundle.id), str(index.loads[bundle.id].id)) for bundle in boxes if bundle.id in index.loads),
        first=_row(index, pieces[0], set()),
        first_panel=None if panel is None else _row(index, panel, set()),
        closing=tuple(piece.mark for piece in pieces if piece.closing),
        bases=base_sections(takeoff, index.plant),
        corners=corner_sections(building, index.plant),
        ridges=ridge_sections(building, index.plant),
        storeys=tuple(_storeys(takeoff)),
        planes=_standing(takeoff, {plane.id for plane in building.roof}),
    )


def _storeys(takeoff: Takeoff) -> Iterator[StoreyPlan]:
    """Yield the plan of each storey whose walls stand on other walls, from below."""
    above = sorted((wall for wall in takeoff.building.walls if not wall.on_slab), key=lambda wall: wall.base_z_nm)
    for level in dict.fromkeys(wall.level for wall in above):
        plan = _storey(takeoff, level, [wall for wall in above if wall.level == level])
        if plan is not None:
            yield plan


def _storey(takeoff: Takeoff, level: str, walls: Sequence[Wall]) -> StoreyPlan | None:
    """Return a storey from above; it starts at the house's start corner, else where its first wall does. None without walls."""
    if not walls:
        return None
    building = takeoff.building
    standing = _standing(takeoff, {wall.id for wall in walls})
    first = next((wall for wall in walls if wall.id in standing[:1]), walls[0])
    corners = {corner for wall in walls for corner in corners_of_wall(building, wall)}
    start = building.start_corner if building.start_corner in corners else corners_of_wall(building, first)[0]
    return StoreyPlan(
        level=level or walls[0].level, start=start, runs=storey_runs(building, walls, start), walls_in_order=standing
    )


def _standing(takeoff: Takeoff, groups: Collection[GroupId]) -> tuple[GroupId, ...]:
    """Return some walls or planes in the order in which the first panel of each stands."""
    panels = sorted((piece for piece in takeoff.pieces if piece.is_panel and piece.group in groups), key=lambda one: one.stands)
    return tuple(dict.fromkeys(piece.group for piece in panels))


def _sheets(index: PlanIndex, takeoff: Takeoff) -> list[InstallationSheet]:
    groups: dict[str, list[Piece]] = {}
    for piece in sorted(takeoff.pieces, key=lambda one: (one.stands, one.id)):
        groups.setdefault(piece.group, []).append(piece)
    first = next(iter(groups), "")
    warned = {text: next((group for group in groups if _concerns(text, group)), first) for text in takeoff.warnings}
    return [
        _sheet(index, takeoff, pieces, tuple(text for text, where in warned.items() if where == group))
        for group, pieces in groups.items()
    ]


def _concerns(text: str, group: str) -> bool:
    """Return whether a warning names a group, or a piece or bolt of it."""
    return any(word.strip(",.:;") == group or word.startswith(f"{group}-") for word in text.split())


def _sheet(index: PlanIndex, takeoff: Takeoff, pieces: list[Piece], warnings: tuple[str, ...]) -> InstallationSheet:
    building, group = takeoff.building, pieces[0].group
    wall = next((wall for wall in building.walls if wall.id == group), None)
    plane = next((plane for plane in building.roof if plane.id == group), None)
    remarks = _remarks(pieces)
    told = {remark.note for remark in remarks}
    here = {group, *(piece.mark for piece in pieces), *(opening.id for one in (wall, plane) if one for opening in one.openings)}
    return InstallationSheet(
        order=building.order,
        unit=building.unit,
        group=group,
        wall=wall,
        plane=plane,
        pieces=tuple(pieces),
        rows=tuple(_row(index, piece, told) for piece in pieces),
        hardware=hardware_by_item(line for line in takeoff.hardware if line.group == group),
        film_days=index.plant.film_days,
        remarks=remarks,
        warnings=warnings,
        broken=tuple(rule for rule in takeoff.broken if rule.where in here or rule.where.split()[0] == group),
        eave=None if wall is None else _eave(index, takeoff, wall, pieces),
    )


def _eave(index: PlanIndex, takeoff: Takeoff, wall: Wall, pieces: list[Piece]) -> EaveSection | None:
    """The eave of a wall whose level top carries a roof that rises inward, and runs along it; none of any other wall."""
    along = wall.b[0] - wall.a[0], wall.b[1] - wall.a[1]
    if len({z for _, z in wall.top}) > 1:
        return None
    for plane in takeoff.building.roof:
        line = plane.b[0] - plane.a[0], plane.b[1] - plane.a[1]
        ahead, aside = along[0] * line[0] + along[1] * line[1], along[0] * line[1] - along[1] * line[0]
        if plane.id not in wall.under_roof or ahead <= 0 or abs(aside) * 10**6 > ahead or not plane.rise:
            continue
        thickness = index.plant.family(wall.family).thickness_nm
        bevelled = any(piece.head.long_face == "inside" for piece in pieces if piece.role == "wall_panel")
        return EaveSection(
            wall_nm=thickness,
            roof_nm=index.plant.family(plane.family).thickness_nm,
            rise=plane.rise,
            run=plane.run,
            rise_nm=Nm(round(Fraction(thickness * plane.rise, plane.run))),
            closed_by="bevel" if bevelled else index.plant.eave_fill,
        )
    return None


def _remarks(pieces: list[Piece]) -> tuple[Remark, ...]:
    """Return the notes of panels, and those that several parts share: said once, for the sheet's head."""
    found: dict[tuple[Role, str], list[str]] = {}
    count: Counter[Role] = Counter(piece.role for piece in pieces)
    for piece in pieces:
        for text in piece.notes:
            found.setdefault((piece.role, text), []).append(piece.mark)
    return tuple(
        Remark(note=text, role=role, marks=() if 1 < count[role] == len(marks) else tuple(marks))
        for (role, text), marks in found.items()
        if role in PANEL_ROLES or len(marks) > 1
    )


def _row(index: PlanIndex, piece: Piece, told: set[str]) -> StandingRow:
    bundle, from_top = index.places.get(piece.id, (None, 0))
    return StandingRow(
        stands=piece.stands,
        piece=piece.id,
        mark=piece.mark,
        role=piece.role,
        length_nm=piece.length_nm,
        weight_g=piece.weight_g,
        lift=index.plant.lift(piece.weight_g),
        bundle_name=short_name(bundle.id) if bundle else "",
        from_top=from_top,
        closing=piece.closing,
        field_head=any(cutout.field_head for cutout in piece.cutouts),
        notes=tuple(text for text in piece.notes if text not in told),
    )
