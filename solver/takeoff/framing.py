"""Interior bearing walls to members: track below and above, studs on centre, and a header on jack studs over each opening.

Positions run along the wall's centreline from its start. A header is two channels on edge, as deep as the wall is thick
(common practice, no source); what it may carry is the engineer of record's to say, and the pieces say so.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise

from solver.domain.building import BearingOpening, BearingWall, Building
from solver.domain.piece import Piece, Role
from solver.domain.plant import Plant, Profile
from solver.errors import FieldFault, NoPlan
from solver.takeoff.linear_runs import run_pieces
from solver.units import Nm, round_half_up

STEEL_KG_PER_M3 = 7850
ENGINEER = "header and bearing: as the engineer of record says"

Run = tuple[int, int]


def frame_bearing_walls(building: Building, plant: Plant) -> tuple[Piece, ...]:
    """Return the members of all interior bearing walls. Raises NoPlan with every wall that cannot be framed."""
    faults: list[FieldFault] = []
    pieces: list[Piece] = []
    for wall in building.bearing:
        try:
            pieces += _frame(wall, building, plant)
        except NoPlan as refusal:
            faults += refusal.faults
    if faults:
        raise NoPlan(*faults)
    return tuple(pieces)


def _frame(wall: BearingWall, building: Building, plant: Plant) -> Iterator[Piece]:
    stud = plant.profile(wall.family)
    track, header = _matching("track", stud, wall, plant), _matching("header", stud, wall, plant)
    sheet = sheet_thickness_nm(track)
    _check(wall, stud, header, sheet)

    def member(role: Role, profile: Profile, start: Run, end: Run, *notes: str) -> tuple[Piece, ...]:
        ends = (Nm(start[0]), Nm(start[1])), (Nm(end[0]), Nm(end[1]))
        return run_pieces(role, profile, *ends, building, group=wall.id, part=wall.level, notes=notes)

    gaps = sorted((opening.from_nm, opening.from_nm + opening.width_nm) for opening in wall.openings)
    for start, end in pairwise((0, *(edge for gap in gaps for edge in gap), wall.length_nm)):
        if (start, end) not in gaps and start < end:
            yield from member("track", track, (start, 0), (end, 0), "bottom track")
    yield from member("track", track, (0, wall.top_nm), (wall.length_nm, wall.top_nm), "top track")
    top = wall.top_nm - sheet
    for place in stud_places(wall, stud, plant.stud_spacing_nm):
        yield from member("stud", stud, (place, sheet), (place, top))
    for opening in wall.openings:
        left, right = opening.from_nm, opening.from_nm + opening.width_nm
        half = stud.flange_nm // 2
        for jack in (left - half, right + half):
            yield from member("stud", stud, (jack, sheet), (jack, opening.height_nm), "jack stud")
        head = (left - stud.flange_nm, opening.height_nm), (right + stud.flange_nm, opening.height_nm)
        for _ in range(2):
            yield from member("header", header, *head, ENGINEER)
        above = opening.height_nm + _depth(header)
        for cripple in _on_centre(wall.length_nm, stud, plant.stud_spacing_nm):
            if left <= cripple <= right and above < top:
                yield from member("stud", stud, (cripple, above), (cripple, top), "cripple stud")


def stud_places(wall: BearingWall, stud: Profile, spacing_nm: Nm) -> tuple[Nm, ...]:
    """Return where full-height studs stand: at both ends, on centre between, and a king stud beside each jack stud."""
    clear = 2 * stud.flange_nm
    spans = [(opening.from_nm - clear, opening.from_nm + opening.width_nm + clear) for opening in wall.openings]
    half = stud.flange_nm // 2
    regular = (
        place
        for place in _on_centre(wall.length_nm, stud, spacing_nm)
        if not any(low - half < place < high + half for low, high in spans)
    )
    kings = (place for low, high in spans for place in (low + half, high - half))
    places = sorted({*regular, *kings})
    gaps = {(low + half, high - half) for low, high in spans}
    between = (
        (left + right) // 2  # where the stud on centre would foul a king stud, one stands halfway
        for left, right in pairwise(places)
        if (left, right) not in gaps and right - left > spacing_nm
    )
    return tuple(Nm(place) for place in sorted({*places, *between}))


def _on_centre(length_nm: Nm, stud: Profile, spacing_nm: Nm) -> Iterator[int]:
    half = stud.flange_nm // 2
    yield half
    yield from range(spacing_nm, length_nm - stud.flange_nm, spacing_nm)
    yield length_nm - half


def _matching(use: str, stud: Profile, wall: BearingWall, plant: Plant) -> Profile:
    for profile in plant.profiles:
        if profile.use == use and profile.width_nm == stud.width_nm:
            return profile
    raise NoPlan(FieldFault(f"bearing_walls.{wall.id}", f"no {use} is as wide as {stud.id}", f"a {use} profile of that width"))


def _check(wall: BearingWall, stud: Profile, header: Profile, sheet: int) -> None:
    faults = []
    for opening in wall.openings:
        path = f"bearing_walls.{wall.id}.openings.{opening.id}"
        beside = min(opening.from_nm, wall.length_nm - opening.from_nm - opening.width_nm)
        if beside < 2 * stud.flange_nm or _crowded(opening, wall, stud):
            faults.append(
                FieldFault(path, "no room for a king and a jack stud beside it", "an opening further from the end or the next")
            )
        if opening.height_nm + _depth(header) > wall.top_nm - sheet:
            faults.append(FieldFault(path, "no room for a header over it", "a lower opening or a higher wall"))
    if faults:
        raise NoPlan(*faults)


def _crowded(opening: BearingOpening, wall: BearingWall, stud: Profile) -> bool:
    return any(
        opening.from_nm <= other.from_nm < opening.from_nm + opening.width_nm + 4 * stud.flange_nm
        for other in wall.openings
        if other is not opening
    )


def _depth(header: Profile) -> int:
    return header.width_nm or header.blank_nm


def sheet_thickness_nm(profile: Profile) -> int:
    """Return the thickness of a profile's sheet, from its mass as steel of 7,850 kg/m3."""
    return round_half_up(Fraction(profile.mg_per_m2 * 1000, STEEL_KG_PER_M3))
