"""Full-scale templates measured on the paper: tiles laid on their register marks give the head as ordered."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from functools import cache
from itertools import pairwise

import pytest

from service.drawings.template import SAG_NM, Tile, clip_to_tile, template_lines, tile_name
from service.printing.sheet_pages import PAPERS_PT
from service.printing.sheet_pages import Paper as PaperSize
from service.printing.sheets import PlanSheets
from solver.documents.index import PlanIndex
from solver.documents.templates import head_templates
from solver.domain.document import HeadTemplate
from solver.reading.read_order import read_order
from solver.units import MM, Unit
from tests.languages import ENGLISH, LANGUAGES, Language
from tests.orders import box, plant, with_odd_heads
from tests.paper import Path, page_count, page_size, page_text, spoiled_places, stroked_paths
from tests.samples import plan_of

TENTH_MM = 0.1  # what a template may be off at most
Spot = tuple[float, float]


@cache
def papers(unit: Unit = "mm", paper: PaperSize = "A4") -> PlanSheets:
    building = replace(read_order(with_odd_heads(box()), plant()), unit=unit)
    return PlanSheets(plan_of(building), plant(), made="2031-05-05 06:00", paper=paper)


@cache
def templates(paper: PaperSize) -> bytes:
    return papers("mm", paper).templates()


def rows() -> dict[str, HeadTemplate]:
    return {row.places[0][1]: row for row in head_templates(papers().index)}


def middle(path: Path) -> Spot:
    xs, ys = [x for x, _ in path.points], [y for _, y in path.points]
    return (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2


def laid_together(pdf: bytes, opening: str) -> list[list[Spot]]:
    """Return the heavy lines of one template's tiles, moved so that their register marks meet, in millimetres."""
    pages = [n for n in range(page_count(pdf)) if re.search(rf"\b{opening}\b", page_text(pdf, n))]
    tiles: dict[str, int] = {}
    joins: dict[str, dict[str, str]] = {}
    for page in pages:
        words = re.search(r"Tile ([A-Z]+\d+)(.*)", page_text(pdf, page))
        if words:
            tiles[words[1]] = page
            joins[words[1]] = dict(re.findall(r"(left|right|above|below) ([A-Z]+\d+)", words[2]))
    marks = {name: [middle(path) for path in stroked_paths(pdf, page) if path.curved] for name, page in tiles.items()}
    first = next(iter(tiles))
    offsets: dict[str, Spot] = {first: (0.0, 0.0)}
    waiting = [first]
    while waiting:
        one = waiting.pop()
        for side, other in joins[one].items():
            along, against = (0, side == "right") if side in ("left", "right") else (1, side == "above")
            mine = sorted(marks[one], key=lambda at: at[along], reverse=bool(against))[:2]
            theirs = sorted(marks[other], key=lambda at: at[along], reverse=not against)[:2]
            across = 1 - along
            moves = [
                (a[0] + offsets[one][0] - b[0], a[1] + offsets[one][1] - b[1])
                for a, b in zip(sorted(mine, key=lambda at: at[across]), sorted(theirs, key=lambda at: at[across]), strict=True)
            ]
            assert moves[0] == pytest.approx(moves[1], abs=0.01)  # both marks of a side meet
            if other in offsets:
                assert offsets[other] == pytest.approx(moves[0], abs=0.05)  # round any loop of tiles
            else:
                offsets[other] = moves[0]
                waiting.append(other)
    assert set(offsets) == set(tiles)
    found = []
    for name, page in tiles.items():
        dx, dy = offsets[name]
        for path in stroked_paths(pdf, page):
            under_the_head = path.points[0][1] < page_size(pdf, page)[1] / 72 * 25.4 - 25
            if under_the_head and path.pen_pt == pytest.approx(1.4, abs=0.01) and not path.dashed and not path.curved:
                if len(path.points) == 2 and middle(path) in [pytest.approx(at, abs=0.05) for at in marks[name]]:
                    continue  # a register mark's cross
                found.append([(x + dx, y + dy) for x, y in path.points])
    return found


def spans(lines: list[list[Spot]]) -> tuple[Spot, Spot]:
    points = [point for line in lines for point in line]
    low = min(x for x, _ in points), min(y for _, y in points)
    return low, (max(x for x, _ in points) - low[0], max(y for _, y in points) - low[1])


@pytest.mark.parametrize("paper", sorted(PAPERS_PT))
def test_an_arch_measures_its_width_rise_and_radius_on_the_paper(paper: PaperSize) -> None:
    lines = laid_together(templates(paper), "arch1")
    (left, low), (wide, high) = spans(lines)
    assert wide == pytest.approx(1500, abs=TENTH_MM)
    assert high == pytest.approx(500, abs=TENTH_MM)
    radius = (750**2 + 500**2) / 1000
    centre = (left + 750, low + 500 - radius)
    for line in lines:
        for x, y in line:
            assert math.hypot(x - centre[0], y - centre[1]) == pytest.approx(radius, abs=TENTH_MM)


