"""The web application, wired: pages and API over the store, the queue and the plant that the settings name."""

from __future__ import annotations

import gc
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

from fastapi import APIRouter, FastAPI
from starlette.staticfiles import StaticFiles

from service import api, stations
from service.api import (
    bundles,
    cut_queue,
    documents,
    drawings,
    events,
    health,
    jobs,
    labels,
    loads,
    orders,
    pieces,
    plans,
    questions,
    redirects,
    stock,
    timetable,
)
from service.api.answers import publish_openapi_schemas
from service.api.guards import RequestGuards
from service.api.handlers import add_fault_handlers
from service.api.metrics import CountRequests, Metrics
from service.catalog import read_plant
from service.dependencies import Adapters
from service.queue import CeleryQueue, TableQueue
from service.settings import Settings
from service.stations import dock, happened, home, planner, saw, scan
from service.stations import jobs as job_pages
from service.stations import promises as promise_pages
from service.stations import stock as stock_pages
from service.stations import timetable as timetable_pages
from service.store.unit_of_work import SqlStore

STATIC = Path(stations.__file__).parent / "static"


# objects made before Python looks for circles among them: it takes a third of the time of a release to look every 700
COLLECTED_AFTER = (50_000, 20, 50)


def make_app(settings: Settings) -> FastAPI:
    """Return the application; the store must have its newest shape. Raises InputError for a faulty plant catalog."""
    gc.set_threshold(*COLLECTED_AFTER)
    store = SqlStore(settings.database_url)
    queue = CeleryQueue(settings.broker) if settings.broker else TableQueue()
    plant = read_plant(Path(settings.plant) if settings.plant else None)

    @asynccontextmanager
    async def living(_: FastAPI) -> AsyncIterator[None]:
        yield
        store.close()

    app = FastAPI(
        title="Sawbill",
        version="1",
        description=api.__doc__ or "",
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/openapi.json",
        lifespan=living,
    )
    app.state.wired = Adapters(settings=settings, store=store, queue=queue, plant=plant)
    app.include_router(redirects.router)  # first: what looks like a job's id is no plan's
    app.include_router(_api())
    for station in (home, planner, job_pages, timetable_pages, promise_pages, stock_pages, happened, saw, dock, scan):
        app.include_router(station.router)
    app.include_router(health.router)
    app.mount("/static", StaticFiles(directory=STATIC), name="static")
    add_fault_handlers(app)
    publish_openapi_schemas(app)
    app.state.metrics = Metrics(store)
    app.add_middleware(CountRequests, metrics=app.state.metrics)
    app.add_middleware(RequestGuards, body_limit=settings.order_bytes, hosts=settings.hosts, language=settings.language)
    return app


def _api() -> APIRouter:
    router = APIRouter(prefix="/api")
    for part in (
        drawings,
        documents,
        timetable,
        orders,
        jobs,
        plans,
        cut_queue,
        bundles,
        loads,
        labels,
        events,
        questions,
        pieces,
        stock,
    ):
        router.include_router(part.router)
    return router
