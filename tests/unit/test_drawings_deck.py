"""Deck drawings: side and top on one scale and aligned, tags near what they name, boxes drawn as boxes."""

from __future__ import annotations

from functools import cache
from itertools import pairwise

import pytest

from service.drawings.board import RINGS_CLEAR
from service.drawings.deck import deck_plan_drawing, deck_side_drawing
from service.drawings.expand_shapes import expand_shapes, line_crosses_box, tag_size
from service.drawings.shapes import Drawing, Group, Line, Tag
from solver.bundling.job import stack_job
from solver.bundling.stack import stack
from solver.domain.load import Load, LoadJob
from solver.loading.job import load_job
from solver.loading.load import load
from solver.search import Search
from solver.takeoff.take_off import take_off
from solver.units import Unit
from tests.orders import DEMOS, demo_building, plant


@cache
def loaded(name: str) -> tuple[LoadJob, tuple[Load, ...]]:
    building = demo_building(name)
    takeoff = take_off(building, plant(), None)
    job = load_job(
        stack(stack_job(takeoff.pieces, plant(), building.deliveries, takeoff.hardware), Search()).bundles, building, plant()
    )
    return job, load(job, Search(workers=1)).loads


def views(name: str, unit: Unit = "in") -> list[tuple[Load, LoadJob, Drawing, Drawing]]:
    job, loads = loaded(name)
    known = {str(one.id): one for one in job.bundles}
    names = {key: key.rpartition("/")[2] for key in known}
    made = []
    for one in loads:
        deck = next(deck for deck in job.decks if deck.id == one.deck)
        side = deck_side_drawing(one, deck, known, names=names, unit=unit, next_on=one.placed[-1].bundle)
        made.append((one, job, side, deck_plan_drawing(one, deck, known, names=names, unit=unit)))
    return made


@pytest.mark.parametrize("name", DEMOS)
def test_side_and_top_have_one_scale_and_end_alike(name: str) -> None:
    for _, _, side, above in views(name):
        assert (side.scale, side.left, side.right) == (above.scale, above.left, above.right)


def tags(drawing: Drawing) -> list[Tag]:
    return [shape for shape in drawing.shapes if isinstance(shape, Tag)]


@pytest.mark.parametrize("name", DEMOS)
def test_tags_are_near_what_they_name_and_no_leader_crosses_another_tag(name: str) -> None:
    for one, _, side, above in views(name):
        said = {tag.mark.removesuffix(" next") for drawing in (side, above) for tag in tags(drawing)}
        said |= {under for tag in tags(above) for under in tag.second.split("/")}
        assert {placed.bundle.rpartition("/")[2] for placed in one.placed} <= said
        for drawing in (side, above):
            scale = drawing.scale
            for before, tag in pairwise(drawing.shapes[1:]):  # a leader, its dot, its tag
                place = drawing.shapes.index(before) - 1
                leader = drawing.shapes[place]
                if not isinstance(tag, Tag) or isinstance(before, Tag) or not isinstance(leader, Line):
                    continue
                way = tuple((x * scale, y * scale) for x, y in (leader.a, leader.b))
                assert abs(way[0][0] - way[1][0]) + abs(way[0][1] - way[1][1]) < 18 * RINGS_CLEAR
                for other in tags(drawing):
                    wide, high = tag_size(other)[:: 1 if other.angle == 0 else -1]
                    x, y = other.at[0] * scale, other.at[1] * scale
                    around = (x - wide / 2 + 1, y - high / 2 + 1, x + wide / 2 - 1, y + high / 2 - 1)
                    assert other is tag or not line_crosses_box((way[0], way[1]), around)


def test_a_start_box_is_drawn_crossed_and_a_bundle_of_panels_is_not() -> None:
    for one, job, side, above in views("cottage-7"):
        kinds = {bundle.id: bundle.kind for bundle in job.bundles}
        for drawing in (side, above):
            groups = {shape.name: shape for shape in drawing.shapes if isinstance(shape, Group)}
            for placed in one.placed:
                lines = [
                    shape for shape in expand_shapes(groups[placed.bundle].shapes, drawing.scale) if isinstance(shape, Line)
                ]
                assert len(lines) == (2 if kinds[placed.bundle] == "box" else 0)
