"""A slitting pattern: strips across the coil, true to scale across, edge trim and offcut hatched."""

from __future__ import annotations

from collections.abc import Mapping

from service.drawings.board import DrawingBoard
from service.drawings.figures import length_figure
from service.drawings.lettering import text_width
from service.drawings.outlines import box_corners
from service.drawings.shapes import At, Drawing, Hatch, Polygon
from solver.documents.texts import say
from solver.domain.slit_plan import SlitJob, SlitPattern
from solver.language import ENGLISH, Language
from solver.units import Unit


def coil_pattern_drawing(
    pattern: SlitPattern,
    job: SlitJob,
    *,
    unit: Unit,
    room_pt: tuple[float, float] = (520.0, 110.0),
    language: Language = ENGLISH,
    size: float = 11.0,
    names: Mapping[str, str] | None = None,
) -> Drawing:
    """Return one pattern across the coil, widest strips first, with its run in words above."""
    board = DrawingBoard(
        f"{say(language, 'coil')}: {say(language, 'run_for', length=length_figure(pattern.length_nm, unit))}",
        room_pt=(room_pt[0] - 12, room_pt[1]),
        size_nm=(job.coil_width_nm, 1),
        unit=unit,
    )
    high = board.nm(max(20.0, room_pt[1] - 6 * size))
    widths = {strip.id: strip.width_nm for strip in job.strips}
    trim = job.edge_trim_nm
    board.add(Polygon(points=box_corners(0, 0, job.coil_width_nm, high), style="outline"))
    if trim:
        board.add(Hatch(points=box_corners(0, 0, trim, high), gap_pt=4))
    board.set_body((0.0, 0.0, job.coil_width_nm, high))
    at = float(trim)
    board.leads = ((0, 1), (1, 1), (-1, 1))
    widths_at: list[tuple[At, str]] = []
    for strip in sorted(pattern.strips, key=lambda name: (-widths[name], name)):
        count, first, wide = pattern.strips[strip], at, widths[strip]
        for _ in range(count):
            board.group(strip, [Polygon(points=box_corners(at, 0, at + wide, high), style="outline")], title=strip)
            at += wide
        room = (wide * board.scale - 3, high * board.scale - 3)
        name, size_of = (names or {}).get(strip, strip), length_figure(wide, unit)
        alone = max(text_width(name, bold=True), text_width(size_of)) * size <= room[0]
        middles = [first + wide * (n + 0.5) for n in range(count)] if alone else [(first + at) / 2]
        for middle in middles if count else ():
            text = name if alone or count == 1 else f"{count} × {name}"
            board.letter_centred((middle, high / 2), text, size=size, within=room if alone else (0, 0), bold=True)
            below = size_of if alone or count == 1 else f"{count} × {size_of}"
            widths_at.append(((middle, -board.nm(1.2 * size)), below))
    if at < job.coil_width_nm:
        board.add(Hatch(points=box_corners(at, 0, job.coil_width_nm, high), gap_pt=4))
    board.add_text_row(widths_at, size=size, below=True)
    low = min((taken[1] for taken in board.taken), default=0.0) / board.scale
    board.draw_ruler(job.coil_width_nm, min(low, 0.0) - board.nm(6), size=size * 0.85)
    return board.done()
