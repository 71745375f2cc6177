"""How far a plan is, its sheets with it, and about how long it still takes: for its row, its page, the command line."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import get_args

from service.contracts.making import Making
from service.usecases.make.drawing_processes import drawing_process_count
from solver.domain.progress import PlanProgress, PlanStage, StageProgress

SHEETS_S = 1.0  # tables and what is alike for all plans
SHEET_S_A_PIECE = 0.015  # the demo orders: 6.5 processor s for 435 pieces; tests/bench/results/printing.json: 2.3 for 136
MOST = 0.99  # of the whole bar before all is stored
WORDS: dict[PlanStage, str] = {
    "takeoff": "taking off",
    "stack": "building bundles",
    "nest": "nesting",
    "sequence": "ordering the cuts",
    "slit": "slitting",
    "load": "loading trucks",
    "schedule": "timetable",
    "check": "checking every part",
    "sheets": "drawing sheets",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ProgressReport:
    """What is happening, the share of the whole that is done, by time, and each stage."""

    doing: str
    fraction: float
    making: Making


class ProgressWatcher:
    """Hears the search, then the printer; tells at any moment, from any thread, how far both are together."""

    def __init__(
        self,
        left_s: Callable[[], float],
        clock: Callable[[], float] = time.monotonic,
        worked: Callable[[], float] = time.process_time,
    ) -> None:
        """`left_s`: the seconds left to search; `worked`: the processor seconds of this process."""
        self._left_s, self._clock, self._begun = left_s, clock, clock()
        self._worked, self._worked_before = worked, worked()
        self._heard = PlanProgress(stages=tuple(StageProgress(stage=one) for one in get_args(PlanStage)))
        self._at = self._begun
        self._sheets_at: float | None = None
        self._sheets = StageProgress(stage="sheets")
        self._fraction, self._pace = 0.0, 1.0

    def on_search_progress(self, progress: PlanProgress) -> None:
        """Take how far the search is, as the pipeline reports it."""
        self._heard, self._at = progress, self._clock()

    def draw(self, text: str, part: float) -> None:
        """Take how far the sheets are: what was drawn last, and the share of all; the search is over."""
        now = self._clock()
        if self._sheets_at is None:
            self._pace, self._sheets_at = self._paced(), now
        files = self._sheets.parts + text.endswith(".pdf")
        self._sheets = StageProgress(stage="sheets", done=min(1.0, max(part, self._sheets.done)), parts=files, proved=files)
        self._at = now

    def elapsed_s(self) -> float:
        """Return the seconds since the plan was begun."""
        return self._clock() - self._begun

    def told(self) -> ProgressReport:
        """Return how far it is now."""
        now, left = self._clock(), self._left()
        self._fraction = max(self._fraction, min(MOST, (now - self._begun) / max(1e-9, now - self._begun + left)))
        stages = tuple(self._stage(one) for one in self._heard.stages)
        doing = next((WORDS[one.stage] for one in stages if one.done < 1), WORDS["sheets"])
        done = {one.stage: one.done for one in stages}
        searching = self._sheets_at is None and done["schedule"] < 1 and done["check"] == 0
        return ProgressReport(
            doing=doing, fraction=self._fraction, making=Making(stages=stages, left_s=left, searching=searching)
        )

    def _stage(self, heard: StageProgress) -> StageProgress:
        if heard.stage == "sheets":
            return self._sheets
        return heard if self._sheets_at is None else replace(heard, done=1.0)

    def _paced(self) -> float:
        """How many seconds one of work takes on this machine now, others at work beside us: a search never idles."""
        worked = self._worked() - self._worked_before
        return max(1.0, self.elapsed_s() / worked) if worked > 1.0 else 1.0

    def _left(self) -> float:
        silent = self._clock() - self._at  # since something was heard: time goes on meanwhile
        pieces = self._heard.pieces
        sheets = SHEETS_S + SHEET_S_A_PIECE * pieces / drawing_process_count(pieces)
        if self._sheets_at is None:
            return max(self._left_s(), self._heard.checks_s, 0.0) + sheets * self._paced()
        sheets *= self._pace
        drawn = self._sheets.done
        so_far = self._at - self._sheets_at
        whole = sheets if drawn <= 0 else (1 - drawn) * sheets + drawn * so_far / drawn  # more and more as it really goes
        return max(0.3 * (1 - drawn) * whole, (1 - drawn) * whole - silent)
