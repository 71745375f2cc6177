"""Questions that only a person can answer, over HTTP."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Response

from service.api.answers import json_response, openapi_body, openapi_responses
from service.contracts.floor import AnswerGiven, QuestionList, QuestionRead
from service.dependencies import Here, JsonBody, Name
from service.usecases.ask.events import answer_question, list_questions

router = APIRouter(prefix="/questions", tags=["floor"])


@router.get("", responses=openapi_responses(QuestionList))
def get_questions(
    here: Here,
    answered: bool = False,
    after: Annotated[int, Query(ge=0, le=1_000_000)] = 0,
    limit: Annotated[int, Query(ge=1, le=1000)] = 200,
) -> Response:
    """List the questions that wait for a person, the oldest first; with `answered`, those that do not any more."""
    return json_response(list_questions(after, limit, waiting=not answered, store=here.store))


@router.post(
    "/{question}", responses=openapi_responses(QuestionRead, also=(404, 409, 413)), openapi_extra=openapi_body(AnswerGiven)
)
def answer_one(question: Name, body: JsonBody, here: Here) -> Response:
    """Answer a question; the answer is an event in the book."""
    return json_response(answer_question(question, body, store=here.store))
