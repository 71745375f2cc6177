"""A job's process with a plan that is there at once, without sheets: what the runner starts in quick tests."""

import sys
from pathlib import Path

from service.usecases.make.plan import Tell
from solver.domain.plan import Plan
from solver.domain.plant import Plant
from tests.service_fakes import fake_plan
from worker.one import main


def one_sheet(plan: Plan, plant: Plant, folder: Path, tell: Tell) -> None:
    """Write a file that says that it is none."""
    (folder / "labels.txt").write_text("a fake sheet\n", encoding="utf-8")


main(sys.argv[1:], pipeline=fake_plan, printer=one_sheet)
