"""The planner's pages: will it ship, what does it cost, what needs me?"""

from __future__ import annotations

from datetime import UTC, datetime
from functools import partial
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request, Response
from markupsafe import Markup

from service.contracts.plans import ENDED, PlanManifest, PlanState
from service.dependencies import Adapters, Here, Name
from service.drawings.rack import rack_drawing
from service.errors import NotFound
from service.stations import views
from service.stations.pages import cached_page, drawing_markup, render_page, request_language
from service.usecases.ask import floor
from service.usecases.ask.bounds import bounds_page, plan_bounds
from service.usecases.ask.changes import plan_changes
from service.usecases.ask.drawings import (
    bar_drawing_of,
    deck_drawing_of,
    group_drawing_of,
    plan_part_about,
    plan_part_or_none,
    plan_plant,
    stack_drawing_of,
)
from service.usecases.ask.jobs import list_jobs
from service.usecases.ask.moves import moves_page
from service.usecases.ask.order_life import read_live_order, read_order_lives
from service.usecases.ask.orders import list_orders
from service.usecases.ask.plans import catalog_in_force, list_plans, plan_documents, plan_result, plan_state
from service.usecases.ask.release import release_drops
from service.usecases.ask.timetable import View, draw_timetable, plan_reasons
from solver.documents.lateness_words import step_words
from solver.documents.moves import move_kind_words
from solver.documents.names import ThingNames
from solver.domain.cut_plan import CutPlan
from solver.domain.dispatch import Dispatch
from solver.domain.ids import short_name
from solver.domain.material import Material
from solver.domain.plan import LoadPart, StackPart
from solver.domain.rack import RackCurve
from solver.domain.takeoff import Takeoff
from solver.language import Language

router = APIRouter(prefix="/planner", include_in_schema=False)
BARS_A_PAGE, BUNDLES_A_PAGE, ORDERS_A_PAGE, TRUCKS_A_PAGE = 12, 6, 100, 100
WEEK_S = 7 * 86400
PageNumber = Annotated[int, Query(ge=0, le=100_000)]
Window = Annotated[int, Query(ge=0, le=1_000)]
First = Annotated[int, Query(ge=0, le=10_000_000)]
About = Annotated[str | None, Query(max_length=400)]


@router.get("")
def planner_page(request: Request, here: Here, at: PageNumber = 0) -> Response:
    """Show what needs the planner, a page of the orders, and the newest plan."""
    return cached_page(request, lambda: _planner(request, here, at))


def _planner(request: Request, here: Adapters, at: int) -> Response:
    plans, jobs = list_plans(store=here.store).plans, list_jobs("plan", store=here.store).jobs
    newest = plans[0] if plans else None
    last = jobs[0] if jobs and (newest is None or jobs[0].asked_at > newest.made_at) else None
    failed = last if last is not None and last.status == "failed" else None
    result = here.kept.get(("result", newest.id), partial(plan_result, newest.id, store=here.store)) if newest else None
    orders = list_orders(store=here.store).orders
    zone = here.plant.time_zone
    return render_page(
        request, "planner.html", plans=plans, rows=views.plan_rows(plans, jobs)[:8], newest=newest, failed=failed, views=views,
        result=result, count=len(orders), zone=zone,
        orders=orders[at * ORDERS_A_PAGE : (at + 1) * ORDERS_A_PAGE], at=at, more=len(orders) > (at + 1) * ORDERS_A_PAGE,
        working=next((job for job in jobs if job.status not in ENDED), None),
        scrapped=floor.waiting_for_remake(store=here.store),
        lives=read_order_lives(store=here.store),
        drawing=_first_week(newest, request_language(request), here) if newest else None,
    )  # fmt: skip


def _first_week(plan: PlanState, language: Language, here: Adapters) -> Markup:
    """The picture of a plan's first week, drawn once: a stored plan never changes."""

    def draw() -> Markup:
        return drawing_markup(draw_timetable(plan.id, language, store=here.store, to_s=WEEK_S))

    return here.kept.get(("first week", plan.id, language), draw)


@router.get("/orders/new")
def new_order_page(request: Request, here: Here) -> Response:
    """Show where an order is brought in."""
    return render_page(request, "order_new.html", limit=here.settings.order_bytes)


@router.get("/orders/{order_id:path}")
def order_page(request: Request, order_id: Name, here: Here) -> Response:
    """Show one order."""
    read = read_live_order(order_id, store=here.store)
    plans = list_plans(store=here.store).plans
    jobs = list_jobs("plan", store=here.store).jobs
    mine = [plan for plan in plans if order_id in {one.id for one in plan.orders}]
    asked = [job for job in jobs if order_id in {one.id for one in job.orders}]
    floors = next((plan for plan in plans if plan.released and plan not in mine), None)  # beside which it could be promised
    return render_page(request, "order.html", order=read, rows=views.plan_rows(mine, asked), floors=floors, views=views)


