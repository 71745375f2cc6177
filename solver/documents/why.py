"""Why a delivery is late, in words, in both languages: the chain of a timetable told machine by machine."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby

from solver.documents.texts import Language
from solver.domain.timetable import Lateness, Link, PlannedOperation

WORDS: dict[str, tuple[str, str]] = {
    "all": ("{total} from start to end: {parts}", "{total} de principio a fin: {parts}"),
    "one": ("{machine}: {step} {about}; {parts}", "{machine}: {step} {about}; {parts}"),
    "many": ("{machine}: {n} in a row up to {step} {about}; {parts}", "{machine}: {n} seguidas hasta {step} {about}; {parts}"),
    "rest": ("{n} shorter links between; {parts}", "{n} eslabones más cortos entre ellos; {parts}"),
    "work_s": ("{span} work", "{span} de trabajo"),
    "setup_s": ("{span} set-up", "{span} de preparación"),
    "hold_s": ("{span} glue or core setting", "{span} de curado o reposo"),
    "closed_s": ("{span} until the machine was open", "{span} hasta que la máquina abrió"),
    "pause_s": ("{span} breaks and closed hours", "{span} de pausas y horas cerradas"),
    "release_s": ("{span} until the material was there", "{span} hasta que llegó el material"),
    "people_s": ("{span} until its people were free", "{span} hasta que hubo gente libre"),
    "room_s": ("{span} until what it makes found room", "{span} hasta que hubo sitio para lo que produce"),
    "held_back_once": ("held back for want of room: {step} {about}", "retenida por falta de sitio: {step} {about}"),
    "held_back": (
        "held back for want of room {n} times, last {step} {about}",
        "retenida por falta de sitio {n} veces, la última {step} {about}",
    ),
    "stayed_s": ("{span} left where it was planned", "{span} sin mover de donde estaba"),
    "idle_s": ("{span} idle", "{span} sin motivo"),
    "of_order": ("Order {name}", "Pedido {name}"),
    "of_bars": ("Bars {names}", "Barras {names}"),
    "set_up_before": ("Set-up before: {span}", "Preparación antes: {span}"),
    "sets_after": ("Sets after: {span}, in closed hours too", "Reposa después: {span}, también en horas cerradas"),
    "now": ("now", "ahora"),
    "closed": ("closed", "cerrado"),
    "set_up": ("set-up", "preparación"),
    "sets": ("glue or core sets", "curado o reposo"),
    "makes_late": ("makes a delivery late", "atrasa una entrega"),
    "late": ("late", "tarde"),
    "season core": ("season core", "reposar núcleo"),
    "cut core": ("cut core", "cortar núcleo"),
    "film": ("film", "poner película"),
    "laminate": ("laminate", "laminar"),
    "cut": ("cut", "cortar"),
    "rip": ("rip", "cortar a lo largo"),
    "bevel": ("bevel", "biselar"),
    "rout": ("rout", "fresar"),
    "clean and check": ("clean and check", "limpiar y revisar"),
    "slit": ("slit", "cortar bobina"),
    "cut trim": ("cut trim", "cortar perfil"),
    "drill": ("drill", "taladrar"),
    "form": ("form", "plegar"),
    "mitre": ("mitre", "ingletear"),
    "bundle": ("bundle", "empaquetar"),
    "load": ("load", "cargar"),
}  # fmt: skip
PARTS = ("release_s", "people_s", "room_s", "hold_s", "setup_s", "closed_s", "work_s", "pause_s", "stayed_s", "idle_s")
LINES = 6  # told one by one; what is shorter is told together


def step_words(step: str, language: Language) -> str:
    """Return what a step of the timetable is called."""
    return word(step, language) if step in WORDS else step


def reasons(promise: Lateness, operations: Iterable[PlannedOperation], language: Language) -> tuple[str, ...]:
    """Return why a delivery is late, a line each: first where the time went in all, then each machine in order of time.

    Empty for a delivery that is in time.
    """
    if not promise.chain:
        return ()
    by_id = {operation.id: operation for operation in operations}
    whole = sum_of(promise.chain)
    first = word("all", language).format(total=span(sum(whole.values())), parts=_parts(whole, language))
    runs = [list(links) for _, links in groupby(promise.chain, key=lambda link: by_id[link.operation].machine)]
    long = sorted(sorted(runs, key=lambda run: -sum(sum_of(run).values()))[:LINES], key=runs.index)
    lines = [first, *_held_back(promise.chain, by_id, language), *(_run(run, by_id, language) for run in long)]
    short = [link for run in runs if run not in long for link in run]
    if short:
        lines.append(word("rest", language).format(n=len(short), parts=_parts(sum_of(short), language)))
    return tuple(lines)


def _held_back(links: Sequence[Link], by_id: Mapping[str, PlannedOperation], language: Language) -> list[str]:
    """What could not end before other work made room; its own time is mostly that of the other."""
    held = [by_id[link.operation] for link in links if link.waits_for == "room"]
    if not held:
        return []
    text = word("held_back_once" if len(held) == 1 else "held_back", language)
    return [text.format(n=len(held), step=step_words(held[-1].step, language), about=plain(held[-1].about))]


def sum_of(links: Sequence[Link]) -> dict[str, int]:
    """Return the seconds of some links by what they went to."""
    return {name: sum(getattr(link, name) for link in links) for name in PARTS}


def span(seconds: int) -> str:
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
    step, about = step_words(last.step, language), plain(last.about)
    return text.format(machine=last.machine, n=len(run), step=step, about=about, parts=_parts(sum_of(run), language))


def plain(about: str) -> str:
    """Return the id of a thing as people say it: a material with its colours behind it."""
    name, _, colours = about.partition("|")
    return f"{name} {colours.replace('|', '/')}".strip()


def _parts(sums: Mapping[str, int], language: Language) -> str:
    return ", ".join(word(name, language).format(span=span(seconds)) for name, seconds in sums.items() if seconds)


def word(key: str, language: Language) -> str:
    """Return a text of this file; its {names} are for the caller to fill. Raises KeyError."""
    return WORDS[key][0 if language == "en" else 1]
