"""The order in which things happened, and which of the events stand."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, datetime
from typing import NamedTuple

from solver.domain.event import AnyEvent, Undone


class RecordedEvent(NamedTuple):
    """An event with its place in the order of receipt, and whether it stands: was not undone."""

    seq: int
    event: AnyEvent
    stands: bool = True


def parse_utc_instant(text: str) -> datetime:
    """Return an instant in UTC. Raises ValueError for what is none."""
    return datetime.fromisoformat(text).astimezone(UTC)


def in_order_of_occurrence(told: Iterable[RecordedEvent]) -> list[RecordedEvent]:
    """Return events in the order in which they happened.

    Each device's own counter decides among what that device told, whatever its clock did meanwhile; between devices the
    clock does, and what was received first where that is equal. A merge of each device's events by the earliest next one.
    """
    lines: dict[tuple[str, int], list[RecordedEvent]] = {}
    for one in told:
        counted = one.event.device and one.event.counter is not None
        lines.setdefault((one.event.device, -1) if counted else ("", one.seq), []).append(one)
    if all(len(line) == 1 for line in lines.values()):  # the usual case, without the merge
        return sorted((line[0] for line in lines.values()), key=lambda one: (parse_utc_instant(one.event.at), one.seq))
    waiting = [sorted(line, key=lambda one: (one.event.counter or 0, one.seq)) for line in lines.values()]
    ordered: list[RecordedEvent] = []
    while waiting:
        line = min(waiting, key=lambda line: (parse_utc_instant(line[0].event.at), line[0].seq))
        ordered.append(line.pop(0))
        if not line:
            waiting.remove(line)
    return ordered


def ids_of_events_in_force(told: Sequence[RecordedEvent]) -> frozenset[str]:
    """Return the ids of events that count: those that no event that counts itself undoes.

    Of two that undo each other the one received last counts.
    """
    undoing: dict[str, list[str]] = {}
    for one in told:
        if isinstance(one.event, Undone):
            undoing.setdefault(one.event.event, []).append(one.event.id)
    known: dict[str, bool] = {}
    for one in told:
        _decide(one.event.id, undoing, known)
    return frozenset(name for name, counts in known.items() if counts)


def _decide(name: str, undoing: Mapping[str, Sequence[str]], known: dict[str, bool]) -> None:
    """Decide on an event after all that undo it, without recursion: chains of undoing may be long."""
    stack, open_ = [name], set[str]()
    while stack:
        top = stack[-1]
        if top in known:
            stack.pop()
            continue
        open_.add(top)
        waits = [one for one in undoing.get(top, ()) if one not in known and one not in open_]
        if waits:
            stack.extend(waits)
            continue
        known[top] = not any(known.get(one, False) for one in undoing.get(top, ()))
        stack.pop()
