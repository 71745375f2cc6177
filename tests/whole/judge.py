"""The judge of a whole plan: pieces, bars, bundles, trucks, times and paper, each derived anew."""

from __future__ import annotations

from solver.domain.plan import Plan
from solver.domain.plant import Plant
from tests.whole.bars import faults_of_bars
from tests.whole.hours import faults_of_hours
from tests.whole.paper import Paper, faults_of_paper, paper_of
from tests.whole.stacks import faults_of_stacks
from tests.whole.times import faults_of_times


def faults_of(plan: Plan, plant: Plant, paper: Paper | None = None) -> list[str]:
    """Return every fault of a plan, and of its paper (drawn here where none is given), in words."""
    paper = paper or paper_of(plan, plant)
    return [
        *faults_of_bars(plan, plant),
        *faults_of_stacks(plan),
        *faults_of_times(plan),
        *faults_of_hours(plan, plant),
        *faults_of_paper(plan, paper),
    ]
