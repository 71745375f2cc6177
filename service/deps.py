"""What a request works with, and how its body is read."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any, cast

from fastapi import Depends, Path, Request

from service.ports import Queue, Store
from service.settings import Settings
from solver.codec import read_json
from solver.domain.plant import Plant


@dataclass(frozen=True, slots=True, kw_only=True)
class Wired:
    """The adapters of one application."""

    settings: Settings
    store: Store
    queue: Queue
    plant: Plant


def wired(request: Request) -> Wired:
    """Return the adapters of the application that serves this request."""
    return cast(Wired, request.app.state.wired)


async def json_body(request: Request) -> Any:
    """Return the request's JSON. Raises InputError when it is none, or too large."""
    return read_json(await request.body(), name="document", limit_bytes=wired(request).settings.order_bytes)


Here = Annotated[Wired, Depends(wired)]
JsonBody = Annotated[Any, Depends(json_body)]
Name = Annotated[str, Path(min_length=1, max_length=400, pattern=r"^[^\x00-\x1f\x7f]+$")]
