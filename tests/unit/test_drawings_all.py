"""Drawings of whole plans: nothing lettered twice in one place, true to scale, the same on screen and paper."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from io import BytesIO
from xml.etree import ElementTree

import pytest

from service.drawings.bar import bar_drawing, cut_lines
from service.drawings.board import DrawingBoard
from service.drawings.coil import coil_pattern_drawing
from service.drawings.deck import deck_plan_drawing, deck_side_drawing
from service.drawings.elevation import elevation_drawing, elevation_strips, roof_plane_drawing
from service.drawings.expand_shapes import expand_hatch, expand_shapes, overlapping_texts, tag_size, text_bounding_box
from service.drawings.outlines import arc_points, opening_outline
from service.drawings.paper import draw_on_canvas
from service.drawings.piece import piece_drawing, piece_sketch
from service.drawings.plans import anchor_plan_drawing
from service.drawings.shapes import Circle, Dimension, Drawing, Group, Hatch, Line, Polygon, Tag, Text
from service.drawings.stack import stack_end_drawing, stack_side_drawing
from service.drawings.svg import to_svg
from service.printing.sheet_pages import open_canvas
from solver.documents.anchors import anchor_sheets
from solver.documents.index import PlanIndex
from solver.documents.saw import saw_sheets
from solver.domain.building import Head, Opening, Wall
from solver.domain.ids import short_name
from solver.domain.slit_plan import SlitJob, SlitPattern, StripWanted
from solver.units import INCH, MM, Nm, Unit
from tests.orders import DEMOS, plant
from tests.paper import page_text
from tests.samples import demo_plan, panel
from tests.stress import stress_plan


def index_of(name: str, unit: Unit = "in") -> PlanIndex:
    return PlanIndex(demo_plan(name, unit), plant(unit))


def drawings(name: str, unit: Unit) -> Iterator[Drawing]:
    """Every drawing of a demo order."""
    index = index_of(name, unit)
    for takeoff in index.plan.takeoffs:
        for wall in takeoff.building.walls:
            yield elevation_drawing(wall, takeoff.pieces, unit=unit)
        for plane in takeoff.building.roof:
            yield roof_plane_drawing(plane, takeoff.pieces, unit=unit)
        for bolts in anchor_sheets(index):
            yield anchor_plan_drawing(bolts, unit=unit)
        for piece in takeoff.pieces:
            yield piece_sketch(piece, room_pt=(260, 120), unit=unit)
            yield piece_drawing(piece, unit=unit)
    for sheet in saw_sheets(index):
        for row in sheet.bars:
            marks = {str(one.piece): one.mark for one in row.pieces}
            yield bar_drawing(row.bar, width_nm=row.width_nm, marks=marks, unit=unit, keep_from_nm=row.keep_from_nm)
    dunnage = (index.plant.bundle.dunnage_nm, index.plant.bundle.dunnage_width_nm)
    for bundle in index.bundles.values():
        marks = {str(lay.piece): short_name(lay.piece) for lay in bundle.pieces}
        yield stack_side_drawing(bundle, index.stack_pieces, marks=marks, dunnage=dunnage, unit=unit)
        yield stack_end_drawing(bundle, index.stack_pieces, dunnage=dunnage, unit=unit)
    for part in index.plan.loads:
        known = {str(one.id): one for one in part.job.bundles}
        names = {name: short_name(name) for name in known}
        for load in part.result.loads:
            deck = next(deck for deck in part.job.decks if deck.id == load.deck)
            yield deck_side_drawing(load, deck, known, names=names, unit=unit)
            yield deck_plan_drawing(load, deck, known, names=names, unit=unit)


@pytest.mark.parametrize(("name", "unit"), [*((name, "in") for name in DEMOS), ("workshop-3", "mm")])
def test_lettering_never_overlaps_in_any_drawing_of_a_demo_order(name: str, unit: Unit) -> None:
    count = 0
    for drawing in drawings(name, unit):
        assert overlapping_texts(drawing) == [], drawing.title
        count += 1
    assert count > 100


def test_overlaps_are_noticed() -> None:
    texts = (Text(at=(0, 0), text="abc"), Text(at=(5, 3), text="def"))
    drawing = Drawing(title="t", left=-50, bottom=-50, right=50, top=50, scale=1.0, shapes=texts)
    assert overlapping_texts(drawing) == [("abc", "def")]


@pytest.mark.parametrize("name", DEMOS)
def test_svg_is_well_formed_and_says_what_it_shows(name: str) -> None:
    for drawing in list(drawings(name, "in"))[::5]:
        for standalone in (False, True):
            root = ElementTree.fromstring(to_svg(drawing, standalone=standalone))
            assert root.get("role") == "img"
            assert root.get("aria-label") == drawing.title
            view = [float(part) for part in root.get("viewBox", "").split()]
            assert view[2] / view[3] == pytest.approx(drawing.width_pt / drawing.height_pt, rel=1e-3)


def test_svg_takes_its_colours_from_the_page_and_knows_the_night() -> None:
    drawing = piece_sketch(panel(), room_pt=(100, 100), unit="in")
    alone = to_svg(drawing, standalone=True)
    assert "prefers-color-scheme:dark" in alone
    assert "var(--ink" in alone
    inside = to_svg(drawing)
    assert "<style>" not in inside
    assert "#" not in inside  # no colour of its own


def test_svg_escapes_names() -> None:
    board = DrawingBoard("<a> & 'b'", room_pt=(100, 100), size_nm=(1000, 1000), unit="mm")
    board.group('"x"', [Text(at=(0, 0), text="<script>&")], title="<t>")
    markup = to_svg(board.done())
    assert "<script>" not in markup
    assert ElementTree.fromstring(markup).find(".//{*}title") is not None


def test_a_fraction_is_set_raised_and_lowered_in_svg() -> None:
    board = DrawingBoard("t", room_pt=(100, 100), size_nm=(1000, 1000), unit="in")
    board.add(Text(at=(0, 0), text="12' 6 1/2\"", size=10))
    markup = to_svg(board.done())
    assert "12′ 6" in re.sub(r"<[^>]+>", "", markup)
    lifts = [float(found) for found in re.findall(r'dy="(-?[\d.]+)"', markup)]
    assert lifts[0] < 0
    assert sum(lifts) == pytest.approx(0)


def test_elevation_is_true_to_scale_both_ways() -> None:
    index = index_of("cottage-7")
    building = index.plan.takeoffs[0].building
    wall = building.walls[0]
    drawing = elevation_drawing(wall, index.plan.takeoffs[0].pieces, unit="in")
    groups = {shape.name: shape for shape in drawing.shapes if isinstance(shape, Group)}
    for piece in index.plan.takeoffs[0].pieces:
        if piece.group == wall.id and piece.role == "wall_panel":
            shape = groups[piece.id].shapes[0]
            assert isinstance(shape, Polygon)
            assert shape.points == piece.outline
    ratio = drawing.width_pt / (drawing.right - drawing.left)
    assert ratio == pytest.approx(drawing.height_pt / (drawing.top - drawing.bottom))


def test_an_angled_cut_leans_as_the_bar_says_and_every_cut_is_drawn() -> None:
    index = index_of("cottage-7")
    leaning = 0
    for sheet in saw_sheets(index):
        for row in sheet.bars:
            marks = {str(one.piece): one.mark for one in row.pieces}
            shown = bar_drawing(
                row.bar, width_nm=row.width_nm, marks=marks, unit="in", cuts=[(cut.near_nm, cut.far_nm) for cut in row.cuts]
            )
            lines = [shape for shape in shown.shapes if isinstance(shape, Line) and shape.style == "cut"]
            assert len(lines) == len(row.cuts)
            for line, cut in zip(lines, row.cuts, strict=True):
                lean = line.b[0] - line.a[0]
                assert math.copysign(1, lean) == math.copysign(1, cut.lean_udeg) or not cut.lean_udeg
                leaning += bool(cut.lean_udeg)
            untilted = not any(cut.tilt_udeg for cut in row.cuts)
            assert len(cut_lines(row.bar)) == len(row.cuts) if untilted else len(cut_lines(row.bar)) <= len(row.cuts)
    assert leaning > 10


def test_hatching_stays_inside_its_outline() -> None:
    ell = ((0.0, 0.0), (60.0, 0.0), (60.0, 20.0), (20.0, 20.0), (20.0, 60.0), (0.0, 60.0))
    lines = [line for line in expand_hatch(Hatch(points=ell, gap_pt=3), 1.0) if isinstance(line, Line)]
    assert len(lines) > 15
    for line in lines:
        for part in (0.01, 0.5, 0.99):
            x = line.a[0] + (line.b[0] - line.a[0]) * part
            y = line.a[1] + (line.b[1] - line.a[1]) * part
            assert (0 <= x <= 60 and 0 <= y <= 20) or (0 <= x <= 20 and 0 <= y <= 60)


def test_a_dimension_reads_from_below_or_from_the_right() -> None:
    for a, b in (((0, 0), (100, 0)), ((100, 0), (0, 0)), ((0, 0), (0, 100)), ((0, 100), (0, 0)), ((0, 0), (50, -80))):
        shape = Dimension(a=a, b=b, text="9' 0\"", offset_pt=10)
        figures = [one for one in expand_shapes((shape,), 1.0) if isinstance(one, Text)]
        assert len(figures) == 1
        assert -90 < figures[0].angle <= 90


def test_an_arched_head_reaches_its_rise_and_keeps_its_springing() -> None:
    points = arc_points(48 * INCH, 0, 24 * INCH, 24 * INCH)
    assert points[0] == pytest.approx((48 * INCH, 24 * INCH))
    assert points[-1] == pytest.approx((0, 24 * INCH))
    assert max(y for _, y in points) == pytest.approx(48 * INCH)
    low = arc_points(48 * INCH, 0, 40 * INCH, 8 * INCH)
    radius = (24**2 + 8**2) / 16 * INCH  # a circle through both springings and the crown
    for x, y in low:
        assert math.hypot(x - 24 * INCH, y - (48 * INCH - radius)) == pytest.approx(radius)


@pytest.mark.parametrize("kind", ["arch", "trapezoid", "round"])
def test_odd_heads_are_drawn_within_the_opening(kind: str) -> None:
    head = Head(
        kind="arch" if kind == "arch" else "trapezoid" if kind == "trapezoid" else "round",
        rise_nm=Nm(300 * MM),
        left_nm=Nm(800 * MM),
        right_nm=Nm(1200 * MM),
    )
    opening = Opening(
        id="o", kind="window", u0_nm=Nm(0), u1_nm=Nm(1200 * MM), z0_nm=Nm(900 * MM), z1_nm=Nm(2100 * MM), head=head
    )
    points = opening_outline(opening)
    assert min(x for x, _ in points) == pytest.approx(0, abs=1)
    assert max(x for x, _ in points) == pytest.approx(1200 * MM)
    assert max(y for _, y in points) == pytest.approx(2100 * MM)


def test_the_scale_along_the_edge_ends_at_the_length() -> None:
    for length in (37 * 12 * INCH, 5 * INCH, 40 * 12 * INCH):
        board = DrawingBoard("t", room_pt=(500, 100), size_nm=(length, 1), unit="in")
        board.draw_ruler(length, 0)
        figures = [shape for shape in board.shapes if isinstance(shape, Text)]
        assert figures[0].text == "0"
        assert figures[-1].at[0] == pytest.approx(length)
        assert overlapping_texts(board.done()) == []


def test_a_coil_pattern_is_true_across_the_coil() -> None:
    strips = (
        StripWanted(id="base", width_nm=Nm(203 * MM), length_nm=Nm(480_000 * MM)),
        StripWanted(id="cap", width_nm=Nm(40 * MM), length_nm=Nm(480_000 * MM)),
    )
    job = SlitJob(unit="mm", coil_width_nm=Nm(1250 * MM), edge_trim_nm=Nm(5 * MM), strips=strips)
    drawing = coil_pattern_drawing(SlitPattern(strips={"base": 5, "cap": 4}, length_nm=Nm(96_000 * MM)), job, unit="mm")
    groups = [shape for shape in drawing.shapes if isinstance(shape, Group)]
    assert [group.name for group in groups] == ["base"] * 5 + ["cap"] * 4
    last = groups[-1].shapes[0]
    assert isinstance(last, Polygon)
    assert max(x for x, _ in last.points) == (5 + 5 * 203 + 4 * 40) * MM
    assert overlapping_texts(drawing) == []


def test_paper_and_screen_show_the_same_lettering() -> None:
    drawing = piece_drawing(panel(cutouts=((6 * INCH, 30 * INCH, 40 * INCH, 60 * INCH),)), unit="mm")
    buffer = BytesIO()
    canvas = open_canvas(buffer, (700, 700), title="t")
    draw_on_canvas(canvas, drawing, 20, 20)
    canvas.showPage()
    canvas.save()
    words = page_text(buffer.getvalue())
    for shape in expand_shapes(drawing.shapes, drawing.scale):
        if isinstance(shape, Text):
            assert shape.text in words
            assert shape.text in re.sub(r"<[^>]+>", "", to_svg(drawing))


def test_a_long_mark_is_led_out_of_a_narrow_piece() -> None:
    board = DrawingBoard("t", room_pt=(200, 100), size_nm=(200, 100), unit="mm")
    board.set_body((0, 0, 200, 100))
    board.tag((5, 50), "L1.S-03", within=(8, 12))
    text = next(shape for shape in expand_shapes(board.shapes, board.scale) if isinstance(shape, Text))
    left, low, right, high = text_bounding_box(text, board.scale)
    assert right <= 0 or left >= 200 * board.scale or low >= 100 * board.scale or high <= 0
    assert any(isinstance(shape, Line) for shape in board.shapes)


@pytest.mark.parametrize("name", DEMOS)
def test_no_tag_stands_on_an_opening_and_each_points_at_its_own_panel(name: str) -> None:
    takeoff = index_of(name).plan.takeoffs[0]
    for wall in takeoff.building.walls:
        drawing = elevation_drawing(wall, takeoff.pieces, unit="in")
        panels = {piece.mark: piece for piece in takeoff.pieces if piece.group == wall.id and piece.role == "wall_panel"}
        tags = [shape for shape in drawing.shapes if isinstance(shape, Tag)]
        assert {tag.mark for tag in tags} == set(panels)
        leads = [shape for shape in drawing.shapes if isinstance(shape, Circle) and shape.style == "solid"]
        for tag in tags:
            wide, high = (side / drawing.scale / 2 for side in tag_size(tag)[:: 1 if tag.angle == 0 else -1])
            (x, y), shape = tag.at, panels[tag.mark].outline
            for opening in wall.openings:
                apart = opening.u0_nm >= x + wide or opening.u1_nm <= x - wide or opening.z0_nm >= y + high
                assert apart or opening.z1_nm <= y - high, (tag.mark, opening.id)
            own = [tag.at, *(lead.at for lead in leads)]
            assert any(min(u for u, _ in shape) <= at[0] <= max(u for u, _ in shape) for at in own), tag.mark


def test_a_long_wall_is_drawn_in_strips_that_show_each_panel_once() -> None:
    takeoff = stress_plan("many", "in").takeoffs[0]
    wall = max(takeoff.building.walls, key=lambda one: one.length_nm)
    parts = elevation_strips(wall, takeoff.pieces)
    assert len(parts) > 3
    assert parts[0][0] == 0
    assert parts[-1][1] == wall.length_nm
    assert [a[1] for a in parts[:-1]] == [b[0] for b in parts[1:]]
    joints = {min(u for u, _ in piece.outline) for piece in takeoff.pieces if piece.role == "wall_panel"}
    assert {a for a, _ in parts} <= joints
    shown: list[str] = []
    windows: list[str] = []
    for part in parts:
        drawing = elevation_drawing(wall, takeoff.pieces, unit="in", between=part)
        assert overlapping_texts(drawing) == []
        shown += [shape.mark for shape in drawing.shapes if isinstance(shape, Tag)]
        windows += [shape.name for shape in drawing.shapes if isinstance(shape, Group) and shape.name in ids_of(wall)]
    assert sorted(shown) == sorted(p.mark for p in takeoff.pieces if p.group == wall.id and p.role == "wall_panel")
    assert sorted(windows) == sorted(ids_of(wall))


def ids_of(wall: Wall) -> set[str]:
    return {opening.id for opening in wall.openings}


def test_a_short_wall_is_one_drawing() -> None:
    takeoff = index_of("cottage-7").plan.takeoffs[0]
    assert all(elevation_strips(wall, takeoff.pieces) == [] for wall in takeoff.building.walls)
