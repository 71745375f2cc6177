"""Key plans: every storey and the roof from above, named, to scale, and in the order in which panels stand."""

from __future__ import annotations

from functools import cache

import pytest
from shapely import LineString, unary_union
from shapely import Polygon as Shape

from service.drawings.expand_shapes import expand_shapes
from service.drawings.plans import roof_plan, walls_plan_drawing
from service.drawings.shapes import Drawing, Line, Polygon, Text
from solver.documents.index import PlanIndex
from solver.documents.site import begin_sheets
from solver.domain.document import BeginSheet, StoreyPlan
from solver.reading.read_order import read_order
from solver.takeoff.take_off import take_off
from solver.units import INCH
from tests.generators.plans import houses
from tests.languages import ENGLISH
from tests.orders import DEMOS, plant
from tests.samples import demo_index, plan_of

ROOM = (540.0, 280.0)
NEAR_NM = 2.0


@cache
def sheets() -> tuple[BeginSheet, ...]:
    """Return where the crew begins the demo houses, and two of two storeys under hips and valleys."""
    two = [read_order(order, plant()) for order in houses(7, 10, plant())[1:3]]
    index = PlanIndex(plan_of(*two), plant())
    demos = [begin_sheets(demo_index(name))[name] for name in DEMOS]
    return (*demos, *begin_sheets(index).values())


def texts(drawing: Drawing) -> list[str]:
    return [shape.text for shape in expand_shapes(drawing.shapes, drawing.scale) if isinstance(shape, Text)]


def drawn(sheet: BeginSheet, storey: StoreyPlan) -> Drawing:
    return walls_plan_drawing(
        sheet.building,
        storey.runs,
        sheet.thickness_nm,
        start=storey.start,
        title="key",
        unit="in",
        room_pt=ROOM,
        language=ENGLISH,
    )


def test_every_wall_of_every_storey_stands_on_one_plan_by_name_with_its_corners_and_where_to_start() -> None:
    storeys = 0
    for sheet in sheets():
        plans = [plan for plan in (sheet.ground_storey, *sheet.storeys) if plan is not None]
        named = [run.wall for plan in plans for run in plan.runs]
        assert sorted(named) == sorted(wall.id for wall in sheet.building.walls)
        for plan in plans:
            words = texts(drawn(sheet, plan))
            walls = [wall for wall in sheet.building.walls if wall.id in {run.wall for run in plan.runs}]
            assert {wall.level for wall in walls} == {plan.level}
            assert all(any(text.split("  ")[0] == wall.id for text in words) for wall in walls)
            corners = {corner.id for wall in walls for corner in (wall.left, wall.right)} - {plan.start}
            assert corners <= set(words)
            assert f"start: corner {plan.start}" in words
        storeys += len(plans)
    assert storeys >= len(DEMOS) + 4


def test_what_stands_first_is_said_first() -> None:
    """By the standing numbers of panels that are taken off anew."""
    for sheet in sheets():
        panels = [piece for piece in take_off(sheet.building, plant()).pieces if piece.is_panel]
        first = {piece.group: piece.stands for piece in sorted(panels, key=lambda one: -one.stands)}
        for said in (
            (sheet.ground_storey.walls_in_order if sheet.ground_storey else ()),
            *(one.walls_in_order for one in sheet.storeys),
            sheet.planes,
        ):
            assert [first[name] for name in said] == sorted(first[name] for name in said)
        assert set(sheet.planes) == {plane.id for plane in sheet.building.roof}


@pytest.mark.parametrize("which", range(5))
def test_the_roof_from_above_has_every_plane_over_the_walls_and_none_on_another(which: int) -> None:
    building = sheets()[which].building
    drawing = roof_plan(building, title="roof", unit="in", room_pt=ROOM)
    planes = [Shape(shape.points) for shape in drawing.shapes if isinstance(shape, Polygon) and shape.style == "outline"]
    assert len(planes) == len(building.roof) > 0
    whole = unary_union([plane.buffer(NEAR_NM + INCH) for plane in planes])  # over the gap at the ridge
    walls = [shape for shape in drawing.shapes if isinstance(shape, Line) and shape.style == "hidden"]
    assert {(wall.a, wall.b) for wall in walls} == {(wall.a, wall.b) for wall in building.walls if wall.under_roof}
    assert all(whole.covers(LineString([wall.a, wall.b])) for wall in walls)
    apart = [one.intersection(other).area for n, one in enumerate(planes) for other in planes[n + 1 :]]
    assert max(apart, default=0.0) < 1e-6 * max(plane.area for plane in planes)
    words = texts(drawing)
    assert all(any(text.split("  ")[0] == plane.id for text in words) for plane in building.roof)
