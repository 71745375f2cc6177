"""How large a model of a job would be, told before it is built."""

from __future__ import annotations

from collections import Counter

from solver.domain.timetable import ScheduleJob

MOST_CONSTRAINTS = 300_000  # beyond, a model takes more memory and time to read than its search can give back
WORTH_A_MODEL = 5_000  # beyond, it proves nothing about one order of jobs and finds less than a search over orders


def estimate_constraint_count(task: ScheduleJob) -> int:
    """Return about how many constraints and arcs of a model grow with the square of a machine's operations.

    One order on all machines takes two for each pair of operations on a machine, set-ups an arc for each, either way.
    """
    here = Counter(name for job in task.jobs for step in job.operations for name in step.on)
    made = 0
    for machine in task.machines:
        pairs = here[machine.id] * (here[machine.id] - 1)
        set_up = machine.setup is not None and any(any(row) for row in machine.setup)
        made += pairs * (int(task.same_order) + int(set_up))
    return made
