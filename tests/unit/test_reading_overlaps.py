"""Explicit roof planes that would stand in each other are refused by their path; one clear above the other is not."""

from __future__ import annotations

from typing import Any

import pytest

from tests.orders import box, faults_of, with_gable


def plane(name: str, plan: list[list[float]], z: float, *, pitch: str = "2/12") -> dict[str, Any]:
    """A plane that rises from its first edge."""
    return {"id": name, "line": plan[:2], "z": z, "pitch": pitch, "plan": plan}


def rectangle(x0: float, y0: float, x1: float, y1: float) -> list[list[float]]:
    return [[x0, y0], [x1, y0], [x1, y1], [x0, y1]]


def collisions(*planes: dict[str, Any], order: dict[str, Any] | None = None) -> list[str]:
    made = order or box()
    made.setdefault("roofs", []).append({"id": "P", "kind": "planes", "planes": list(planes)})
    made["deliveries"][0]["parts"].append("P")
    return [path for path, problem in faults_of(made).items() if "overlaps plane" in problem]


def test_two_planes_at_one_height_over_one_place_are_refused_by_the_later_ones_path() -> None:
    one, two = plane("A", rectangle(0, -3000, 4000, 0), 2400), plane("B", rectangle(3000, -3000, 8000, 0), 2400)
    assert collisions(one, two) == ["roofs[0].planes[1].plan"]


@pytest.mark.parametrize(("apart", "refused"), [(100, True), (154, True), (155, False), (-155, False), (-100, True)])
def test_one_above_the_other_must_be_clear_by_a_panels_thickness(apart: float, refused: bool) -> None:
    """A panel of 6 in is 152.4 / cos(2/12) = 154.50 mm thick, measured upright."""
    one, two = plane("A", rectangle(0, -3000, 4000, 0), 2400), plane("B", rectangle(2000, -3000, 6000, 0), 2400 + apart)
    assert bool(collisions(one, two)) is refused


def test_planes_that_meet_at_an_edge_or_cross_by_less_than_a_millimetre_are_no_fault() -> None:
    one = plane("A", rectangle(0, -3000, 4000, 0), 2400)
    assert collisions(one, plane("B", rectangle(4000, -3000, 8000, 0), 2400)) == []
    assert collisions(one, plane("B", rectangle(3999.5, -3000, 8000, 0), 2400)) == []
    assert collisions(one, plane("B", rectangle(3998, -3000, 8000, 0), 2400)) != []


def test_planes_that_cross_in_height_are_refused_though_their_eaves_are_apart() -> None:
    low, steep = plane("A", rectangle(0, -3000, 4000, 0), 2800), plane("B", rectangle(0, -3000, 4000, 0), 2300, pitch="6/12")
    assert collisions(low, steep) == ["roofs[0].planes[1].plan"]


def test_only_what_two_plans_share_counts_not_their_boxes() -> None:
    """An L beside a rectangle in its notch: the boxes overlap, the plans do not."""
    corner: list[list[float]] = [[0, -4000], [6000, -4000], [6000, -2000], [2000, -2000], [2000, 0], [0, 0]]
    assert collisions(plane("A", corner, 2400), plane("B", rectangle(2000, -2000, 6000, 0), 2733)) == []
    assert collisions(plane("A", corner, 2400), plane("B", rectangle(1900, -2000, 6000, 0), 2733)) != []


def test_a_porch_that_stands_in_the_eave_above_it_is_refused_and_a_lower_one_is_not() -> None:
    porch = rectangle(1000, -2000, 5000, 0)
    high = plane("P1", porch, 2300)
    assert collisions(high, order=with_gable(box(), overhang={"eave": 400})) == ["roofs[1].planes[0].plan"]
    assert collisions(plane("P1", porch, 1900), order=with_gable(box(), overhang={"eave": 400})) == []
    assert collisions(high, order=with_gable(box())) == []
