"""Full-scale templates of odd heads as PDF: figures and a map first, then tiles to tape together at their register marks."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from service.drawings.board import PAPER_NM
from service.drawings.figures import length_figure
from service.drawings.outlines import box_corners
from service.drawings.paper import draw_on_canvas, draw_text_on_canvas
from service.drawings.shapes import At, Circle, Drawing, Line, Polygon, Polyline, Shape, Tag
from service.drawings.template import (
    OVERLAP_NM,
    TemplateLine,
    Tile,
    clip_to_tile,
    register_marks,
    template_lines,
    template_tiles,
    tile_name,
)
from service.printing.sheet_pages import BODY, Column, SheetPages, SheetSetting
from solver.documents.texts import say
from solver.domain.document import HeadTemplate
from solver.units import INCH, MM, show_length

FULL_SCALE = 1 / PAPER_NM  # points for a nanometre
BAND_PT = 66.0  # above a tile: which it is, and the bar to check the print by
MARK_NM = 4.0 * MM


def templates_pdf(rows: Iterable[HeadTemplate], setting: SheetSetting) -> bytes:
    """Return the templates, each in its order's unit, with its page of figures and then its tiles, row by row from the top."""
    pages = SheetPages(say(setting.language, "template_sheet"), setting, full_scale=True)
    for row in rows:
        lines = template_lines(row)
        window = (pages.room * PAPER_NM, (pages.height - 66.0 - BAND_PT - pages.bottom) * PAPER_NM)
        cut = template_tiles(lines, window)
        places = ", ".join(f"{group} {opening}" for group, opening in row.places)
        subject = f"{row.order}  ·  {places}"
        _figures(pages, row, lines, cut, subject, places)
        for tile in cut:
            pages.page(subject, row.unit)
            _tile(pages, lines, tile, cut)
    return pages.pdf()


def _figures(
    pages: SheetPages,
    row: HeadTemplate,
    lines: Sequence[TemplateLine],
    cut: Sequence[Tile],
    subject: str,
    places: str,
) -> None:
    unit = row.unit
    pages.page(subject, unit)
    pages.heading(f"{pages.say('head_' + row.head.kind)}: {places}", keep=0)
    facts = [f"{pages.say('width')} {show_length(row.width_nm, unit)}"]
    if row.head.kind != "round":
        facts.append(pages.say("rises", height=show_length(row.height_nm, unit)))
    if row.radius_nm is not None:
        facts.append(pages.say("radius", radius=show_length(row.radius_nm, unit)))
    pages.text("  ·  ".join(facts), bold=True)
    pages.gap(4)
    pages.caution([pages.say("caution_template"), pages.say("caution_field_cut")])
    for step in ("template_print", "template_tape", "template_use"):
        pages.text(pages.say(step))
    pages.gap()
    pages.heading(pages.say("template_map", n=len(cut)))
    pages.drawing(page_map(pages.say("template_map", n=len(cut)), lines, cut, room_pt=(pages.room, 230.0)), most_pt=240.0)
    if row.ordinates:
        pages.heading(pages.say("ordinates"))
        up = pages.say("up_from_centre" if row.head.kind == "round" else "up_from_spring")
        pages.table(
            (
                Column(title=pages.say("out_from_centre"), share=30, anchor="end", bold=True),
                Column(title=up, share=30, anchor="end", bold=True),
                Column(title="", share=40),
            ),
            [(length_figure(ordinate.out_nm, unit), length_figure(ordinate.up_nm, unit), "") for ordinate in row.ordinates],
        )