@router.get("/plans/{plan_id}")
def plan_page(request: Request, plan_id: Name, here: Here) -> Response:
    """Show what a plan comes to."""
    values = _of_plan(plan_state(plan_id, store=here.store), here, request_language(request))
    why = plan_reasons(plan_id, request_language(request), store=here.store) if views.late_deliveries(values.result) else {}
    return render_page(
        request, "plan.html", tab="", shares=views.yield_shares(values.result.yields), why=why, **values.as_dict()
    )


class _PlanValues:
    def __init__(self, state: PlanState, here: Adapters, language: Language) -> None:
        self.plan = state
        self.result: PlanManifest = plan_result(state.id, store=here.store)
        plant = plan_plant(state.id, store=here.store)
        self.zone, self.called = plant.time_zone, ThingNames(plant, language).of
        self.in_force: str = here.kept.get("catalog in force", partial(catalog_in_force, here.plant))

    def as_dict(self) -> dict[str, Any]:
        return {
            "plan": self.plan, "result": self.result, "zone": self.zone, "called": self.called, "views": views,
            "in_force": self.in_force,
        }  # fmt: skip


def _of_plan(state: PlanState, here: Adapters, language: Language) -> _PlanValues:
    return _PlanValues(state, here, language)


def _about(result: PlanManifest, stage: str, asked: str | None) -> tuple[list[str], str]:
    """What a stage's parts are about, and the one to show."""
    names = [part.about for part in result.parts if part.stage == stage]
    if asked is None and names:
        return names, names[0]
    if asked is None or asked not in names:
        raise NotFound(stage, asked or "")
    return names, asked


def _panels_first(names: list[str], plan_id: str, here: Adapters) -> list[str]:
    families = {family.id for family in plan_plant(plan_id, store=here.store).families}
    return sorted(names, key=lambda name: Material.parse(name).item not in families)


@router.get("/plans/{plan_id}/bars")
def bars_page(request: Request, plan_id: Name, here: Here, about: About = None, at: PageNumber = 0) -> Response:
    """Show the bars of one material, drawn."""
    values = _of_plan(plan_state(plan_id, store=here.store), here, request_language(request))
    names = _panels_first(_about(values.result, "nest", about)[0], plan_id, here)
    shown = about or (names[0] if names else "")
    cut = plan_part_about(plan_id, "nest", CutPlan, shown, store=here.store)
    plant = plan_plant(plan_id, store=here.store)
    some = cut.bars[at * BARS_A_PAGE : (at + 1) * BARS_A_PAGE]
    drawings = [(bar, bar_drawing_of(bar, cut, plant, request_language(request))) for bar in some]
    more = len(cut.bars) > (at + 1) * BARS_A_PAGE
    return render_page(
        request, "plan_bars.html", tab="bars", names=names, shown=shown, cut=cut, drawings=drawings, at=at, more=more,
        first=at * BARS_A_PAGE, **values.as_dict(),
    )  # fmt: skip


@router.get("/plans/{plan_id}/release")
def release_page(request: Request, plan_id: Name, here: Here) -> Response:
    """Say what the floor would lose by this plan's release, and ask."""
    values = _of_plan(plan_state(plan_id, store=here.store), here, request_language(request))
    return render_page(request, "plan_release.html", tab="", drops=release_drops(plan_id, store=here.store), **values.as_dict())


@router.get("/plans/{plan_id}/bounds")
def show_bounds(request: Request, plan_id: Name, here: Here, at: PageNumber = 0, part: About = None) -> Response:
    """Show what each bound of a plan rests on, and how far it is verified; the page with a part where one is named."""
    values = _of_plan(plan_state(plan_id, store=here.store), here, request_language(request))
    shown = bounds_page(plan_bounds(plan_id, store=here.store), at=at, part=part)
    return render_page(
        request, "plan_bounds.html", tab="bounds", parts=shown.parts, at=shown.at, more=shown.more, **values.as_dict()
    )


@router.get("/plans/{plan_id}/rack")
def rack_page(request: Request, plan_id: Name, here: Here) -> Response:
    """Show what yield costs in rack slots, and let the planner pick."""
    values = _of_plan(plan_state(plan_id, store=here.store), here, request_language(request))
    curve = plan_part_or_none(plan_id, "rack", RackCurve, "panel-saw", store=here.store)
    drawing = rack_drawing(curve, language=request_language(request)) if curve else None
    return render_page(request, "plan_rack.html", tab="rack", curve=curve, drawing=drawing, **values.as_dict())


