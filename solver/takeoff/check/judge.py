"""The proof, whole: every rule in turn, every fault found."""

from __future__ import annotations

from solver.domain.building import Building
from solver.domain.plant import Plant
from solver.domain.report import Report
from solver.domain.takeoff import Takeoff
from solver.takeoff.check.bolts import check_bolts
from solver.takeoff.check.caps import check_caps
from solver.takeoff.check.faces import check_faces
from solver.takeoff.check.furring import check_furring
from solver.takeoff.check.hardware import check_hardware
from solver.takeoff.check.hips_and_valleys import check_hips_and_valleys
from solver.takeoff.check.interior import check_interior
from solver.takeoff.check.marks_and_order import check_marks_and_order
from solver.takeoff.check.panels import check_panels
from solver.takeoff.check.proof import TakeoffProof
from solver.takeoff.check.revision import check_revision
from solver.takeoff.check.runs import check_runs, check_trims
from solver.takeoff.check.slopes import check_slopes
from solver.takeoff.check.solids import check_solids
from solver.takeoff.check.standing import check_standing
from solver.takeoff.check.tops import check_tops


def check(building: Building, plant: Plant, takeoff: Takeoff, before: Takeoff | None = None) -> Report:
    """Return what was proved of a takeoff and every fault found: coverage, cuts, corners, runs, anchors, marks, solids.

    `before`: the takeoff that this one revises; what was kept of it is compared with it.
    """
    proof = TakeoffProof(building=building, plant=plant, takeoff=takeoff)
    known = (
        {wall.id for wall in building.walls} | {wall.id for wall in building.bearing} | {plane.id for plane in building.roof}
    )
    for piece in takeoff.pieces:
        proof.groups.setdefault(piece.group, []).append(piece)
        if piece.group not in known:
            proof.add_fault(piece.mark, f"{piece.group!r} is no wall or roof plane of the building", "a group of the building")
    if takeoff.building != building:
        proof.add_fault("building", "the takeoff is of another building", "the building that it is checked against")
    check_marks_and_order(proof)
    check_standing(proof)
    check_faces(proof)
    check_panels(proof)
    check_slopes(proof)
    check_solids(proof)
    check_hips_and_valleys(proof)
    check_tops(proof)
    check_runs(proof)
    check_caps(proof)
    check_trims(proof)
    check_bolts(proof)
    check_interior(proof)
    check_hardware(proof)
    check_furring(proof)
    check_revision(proof, before)
    return Report(checked=tuple(proof.checked), faults=tuple(dict.fromkeys(proof.faults.found)))
