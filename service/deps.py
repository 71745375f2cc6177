"""What a request works with, and how its body is read."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Annotated, Any, cast

from fastapi import Depends, Path, Query, Request
from starlette.concurrency import run_in_threadpool

from service.kept import Kept
from service.languages import codes, language
from service.ports import Queue, Store
from service.settings import Settings
from solver.codec import read_json
from solver.domain.plant import Plant
from solver.language import ENGLISH, Language


@dataclass(frozen=True, slots=True, kw_only=True)
class Wired:
    """The adapters of one application."""

    settings: Settings
    store: Store
    queue: Queue
    plant: Plant
    kept: Kept = field(default_factory=lambda: Kept(256))  # of stored plans, under keys that name the plan
    pages: Kept = field(default_factory=lambda: Kept(16))  # whole pages, under keys that name the state of the store


def wired(request: Request) -> Wired:
    """Return the adapters of the application that serves this request."""
    return cast(Wired, request.app.state.wired)


async def json_body(request: Request) -> Any:
    """Return the request's JSON. Raises InputError when it is none, or too large."""
    limit = wired(request).settings.order_bytes
    # beside the event loop: while one body is read, all other pages go on
    return await run_in_threadpool(read_json, await request.body(), name="document", limit_bytes=limit)


def _words(code: Annotated[str, Query(alias="language", pattern=f"^({'|'.join(codes())})$")] = ENGLISH.code) -> Language:
    return language(code)


Here = Annotated[Wired, Depends(wired)]
JsonBody = Annotated[Any, Depends(json_body)]
Words = Annotated[Language, Depends(_words)]  # the language that an address asks for
Name = Annotated[str, Path(min_length=1, max_length=400, pattern=r"^[^\x00-\x1f\x7f]+$")]