@router.get("/plans/{plan_id}/stacks")
def stacks_page(request: Request, plan_id: Name, here: Here, about: About = None, at: PageNumber = 0) -> Response:
    """Show the bundles of one order, drawn from the side and from the foot end."""
    values = _of_plan(plan_state(plan_id, store=here.store), here, request_language(request))
    names, shown = _about(values.result, "stack", about)
    part = plan_part_about(plan_id, "stack", StackPart, shown, store=here.store)
    some = part.result.bundles[at * BUNDLES_A_PAGE : (at + 1) * BUNDLES_A_PAGE]
    language = request_language(request)
    drawings = [
        (one, stack_drawing_of(one, part, "side", language), stack_drawing_of(one, part, "end", language)) for one in some
    ]
    stands = {piece.id: piece.stands for piece in part.job.pieces}
    return render_page(
        request, "plan_stacks.html", tab="stacks", names=names, shown=shown, part=part, drawings=drawings, at=at,
        stands=stands, more=len(part.result.bundles) > (at + 1) * BUNDLES_A_PAGE, short=short_name, **values.as_dict(),
    )  # fmt: skip


@router.get("/plans/{plan_id}/trucks")
def trucks_page(request: Request, plan_id: Name, here: Here, about: About = None, at: PageNumber = 0) -> Response:
    """Show what leaves when, a page of it, and the trucks of one order, from the left side and from above."""
    values = _of_plan(plan_state(plan_id, store=here.store), here, request_language(request))
    names, shown = _about(values.result, "load", about)
    part = plan_part_about(plan_id, "load", LoadPart, shown, store=here.store)
    leaving = plan_part_or_none(plan_id, "dispatch", Dispatch, "plant", store=here.store)
    language = request_language(request)
    drawings = [
        (one, deck_drawing_of(one, part, "side", language), deck_drawing_of(one, part, "above", language))
        for one in part.result.loads
    ]
    return render_page(
        request, "plan_trucks.html", tab="trucks", names=names, shown=shown, part=part, drawings=drawings, short=short_name,
        leaving=leaving, departures=leaving.departures[at * TRUCKS_A_PAGE : (at + 1) * TRUCKS_A_PAGE] if leaving else (),
        at=at, more=leaving is not None and len(leaving.departures) > (at + 1) * TRUCKS_A_PAGE,
        **values.as_dict(),
    )  # fmt: skip


@router.get("/plans/{plan_id}/walls")
def walls_page(request: Request, plan_id: Name, here: Here, about: About = None) -> Response:
    """Show the walls and roof planes of one order, with the mark of each panel."""
    values = _of_plan(plan_state(plan_id, store=here.store), here, request_language(request))
    names, shown = _about(values.result, "takeoff", about)
    takeoff = plan_part_about(plan_id, "takeoff", Takeoff, shown, store=here.store)
    building = takeoff.building
    groups = [*(wall.id for wall in building.walls), *(plane.id for plane in building.roof)]
    unit = values.result.unit
    drawings = [(group, group_drawing_of(takeoff, group, request_language(request), unit)) for group in groups]
    return render_page(
        request, "plan_walls.html", tab="walls", names=names, shown=shown, takeoff=takeoff, drawings=drawings,
        **values.as_dict(),
    )  # fmt: skip


@router.get("/plans/{plan_id}/changes")
def changes_page(
    request: Request, plan_id: Name, here: Here, view: View = "week", at: Window | None = None, first: First = 0
) -> Response:
    """Show what a plan moves of the timetable before it, and what it keeps, changes and drops of orders taken off before."""
    values = _of_plan(plan_state(plan_id, store=here.store), here, request_language(request))
    told, now = plan_changes(plan_id, store=here.store), datetime.now(UTC)
    moved = moves_page(plan_id, request_language(request), view=view, at=at, first=first, now=now, store=here.store)
    return render_page(
        request, "plan_changes.html", tab="changes", changes=told, short=short_name, moved=moved, step_words=step_words,
        change_word=move_kind_words, **values.as_dict(),
    )  # fmt: skip


@router.get("/plans/{plan_id}/sheets")
def sheets_page(request: Request, plan_id: Name, here: Here) -> Response:
    """Show the sheets and labels to print."""
    values = _of_plan(plan_state(plan_id, store=here.store), here, request_language(request))
    files = plan_documents(plan_id, store=here.store).documents
    return render_page(request, "plan_sheets.html", tab="sheets", files=files, **values.as_dict())
