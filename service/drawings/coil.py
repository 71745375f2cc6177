"""A slitting pattern: strips across the coil, true to scale across, edge trim and offcut hatched."""

from __future__ import annotations

from collections.abc import Mapping

from service.drawings.board import Board
from service.drawings.figures import figure
from service.drawings.outlines import box
from service.drawings.shapes import At, Drawing, Hatch, Polygon
from solver.documents.texts import Language, say
from solver.domain.slit_plan import SlitJob, SlitPattern
from solver.units import Unit


def coil_pattern(
    pattern: SlitPattern,
    job: SlitJob,
    *,
    unit: Unit,
    room_pt: tuple[float, float] = (520.0, 110.0),
    language: Language = "en",
    size: float = 11.0,
    names: Mapping[str, str] | None = None,
) -> Drawing:
    """Return one pattern across the coil, widest strips first, with its run in words above."""
    board = Board(
        f"{say(language, 'coil')}: {say(language, 'run_for', length=figure(pattern.length_nm, unit))}",
        room_pt=(room_pt[0] - 12, room_pt[1]),
        size_nm=(job.coil_width_nm, 1),
        unit=unit,
    )
    high = board.nm(max(20.0, room_pt[1] - 6 * size))
    widths = {strip.id: strip.width_nm for strip in job.strips}
    trim = job.edge_trim_nm
    board.add(Polygon(points=box(0, 0, job.coil_width_nm, high), style="outline"))
    if trim:
        board.add(Hatch(points=box(0, 0, trim, high), gap_pt=4))
    at = float(trim)
    names_at: list[tuple[At, str]] = []
    for strip in sorted(pattern.strips, key=lambda name: (-widths[name], name)):
        for _ in range(pattern.strips[strip]):
            right = at + widths[strip]
            board.group(strip, [Polygon(points=box(at, 0, right, high), style="outline")], title=strip)
            room = (widths[strip] * board.scale - 3, high * board.scale - 3)
            board.letter(((at + right) / 2, high / 2), (names or {}).get(strip, strip), size=size, within=room, bold=True)
            names_at.append((((at + right) / 2, -board.nm(1.2 * size)), figure(widths[strip], unit)))
            at = right
    if at < job.coil_width_nm:
        board.add(Hatch(points=box(at, 0, job.coil_width_nm, high), gap_pt=4))
    board.row(names_at, size=size, below=True)
    low = min((taken[1] for taken in board.taken), default=0.0) / board.scale
    board.ruler(job.coil_width_nm, min(low, 0.0) - board.nm(6), size=size * 0.85)
    return board.done()
