"""Counters: requests by route and status, their times, and jobs by status as the table tells them."""

from __future__ import annotations

import time
from collections.abc import Iterator

from prometheus_client import CollectorRegistry, Counter, Histogram
from prometheus_client.core import GaugeMetricFamily
from prometheus_client.registry import Collector
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.ports import Store


def job_counts_by_status(store: Store) -> dict[str, int]:
    """Return how many jobs there are by status."""
    with store.reading() as tx:
        return tx.jobs.counts()


class _Jobs(Collector):
    def __init__(self, store: Store) -> None:
        self._store = store

    def collect(self) -> Iterator[GaugeMetricFamily]:
        family = GaugeMetricFamily("sawbill_jobs", "Plans asked for, by status", labels=["status"])
        for status, count in job_counts_by_status(self._store).items():
            family.add_metric([status], count)
        yield family


class Metrics:
    """The counters of one application."""

    def __init__(self, store: Store) -> None:
        self.registry = CollectorRegistry()
        self.registry.register(_Jobs(store))
        names = ["method", "route", "status"]
        self.requests = Counter("sawbill_requests", "Requests answered", names, registry=self.registry)
        self.seconds = Histogram("sawbill_request_seconds", "Time to answer", ["route"], registry=self.registry)


class CountRequests:
    """Counts each request by its route's pattern, never by its path, so that ids make no new series."""

    def __init__(self, app: ASGIApp, metrics: Metrics) -> None:
        self._app, self._metrics = app, metrics

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on and count it."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        status, begun = ["500"], time.perf_counter()

        async def noting(message: Message) -> None:
            if message["type"] == "http.response.start":
                status[0] = str(message["status"])
            await send(message)

        try:
            await self._app(scope, receive, noting)
        finally:
            route = getattr(scope.get("route"), "path", "none")
            if scope["path"].startswith("/api/") and not route.startswith("/api"):  # included routers know only their own part
                route = f"/api{route}"
            method = scope["method"] if scope["method"] in ("GET", "POST", "HEAD", "PUT", "DELETE") else "other"
            self._metrics.requests.labels(method, route, status[0]).inc()
            self._metrics.seconds.labels(route).observe(time.perf_counter() - begun)
