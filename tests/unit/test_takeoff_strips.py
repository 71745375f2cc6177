"""A strip between two openings of one panel is a leg: judged by the layout, told where it gives, and proved apart."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from solver.domain.building import Building, Opening
from solver.domain.takeoff import BrokenRule, Takeoff
from solver.takeoff.check import check
from solver.takeoff.take_off import take_off
from solver.takeoff.wall_layout import OpeningGap, strip_between
from solver.units import MM, Nm
from tests.generators.roof_planes import building_of as roof_building
from tests.generators.roof_planes import demo_plant, gable_plane
from tests.generators.walls import box, building_of, metric_plant, opening, walls_of


def taken(*openings: Opening, **plant: Any) -> tuple[Building, Takeoff]:
    building = building_of(walls_of(box(8000, 6000), openings={0: openings}))
    made = take_off(building, metric_plant(**plant))
    assert check(building, metric_plant(**plant), made).faults == ()
    return building, made


def legs(made: Takeoff) -> list[BrokenRule]:
    return [item for item in made.broken if item.rule == "leg"]


def test_a_strip_of_100_between_two_windows_of_one_panel_is_told() -> None:
    """Panels 1200 wide: windows from 2600 to 2950 and from 3050 to 3400 lie in the third one, 100 apart."""
    _, made = taken(opening("w1", 2600, 2950, 900, 2100), opening("w2", 3050, 3400, 900, 2100))
    assert [(item.where, item.wanted_nm, item.got_nm) for item in legs(made)] == [("w2", 150 * MM, 100 * MM)]


def test_a_wide_strip_and_windows_in_two_panels_are_no_fault() -> None:
    assert legs(taken(opening("w1", 2600, 2900, 900, 2100), opening("w2", 3100, 3400, 900, 2100))[1]) == []
    assert legs(taken(opening("w1", 2600, 2900, 900, 2100), opening("w2", 4500, 5000, 900, 2100))[1]) == []


def test_a_level_strip_between_a_window_and_the_one_above_it_is_told() -> None:
    _, made = taken(opening("w1", 2600, 3300, 300, 1300), opening("w2", 2700, 3400, 1400, 2300))
    assert [item.got_nm for item in legs(made)] == [100 * MM]


@pytest.mark.parametrize(
    ("one", "other", "strip"),
    [
        ((0, 10, 0, 10), (13, 20, 5, 15), 3),  # side by side
        ((0, 10, 0, 10), (5, 20, 14, 15), 4),  # one above the other
        ((0, 10, 0, 10), (13, 20, 14, 15), None),  # apart both ways
        ((0, 10, 0, 10), (113, 120, 0, 10), None),  # the other is not in this panel
    ],
)
def test_strips_between_two_boxes(one: tuple[int, ...], other: tuple[int, ...], strip: int | None) -> None:
    gaps = [OpeningGap(id="", start_nm=box[0], end_nm=box[1], low_nm=box[2], high_nm=box[3]) for box in (one, other)]
    assert strip_between(gaps[0], gaps[1], 0, 100) == strip
    assert strip_between(gaps[1], gaps[0], 0, 100) == strip


def test_a_strip_that_is_not_told_is_noticed_and_so_is_one_that_is_none() -> None:
    building, made = taken(opening("w1", 2600, 2950, 900, 2100), opening("w2", 3050, 3400, 900, 2100))
    silent = replace(made, broken=tuple(item for item in made.broken if item.rule != "leg"))
    assert any("not told" in fault.problem for fault in check(building, metric_plant(), silent).faults)
    building, made = taken(opening("w1", 2600, 2900, 900, 2100), opening("w2", 3100, 3400, 900, 2100))
    more = BrokenRule(rule="leg", where="w2", wanted_nm=Nm(150 * MM), got_nm=Nm(100 * MM))
    loud = replace(made, broken=(*made.broken, more))
    assert any("is told as broken, and is not" in fault.problem for fault in check(building, metric_plant(), loud).faults)


def test_a_strip_between_two_skylights_of_one_roof_panel_is_told() -> None:
    shape = {"length": 12_000, "run_mm": 5000, "eave": 500, "rake": 500}
    south = gable_plane(plane_id="R.S", a=(0, 0), b=(12_000, 0), **shape)
    north = gable_plane(plane_id="R.N", a=(12_000, 10_000), b=(0, 10_000), **shape)
    sky = tuple(
        Opening(id=f"s{n}", kind="skylight", u0_nm=Nm(u0 * MM), u1_nm=Nm(u1 * MM), z0_nm=Nm(1000 * MM), z1_nm=Nm(2000 * MM))
        for n, (u0, u1) in enumerate(((4000, 4200), (4250, 4450)))
    )
    building = roof_building(replace(south, openings=sky), north)
    made = take_off(building, demo_plant())
    told = [item for item in legs(made) if item.got_nm == 50 * MM]
    assert [item.where for item in told] == ["R.S s1"]
    spoiled = replace(made, broken=tuple(item for item in made.broken if item not in told))
    rules = [fault.problem for fault in check(building, demo_plant(), spoiled).faults]
    assert any("leg is broken and not told" in rule for rule in rules)