@pytest.mark.parametrize("paper", sorted(PAPERS_PT))
def test_a_round_opening_measures_its_diameter_all_round(paper: PaperSize) -> None:
    lines = laid_together(templates(paper), "moon")
    (left, low), (wide, high) = spans(lines)
    assert (wide, high) == pytest.approx((900, 900), abs=TENTH_MM)
    turns = set()
    for line in lines:
        for x, y in line:
            assert math.hypot(x - left - 450, y - low - 450) == pytest.approx(450, abs=TENTH_MM)
            turns.add(round(math.degrees(math.atan2(y - low - 450, x - left - 450)) / 10) % 36)
    assert len(turns) == 36


def test_a_sloped_head_measures_both_its_sides() -> None:
    lines = laid_together(templates("A4"), "slope")
    _, (wide, high) = spans(lines)
    assert (wide, high) == pytest.approx((1500, 400), abs=TENTH_MM)
    slopes = [
        (line[-1][1] - line[0][1]) / (line[-1][0] - line[0][0])
        for line in lines
        if len(line) == 2 and abs(line[-1][0] - line[0][0]) > 50 and abs(line[-1][1] - line[0][1]) > 5
    ]
    assert len(slopes) >= 3
    assert all(slope == pytest.approx(400 / 1500, abs=1e-3) for slope in slopes)


@pytest.mark.parametrize("paper", sorted(PAPERS_PT))
def test_every_tile_has_a_bar_of_four_inches_and_a_hundred_millimetres(paper: PaperSize) -> None:
    pdf = templates(paper)
    tiles = 0
    for page in range(page_count(pdf)):
        if "Tile " not in page_text(pdf, page):
            continue
        tiles += 1
        bar = [path for path in stroked_paths(pdf, page) if path.pen_pt == pytest.approx(0.8, abs=0.01)]
        level = [path for path in bar if path.points[0][1] == pytest.approx(path.points[1][1])]
        assert len(level) == 1
        assert level[0].points[1][0] - level[0].points[0][0] == pytest.approx(101.6, abs=0.05)
        ticks = [path for path in bar if path not in level]
        below = sorted(path.points[0][0] for path in ticks if path.points[1][1] < path.points[0][1])
        above = sorted(path.points[0][0] for path in ticks if path.points[1][1] > path.points[0][1])
        assert below[-1] - below[0] == pytest.approx(100, abs=0.05)
        assert above[-1] - above[0] == pytest.approx(101.6, abs=0.05)
        assert (len(above), len(below)) == (5, 11)
    assert tiles > 20


def test_print_dialogs_are_asked_not_to_fit_the_page() -> None:
    assert b"/PrintScaling /None" in templates("A4")
    assert b"/PrintScaling" not in papers().packing()


def test_alike_heads_share_a_template_and_each_odd_one_has_its_own() -> None:
    found = rows()
    assert set(found) == {"arch1", "slope", "moon"}
    assert [str(place) for _, place in found["arch1"].places] == ["arch1", "arch2"]


def test_ordinates_lie_on_the_circle_and_end_at_the_edge() -> None:
    arch = rows()["arch1"]
    radius = (750**2 + 500**2) / 1000 * MM
    assert arch.radius_nm == pytest.approx(radius, abs=1)
    assert (arch.ordinates[0].out_nm, arch.ordinates[0].up_nm) == (0, 500 * MM)
    assert (arch.ordinates[-1].out_nm, arch.ordinates[-1].up_nm) == (750 * MM, 0)
    for one in arch.ordinates:
        assert math.hypot(one.out_nm, one.up_nm - 500 * MM + radius) == pytest.approx(radius, abs=2)


def test_the_lines_keep_within_a_hundredth_of_a_millimetre_of_the_curve() -> None:
    edge = template_lines(rows()["moon"])[0].points
    for (ax, ay), (bx, by) in pairwise(edge):
        assert 450 * MM - math.hypot((ax + bx) / 2, (ay + by) / 2) <= SAG_NM * 1.01


def test_a_line_is_cut_at_the_tile_and_taken_up_again() -> None:
    tile = Tile(0, 0, 0.0, 0.0, 10.0, 10.0)
    there_and_back = ((-5.0, 5.0), (5.0, 5.0), (15.0, 5.0), (15.0, 8.0), (5.0, 8.0))
    assert list(clip_to_tile(there_and_back, tile)) == [((0.0, 5.0), (5.0, 5.0), (10.0, 5.0)), ((10.0, 8.0), (5.0, 8.0))]
    assert list(clip_to_tile(((11.0, 0.0), (11.0, 10.0)), tile)) == []


def test_rows_of_tiles_go_on_after_z() -> None:
    assert [tile_name(0, row) for row in (0, 25, 26, 27)] == ["A1", "Z1", "AA1", "AB1"]


@pytest.mark.parametrize("language", LANGUAGES)
def test_templates_read_well_and_warn(language: Language) -> None:
    spoken = PlanSheets(papers("in", "letter").index.plan, plant(), made="m", language=language)
    pdf = spoken.templates()
    for page in range(page_count(pdf)):
        assert spoiled_places(pdf, page) == [], page
    words = ("100 %", "Prop the wall", "licensed people") if language is ENGLISH else ("100 %", "Apuntalar", "licencia")
    text = " ".join("".join(page_text(pdf, page) for page in range(page_count(pdf))).split())
    for word in words:
        assert word in text


def test_an_order_without_odd_heads_has_no_template() -> None:
    plan = plan_of(read_order(box(), plant()))
    assert head_templates(PlanIndex(plan, plant())) == ()
