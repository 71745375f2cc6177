"""Limits that a type hint can carry: `Annotated[int, Low(0)]`; read by the codec, for values and schema alike."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Minimum:
    """At least this."""

    value: int | float


@dataclass(frozen=True, slots=True)
class ExclusiveMinimum:
    """More than this."""

    value: int | float


@dataclass(frozen=True, slots=True)
class Maximum:
    """At most this."""

    value: int | float


@dataclass(frozen=True, slots=True)
class ItemCount:
    """At least `low` and at most `high` items."""

    low: int = 0
    high: int = 1_000_000


@dataclass(frozen=True, slots=True)
class Description:
    """What a field means, for the schema."""

    text: str


@dataclass(frozen=True, slots=True)
class TextPattern:
    """A text of this form (a regular expression that must match all of it), named for people."""

    pattern: str
    name: str
