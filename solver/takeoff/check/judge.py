"""The proof, whole: every rule in turn, every fault found."""

from __future__ import annotations

from solver.domain.building import Building
from solver.domain.plant import Plant
from solver.domain.report import Report
from solver.domain.takeoff import Takeoff
from solver.takeoff.check.bolts import check_bolts
from solver.takeoff.check.caps import check_caps
from solver.takeoff.check.faces import check_faces
from solver.takeoff.check.finding import Finding
from solver.takeoff.check.furring import check_furring
from solver.takeoff.check.inner import check_inner
from solver.takeoff.check.meetings import check_meetings
from solver.takeoff.check.names import check_names
from solver.takeoff.check.panels import check_panels
from solver.takeoff.check.revision import check_revision
from solver.takeoff.check.runs import check_runs, check_trims
from solver.takeoff.check.slopes import check_slopes
from solver.takeoff.check.solids import check_solids
from solver.takeoff.check.tops import check_tops


def check(building: Building, plant: Plant, takeoff: Takeoff, before: Takeoff | None = None) -> Report:
    """Return what was proved of a takeoff and every fault found: coverage, cuts, corners, runs, anchors, marks, solids.

    `before`: the takeoff that this one revises; what was kept of it is compared with it.
    """
    finding = Finding(building=building, plant=plant, takeoff=takeoff)
    known = (
        {wall.id for wall in building.walls} | {wall.id for wall in building.bearing} | {plane.id for plane in building.roof}
    )
    for piece in takeoff.pieces:
        finding.groups.setdefault(piece.group, []).append(piece)
        if piece.group not in known:
            finding.wrong(piece.mark, f"{piece.group!r} is no wall or roof plane of the building", "a group of the building")
    if takeoff.building != building:
        finding.wrong("building", "the takeoff is of another building", "the building that it is checked against")
    check_names(finding)
    check_faces(finding)
    check_panels(finding)
    check_slopes(finding)
    check_solids(finding)
    check_meetings(finding)
    check_tops(finding)
    check_runs(finding)
    check_caps(finding)
    check_trims(finding)
    check_bolts(finding)
    check_inner(finding)
    check_furring(finding)
    check_revision(finding, before)
    return Report(checked=tuple(finding.checked), faults=tuple(dict.fromkeys(finding.faults.found)))
