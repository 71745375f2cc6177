"""Every address that can be got from the application, found from its own routes and filled with things of a stored plan."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import quote, urlencode

from fastapi import FastAPI
from fastapi.testclient import TestClient

STREAMS = ("/progress", "/stream")  # server-sent events: no end of their own


@dataclass(frozen=True, slots=True, kw_only=True)
class Things:
    """What addresses name: the value of each path parameter, and of the query parameters that a route demands or offers."""

    path: dict[str, str]
    query: dict[str, str] = field(default_factory=dict)


def gets(app: FastAPI) -> list[tuple[str, list[str]]]:
    """Return every route that answers GET, each with the query parameters that it takes; streams aside."""
    found = sorted(set(_routes(app.routes, "")))
    return [(path, list(query)) for path, query in found if not path.endswith(STREAMS)]


def _routes(routes: Iterable[Any], prefix: str) -> Iterator[tuple[str, tuple[str, ...]]]:
    for route in routes:
        inner = getattr(route, "original_router", None)
        if inner is not None:
            yield from _routes(inner.routes, prefix + (route.include_context.prefix or ""))
        elif "GET" in (getattr(route, "methods", None) or ()):
            asked = getattr(route, "dependant", None)
            yield prefix + route.path, tuple(one.alias for one in asked.query_params) if asked else ()


def address(path: str, query: Iterable[str], things: Things) -> str | None:
    """Return a route's address for some things, or None where a thing that it names is not among them."""
    names = re.findall(r"{(\w+)(?::\w+)?}", path)
    if not set(names) <= things.path.keys():
        return None
    made = re.sub(r"{(\w+)(?::(\w+))?}", lambda m: quote(things.path[m[1]], safe="/" if m[2] else ""), path)
    asked = {name: things.query[name] for name in query if name in things.query}
    return f"{made}?{urlencode(asked)}" if asked else made


def things_of(web: TestClient, plan_id: str) -> Things:
    """Return what can be named of a plan that is on the floor."""
    result = web.get(f"/api/plans/{plan_id}").json()
    bar = web.get("/api/cut-queue?limit=1").json()["bars"][0]
    bundle = next(one for one in web.get("/api/bundles").json()["bundles"] if one.get("pieces"))
    load = web.get("/api/loads").json()["loads"][0]
    files = web.get(f"/api/plans/{plan_id}/documents").json()["documents"]
    group = bundle["pieces"][0]["mark"].rpartition("-")[0]
    path = {
        "plan_id": plan_id,
        "order_id": result["orders"][0]["id"],
        "digest": next(part["digest"] for part in result["parts"] if part["stage"] == "nest"),
        "machine": bar["machine"],
        "bar_id": bar["id"],
        "bundle_id": bundle["id"],
        "load_id": load["id"],
    }
    path |= {"order": bar["cuts"][0]["order"], "mark": bar["cuts"][0]["mark"]}
    stock = web.get("/api/stock").json()["stock"]
    path |= {"item": str(stock[0]["item"])} if stock else {}
    path |= {"name": files[0]["name"]} if files else {}
    asked = web.get("/api/jobs").json()["jobs"]
    path |= {"job_id": asked[0]["id"]} if asked else {}
    query = {
        "material": bar["material"],
        "order": bundle["order"],
        "load": load["id"],
        "group": group,
        "code": bar["cuts"][0]["piece"],
    }
    return Things(path=path, query=query)


def address_of(path: str, query: Iterable[str], things: Things) -> str | None:
    """As `address`; `bar` and `bundle` are asked of a plan's drawings only: elsewhere the page chooses."""
    own = dict(things.query)
    if "/drawings/" in path or path.endswith("may-load"):
        own |= {"bar": things.path["bar_id"], "bundle": things.path["bundle_id"]}
    return address(path, query, Things(path=things.path, query=own))
