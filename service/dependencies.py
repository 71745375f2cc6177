"""What a request works with, and how its body is read."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Annotated, Any, cast

from fastapi import Depends, Path, Query, Request
from starlette.concurrency import run_in_threadpool

from service.languages import language_by_code, language_codes
from service.lru_cache import LruCache
from service.ports import Queue, Store
from service.settings import Settings
from solver.codec import read_json
from solver.domain.plant import Plant
from solver.language import ENGLISH, Language


@dataclass(frozen=True, slots=True, kw_only=True)
class Adapters:
    """The adapters of one application."""

    settings: Settings
    store: Store
    queue: Queue
    plant: Plant
    kept: LruCache = field(default_factory=lambda: LruCache(256))  # of stored plans, under keys that name the plan
    pages: LruCache = field(default_factory=lambda: LruCache(16))  # whole pages, under keys that name the state of the store


def adapters_of_request(request: Request) -> Adapters:
    """Return the adapters of the application that serves this request."""
    return cast(Adapters, request.app.state.wired)


async def json_body(request: Request) -> Any:
    """Return the request's JSON. Raises InputError when it is none, or too large."""
    limit = adapters_of_request(request).settings.order_bytes
    # beside the event loop: while one body is read, all other pages go on
    return await run_in_threadpool(read_json, await request.body(), name="document", limit_bytes=limit)


def _words(
    code: Annotated[str, Query(alias="language", pattern=f"^({'|'.join(language_codes())})$")] = ENGLISH.code,
) -> Language:
    return language_by_code(code)


Here = Annotated[Adapters, Depends(adapters_of_request)]
JsonBody = Annotated[Any, Depends(json_body)]
Words = Annotated[Language, Depends(_words)]  # the language that an address asks for
Name = Annotated[str, Path(min_length=1, max_length=400, pattern=r"^[^\x00-\x1f\x7f]+$")]
