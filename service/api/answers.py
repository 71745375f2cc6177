"""How an answer becomes HTTP, and how its shape comes into the published OpenAPI document: both from the codec."""

from __future__ import annotations

import json
from typing import Any

from fastapi import FastAPI, Response
from fastapi.openapi.utils import get_openapi

from service.contracts.faults import Refusal
from solver.codec import encode, schema

_SHOWN: dict[str, type[Any]] = {}


def json_response(value: Any, status: int = 200, **headers: str) -> Response:
    """Return a value as JSON, lengths in its own unit (else in mm)."""
    return Response(_text(value), status, headers, media_type="application/json")


def created_response(value: Any, where: str, status: int) -> Response:
    """Return a value with the address of what was made."""
    return Response(_text(value), status, {"Location": where}, media_type="application/json")


def _text(value: Any) -> str:
    return json.dumps(encode(value), ensure_ascii=False)


def openapi_responses(kind: type[Any], *, status: int = 200, also: tuple[int, ...] = ()) -> dict[int | str, dict[str, Any]]:
    """Return the responses of a route for OpenAPI: what it shows, and how it refuses."""
    refusals: dict[int | str, dict[str, Any]] = {code: _content(Refusal, _REFUSALS[code]) for code in (*also, 422)}
    return {status: _content(kind, (kind.__doc__ or kind.__name__).split("\n")[0]), **refusals}


_REFUSALS = {
    404: "There is no such thing",
    409: "Not as things are now: what stands against it",
    413: "Too large",
    422: "Refused with every fault, nothing stored",
    503: "Not printed: why, and what to do instead",
}


def openapi_body(kind: type[Any]) -> dict[str, Any]:
    """Return the body of a route for OpenAPI."""
    return {"requestBody": {"required": True, "content": _content(kind, "")["content"]}}


def openapi_body_any(*kinds: type[Any]) -> dict[str, Any]:
    """Return the body of a route for OpenAPI that takes any of several forms."""
    forms = [_content(kind, "")["content"]["application/json"]["schema"] for kind in dict.fromkeys(kinds)]
    return {"requestBody": {"required": True, "content": {"application/json": {"schema": {"anyOf": forms}}}}}


def _content(kind: type[Any], text: str) -> dict[str, Any]:
    if _SHOWN.setdefault(kind.__name__, kind) is not kind:
        raise ValueError(f"two classes of the API are called {kind.__name__}: give one another name")
    return {"description": text, "content": {"application/json": {"schema": {"$ref": f"#/components/schemas/{kind.__name__}"}}}}


def publish_openapi_schemas(app: FastAPI) -> None:
    """Make the application's OpenAPI document hold the codec's schemas."""

    def document() -> dict[str, Any]:
        if app.openapi_schema is None:
            made = get_openapi(title=app.title, version=app.version, description=app.description, routes=app.routes)
            parts = made.setdefault("components", {}).setdefault("schemas", {})
            for kind in _SHOWN.values():
                parts.update(_moved(schema(kind)["$defs"]))
            app.openapi_schema = made
        return app.openapi_schema

    app.openapi = document  # type: ignore[method-assign]  # FastAPI's documented way to extend it


def _moved(data: Any) -> Any:
    """The same schema with its references pointing into an OpenAPI document."""
    if isinstance(data, dict):
        return {
            key: value.replace("#/$defs/", "#/components/schemas/") if key == "$ref" else _moved(value)
            for key, value in data.items()
        }
    return [_moved(item) for item in data] if isinstance(data, list) else data
