"""The one door to HiGHS: made silent, with one number of threads a process; a refused call raises."""

from __future__ import annotations

from typing import Any

THREADS = 1  # HiGHS keeps one number of threads a process; a second one fails without a word


class ProgramError(RuntimeError):
    """HiGHS gave no answer where one must exist: a defect of ours or of the library, never of the job."""


def new_silent_solver() -> Any:
    """Return a silent HiGHS. Its public class greets on standard output when made, so the class below it is used."""
    import highspy

    made = highspy._core._Highs()
    require_ok_status(made.setOptionValue("output_flag", False))
    require_ok_status(made.setOptionValue("threads", THREADS))
    return made


def require_ok_status(status: Any) -> None:
    """Raise ProgramError where a call to HiGHS was refused."""
    if status.name == "kError":
        raise ProgramError("HiGHS refused a call")


def highs_infinity() -> float:
    """Return what HiGHS takes for infinity."""
    import highspy

    return float(highspy.kHighsInf)
