"""Rooms before the saw and the bundle bay, on small random shops, against a plain model with reservoirs; and the check."""

from __future__ import annotations

import random
import time
from dataclasses import replace

import pytest
from ortools.sat.python import cp_model

from solver.domain.timetable import Buffer, BufferStay, Job, Machine, Operation, Pool, ScheduleJob, ScheduleResult
from solver.errors import NoPlan
from solver.scheduling.buffers.flows import buffer_flows, least_overfull_sequence, priorities_as_listed
from solver.scheduling.buffers.repair import NoSafeOrder, compact_timetable
from solver.scheduling.check import check
from solver.scheduling.check_timetable import PARTS
from solver.scheduling.dispatch import RULES, dispatch_by_rule
from solver.scheduling.faults import validate
from solver.scheduling.plant.lateness_chain import lateness_chain
from solver.scheduling.schedule import schedule
from solver.search import Search
from tests.property.test_scheduling_why import as_result, sooner


def within(seconds: float) -> Search:
    end = time.monotonic() + seconds
    return Search(workers=1, left_s=lambda: end - time.monotonic())


def random_shop(dice: random.Random, *, lots: int = 3, spare: int | None = None) -> ScheduleJob:
    """Lots of bars through a press, bars through a saw in a given order or none, bundles of the pieces of some bars."""
    machines = (
        Machine(id="press", setup=((0, 3), (3, 0)), initial=0),
        Machine(id="saw", closed=((20, 30), (50, 60), (80, 90))),
        Machine(id="bay", closed=((10, 25), (40, 55), (70, 85))),
    )
    jobs, before_saw, before_bay, bars = [], [], [], []
    for n in range(lots):
        press = Operation(on={"press": dice.randint(2, 6)}, family=dice.randrange(2), hold=dice.choice((0, 0, 5, 12)))
        jobs.append(Job(id=f"lot {n}", operations=(press,), release=dice.choice((0, 0, 4))))
        for k in range(dice.randint(1, 3)):
            bars.append((f"bar {n}.{k}", f"lot {n}"))
            before_saw.append(BufferStay(job=f"lot {n}", until=f"bar {n}.{k}"))
    dice.shuffle(bars)
    chained = dice.random() < 0.5
    for n, (name, lot) in enumerate(bars):
        after = (lot, bars[n - 1][0]) if n and chained else (lot,)
        jobs.append(Job(id=name, operations=(Operation(on={"saw": dice.randint(1, 4)}, pause=True),), after=after))
    for n in range(2):
        mine = [name for k, (name, _) in enumerate(bars) if k % 2 == n]
        pieces = {name: dice.randint(1, 3) for name in mine}
        before_bay += [BufferStay(job=name, until=f"bundle {n}", takes=count) for name, count in pieces.items()]
        work = Operation(on={"bay": dice.randint(2, 5)}, pause=True)
        due = dice.randint(20, 60)
        jobs.append(Job(id=f"bundle {n}", operations=(work,), after=tuple(mine), due=due, weight=dice.randint(1, 3)))
    most = max(sum(one.job == f"lot {n}" for one in before_saw) for n in range(lots))
    full = max(sum(one.takes for one in before_bay if one.until == f"bundle {n}") for n in range(2))
    more = dice.randint(0, 2) if spare is None else spare
    rooms = (
        Buffer(id="saw", size=most + more, stays=tuple(before_saw)),
        Buffer(id="bay", size=full + dice.randint(0, 3) if spare is None else full + spare, stays=tuple(before_bay)),
    )
    aim = "makespan" if dice.random() < 0.3 else "weighted_tardiness"
    return ScheduleJob(objective=aim, machines=machines, jobs=tuple(jobs), rooms=rooms)  # type: ignore[arg-type]


