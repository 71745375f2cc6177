"""A machine's work as an iCalendar file (RFC 5545): one event an operation, times in UTC, for any calendar to read.

Written here and read back by the package icalendar in the tests: written by it too, 5,000 events take four times the
processor's time (1.3 s for 0.35 s), and nobody but the writer would have read them.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime, timedelta

from solver.documents.lateness_words import duration_text, step_words, word
from solver.domain.timetable import PlannedOperation, Timetable
from solver.language import ENGLISH, Language

FOLD_OCTETS = 75  # RFC 5545, 3.1: a line is at most 75 octets, without its line break


def machine_calendar(
    table: Timetable,
    machine: str,
    *,
    plant: str,
    made: datetime,
    sequence: int = 0,
    language: Language = ENGLISH,
    gone: Sequence[PlannedOperation] = (),
) -> str:
    """Return a machine's calendar, lines folded and ended as RFC 5545 asks; the same arguments give the same text.

    An event's id (UID, 3.8.4.7) names the plant and the operation, not the plan: the same work in a later plan is the same
    entry, and `sequence` (3.8.7.4), the number of plans before this one, says which of the two is newer: a calendar into
    which the later file is imported moves the entry. `made`: when the plan was made (DTSTAMP, 3.8.7.2), aware.
    `gone`: work of the plan before, on this one's clock, that nobody does any more: told as cancelled (STATUS, 3.8.1.11).
    """
    epoch = datetime.fromisoformat(table.epoch)
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "PRODID:-//Sawbill//Timetable//EN",
        "CALSCALE:GREGORIAN",
        f"NAME:{_text(machine)}",  # RFC 7986, 5.1
        *(
            line
            for some, status in ((table.operations, ""), (gone, "CANCELLED"))
            for one in some
            if one.machine == machine
            for line in _event(one, epoch, plant, language, made=made, sequence=sequence, status=status)
        ),
        "END:VCALENDAR",
    ]
    return "".join(f"{line}\r\n" for line in _folded(lines))


def _event(
    one: PlannedOperation, epoch: datetime, plant: str, language: Language, *, made: datetime, sequence: int, status: str = ""
) -> Iterator[str]:
    uid = hashlib.sha256(f"{plant}\n{one.id}".encode()).hexdigest()[:32]
    yield "BEGIN:VEVENT"
    yield f"UID:{uid}@{_host(plant)}"
    yield f"SEQUENCE:{sequence}"
    if status:
        yield f"STATUS:{status}"
    yield f"DTSTAMP:{_utc(made)}"
    yield f"DTSTART:{_utc(epoch + timedelta(seconds=one.start_s))}"
    if one.end_s > one.start_s:  # RFC 5545, 3.6.1: an end is later than its start
        yield f"DTEND:{_utc(epoch + timedelta(seconds=one.end_s))}"
    yield f"SUMMARY:{_text(f'{step_words(one.step, language)} {one.about}')}"
    yield f"LOCATION:{_text(one.machine)}"
    about = list(_about(one, language))
    if about:
        yield f"DESCRIPTION:{_text(chr(10).join(about))}"
    yield "END:VEVENT"


def _about(one: PlannedOperation, language: Language) -> Iterator[str]:
    if one.order:
        yield word("of_order", language).format(name=one.order)
    if one.bars and one.bars != (one.about,):
        yield word("of_bars", language).format(names=", ".join(one.bars))
    if one.setup_s:
        yield word("set_up_before", language).format(span=duration_text(one.setup_s))
    if one.hold_s:
        yield word("sets_after", language).format(span=duration_text(one.hold_s))


def _utc(moment: datetime) -> str:
    return moment.astimezone(UTC).strftime("%Y%m%dT%H%M%SZ")


def _host(plant: str) -> str:
    """The plant as a name that no host has; few octets, so that the line needs no folding."""
    return "".join(letter if letter.isascii() and letter.isalnum() else "-" for letter in plant)[:24] + ".invalid"


def _text(value: str) -> str:
    r"""A TEXT value: backslash, semicolon, comma and line break escaped (3.3.11), control characters left out."""
    kept = "".join(letter for letter in value if letter == "\n" or (letter >= " " and letter != "\x7f"))
    return kept.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,").replace("\n", "\\n")


def _folded(lines: Iterable[str]) -> Iterator[str]:
    """Each line in pieces of at most 75 octets, those after the first begun with a space; no character is cut in two."""
    for line in lines:
        piece, size = "", 0
        for letter in line:
            octets = len(letter.encode())
            if size + octets > FOLD_OCTETS:
                yield piece
                piece, size = " ", 1
            piece, size = piece + letter, size + octets
        yield piece
