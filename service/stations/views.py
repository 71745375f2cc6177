"""What pages show that is computed from answers: shapes of status, words of materials, sums, times."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from service.contracts.jobs import JobState
from service.contracts.plans import JobStatus, PlanManifest, PlanState, ProofLine, YieldLine
from service.contracts.promises import STEPS as PROMISE_STEPS
from service.contracts.promises import Promised
from service.contracts.replans import STEPS as REPLAN_STEPS
from solver.domain.optimality import meets_bound
from solver.language import Language

SHAPES = {"waiting": "waiting", "working": "working", "done": "done", "failed": "stopped", "cancelled": "stopped"}
WORDS = {"waiting": "waiting", "working": "being made", "done": "done", "failed": "stopped by faults", "cancelled": "stopped"}
ORDER_WORDS = {
    "received": "not planned yet",
    "planned": "planned",
    "released": "on the floor",
    "in_work": "in work",
    "part_shipped": "part shipped",
    "shipped": "shipped",
    "withdrawn": "withdrawn",
}
ORDER_SHAPES = {
    "received": "waiting",
    "planned": "waiting",
    "released": "waiting",
    "in_work": "working",
    "part_shipped": "working",
    "shipped": "done",
    "withdrawn": "stopped",
}
ASKED = {
    "waiting": "waiting",
    "working": "being looked for",
    "done": "done",
    "failed": "no date: stopped by faults",
    "cancelled": "stopped",
}
DOING = ("waiting", "starting", *PROMISE_STEPS, *REPLAN_STEPS)
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
    "sequence": "pieces waiting in the rack",
    "slit": "metres of coil",
    "schedule": "seconds late, weighted",
    "load": "trucks",
    "dispatch": "seconds late on site, at most",
}


ARGUMENTS = {
    "worths": "pieces by their worth: nothing cut from one bar or coil is worth more than it costs",
    "lengths": "lengths of pieces and cuts against the best room for its price",
    "width": "the strips' own area against the coil's width",
    "strips": "how many different strips fit side by side",
    "loads": "each job alone, and work that only some machines can do",
    "open": "bundles that meet on bars, made fewer step by step",
    "clique": "the bundles of one bar are open together",
    "weight": "weight and ground",
    "runs": "pieces in the order of standing, by weight, height and what carries what",
    "room": "weight, ground, and shares of length, width and height",
    "nothing": "nothing is less than nothing",
    "search": "a search that looked at all that could be better",
}
BOUND_STATES = {
    "confirmed": "verified exactly",
    "unconfirmed": "rests on a search, not verified",
    "refuted": "does not hold",
}
BOUNDS = {"floor": "over all ways to share blanks and use drops", "setups_lower_bound": "set-ups",
          "rack_lower_bound": "pieces waiting in the rack", "trucks_lower_bound": "trucks"}  # fmt: skip


def proved_percent(claimed: float, proved: float | None) -> str:
    """Return what part of a bound exact arithmetic carries, in per cent rounded down."""
    if proved is None:
        return "–"
    return "100 %" if claimed <= 0 or proved >= claimed * (1 - 1e-6) else f"{int(1000 * proved / claimed) / 10:.1f} %"


PLACES = {"bevel_saw": "bevel saw", "panel_saw": "panel saw", "router": "router", "drill": "drill"}


def proof_value(stage: str, value: float | None) -> str:
    """Return what a part's proof is about as a number for reading: prices in whole units, the rest as it is counted."""
    if value is None:
        return "–"
    if stage == "nest":
        return f"{value / 100:,.2f}"
    return f"{value:,.0f}" if value == int(value) else f"{value:,.1f}"


def is_proved_best(proof: ProofLine) -> bool:
    """Return whether a part cannot be better: its value is the bound that nothing beats."""
    return proof.status == "optimal" and meets_bound(proof.value, proof.lower_bound)


def yield_shares(lines: Sequence[YieldLine]) -> tuple[float, float, float]:
    """Return where all panels and profiles went, by area: pieces, kept, lost, as shares of one."""
    areas = [(line.bar_nm // 1_000_000) * (line.width_nm // 1_000_000) for line in lines]  # mm2
    whole = sum(areas)
    if not whole:
        return 0.0, 0.0, 0.0
    pieces = sum(area * line.pieces for area, line in zip(areas, lines, strict=True)) / whole
    kept = sum(area * line.kept for area, line in zip(areas, lines, strict=True)) / whole
    return pieces, kept, max(0.0, 1 - pieces - kept)


def date_time_text(epoch: str, seconds: int | None, zone: str) -> str:
    """Return a time of a plan as the plant's clock shows it."""
    if seconds is None:
        return "–"
    at = datetime.fromisoformat(epoch) + timedelta(seconds=seconds)
    return at.astimezone(ZoneInfo(zone)).strftime("%Y-%m-%d %H:%M")


def time_of_day_text(epoch: str, seconds: int, zone: str) -> str:
    """Return the time of day of a time of a plan, on the plant's clock."""
    return date_time_text(epoch, seconds, zone)[11:]


def instant_text(text: str | None, zone: str) -> str:
    """Return an instant (ISO 8601 with offset) as the plant's clock shows it."""
    return "–" if text is None else date_time_text(text, 0, zone)


def nonbreaking_text(text: str) -> str:
    """Return a text that no line breaks: for times where there is little room."""
    return text.replace("-", "\u2011").replace(" ", "\u00a0")


def duration_words(seconds: int) -> str:
    """Return a length of time in its two largest units."""
    days, rest = divmod(max(seconds, 0), 86400)
    hours, minutes = divmod(rest // 60, 60)
    if days:
        return f"{days} d {hours} h"
    return f"{hours} h {minutes} min" if hours else f"{minutes} min"


def doing_words(language: Language) -> dict[str, str]:
    """Return what a job that asks something of a plan says that it does, by its English, in a language."""
    return {text: language.say(text) for text in DOING}


def date_met_words(answer: Promised) -> str:
    """Return in words whether a date that was asked for is met."""
    if not answer.met:
        return "not met"
    return "met" if answer.gives is None else "met only if other work gives"


def lateness_words(late_s: int | None, language: Language) -> str:
    """Return in words how late something is, or by how much it is early."""
    if late_s is None:
        return language.say("wanted at no set time")
    if late_s > 0:
        return language.say("late by {span}", span=duration_words(late_s))
    return language.say("in time, {span} to spare", span=duration_words(-late_s))


def late_deliveries(manifest: PlanManifest) -> list[tuple[str, str, int]]:
    """Return the deliveries that are late: order, delivery, seconds."""
    return [(one.order, one.delivery, one.late_s) for one in manifest.deliveries if one.late_s > 0]


@dataclass(frozen=True, slots=True)
class PlanRow:
    """A line of a list of plans: one that is made, by its name, or a job of which no plan came (yet), without one."""

    name: str
    address: str
    when: str
    status: JobStatus
    orders: int
    released: bool = False


def plan_rows(plans: Iterable[PlanState], jobs: Iterable[JobState]) -> list[PlanRow]:
    """Return plans, and the jobs of which none came, as one list, the newest first."""
    rows = [
        PlanRow(plan.id, f"/planner/plans/{plan.id}", plan.made_at, "done", len(plan.orders), plan.released) for plan in plans
    ]
    rows += [
        PlanRow("", f"/planner/jobs/{job.id}", job.asked_at, job.status, len(job.orders))
        for job in jobs
        if job.status != "done"
    ]
    return sorted(rows, key=lambda row: row.when, reverse=True)
