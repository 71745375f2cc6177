"""Jobs as the web tells them: whatever takes a while and is asked for, watched and stopped in one way."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from service.contracts.faults import Fault
from service.contracts.making import Making
from service.contracts.plans import JobKind, JobStatus, OrderAt, PlanWanted, PromiseWanted, ReplanWanted, Wanted
from service.contracts.promises import Promised
from service.contracts.replans import Replanned
from solver.domain.disruptions import Disruptions


@dataclass(frozen=True, slots=True, kw_only=True)
class JobType:
    """A kind of job: what its row holds, and what its answer is read as; None where a plan comes of it."""

    spec: type[Wanted]
    answer: type[Any] | None = None
    answers_listed: bool = False  # a list of jobs tells the answers too; else they are long, and told one by one


JOB_TYPES: Mapping[JobKind, JobType] = {
    "plan": JobType(spec=PlanWanted),
    "promise": JobType(spec=PromiseWanted, answer=Promised, answers_listed=True),
    "replan": JobType(spec=ReplanWanted, answer=Replanned),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class JobAccepted:
    """A job that was asked for: watch it at /api/jobs/{job}."""

    job: str


@dataclass(frozen=True, slots=True, kw_only=True)
class JobState:
    """How far a job is, and what came of it: `plan` names the plan that it made, `answer` is what it found out."""

    id: str
    kind: JobKind
    status: JobStatus
    doing: str
    fraction: float
    orders: tuple[OrderAt, ...]  # what it is about, each order at the revision that it had when the job was asked for
    of: str | None = None  # the plan that it was asked of
    released: bool = field(default=False, metadata={"always": True})  # whether the plan that it was asked of is the floor's now
    by: str | None = None  # of a promise: the date wanted
    happened: Disruptions | None = None  # of a replan
    asked_at: str
    ended_at: str | None = None
    cancel_asked: bool = field(default=False, metadata={"always": True})
    keep_asked: bool = field(default=False, metadata={"always": True})
    making: Making | None = None  # of a plan, while it is made
    plan: str | None = None
    answer: Promised | Replanned | None = None
    faults: tuple[Fault, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class JobList:
    """Jobs asked for, newest first; long answers are told by the job itself only."""

    jobs: tuple[JobState, ...]
