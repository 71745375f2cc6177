"""What people read of a plan that is being made: each stage by its name, what is proved of it, and the time left."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from typing import Any, get_args

from service.contracts.jobs import JobState
from service.usecases.make.progress import WORDS
from solver.codec import encode
from solver.domain.progress import PlanStage, StageProgress
from solver.language import ENGLISH, Language

STAGES: tuple[PlanStage, ...] = get_args(PlanStage)
NAMES: dict[PlanStage, str] = {
    "takeoff": "Takeoff",
    "stack": "Bundles",
    "nest": "Nesting",
    "sequence": "Cut order",
    "slit": "Coils",
    "load": "Trucks",
    "schedule": "Timetable",
    "check": "Checks",
    "sheets": "Sheets",
}
ALL, UNBOUNDED = "all {n} proved best", "{n} of {m} proved best"
SOME = "{n} of {m} proved best, the rest at most {gap} % from it"
ONE, ONE_OFF = "proved best", "at most {gap} % from the best"
TAKEN, HOLD, DRAWN = "orders: {n}", "{n} of {m} hold", "drawn: {n}"
SECONDS, MINUTES, SOON = "about {n} s left", "about {n} min left", "nearly done"
KEEPING, STOPPING = "stopping: what was found is checked and kept", "stopping: nothing is kept"
SAID = (ALL, SOME, UNBOUNDED, ONE, ONE_OFF, TAKEN, HOLD, DRAWN, SECONDS, MINUTES, SOON, KEEPING, STOPPING)
BUSY = ("waiting", "starting", *WORDS.values())
MINUTES_FROM = 90  # seconds


def stage_words(stage: StageProgress, language: Language = ENGLISH) -> str:
    """Return what is proved of a stage so far; the page's script says the same from the same texts."""
    text, values = _said(stage)
    return language.say(text, **values) if text else ""


def _said(stage: StageProgress) -> tuple[str, Mapping[str, Any]]:
    n, m = stage.proved, stage.parts
    gap = "" if stage.gap is None else percent_text(stage.gap)
    if m == 0:
        return "", {}
    if stage.stage in ("takeoff", "sheets"):
        return TAKEN if stage.stage == "takeoff" else DRAWN, {"n": m}
    if stage.stage == "check":
        return HOLD, {"n": n, "m": m}
    if m == 1:
        return ("", {}) if stage.gap is None else (ONE if n else ONE_OFF, {"gap": gap})
    if n == m:
        return ALL, {"n": n}
    return (SOME if gap else UNBOUNDED), {"n": n, "m": m, "gap": gap}


def percent_text(share: float) -> str:
    """Return a share as a percentage that is never less: one decimal below ten."""
    tenths = math.ceil(share * 1000 - 1e-9)
    return f"{tenths / 10:.1f}" if tenths < 100 else str(math.ceil(share * 100 - 1e-9))


def time_left_words(left_s: float, language: Language = ENGLISH) -> str:
    """Return about how long it takes yet."""
    if left_s < 1:
        return language.say(SOON)
    if left_s < MINUTES_FROM:
        return language.say(SECONDS, n=math.ceil(left_s))
    return language.say(MINUTES, n=math.ceil(left_s / 60))


def progress_script_values(job: JobState, language: Language) -> tuple[str, str]:
    """Return what the page's script needs, as JSON: the state as the stream tells it, and its words in a language."""
    words = {text: language.say(text) for text in (*SAID, *BUSY)}
    return json.dumps(encode(job)), json.dumps(words)
