"""Proves a promise and a replanned timetable again: what stays stays, and the counts of what moves are true.

That each timetable is one is proved by the timetable's own check, on the jobs that `choices_as_schedules` gives.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from solver.domain.replan import Choice, PromiseJob, PromiseResult, ReplanJob, ReplanResult
from solver.domain.report import Report
from solver.domain.timetable import Buffer, Job, Machine, ScheduleJob, ScheduleResult, Slot
from solver.errors import FaultCollector

Key = tuple[str, int]
Place = tuple[str, int, str, int]  # of an operation: its job and index, on which machine it starts when
PROMISE_CHECKED = (
    "nothing of the new order before now",
    "the end as stated, the bound not above it, status true to both",
    "what would have to give: firm work unmoved, the date met as stated, every job that slips named",
)
REPLAN_CHECKED = (
    "finished and running work unmoved; what should have begun and is not done not before now",
    "firm work unmoved, unless its machine is down, its people or material late, or what it waits for had to move",
    "nothing else moved into the firm window",
    "nothing that could have waited comes into a room that is full",
    "moves, counts and ends as stated",
    "calm first, on time only where it is less late; bound not above either",
)


def check_promise(job: PromiseJob, result: PromiseResult) -> Report:
    """Return what holds and what does not of a promise."""
    faults = FaultCollector()
    for slot in result.operations:
        if slot.start < job.now:
            faults.add(f"{slot.job} {slot.index}", f"starts at {slot.start}, before now", f"{job.now} or later")
    done = _done(job.order, result.operations)
    if done and max(done.values()) != result.done:
        faults.add("done", f"{result.done} is stated, {max(done.values())} is true", f"{max(done.values())}")
    if result.lower_bound > result.done or (result.status == "optimal") != (result.lower_bound == result.done):
        faults.add("status", f"{result.status} at {result.done} with bound {result.lower_bound}", "true to value and bound")
    if result.earlier is not None:
        _earlier(job, result, faults)
    return Report(checked=PROMISE_CHECKED, faults=tuple(faults.found))


def _earlier(job: PromiseJob, result: PromiseResult, faults: FaultCollector) -> None:
    given, old = result.earlier, {(slot.job, slot.index): slot for slot in job.slots}
    assert given is not None
    for slot in given.operations:
        was = old.get((slot.job, slot.index))
        if was is not None and was.start < max(job.now, job.firm_until) and was != slot:
            faults.add(f"earlier: {slot.job} {slot.index}", "is firm and moved", f"from {was.start} on {was.machine}")
    before, after = _done(job.plan.jobs, job.slots), _done((*job.plan.jobs, *job.order), given.operations)
    slipped = {
        one.id for one in job.plan.jobs if one.due is not None and after.get(one.id, 0) > max(one.due, before.get(one.id, 0))
    }
    named = {one.job for one in given.slips}
    if slipped != named:
        faults.add("earlier.slips", f"{sorted(slipped ^ named)} wrongly told", f"{sorted(slipped)}")
    done = max((after.get(one.id, 0) for one in job.order), default=0)
    if given.done != done or given.reached != (job.by is not None and done <= job.by):
        faults.add("earlier.done", f"{given.done}, reached {given.reached}, is stated; {done} is true", f"{done}")
    task = replace(job.plan, jobs=(*job.plan.jobs, *job.order))
    _rooms("earlier", task, given.operations, job.slots, max(job.now, job.firm_until), faults)
    if given.done > result.done:
        faults.add("earlier.done", f"{given.done} is later than without giving anything", f"{result.done} or sooner")


def check_replan(job: ReplanJob, result: ReplanResult) -> Report:
    """Return what holds and what does not of a replanned timetable."""
    faults = FaultCollector()
    for choice in result.choices:
        _choice(job, choice, result, faults)
    names = [choice.name for choice in result.choices]
    if names not in (["calm"], ["calm", "on_time"]):
        faults.add("choices", f"the choices are {names}", "calm, then on_time where it is less late")
    if len(names) == 2 and result.choices[1].tardiness >= result.choices[0].tardiness:
        faults.add("choices", "on_time is no less late than calm", "one choice")
    return Report(checked=REPLAN_CHECKED, faults=tuple(faults.found))


def _choice(job: ReplanJob, choice: Choice, result: ReplanResult, faults: FaultCollector) -> None:
    new = {(slot.job, slot.index): slot for slot in choice.operations}
    old = {(slot.job, slot.index): slot for slot in job.slots}
    if not old.keys() <= new.keys():
        faults.add(choice.name, "an operation is missing", "each operation once")
        return
    _stays(job, choice.name, old, new, faults)
    _rooms(choice.name, job_after_disruptions(job), choice.operations, job.slots, max(job.now, job.firm_until), faults)
    moved = {key: (old[key], new[key]) for key in old if _place(old[key]) != _place(new[key])}
    told = {(one.job, one.index): one for one in choice.moves}
    true = {
        "moves": set(moved) == set(told)
        and all(
            (one.machine_before, one.start_before, one.machine, one.start) == (*_place(moved[key][0]), *_place(moved[key][1]))
            for key, one in told.items()
        ),
        "moved": choice.moved == len(moved),
        "machines": choice.machines == sum(a.machine != b.machine for a, b in moved.values()),
        "far": choice.far == sum(abs(a.start - b.start) > job.calm.shift for a, b in moved.values()),
        "shifted": choice.shifted == sum(abs(a.start - b.start) for a, b in moved.values()),
        "tardiness": choice.tardiness == _tardiness(job_after_disruptions(job), choice.operations),
        "endings": _endings_true(job, choice),
        "lower_bound": result.lower_bound <= choice.tardiness,
    }
    for name, holds in true.items():
        if not holds:
            faults.add(f"{choice.name}.{name}", "is not what the timetable says", "as the timetable says")


def _place(slot: Slot) -> tuple[str, int]:
    return slot.machine, slot.start


def _endings_true(job: ReplanJob, choice: Choice) -> bool:
    old, task = _done(job.plan.jobs, job.slots), job_after_disruptions(job)
    new = _done(task.jobs, choice.operations)
    wanted = {one.id: (old.get(one.id), new.get(one.id)) for one in task.jobs if one.due is not None}
    wanted = {name: pair for name, pair in wanted.items() if pair[0] != pair[1]}
    return {one.job: (one.done_before, one.done) for one in choice.endings} == wanted


def _stays(job: ReplanJob, name: str, old: dict[Key, Slot], new: dict[Key, Slot], faults: FaultCollector) -> None:
    firm, task = max(job.now, job.firm_until), job_after_disruptions(job)
    undone = {(one.job, one.index) for one in job.undone}
    excused = set(undone)
    for key, was in sorted(old.items(), key=lambda item: (item[1].start, item[1].end, item[1].index)):
        now = new[key]
        if key in undone:
            if now.start < job.now:
                faults.add(f"{name}: {key[0]} {key[1]}", f"is not done and starts at {now.start}", f"{job.now} or later")
        elif was.end <= job.now and was.start < job.now:
            if now != was:
                faults.add(f"{name}: {key[0]} {key[1]}", "is finished and moved", f"from {was.start} to {was.end}")
        elif was.start < firm and _place(now) != _place(was):
            if any(_excuses(key, was, job, task, old, new, excused)):
                excused.add(key)
            else:
                faults.add(f"{name}: {key[0]} {key[1]}", "is firm or running and moved", f"{was.start} on {was.machine}")
        elif was.start >= firm and now.start < firm:
            faults.add(f"{name}: {key[0]} {key[1]}", f"moved into the firm window, to {now.start}", f"{firm} or later")


def _excuses(
    key: Key, was: Slot, job: ReplanJob, task: ScheduleJob, old: dict[Key, Slot], new: dict[Key, Slot], excused: set[Key]
) -> Iterator[bool]:
    """Why firm work could not stay: true for each reason there is."""
    yield any(one.machine == was.machine and one.start < was.end and one.end > max(was.start, job.now) for one in job.down)
    if was.start < job.now:
        return
    mine = next(one for one in task.jobs if one.id == key[0])
    yield was.start < mine.release
    jobs = {one.id: one for one in task.jobs}
    waits = [(key[0], key[1] - 1)] if key[1] else [(one, len(jobs[one].operations) - 1) for one in mine.after]
    for one in waits:
        held = jobs[one[0]].operations[one[1]].hold
        yield one in excused or one not in old or new[one].end + held > was.start
    others = [slot for slot in old.values() if slot.machine == was.machine and slot.start < was.start]
    yield any(new[slot.job, slot.index].end > slot.end for slot in others)
    crews = [pool.uses.keys() for pool in task.pools if was.machine in pool.uses]
    beside = [slot for slot in old.values() if slot.start < was.start and any(slot.machine in crew for crew in crews)]
    yield any(new[slot.job, slot.index].end > max(slot.end, was.start) for slot in beside)


def _rooms(name: str, task: ScheduleJob, slots: Iterable[Slot], old: Iterable[Slot], firm: int, faults: FaultCollector) -> None:
    """Add a fault for each room that is full and yet work comes into it that could have waited: is not before `firm`."""
    new, kept = list(slots), _kept(old, firm)
    for room in task.rooms:
        for at, there, last in _arrivals(room, task, new):
            if there > room.size and not kept.issuperset(last):
                faults.add(
                    f"{name}: rooms.{room.id}", f"{there} are there at {at}, room for {room.size}", f"at most {room.size}"
                )
                break


def _with_firm(task: ScheduleJob, slots: Iterable[Slot], old: Iterable[Slot], firm: int) -> ScheduleJob:
    """Return the job with rooms as wide as firm work fills them: it comes though they are full."""
    new, kept = list(slots), _kept(old, firm)
    rooms = []
    for room in task.rooms:
        most = [there for _, there, last in _arrivals(room, task, new) if kept.issuperset(last)]
        rooms.append(replace(room, size=max([room.size, *most])))
    return replace(task, rooms=tuple(rooms))


def _placed(slot: Slot) -> Place:
    return slot.job, slot.index, slot.machine, slot.start


def _kept(old: Iterable[Slot], firm: int) -> set[Place]:
    return {_placed(slot) for slot in old if slot.start < firm}


def _arrivals(room: Buffer, task: ScheduleJob, slots: list[Slot]) -> Iterator[tuple[int, int, set[Place]]]:
    """When something comes in, how much is there then, and the work that brings it."""
    by_key = {(slot.job, slot.index): slot for slot in slots}
    size = {one.id: len(one.operations) for one in task.jobs}
    spans = [
        (by_key[one.job, size[one.job] - 1], by_key[one.until, 0].start, one.takes)
        for one in room.stays
        if (one.job, size[one.job] - 1) in by_key and (one.until, 0) in by_key
    ]
    for at in sorted({slot.end for slot, _, _ in spans}):
        yield (
            at,
            sum(n for slot, gone, n in spans if slot.end <= at < gone),
            {_placed(slot) for slot, _, _ in spans if slot.end == at},
        )


def job_after_disruptions(job: ReplanJob) -> ScheduleJob:
    """Return the plan's job as what happened made it."""
    begun = {slot.job for slot in job.slots if slot.start < job.now} - {one.job for one in job.undone if one.index == 0}
    jobs = [_changed(one, job, begun=one.id in begun) for one in job.plan.jobs]
    jobs += [replace(one, release=max(one.release, job.now)) for one in job.added]
    machines = tuple(_shut(machine, job) for machine in job.plan.machines)
    return replace(job.plan, objective="weighted_tardiness", machines=machines, jobs=tuple(jobs), same_order=False)