def page_map(title: str, lines: Sequence[TemplateLine], cut: Sequence[Tile], *, room_pt: tuple[float, float]) -> Drawing:
    """Return the template in small with its tiles by name."""
    left, right = min(tile.left for tile in cut), max(tile.right for tile in cut)
    bottom, top = min(tile.bottom for tile in cut), max(tile.top for tile in cut)
    scale = min(room_pt[0] / (right - left), room_pt[1] / (top - bottom))
    half = OVERLAP_NM / 2
    shapes: list[Shape] = []
    for tile in cut:
        shapes.append(
            Polygon(points=box_corners(tile.left + half, tile.bottom + half, tile.right - half, tile.top - half), style="gone")
        )
    shapes += [Polyline(points=line.points, style=line.style) for line in lines]
    shapes += [Tag(at=_middle(tile), mark=tile.name, size=min(BODY, 0.3 * (tile.right - tile.left) * scale)) for tile in cut]
    edge = 3 / scale
    return Drawing(
        title=title,
        left=left - edge,
        bottom=bottom - edge,
        right=right + edge,
        top=top + edge,
        scale=scale,
        shapes=tuple(shapes),
    )


def _middle(tile: Tile) -> At:
    return (tile.left + tile.right) / 2, (tile.bottom + tile.top) / 2


def tile_drawing(lines: Sequence[TemplateLine], tile: Tile, cut: Sequence[Tile]) -> Drawing:
    """Return what a tile shows, at full scale, with its register marks."""
    shapes: list[Shape] = [
        Polyline(points=run, style=line.style) for line in reversed(lines) for run in clip_to_tile(line.points, tile)
    ]
    for x, y in register_marks(tile, cut):
        shapes += [
            Line(a=(x - MARK_NM, y), b=(x + MARK_NM, y), style="edge"),
            Line(a=(x, y - MARK_NM), b=(x, y + MARK_NM), style="edge"),
            Circle(at=(x, y), radius_nm=MARK_NM / 2, style="thin"),
        ]
    return Drawing(
        title=tile.name,
        left=tile.left,
        bottom=tile.bottom,
        right=tile.right,
        top=tile.top,
        scale=FULL_SCALE,
        shapes=tuple(shapes),
    )


def _tile(pages: SheetPages, lines: Sequence[TemplateLine], tile: Tile, cut: Sequence[Tile]) -> None:
    names = {(one.column, one.row) for one in cut}
    joins = [
        f"{pages.say(key)} {tile_name(tile.column + dx, tile.row + dy)}"
        for key, dx, dy in (("join_left", -1, 0), ("join_right", 1, 0), ("join_above", 0, -1), ("join_below", 0, 1))
        if (tile.column + dx, tile.row + dy) in names
    ]
    pages.heading("  ·  ".join([pages.say("tile", name=tile.name), *joins]), size=13, keep=0)
    _check_bar(pages)
    drawing, x, y = tile_drawing(lines, tile, cut), pages.left, pages.bottom
    pages.add(lambda canvas: draw_on_canvas(canvas, drawing, x, y))


def _check_bar(pages: SheetPages) -> None:
    """Set a bar of 4 in above and 100 mm below, at full scale, and the words to measure it."""
    x, y = pages.left + 1, pages.y - 14
    words = pages.say("check_bar")

    def mark(canvas: Any) -> None:
        canvas.setLineWidth(0.8)
        canvas.setStrokeGray(0)
        canvas.setDash()
        canvas.line(x, y, x + 4 * INCH * FULL_SCALE, y)
        for n in range(5):
            canvas.line(x + n * INCH * FULL_SCALE, y, x + n * INCH * FULL_SCALE, y + 8)
        for n in range(11):
            canvas.line(x + n * 10 * MM * FULL_SCALE, y, x + n * 10 * MM * FULL_SCALE, y - (8 if n % 5 == 0 else 5))
        draw_text_on_canvas(canvas, x + 4 * INCH * FULL_SCALE + 6, y + 1, "4 in", BODY)
        draw_text_on_canvas(canvas, x + 4 * INCH * FULL_SCALE + 6, y - 11, "100 mm", BODY)
        draw_text_on_canvas(canvas, x + 4 * INCH * FULL_SCALE + 58, y - 5, words, BODY, bold=True)

    pages.add(mark)
