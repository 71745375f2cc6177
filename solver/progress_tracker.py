"""What a caller hears of a plan that is being made: how far each stage is, and what is proved."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import get_args

from solver.domain.plan import Part
from solver.domain.progress import PlanProgress, PlanStage, StageProgress
from solver.plan_parts import part_claim

Report = Callable[[PlanProgress], None]
PROVED = ("optimal", "done")


def ignore_progress(_progress: PlanProgress) -> None:
    """Hear nothing."""


class ProgressTracker:
    """The stages of a plan in their order; `tell` and `parts` update one and pass all on."""

    def __init__(self, report: Report) -> None:
        self.report = report
        self.reserve_s = 0.0  # what checks take, once that is known
        self.pieces = 0  # once they are known
        self.stages = {stage: StageProgress(stage=stage) for stage in get_args(PlanStage)}

    def tell(self, how_far: StageProgress) -> None:
        """Take how far a stage is."""
        self.stages[how_far.stage] = how_far
        checks = max(0.0, self.reserve_s * (1 - self.stages["check"].done))
        self.report(PlanProgress(stages=tuple(self.stages.values()), checks_s=checks, pieces=self.pieces))

    def parts(self, stage: PlanStage, count: int, made: Iterable[Part]) -> None:
        """Take the parts that a stage has, of `count` that it will have, with what they claim."""
        claims = [part_claim(part) for part in made]
        rest = [claim for claim in claims if claim.status not in PROVED and claim.value is not None]
        value = sum(claim.value or 0.0 for claim in rest)
        bound = sum(claim.bound or 0.0 for claim in rest)
        self.tell(
            StageProgress(
                stage=stage,
                done=len(claims) / count if count else 1.0,
                parts=len(claims),
                proved=sum(claim.status in PROVED for claim in claims),
                gap=max(0.0, (value - bound) / value) if value else 0.0,
            )
        )
