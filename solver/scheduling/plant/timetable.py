"""A plan's timetable in clear: each operation with what it is, each delivery with its promise and what made it late."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime

from solver.domain.timetable import Job, Lateness, Link, PlannedOperation, ScheduleResult, Slot, Timetable
from solver.scheduling.buffers.left_shift import left_shift
from solver.scheduling.buffers.overfull import overfull_buffers, widen_buffers_to_hold
from solver.scheduling.buffers.repair import compact_timetable
from solver.scheduling.objectives import objective_value
from solver.scheduling.plant.lateness_chain import LatenessWalk, operation_id_of_key
from solver.scheduling.plant.operations import PlantWork
from solver.scheduling.plant.steps import OperationMeaning
from solver.scheduling.plant.waiting import peak_waiting
from solver.scheduling.precedence import Key
from solver.units import Seconds


def plant_timetable(
    work: PlantWork, result: ScheduleResult, *, epoch: datetime, replanned_s: Seconds | None = None
) -> Timetable:
    """Return the result in clear, everything as early as its order of work allows, which never adds lateness.

    Where work was placed again (from `replanned_s` on) nothing is moved: what could be sooner stays for the sake of calm.
    """
    if replanned_s is None:
        result = _compacted(work, result)
    slots: dict[Key, Slot] = {(slot.job, slot.index): slot for slot in result.operations}
    set_ups = _set_ups(work, slots)
    holds = {(job.id, n): step.hold for job in work.job.jobs for n, step in enumerate(job.operations)}
    operations = tuple(
        _planned(work.meaning[key], key, slot, set_up=set_ups.get(key, 0), hold=holds[key])
        for key, slot in sorted(slots.items(), key=lambda item: (item[1].start, item[1].machine, item[1].end, item[0]))
    )
    return Timetable(
        epoch=epoch.isoformat(),
        job=work.job,
        result=result,
        operations=operations,
        deliveries=tuple(_promises(work, slots, calm=replanned_s is not None)),
        waiting=tuple(peak_waiting(work.waits, work.job, slots)),
        replanned_s=replanned_s,
    )


def _compacted(work: PlantWork, result: ScheduleResult) -> ScheduleResult:
    if result.status == "unknown":
        return result
    wide = widen_buffers_to_hold(work.job, result.operations)
    slots = compact_timetable(wide, result.operations)
    if result.objective is not None and objective_value(work.job, slots) > result.objective:
        slots = result.operations  # with people, another order of booking may come out later
    slots = left_shift(wide, slots)
    value = objective_value(work.job, slots)
    full = overfull_buffers(work.job, slots)
    status = "optimal" if value == result.lower_bound and not full else result.status
    ordered = tuple(sorted(slots, key=lambda slot: (slot.job, slot.index)))
    return replace(result, operations=ordered, objective=value, status=status, overfull=full)


def _set_ups(work: PlantWork, slots: dict[Key, Slot]) -> dict[Key, int]:
    """The set-up that each operation needed after what its machine did before."""
    family = {(job.id, n): step.family for job in work.job.jobs for n, step in enumerate(job.operations)}
    machines = {machine.id: machine for machine in work.job.machines}
    last = {machine.id: machine.initial for machine in work.job.machines}
    made = {}
    for key, slot in sorted(slots.items(), key=lambda item: (item[1].start, item[1].end)):
        before, setup = last[slot.machine], machines[slot.machine].setup
        if setup is not None and before is not None:
            made[key] = setup[before][family[key]]
        last[slot.machine] = family[key]
    return made


def _planned(meaning: OperationMeaning, key: Key, slot: Slot, *, set_up: int, hold: int) -> PlannedOperation:
    return PlannedOperation(
        id=operation_id_of_key(key),
        order=meaning.order,
        step=meaning.step,
        about=meaning.about,
        machine=slot.machine,
        start_s=Seconds(slot.start),
        end_s=Seconds(slot.end),
        hold_s=Seconds(hold),
        setup_s=Seconds(set_up),
        bars=meaning.bars,
    )


def _promises(work: PlantWork, slots: dict[Key, Slot], *, calm: bool) -> Iterable[Lateness]:
    """Each delivery is done when the last truck that carries something of it is loaded.

    `calm`: what idles stays where it was.
    """
    jobs, walk = {job.id: job for job in work.job.jobs}, LatenessWalk(work.job, slots)
    for (order, delivery), wanted in work.deliveries.items():
        ends = {name: _end(jobs[name], slots) for name in wanted.jobs if name in jobs}
        if not ends:
            continue
        last = max(ends, key=lambda name: (ends[name], name))
        late = max(0, ends[last] - wanted.due_s)
        yield Lateness(
            order=order,
            delivery=delivery,
            due_s=Seconds(wanted.due_s),
            done_s=Seconds(ends[last]),
            late_s=Seconds(late),
            chain=tuple(_stayed(link) if calm else link for link in walk.chain(last)) if late else (),
        )


def _stayed(link: Link) -> Link:
    return replace(link, stayed_s=link.idle_s, idle_s=Seconds(0))


def _end(job: Job, slots: dict[Key, Slot]) -> int:
    last = len(job.operations) - 1
    return slots[job.id, last].end + job.operations[last].hold