def _changed(one: Job, job: ReplanJob, *, begun: bool) -> Job:
    release, due, weight, after = one.release, one.due, one.weight, one.after
    for late in job.late:
        release = max(release, late.release) if late.job == one.id and not begun else release
    for wish in job.urgent:
        if wish.job == one.id:
            due = due if wish.due is None else wish.due
            weight = weight if wish.weight is None else wish.weight
    for wait in job.waits:
        after = (*after, wait.after) if wait.job == one.id and not begun else after
    return replace(one, release=release, due=due, weight=weight, after=after)


def _shut(machine: Machine, job: ReplanJob) -> Machine:
    down = [(max(one.start, job.now), one.end) for one in job.down if one.machine == machine.id and one.end > job.now]
    made: list[tuple[int, int]] = []
    for low, high in sorted((*machine.closed, *down)):
        if made and low <= made[-1][1]:
            made[-1] = (made[-1][0], max(high, made[-1][1]))
        else:
            made.append((low, high))
    return replace(machine, closed=tuple(made))


def choices_as_schedules(
    job: ReplanJob | PromiseJob, result: ReplanResult | PromiseResult
) -> Iterator[tuple[ScheduleJob, ScheduleResult]]:
    """Yield each timetable of a result with the job that it must be a timetable of, for the timetable's own check."""
    if isinstance(job, ReplanJob) and isinstance(result, ReplanResult):
        for choice in result.choices:
            firm = max(job.now, job.firm_until)
            yield _claim(_with_firm(job_after_disruptions(job), choice.operations, job.slots, firm), choice.operations)
    elif isinstance(job, PromiseJob) and isinstance(result, PromiseResult):
        task = replace(job.plan, objective="weighted_tardiness", jobs=(*job.plan.jobs, *job.order))
        yield _claim(task, (*job.slots, *result.operations))
        if result.earlier is not None:
            firm, slots = max(job.now, job.firm_until), result.earlier.operations
            yield _claim(_with_firm(task, slots, job.slots, firm), slots)


def _claim(task: ScheduleJob, slots: tuple[Slot, ...]) -> tuple[ScheduleJob, ScheduleResult]:
    value = _tardiness(task, slots)
    status = "optimal" if value == 0 else "feasible"
    return task, ScheduleResult(
        status="optimal" if status == "optimal" else "feasible", objective=value, lower_bound=0, operations=slots, seconds=0.0
    )


def _done(jobs: Iterable[Job], slots: Iterable[Slot]) -> dict[str, int]:
    holds = {(one.id, len(one.operations) - 1): one.operations[-1].hold for one in jobs if one.operations}
    return {slot.job: slot.end + holds[slot.job, slot.index] for slot in slots if (slot.job, slot.index) in holds}


def _tardiness(task: ScheduleJob, slots: tuple[Slot, ...]) -> int:
    done = _done(task.jobs, slots)
    return sum(one.weight * max(0, done.get(one.id, 0) - one.due) for one in task.jobs if one.due is not None)
