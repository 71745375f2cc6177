"""What an event tells of: the things whose state it may change."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable

from solver.domain import event as told
from solver.domain.book import QuestionKind, Thing


def book_bar_name(name: str, digest: str | None) -> str:
    """Return a bar's name in the book: with what is cut from it, as long as two plans may give the same name."""
    return name if digest is None else f"{name}~{digest}"


def pieces_digest(pieces: Iterable[str]) -> str:
    """Return what tells a bar's pieces apart from those of another of its name."""
    return hashlib.sha256("\0".join(pieces).encode()).hexdigest()[:16]


def book_label_name(of: str, making: int | None) -> str:
    """Return a label's name in the book."""
    return of if making is None else f"{of}#{making}"


def affected_things(event: told.AnyEvent) -> tuple[Thing, ...]:
    """Return the things that an event tells of; none of what only undoes another, or says no more than that it was."""
    if isinstance(event, told.Answered):
        return () if event.thing is None else (Thing(event.thing, event.name),)
    if isinstance(event, told.Printed | told.Voided):
        return (Thing("label", book_label_name(event.label, event.making)),)
    found: list[Thing] = []
    if (bar := getattr(event, "bar", None)) is not None and not isinstance(event, told.Drawn):
        found.append(Thing("bar", book_bar_name(bar, getattr(event, "bar_digest", None))))
    if (piece := getattr(event, "piece", None)) is not None:
        found.append(Thing("piece", piece))
    found += [Thing("piece", name) for name in getattr(event, "pieces", ())]
    if (bundle := getattr(event, "bundle", None)) is not None:
        found.append(Thing("bundle", bundle))
    if (load := getattr(event, "load", None)) is not None:
        found.append(Thing("load", load))
    if (item := getattr(event, "item", None)) is not None:
        found.append(Thing("item", str(item)))
    return tuple(dict.fromkeys(found))


def question_id(kind: QuestionKind, event: str) -> str:
    """Return the id of the question of a kind that an event raises."""
    return f"{kind}:{event}"
