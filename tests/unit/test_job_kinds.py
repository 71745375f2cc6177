"""Every kind of job is known wherever kinds are told apart: what its row holds, its page, and who does it."""

from __future__ import annotations

from typing import get_args

from service.contracts.jobs import JOB_TYPES
from service.contracts.plans import JobKind
from service.stations.jobs import PAGES
from worker.claimed_job import MAKES


def test_each_kind_has_what_its_row_holds_a_page_and_somebody_who_does_it() -> None:
    kinds = set(get_args(JobKind))
    assert set(JOB_TYPES) == set(PAGES) == set(MAKES) == kinds
    assert {kind: known.spec.KIND for kind, known in JOB_TYPES.items()} == {kind: kind for kind in kinds}
