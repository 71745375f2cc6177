"""The dock's pages: what goes on next?"""

from __future__ import annotations

from functools import partial
from typing import Annotated, Literal

from fastapi import APIRouter, Query, Request, Response

from service.contracts.floor import Load, MayLoad, OnDeck
from service.dependencies import Here, Name
from service.drawings.shapes import Drawing
from service.stations import views
from service.stations.pages import render_page, request_language
from service.usecases.ask import floor
from service.usecases.ask.drawings import deck_drawing_of
from service.usecases.ask.released import floor_part
from solver.domain.ids import short_name
from solver.domain.plan import LoadPart
from solver.language import Language

router = APIRouter(prefix="/dock", include_in_schema=False)
TRUCKS_A_PAGE = 60


@router.get("")
def loads_page(request: Request, here: Here, at: Annotated[int, Query(ge=0, le=100_000)] = 0) -> Response:
    """Show the trucks to load, a page of them; those that have left are the last."""
    some = floor.list_trucks(at * TRUCKS_A_PAGE, TRUCKS_A_PAGE, store=here.store)
    return render_page(request, "dock_loads.html", loads=some.loads, at=at, more=some.more, short=short_name, views=views)


@router.get("/{load_id:path}")
def load_page(
    request: Request, load_id: Name, here: Here, bundle: Annotated[str | None, Query(max_length=400)] = None,
    ask: Annotated[Literal["", "leave", "uncut"], Query()] = "",
) -> Response:  # fmt: skip
    """Show the deck, what goes on next, and whether the bundle that was scanned or tapped may."""
    found = floor.read_load(load_id, store=here.store)
    said = _in_full(found.load, (bundle or "").strip())
    judged = floor.may_load(load_id, said, store=here.store) if said else None
    now = found.load
    coming = floor.next_bundle_to_load(now)
    chosen = _chosen(now, judged) or coming
    part = floor_part(found.plan, "load", LoadPart, now.order, store=here.store)
    drawings = [
        _deck(now, part, view, chosen.bundle if chosen else None, request_language(request)) for view in ("side", "above")
    ]
    return render_page(
        request, "dock.html", load=now, unit=found.unit, judged=judged, next=coming, chosen=chosen, drawings=drawings,
        ask=ask, short=short_name, views=views, on=[one for one in now.bundles if one.state != "waiting"],
        by_id={one.bundle: one for one in now.bundles}, waits=floor.bundles_that_must_wait(now),
        left_behind=[one.bundle for one in now.bundles if one.state == "waiting"],
        carried_by=partial(floor.bundles_standing_on, now),
    )  # fmt: skip


def _in_full(load: Load, said: str) -> str:
    """The bundle of this truck that is called so, as its tag prints it large; else what was said."""
    return next((one.bundle for one in load.bundles if short_name(one.bundle) == said.upper()), said)


def _chosen(load: Load, judged: MayLoad | None) -> OnDeck | None:
    if judged is None or not judged.may:
        return None
    return next((one for one in load.bundles if one.bundle == judged.bundle), None)


def _deck(load: Load, part: LoadPart, view: str, next_on: str | None, language: Language) -> Drawing:
    real = next(one for one in part.result.loads if one.id == load.id)
    on = frozenset(one.bundle for one in load.bundles if one.state != "waiting")
    return deck_drawing_of(real, part, "above" if view == "above" else "side", language, on, next_on)
