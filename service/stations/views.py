"""What pages show that is computed from answers: shapes of status, words of materials, sums, times."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from service.contracts.plans import PlanManifest, PlanState, YieldLine
from service.contracts.promises import STEPS as PROMISE_STEPS
from service.contracts.promises import Promised
from service.stations.words import Language, say

SHAPES = {"waiting": "waiting", "working": "working", "done": "done", "failed": "stopped", "cancelled": "stopped"}
WORDS = {"waiting": "waiting", "working": "being made", "done": "done", "failed": "stopped by faults", "cancelled": "stopped"}
ASKED = {
    "waiting": "waiting",
    "working": "being looked for",
    "done": "done",
    "failed": "no date: stopped by faults",
    "cancelled": "stopped",
}
DOING = ("waiting", "starting", *PROMISE_STEPS)
STAGES = {
    "takeoff": "Takeoff",
    "stack": "Bundles",
    "nest": "Nesting",
    "sequence": "Cut order",
    "slit": "Coils",
    "schedule": "Timetable",
    "load": "Trucks",
    "dispatch": "Departures",
    "rack": "Yield against rack slots",
}


COUNTED = {
    "stack": "bundles",
    "nest": "price of bars",
    "sequence": "bundles open at once",
    "slit": "metres of coil",
    "schedule": "seconds late, weighted",
    "load": "price of trucks",
    "dispatch": "seconds late on site, at most",
}


PLACES = {"bevel_saw": "bevel saw", "panel_saw": "panel saw", "router": "router", "drill": "drill"}


def proof_value(stage: str, value: float | None) -> str:
    """Return what a part's proof is about as a number for reading: prices in whole units, the rest as it is counted."""
    if value is None:
        return "–"
    if stage == "nest":
        return f"{value / 100:,.2f}"
    return f"{value:,.0f}" if value == int(value) else f"{value:,.1f}"


def material_words(material: str) -> str:
    """Return a material's id as people say it: family or profile, then its colours."""
    name, _, colours = material.partition("|")
    return f"{name}, {colours.replace('|', ' / ')}" if colours else name


def shares(lines: Sequence[YieldLine]) -> tuple[float, float, float]:
    """Return where all panels and profiles went, by area: pieces, kept, lost, as shares of one."""
    areas = [(line.bar_nm // 1_000_000) * (line.width_nm // 1_000_000) for line in lines]  # mm2
    whole = sum(areas)
    if not whole:
        return 0.0, 0.0, 0.0
    pieces = sum(area * line.pieces for area, line in zip(areas, lines, strict=True)) / whole
    kept = sum(area * line.kept for area, line in zip(areas, lines, strict=True)) / whole
    return pieces, kept, max(0.0, 1 - pieces - kept)


def moment(epoch: str, seconds: int | None, zone: str) -> str:
    """Return a time of a plan as the plant's clock shows it."""
    if seconds is None:
        return "–"
    at = datetime.fromisoformat(epoch) + timedelta(seconds=seconds)
    return at.astimezone(ZoneInfo(zone)).strftime("%Y-%m-%d %H:%M")


def clock(epoch: str, seconds: int, zone: str) -> str:
    """Return the time of day of a time of a plan, on the plant's clock."""
    return moment(epoch, seconds, zone)[11:]


def day(text: str | None) -> str:
    """Return an instant as its day and time of day, as it was written."""
    return "–" if text is None else text[:16].replace("T", " ")


def unbroken(text: str) -> str:
    """Return a text that no line breaks: for times where there is little room."""
    return text.replace("-", "\u2011").replace(" ", "\u00a0")


def span(seconds: int) -> str:
    """Return a length of time in its two largest units."""
    days, rest = divmod(max(seconds, 0), 86400)
    hours, minutes = divmod(rest // 60, 60)
    if days:
        return f"{days} d {hours} h"
    return f"{hours} h {minutes} min" if hours else f"{minutes} min"


def doing_words(language: Language) -> dict[str, str]:
    """Return what a promise's job says that it does, by its English, in a language."""
    return {text: say(language, text) for text in DOING}


def met(answer: Promised) -> str:
    """Return in words whether a date that was asked for is met."""
    if not answer.met:
        return "not met"
    return "met" if answer.gives is None else "met only if other work gives"


def in_time(late_s: int | None, language: Language) -> str:
    """Return in words how late something is, or by how much it is early."""
    if late_s is None:
        return say(language, "wanted at no set time")
    if late_s > 0:
        return say(language, "late by {span}", span=span(late_s))
    return say(language, "in time, {span} to spare", span=span(-late_s))


def late(manifest: PlanManifest) -> list[tuple[str, str, int]]:
    """Return the deliveries that are late: order, delivery, seconds."""
    return [(one.order, one.delivery, one.late_s) for one in manifest.deliveries if one.late_s > 0]


def newest_done(plans: Sequence[PlanState]) -> PlanState | None:
    """Return the newest plan that is done."""
    return next((plan for plan in plans if plan.status == "done"), None)
