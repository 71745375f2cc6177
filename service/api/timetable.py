"""The timetable of a plan over HTTP: what each machine does, as JSON, CSV and calendars."""

from __future__ import annotations

from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Query, Response

from service.api.answers import json_response, openapi_responses
from service.contracts.timetable import MachineList
from service.dependencies import Here, Name, Words
from service.usecases.ask.timetable import plan_calendar, plan_machines, plan_timetable_csv

router = APIRouter(prefix="/plans/{plan_id}", tags=["timetable"])
Second = Annotated[int, Query(ge=0, le=10**10)]


def _file(text: str, media_type: str, name: str) -> Response:
    said = f"attachment; filename*=UTF-8''{quote(name, safe='')}"
    return Response(text, headers={"Content-Disposition": said}, media_type=f"{media_type}; charset=utf-8")


@router.get("/machines", responses=openapi_responses(MachineList, also=(404,)))
def get_machines(plan_id: Name, here: Here, from_s: Second = 0, to_s: Second | None = None) -> Response:
    """Tell what each machine does in a time, a week unless said otherwise, in seconds from the plan's start."""
    return json_response(plan_machines(plan_id, from_s, to_s, store=here.store))


@router.get("/timetable.csv", responses={200: {"content": {"text/csv": {}}}, 404: {"description": "There is no such plan"}})
def get_timetable_csv(plan_id: Name, here: Here) -> Response:
    """Fetch the timetable as CSV, a row an operation, in the plant's own time."""
    return _file(plan_timetable_csv(plan_id, store=here.store), "text/csv", "timetable.csv")


@router.get(
    "/machines/{machine}/calendar.ics",
    responses={200: {"content": {"text/calendar": {}}}, 404: {"description": "There is no such plan or machine"}},
)
def get_calendar(plan_id: Name, machine: Name, here: Here, language: Words) -> Response:
    """Fetch a machine's work as a calendar (RFC 5545)."""
    return _file(plan_calendar(plan_id, machine, language, store=here.store), "text/calendar", f"{machine}.ics")
