"""What each machine does in a time, and how much of its open hours that takes."""

from __future__ import annotations

from collections.abc import Iterable

from service.contracts.timetable import MachineList, MachineWork
from solver.domain.timetable import Machine, PlannedOperation, Timetable


def machine_list(table: Timetable, from_s: int, to_s: int) -> MachineList:
    """Return what each machine does from `from_s` to `to_s`, in seconds from the plan's start."""
    by_machine: dict[str, list[PlannedOperation]] = {machine.id: [] for machine in table.job.machines}
    for operation in table.operations:
        if operation.end_s > from_s and operation.start_s < to_s:
            by_machine.setdefault(operation.machine, []).append(operation)
    known = {machine.id: machine for machine in table.job.machines}
    machines = tuple(_work(known.get(name) or Machine(id=name), work, from_s, to_s) for name, work in by_machine.items())
    return MachineList(epoch=table.epoch, from_s=from_s, to_s=to_s, machines=machines)


def _work(machine: Machine, work: list[PlannedOperation], from_s: int, to_s: int) -> MachineWork:
    low = min((one.start_s for one in work), default=from_s)
    shut = [(a, b) for a, b in sorted(machine.closed) if b > min(low, from_s) and a < to_s]
    begun = [one for one in work if one.start_s >= from_s]
    return MachineWork(
        machine=machine.id,
        operations=len(begun),
        open_s=_open(shut, from_s, to_s),
        work_s=sum(_open(shut, max(one.start_s, from_s), min(one.end_s, to_s)) for one in work),
        setup_s=sum(one.setup_s for one in begun),
        first_s=min((one.start_s for one in work), default=None),
        last_s=max((one.end_s for one in work), default=None),
    )


def _open(shut: Iterable[tuple[int, int]], low: int, high: int) -> int:
    """The seconds between two times that are not closed."""
    return max(0, high - low) - sum(max(0, min(high, b) - max(low, a)) for a, b in shut)
