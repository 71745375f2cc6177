"""Rows for the site: installation sheets by elevation and roof plane."""

from __future__ import annotations

from collections import Counter

from solver.documents.index import PlanIndex, short_name
from solver.documents.lists import by_item
from solver.domain.document import InstallationSheet, Remark, StandingRow
from solver.domain.piece import PANEL_ROLES, Piece, Role
from solver.domain.takeoff import Takeoff


def installation_sheets(index: PlanIndex) -> tuple[InstallationSheet, ...]:
    """Return a sheet for every wall, roof plane and bearing wall that has pieces, in order of first standing."""
    return tuple(sheet for takeoff in index.plan.takeoffs for sheet in _sheets(index, takeoff))


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
        group=group,
        wall=wall,
        plane=plane,
        pieces=tuple(pieces),
        rows=tuple(_row(index, piece, told) for piece in pieces),
        hardware=by_item(line for line in takeoff.hardware if line.group == group),
        film_days=index.plant.film_days,
        remarks=remarks,
        warnings=warnings,
        broken=tuple(rule for rule in takeoff.broken if rule.where in here or rule.where.split()[0] == group),
    )


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
        crew=index.plant.crew(piece.weight_g),
        bundle_name=short_name(bundle.id) if bundle else "",
        from_top=from_top,
        closing=piece.closing,
        field_head=any(cutout.field_head for cutout in piece.cutouts),
        notes=tuple(text for text in piece.notes if text not in told),
    )
