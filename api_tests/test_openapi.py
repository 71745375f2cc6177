"""Every route as its own published description says: generated requests, sound and unsound, never end in a 500."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

import httpx
import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from schemathesis import GenerationMode
from schemathesis.specs.openapi.checks import positive_data_acceptance

ROUTES = (
    ("GET", "/api/orders"),
    ("POST", "/api/orders"),
    ("GET", "/api/orders/{order_id}"),
    ("POST", "/api/orders/{order_id}/withdraw"),
    ("POST", "/api/orders/{order_id}/hold"),
    ("DELETE", "/api/orders/{order_id}/hold"),
    ("POST", "/api/plans"),
    ("GET", "/api/plans"),
    ("GET", "/api/plans/{plan_id}"),
    ("GET", "/api/plans/{plan_id}/parts/{digest}"),
    ("POST", "/api/plans/{plan_id}/release"),
    ("GET", "/api/plans/{plan_id}/release"),
    ("DELETE", "/api/plans/{plan_id}/release"),
    ("GET", "/api/plans/{plan_id}/documents"),
    ("GET", "/api/plans/{plan_id}/documents/{name}"),
    ("GET", "/api/plans/{plan_id}/drawings/bar.svg"),
    ("GET", "/api/plans/{plan_id}/drawings/timetable.svg"),
    ("GET", "/api/plans/{plan_id}/changes"),
    ("GET", "/api/plans/{plan_id}/machines"),
    ("GET", "/api/plans/{plan_id}/machines/{machine}/calendar.ics"),
    ("GET", "/api/plans/{plan_id}/timetable.csv"),
    ("POST", "/api/plans/{plan_id}/promises"),
    ("POST", "/api/plans/{plan_id}/replans"),
    ("GET", "/api/jobs"),
    ("GET", "/api/jobs/{job_id}"),
    ("POST", "/api/jobs/{job_id}/cancel"),
    ("GET", "/api/cut-queue"),
    ("GET", "/api/bars/{bar_id}"),
    ("GET", "/api/bundles"),
    ("GET", "/api/bundles/{bundle_id}"),
    ("GET", "/api/loads"),
    ("GET", "/api/loads/{load_id}"),
    ("GET", "/api/loads/{load_id}/may-load"),
    ("GET", "/api/scan"),
    ("GET", "/api/labels"),
    ("GET", "/api/printers"),
    ("POST", "/api/prints"),
    ("POST", "/api/events"),
    ("GET", "/api/events"),
    ("GET", "/api/questions"),
    ("POST", "/api/questions/{question}"),
    ("GET", "/api/pieces/{order}/{mark}"),
    ("GET", "/api/stock"),
    ("GET", "/api/stock/{item}"),
    ("GET", "/api/stock/{item}/label"),
    ("POST", "/api/stock/movements"),
)


@pytest.fixture(scope="module")
def described(client: httpx.Client, planned: str) -> Any:
    """The published description, over a stack that holds a plan."""
    document = client.get("/api/openapi.json").json()
    return schemathesis.openapi.from_dict(document)


@pytest.mark.parametrize(("method", "path"), ROUTES, ids=[f"{method} {path}" for method, path in ROUTES])
def test_generated_requests_are_answered_as_described(
    described: Any, client: httpx.Client, address: str, method: str, path: str
) -> None:
    operation = described[path][method]
    sound, unsound = (
        operation.as_strategy(generation_mode=mode) for mode in (GenerationMode.POSITIVE, GenerationMode.NEGATIVE)
    )

    @settings(max_examples=20, deadline=None, database=None, phases=[Phase.generate], suppress_health_check=list(HealthCheck))
    @given(data=st.data())
    def answered(data: st.DataObject) -> None:
        case = data.draw(sound | unsound)
        told = case.call(base_url=address, timeout=20)
        case.validate_response(told, excluded_checks=[positive_data_acceptance])  # a schema can't say every rule of the trade

    answered()


def test_answers_about_things_that_there_are_look_as_described(described: Any, client: httpx.Client, planned: str) -> None:
    queue = client.get("/api/cut-queue").json()
    bundle = client.get("/api/bundles").json()["bundles"][0]["id"]
    load = client.get("/api/loads").json()["loads"][0]["id"]
    asked = {
        "/api/orders/{order_id}": "/api/orders/shed-1",
        "/api/plans/{plan_id}": f"/api/plans/{planned}",
        "/api/plans": "/api/plans",
        "/api/jobs": "/api/jobs",
        "/api/jobs/{job_id}": f"/api/jobs/{client.get(f'/api/plans/{planned}').json()['job']}",
        "/api/plans/{plan_id}/documents": f"/api/plans/{planned}/documents",
        "/api/cut-queue": "/api/cut-queue",
        "/api/bars/{bar_id}": f"/api/bars/{quote(queue['bars'][0]['id'])}",
        "/api/bundles": "/api/bundles",
        "/api/bundles/{bundle_id}": f"/api/bundles/{bundle}",
        "/api/loads": "/api/loads",
        "/api/loads/{load_id}": f"/api/loads/{load}",
        "/api/loads/{load_id}/may-load": f"/api/loads/{load}/may-load?bundle={bundle}",
    }
    for path, real in asked.items():
        told = client.get(real)
        assert told.status_code == 200, real
        described[path]["GET"].validate_response(told)


def test_every_route_of_the_description_is_asked(client: httpx.Client) -> None:
    document = client.get("/api/openapi.json").json()
    there = {(method.upper(), path) for path, methods in document["paths"].items() for method in methods}
    others = {
        ("GET", "/api/events/stream"),  # a stream: asked in test_book
        ("GET", "/api/jobs/{job_id}/progress"),  # a stream: asked in test_http
        ("POST", "/api/jobs/{job_id}/keep"),  # of a plan that is being made: asked in test_service_keep
        ("GET", "/api/plans/{plan_id}/drawings/stack.svg"),
        ("GET", "/api/plans/{plan_id}/drawings/deck.svg"),
        ("GET", "/api/plans/{plan_id}/drawings/elevation.svg"),
    }
    assert there == {*ROUTES, *others}
