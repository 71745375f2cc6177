"""Orders as the web tells them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderLine:
    """One stored order, in a list: its newest revision, where it goes and when it is wanted."""

    id: str
    revision: int
    name: str
    need_by: str | None
    received_at: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderRead:
    """One stored order with its document as it came in, and the revisions that are stored."""

    id: str
    revision: int
    name: str
    need_by: str | None
    received_at: str
    revisions: tuple[int, ...]
    document: Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderList:
    """All orders, newest first."""

    orders: tuple[OrderLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderKept:
    """An order taken in: `new` is false where the same document was stored before."""

    id: str
    revision: int
    new: bool
