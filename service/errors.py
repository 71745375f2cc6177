"""What a use-case can answer besides its result; one handler makes each of them HTTP."""

from __future__ import annotations

from solver.errors import FieldFault


class NotFound(LookupError):
    """There is no such thing; `what` is its kind and `name` what was asked for."""

    def __init__(self, what: str, name: str) -> None:
        super().__init__(what, name)
        self.what = what
        self.name = name


class Conflict(RuntimeError):
    """What was asked for cannot be as things are now; `status` says it in a word, and the faults what stands against it."""

    def __init__(self, status: str, *faults: FieldFault) -> None:
        super().__init__(status, *faults)
        self.status = status
        self.faults = faults


class LostLease(RuntimeError):
    """The job has another owner now (or ended): whoever held it must store nothing more."""

    def __init__(self, job_id: str) -> None:
        super().__init__(job_id)
        self.job_id = job_id
