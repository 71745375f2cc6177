"""The dock's pages: what goes on next?"""

from __future__ import annotations

from typing import Annotated, Literal

from fastapi import APIRouter, Query, Request, Response

from service.contracts.floor import Load, MayLoad, OnDeck
from service.deps import Here, Name
from service.drawings.shapes import Drawing
from service.stations import views
from service.stations.pages import language_of, page
from service.usecases.ask import floor
from service.usecases.ask.drawings import deck_of, short_name
from service.usecases.ask.released import released_part
from solver.documents.texts import Language
from solver.domain.plan import LoadPart

router = APIRouter(prefix="/dock", include_in_schema=False)


@router.get("")
def loads(request: Request, here: Here) -> Response:
    """Show the trucks to load."""
    return page(request, "dock_loads.html", loads=floor.list_loads(store=here.store).loads, short=short_name, views=views)


@router.get("/{load_id:path}")
def load(
    request: Request, load_id: Name, here: Here, bundle: Annotated[str | None, Query(max_length=400)] = None,
    ask: Annotated[Literal["", "leave"], Query()] = "",
) -> Response:  # fmt: skip
    """Show the deck, what goes on next, and whether the bundle that was scanned or tapped may."""
    found = floor.one_load(load_id, store=here.store)
    said = (bundle or "").strip()
    judged = floor.may_load(load_id, said, store=here.store) if said else None
    now = found.load
    coming = floor.next_on(now)
    chosen = _chosen(now, judged) or coming
    part = released_part("load", LoadPart, now.order, store=here.store)
    drawings = [_deck(now, part, view, chosen.bundle if chosen else None, language_of(request)) for view in ("side", "above")]
    return page(
        request, "dock.html", load=now, unit=found.unit, judged=judged, next=coming, chosen=chosen, drawings=drawings,
        ask=ask, short=short_name, views=views, on=[one for one in now.bundles if one.state != "waiting"],
        by_id={one.bundle: one for one in now.bundles},
    )  # fmt: skip


def _chosen(load: Load, judged: MayLoad | None) -> OnDeck | None:
    if judged is None or not judged.may:
        return None
    return next((one for one in load.bundles if one.bundle == judged.bundle), None)


def _deck(load: Load, part: LoadPart, view: str, next_on: str | None, language: Language) -> Drawing:
    real = next(one for one in part.result.loads if one.id == load.id)
    on = frozenset(one.bundle for one in load.bundles if one.state != "waiting")
    return deck_of(real, part, "above" if view == "above" else "side", language, on, next_on)
