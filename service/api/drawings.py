"""Drawings of a plan over HTTP, as SVG files of their own."""

from __future__ import annotations

from typing import Annotated, Literal

from fastapi import APIRouter, Query, Response

from service.dependencies import Here, Name, Words
from service.drawings.shapes import Drawing
from service.drawings.svg import to_svg
from service.usecases.ask.drawings import draw_bar, draw_deck, draw_group, draw_stack
from service.usecases.ask.timetable import View, draw_timetable_part

router = APIRouter(
    prefix="/plans/{plan_id}/drawings",
    tags=["drawings"],
    responses={200: {"content": {"image/svg+xml": {}}}, 404: {"description": "There is no such thing in this plan"}},
)
Asked = Annotated[str, Query(min_length=1, max_length=400, pattern=r"^[^\x00-\x1f\x7f]+$")]


def _svg(drawing: Drawing) -> Response:
    return Response(to_svg(drawing, standalone=True), media_type="image/svg+xml")


@router.get("/bar.svg")
def bar(plan_id: Name, material: Asked, bar: Asked, here: Here, language: Words) -> Response:
    """Draw a bar with its cuts."""
    return _svg(draw_bar(plan_id, material, bar, language, store=here.store))


@router.get("/stack.svg")
def stack(
    plan_id: Name, order: Asked, bundle: Asked, here: Here, language: Words, view: Literal["side", "end"] = "side"
) -> Response:
    """Draw a bundle from its side or its foot end."""
    return _svg(draw_stack(plan_id, order, bundle, view, language, store=here.store))


@router.get("/deck.svg")
def deck(
    plan_id: Name, order: Asked, load: Asked, here: Here, language: Words, view: Literal["side", "above"] = "side"
) -> Response:
    """Draw a loaded deck from its left side or from above."""
    return _svg(draw_deck(plan_id, order, load, view, language, store=here.store))


@router.get("/elevation.svg")
def wall_or_plane(plan_id: Name, order: Asked, group: Asked, here: Here, language: Words) -> Response:
    """Draw a wall seen from outside, or a roof plane square to itself."""
    return _svg(draw_group(plan_id, order, group, language, store=here.store))


@router.get("/timetable.svg")
def timetable(
    plan_id: Name,
    here: Here,
    language: Words,
    view: View = "week",
    at: Annotated[int, Query(ge=0, le=1_000)] = 0,
    machine: Asked | None = None,
) -> Response:
    """Draw what each machine does when, in a week or a day of the plan, the first unless said otherwise.

    One machine day by day where it is named.
    """
    return _svg(draw_timetable_part(plan_id, language, view=view, at=at, machine=machine, store=here.store))
