"""The anchor plan from the corner where the crew starts: either way round, drilled to measure or as a template."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from service.printing.sheets import PlanSheets
from solver.documents.anchors import anchor_sheets
from solver.documents.index import PlanIndex
from solver.domain.document import AnchorSheet
from solver.domain.plan import Plan
from solver.reading.read_order import read_order
from solver.units import INCH, MM
from tests.languages import ENGLISH, SPANISH, Language
from tests.orders import DEMOS, box, plant
from tests.paper import page_count, page_text, spoiled_places
from tests.samples import demo_index, plan_of


@cache
def boxed(direction: str = "ccw", holes: str = "template", measured: bool = False) -> Plan:
    order: dict[str, Any] = box()
    order["start"] = {"corner": "b", "direction": direction}
    order["anchors"] = {"holes": holes}
    if measured:
        order["anchors"] |= {
            "measured_from": "b",
            "measured": [{"id": f"m{n}", "on": "L1.E", "along": 300 + 900 * n, "across": 76} for n in range(7)],
        }
    return plan_of(read_order(order, plant()))


def sheet_of(plan: Plan) -> AnchorSheet:
    (sheet,) = anchor_sheets(PlanIndex(plan, plant()))
    return sheet


@pytest.mark.parametrize("name", DEMOS)
def test_bolts_run_from_the_start_corner_round_the_outline(name: str) -> None:
    (sheet,) = anchor_sheets(demo_index(name))
    takeoff = demo_index(name).plan.takeoffs[0]
    assert sorted(row.anchor.id for row in sheet.rows) == sorted(anchor.id for anchor in takeoff.anchors)
    assert [row.from_start_nm for row in sheet.rows] == sorted(row.from_start_nm for row in sheet.rows)
    assert 0 < sheet.rows[0].from_start_nm <= 12 * INCH
    assert sheet.runs[0].first == sheet.building.start_corner
    assert [run.first for run in sheet.runs[1:]] == [run.last for run in sheet.runs[:-1]]


@pytest.mark.parametrize("direction", ["ccw", "cw"])
def test_x_and_y_are_measured_from_the_start_corner_into_the_building(direction: str) -> None:
    """A box of 8 x 6 m, start at b (8000, 0): counter-clockwise x runs up the east wall, clockwise west along the south."""
    sheet = sheet_of(boxed(direction))
    wide, deep = (6000, 8000) if direction == "ccw" else (8000, 6000)
    assert [run.wall for run in sheet.runs][:1] == (["L1.E"] if direction == "ccw" else ["L1.S"])
    corners = {one.id: (one.x_nm / MM, one.y_nm / MM) for one in sheet.corners}
    assert corners["d"] == pytest.approx((wide, deep))
    assert next(one.straight_nm for one in sheet.corners if one.id == "d") == pytest.approx(math.hypot(8000, 6000) * MM)
    first = sheet.runs[0]
    for row in first.rows:
        assert row.x_nm == pytest.approx(row.along_nm, abs=2)
        assert row.y_nm == pytest.approx(row.anchor.across_nm, abs=2)
    for row in sheet.rows:
        assert -1 <= row.x_nm <= wide * MM + 1
        assert 0 < row.y_nm < deep * MM


def test_clockwise_figures_count_from_the_corner_come_to_first() -> None:
    sheet = sheet_of(boxed("cw"))
    run = sheet.runs[0]
    assert (run.first, run.last) == ("b", "a")
    for row in run.rows:
        assert row.along_nm == run.length_nm - row.anchor.along_nm
    assert [row.along_nm for row in run.rows] == sorted(row.along_nm for row in run.rows)


def text_of(plan: Plan, language: Language = ENGLISH) -> str:
    pdf = PlanSheets(plan, plant(), made="m", language=language).anchors()
    assert all(spoiled_places(pdf, page) == [] for page in range(page_count(pdf)))
    return " ".join("".join(page_text(pdf, page) for page in range(page_count(pdf))).split())


def test_a_template_says_so_and_asks_for_no_figures() -> None:
    text = text_of(boxed())
    for words in ("TEMPLATE", "1/16 in", "IRC R403.1.6", "R603.3.1", "start: corner b"):
        assert words in text
    assert "measured along" not in text


def test_holes_drilled_to_measure_leave_room_for_the_figures() -> None:
    text = text_of(boxed("ccw", "as_measured"))
    for words in ("DRILLED TO MEASURE", "measured along", "measured in", "_______"):
        assert words in text


def test_bolts_as_measured_stand_at_their_measured_places() -> None:
    plan = boxed("ccw", "as_measured", True)
    sheet = sheet_of(plan)
    run = next(run for run in sheet.runs if run.wall == "L1.E")
    assert [row.along_nm / MM for row in run.rows] == [300 + 900 * n for n in range(7)]
    assert {row.anchor.why for row in run.rows} == {"measured"}
    assert sheet.to_measure  # the other walls are not measured yet
    assert sheet.warnings
    text = text_of(plan)
    assert "engineer of record before setting" in text
    assert "measured" in text


def test_spanish_names_every_rule_of_a_bolt() -> None:
    text = text_of(boxed("cw", "as_measured", True), SPANISH)
    for words in ("SEGÚN MEDIDA", "medido", "en recto", "desde esquina b"):
        assert words in text


def test_an_order_without_bolts_has_no_plan() -> None:
    plan = boxed()
    bare = replace(plan, takeoffs=tuple(replace(takeoff, anchors=()) for takeoff in plan.takeoffs))
    assert anchor_sheets(PlanIndex(bare, plant())) == ()
