"""What stands before every route: the largest body, no writes from other sites, and the headers that browsers obey."""

from __future__ import annotations

import json
import socket
from collections.abc import Collection
from ipaddress import ip_address
from typing import Any

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.contracts.faults import to_fault
from service.languages import choose_language
from solver.codec import encode
from solver.documents.faults import translate_fault
from solver.errors import FieldFault
from solver.language import ENGLISH, Language

SAFE = ("GET", "HEAD", "OPTIONS")
HEADERS = {
    "content-security-policy": (
        "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; font-src 'self'; "
        "connect-src 'self'; manifest-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
    ),
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "x-frame-options": "DENY",
    "cross-origin-opener-policy": "same-origin",
    "cache-control": "no-store",
}


def refusal_json(faults: list[FieldFault], status: str = "refused", language: Language = ENGLISH) -> dict[str, Any]:
    """Return how a refusal looks as JSON, in the reader's language."""
    said = [translate_fault(language, fault) for fault in faults]
    return {"status": status, "faults": [encode(to_fault(one.path, one.problem, one.fix)) for one in said]}


def own_host_names() -> tuple[str, ...]:
    """Return the names by which this machine calls itself."""
    own = socket.gethostname()
    return "localhost", own, own.partition(".")[0], f"{own.partition('.')[0]}.local"


class RequestGuards:
    """Refuses names that are not ours, bodies over the limit and writes that another site's page sends; adds the headers."""

    def __init__(self, app: ASGIApp, body_limit: int, hosts: Collection[str] = (), language: str = "") -> None:
        self._app, self._limit, self._language = app, body_limit, language
        self._hosts = {name.lower() for name in (*hosts, *own_host_names())}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or refuse it."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        headers = {key.decode("latin-1").lower(): value.decode("latin-1") for key, value in scope["headers"]}
        sending, language = _with_headers(send), choose_language(self._language, headers.get("accept-language", ""))
        if not self._known(headers.get("host", "")):
            fault = FieldFault("host", "is no name of this service", "one that SAWBILL_ALLOWED_HOSTS names")
            await _refuse(sending, 421, fault, language)
            return
        if scope["method"] not in SAFE and _from_elsewhere(headers):
            fault = FieldFault("request", "comes from another site's page", "the service's own pages")
            await _refuse(sending, 403, fault, language)
            return
        length = headers.get("content-length", "")
        if length.isdigit() and int(length) > self._limit:
            await _refuse(sending, 413, self._too_large(int(length)), language)
            return
        if "transfer-encoding" in headers:
            await self._count(scope, receive, sending, language)
            return
        await self._app(scope, receive, sending)

    def _known(self, host: str) -> bool:
        """Whether a page may be asked for by this name: any address, for only names can be made to point here by others."""
        name = host.partition("]")[0].removeprefix("[") if host.startswith("[") else host.rpartition(":")[0] or host
        try:
            return bool(ip_address(name))
        except ValueError:
            return name.lower().removesuffix(".") in self._hosts

    async def _count(self, scope: Scope, receive: Receive, send: Send, language: Language) -> None:
        """Read a body of unknown length up to the limit before anything sees it."""
        body, more = bytearray(), True
        while more:
            message = await receive()
            if message["type"] != "http.request":
                return
            body += message.get("body", b"")
            more = message.get("more_body", False)
            if len(body) > self._limit:
                await _refuse(send, 413, self._too_large(len(body)), language)
                return
        given: list[Message] = [{"type": "http.request", "body": bytes(body), "more_body": False}]

        async def again() -> Message:
            return given.pop() if given else await receive()

        await self._app(scope, again, send)

    def _too_large(self, size: int) -> FieldFault:
        return FieldFault(
            "document", f"{size / 1e6:.1f} MB is over the limit of {self._limit / 1e6:g} MB", "send a smaller document"
        )


def _from_elsewhere(headers: dict[str, str]) -> bool:
    site = headers.get("sec-fetch-site")
    if site is not None:
        return site not in ("same-origin", "none")
    origin = headers.get("origin")
    return origin is not None and origin.partition("://")[2] != headers.get("host")


def _with_headers(send: Send) -> Send:
    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            there = {key.lower() for key, _ in message.get("headers", [])}
            more = [(key.encode(), value.encode()) for key, value in HEADERS.items() if key.encode() not in there]
            message = {**message, "headers": [*message.get("headers", []), *more]}
        await send(message)

    return sending


async def _refuse(send: Send, status: int, fault: FieldFault, language: Language) -> None:
    body = json.dumps(refusal_json([fault], language=language)).encode()
    headers = [(b"content-type", b"application/json"), (b"content-length", str(len(body)).encode()), (b"connection", b"close")]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
