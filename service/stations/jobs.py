"""A job's page: how far it is, why there is no answer, or what came of it, each kind of job in its own words."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Annotated, Literal

from fastapi import APIRouter, Query, Request, Response
from starlette.responses import RedirectResponse

from service.contracts.jobs import JobState
from service.contracts.plans import ENDED, JobKind
from service.contracts.replans import Replanned
from service.dependencies import Adapters, Here, Name
from service.stations import progress_words, views
from service.stations.happened import disruption_summary
from service.stations.pages import render_page, request_language
from service.stations.promises import promise_page_values
from service.usecases.ask.jobs import job_state
from service.usecases.ask.plans import plan_state
from service.usecases.ask.timetable import plan_names
from solver.documents.lateness_words import step_words
from solver.domain.ids import short_name

router = APIRouter(prefix="/planner/jobs", include_in_schema=False)
MOVES_A_PAGE = 50
PageNumber = Annotated[int, Query(ge=0, le=100_000)]
Choice = Literal["calm", "on_time"]


@dataclass(frozen=True, slots=True)
class AnswerView:
    """What of a long answer is looked at."""

    choice: Choice
    at: int


@router.get("/{job_id}")
def job_page(request: Request, job_id: Name, here: Here, choice: Choice = "calm", at: PageNumber = 0) -> Response:
    """Show a job."""
    state = job_state(job_id, store=here.store)
    return PAGES[state.kind](request, here, state, AnswerView(choice, at))


def _plan(request: Request, _here: Adapters, state: JobState, _asked: AnswerView) -> Response:
    """How far a plan is; once it is done it has its own page."""
    if state.plan is not None:
        return RedirectResponse(f"/planner/plans/{state.plan}", 303)
    told, words = progress_words.progress_script_values(state, request_language(request))
    return render_page(
        request,
        "job_plan.html",
        job=state,
        views=views,
        making=progress_words,
        stages=progress_words.STAGES,
        state=told,
        words=words,
    )


def _promise(request: Request, here: Adapters, state: JobState, _asked: AnswerView) -> Response:
    """How far a promise is, or its answer."""
    assert state.of is not None
    about = promise_page_values(state.of, here)
    return render_page(request, "job_promise.html", job=state, ended=ENDED, short=short_name, **about)


def _replan(request: Request, here: Adapters, state: JobState, asked: AnswerView) -> Response:
    """How far a replan is, or the ways to go on side by side and what moves in one of them."""
    assert state.of is not None
    choices = state.answer.choices if isinstance(state.answer, Replanned) else ()
    shown = next((one for one in choices if one.name == asked.choice), choices[0] if choices else None)
    on_floor = {one.plan for one in choices if plan_state(one.plan, store=here.store).released}
    first = asked.at * MOVES_A_PAGE
    moves = shown.moves[first : first + MOVES_A_PAGE] if shown else ()
    called = plan_names(state.of, [one.about for one in moves], request_language(request), store=here.store).of
    return render_page(
        request, "job_replan.html", job=state, shown=shown, on_floor=on_floor, moves=moves, at=asked.at, views=views,
        more=shown is not None and len(shown.moves) > first + MOVES_A_PAGE, first=first,
        step_words=step_words, summary=partial(disruption_summary, called), called=called,
    )  # fmt: skip


PAGES: Mapping[JobKind, Callable[[Request, Adapters, JobState, AnswerView], Response]] = {
    "plan": _plan,
    "promise": _promise,
    "replan": _replan,
}