def plain(task: ScheduleJob) -> int | None:
    """The least value by a model of its own, starts unit by unit of time; None: no timetable keeps to the rooms."""
    model, long = cp_model.CpModel(), 240
    start, end = {}, {}
    for job in task.jobs:
        (step,) = job.operations
        ((name, work),) = step.on.items()
        shut = next(machine for machine in task.machines if machine.id == name).closed
        rows = []
        for at in range(job.release, long):
            now, left = at, work
            while left:
                closed = any(low <= now < high for low, high in shut)
                if closed and (not step.pause or now == at):
                    break
                left, now = left - (not closed), now + 1
            else:
                rows.append((at, now))
        start[job.id], end[job.id] = model.new_int_var(0, long, ""), model.new_int_var(0, 2 * long, "")
        model.add_allowed_assignments([start[job.id], end[job.id]], rows)
        for other in job.after:
            hold = next(one for one in task.jobs if one.id == other).operations[0].hold
            model.add(start[job.id] >= end[other] + hold)
    for machine in task.machines:
        here = [job for job in task.jobs if machine.id in job.operations[0].on]
        table = machine.setup or ((0, 0), (0, 0))
        for n, one in enumerate(here):
            model.add(start[one.id] >= (table[machine.initial][one.operations[0].family] if machine.initial is not None else 0))
            for two in here[n + 1 :]:
                first = model.new_bool_var("")
                a, b = one.operations[0].family, two.operations[0].family
                model.add(start[two.id] >= end[one.id] + table[a][b]).only_enforce_if(first)
                model.add(start[one.id] >= end[two.id] + table[b][a]).only_enforce_if(~first)
    for room in task.rooms:
        times = [end[one.job] for one in room.stays] + [start[one.until] for one in room.stays]
        model.add_reservoir_constraint(times, [s.takes for s in room.stays] + [-s.takes for s in room.stays], 0, room.size)
    if task.objective == "makespan":
        value = model.new_int_var(0, 4 * long, "")
        for job in task.jobs:
            model.add(value >= end[job.id] + job.operations[0].hold)
    else:
        late = []
        for job in task.jobs:
            if job.due is not None:
                late.append((job.weight, model.new_int_var(0, 2 * long, "")))
                model.add(late[-1][1] >= end[job.id] - job.due)
        value = sum(weight * one for weight, one in late)
    model.minimize(value)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    status = solver.solve(model)
    assert status in (cp_model.OPTIMAL, cp_model.INFEASIBLE)
    return int(solver.objective_value) if status == cp_model.OPTIMAL else None


@pytest.mark.parametrize("seed", range(12))
def test_small_shops_are_scheduled_as_well_as_a_plain_model_with_reservoirs_can(seed: int) -> None:
    """Proved best, or proved that nothing keeps to the rooms; and what rules alone make of it keeps to them too."""
    task = random_shop(random.Random(seed))
    assert validate(task) == []
    best = plain(task)
    if best is None:
        with pytest.raises(NoPlan):
            schedule(task, within(60))
        return
    result = schedule(task, within(60))
    assert [str(fault) for fault in check(task, result).faults] == []
    assert (result.status, result.objective) == ("optimal", best)


@pytest.mark.parametrize("people", [False, True])
@pytest.mark.parametrize("seed", range(40))
def test_what_rules_make_keeps_to_the_rooms_and_each_link_of_each_chain_is_tight(seed: int, people: bool) -> None:
    """Larger shops; one that no order was found for is one whose room is under what the order by need asks for."""
    dice = random.Random(seed)
    task = random_shop(dice, lots=8)
    if people:
        task = replace(task, pools=(Pool(id="crew", size=2, uses={"press": 2, "saw": 1, "bay": 1}),))
    slots = dispatch_by_rule(task, dice.choice(RULES))
    try:
        settled = compact_timetable(task, slots)
    except NoSafeOrder:
        doors = buffer_flows(task.rooms)
        assert least_overfull_sequence(task.jobs, doors, (priorities_as_listed(task.jobs),)).over(doors.sizes) > 0
        return
    result = as_result(task, settled)
    assert [str(fault) for fault in check(task, result).faults] == []
    assert set(compact_timetable(task, settled)) == set(settled)
    for job in task.jobs:
        _tight(task, result, job)


def _tight(task: ScheduleJob, result: ScheduleResult, job: Job) -> None:
    by_name = {f"{slot.job}/{slot.index}": slot for slot in result.operations}
    links = lateness_chain(task, {(slot.job, slot.index): slot for slot in result.operations}, job.id)
    at, before = 0, None
    for n, link in enumerate(links):
        slot = by_name[link.operation]
        end = slot.start if n + 1 < len(links) and links[n + 1].waits_for == "room" else slot.end
        assert link.before == before
        parts = [getattr(link, name) for name in PARTS]
        assert sum(parts) == end - at and min(parts) >= 0 and link.idle_s == 0
        at, before = end, link.operation
        if slot.start > 0:
            moved = tuple(sooner(task, one) if one is slot else one for one in result.operations)
            wrong = check(task, replace(result, operations=moved)).faults
            assert [fault for fault in wrong if fault.path not in ("objective", "status", "lower_bound")], link
    assert at == by_name[f"{job.id}/{len(job.operations) - 1}"].end


def test_rooms_bind_in_most_of_these_shops() -> None:
    """Of 40 shops, without care for rooms most would overfill one: the check says so."""
    caught = 0
    for seed in range(40):
        task = random_shop(random.Random(seed), lots=8)
        loose = compact_timetable(replace(task, rooms=()), dispatch_by_rule(task, "due"))
        caught += any(fault.path.startswith("rooms.") for fault in check(task, as_result(task, loose)).faults)
    assert caught > 20
