"""Why a delivery is late, in words: the chain of a timetable told machine by machine."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby

from solver.domain.ids import short_name
from solver.domain.timetable import Lateness, Link, PlannedOperation
from solver.language import Language

WORDS: dict[str, str] = {
    "all": "{total} from start to end: {parts}",
    "one": "{machine}: {step} {about}; {parts}",
    "many": "{machine}: {n} in a row up to {step} {about}; {parts}",
    "rest": "{n} shorter links between; {parts}",
    "work_s": "{span} work",
    "setup_s": "{span} set-up",
    "hold_s": "{span} glue or core setting",
    "closed_s": "{span} until the machine was open",
    "pause_s": "{span} breaks and closed hours",
    "release_s": "{span} until the material was there",
    "people_s": "{span} until its people were free",
    "room_s": "{span} until what it makes found room",
    "held_back_once": "held back for want of room: {step} {about}",
    "held_back": "held back for want of room {n} times, last {step} {about}",
    "stayed_s": "{span} left where it was planned",
    "idle_s": "{span} idle",
    "of_order": "Order {name}",
    "of_bars": "Bars {names}",
    "set_up_before": "Set-up before: {span}",
    "sets_after": "Sets after: {span}, in closed hours too",
    "now": "now",
    "closed": "closed",
    "set_up": "set-up",
    "sets": "glue or core sets",
    "makes_late": "makes a delivery late",
    "late": "late",
    "season core": "season core",
    "cut core": "cut core",
    "film": "film",
    "laminate": "laminate",
    "cut": "cut",
    "rip": "rip",
    "bevel": "bevel",
    "rout": "rout",
    "clean and check": "clean and check",
    "slit": "slit",
    "cut trim": "cut trim",
    "drill": "drill",
    "form": "form",
    "mitre": "mitre",
    "bundle": "bundle",
    "load": "load",
}  # fmt: skip
PARTS = ("release_s", "people_s", "room_s", "hold_s", "setup_s", "closed_s", "work_s", "pause_s", "stayed_s", "idle_s")
LINES = 6  # told one by one; what is shorter is told together


def step_words(step: str, language: Language) -> str:
    """Return what a step of the timetable is called."""
    return word(step, language) if step in WORDS else step


def lateness_reasons(promise: Lateness, operations: Iterable[PlannedOperation], language: Language) -> tuple[str, ...]:
    """Return why a delivery is late, a line each: first where the time went in all, then each machine in order of time.

    Empty for a delivery that is in time.
    """
    if not promise.chain:
        return ()
    by_id = {operation.id: operation for operation in operations}
    whole = seconds_by_cause(promise.chain)
    first = word("all", language).format(total=duration_text(sum(whole.values())), parts=_parts(whole, language))
    runs = [list(links) for _, links in groupby(promise.chain, key=lambda link: by_id[link.operation].machine)]
    long = sorted(sorted(runs, key=lambda run: -sum(seconds_by_cause(run).values()))[:LINES], key=runs.index)
    lines = [first, *_held_back(promise.chain, by_id, language), *(_run(run, by_id, language) for run in long)]
    short = [link for run in runs if run not in long for link in run]
    if short:
        lines.append(word("rest", language).format(n=len(short), parts=_parts(seconds_by_cause(short), language)))
    return tuple(lines)


def _held_back(links: Sequence[Link], by_id: Mapping[str, PlannedOperation], language: Language) -> list[str]:
    """What could not end before other work made room; its own time is mostly that of the other."""
    held = [by_id[link.operation] for link in links if link.waits_for == "room"]
    if not held:
        return []
    text = word("held_back_once" if len(held) == 1 else "held_back", language)
    return [text.format(n=len(held), step=step_words(held[-1].step, language), about=held[-1].about)]


def seconds_by_cause(links: Sequence[Link]) -> dict[str, int]:
    """Return the seconds of some links by what they went to."""
    return {name: sum(getattr(link, name) for link in links) for name in PARTS}


def duration_text(seconds: int) -> str:
    """Return a length of time in its two largest units, the same in every language."""
    days, rest = divmod(max(seconds, 0), 86_400)
    hours, minutes = divmod(rest // 60, 60)
    if days:
        return f"{days} d {hours} h" if hours else f"{days} d"
    if hours:
        return f"{hours} h {minutes} min" if minutes else f"{hours} h"
    return f"{minutes} min" if minutes or not rest else f"{rest} s"


def _run(run: list[Link], by_id: Mapping[str, PlannedOperation], language: Language) -> str:
    last = by_id[run[-1].operation]
    text = word("one" if len(run) == 1 else "many", language)
    step, about = step_words(last.step, language), last.about
    return text.format(machine=last.machine, n=len(run), step=step, about=about, parts=_parts(seconds_by_cause(run), language))


def short_spoken_name(about: str) -> str:
    """Return the part of a name that is said aloud where there is little room: "bar 3" of a bar's, "B03" of a bundle's."""
    return short_name(about.partition(", ")[0])


def _parts(sums: Mapping[str, int], language: Language) -> str:
    return ", ".join(word(name, language).format(span=duration_text(seconds)) for name, seconds in sums.items() if seconds)


def word(key: str, language: Language) -> str:
    """Return a text of this file; its {names} are for the caller to fill. Raises KeyError."""
    return language.text(WORDS[key], "why")
