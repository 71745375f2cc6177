"""A schedule job as plain arrays, for compiled loops: operations numbered job by job, machines as the job lists them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from solver.domain.timetable import Goals, ScheduleJob, Slot

Array = Any
NEVER = 2**60
BUCKETS = 1_024  # pieces of time by which closed times are looked up


class ClosedTimes(NamedTuple):
    """The closed times of all machines, in order; those of m lie from `at[m]` to `at[m + 1]`."""

    at: Array
    begin: Array
    end: Array
    near: Array  # machine, piece of time: the first closed time that ends in that piece or later
    piece: int  # how long a piece of time is; the last one has no end


class Weights(NamedTuple):
    """What a unit of each goal costs: the fields of `Goals`."""

    tardiness: int
    setup: int
    flow: int


class MoveCosts(NamedTuple):
    """What it costs that an operation is not where it was released."""

    move: int  # it starts at another time or is on another machine
    machine: int  # it is on another machine
    far: int  # it moves farther than a shift
    by_shift: int  # for each shift's length that it moves, and in part for a part of one
    shift: int  # what a shift is


class Shop(NamedTuple):
    """What does not change during a search. Lists of lists are flat: those of n lie from `..._at[n]` to `..._at[n + 1]`."""

    release: Array  # by operation: not before this
    hold: Array
    pause: Array
    family: Array
    before_at: Array  # operations that must be done first
    before: Array
    after_at: Array  # operations that wait for it
    after: Array
    lane_at: Array  # machines that can do it, and how long they take
    lane: Array
    work: Array
    due: Array  # of the job that ends with the operation; NEVER: none, or not its last
    weight: Array  # likewise; 0: lateness costs nothing
    fixed: Array  # likewise: what being late at all costs, in weighted tardiness
    counted: Array  # 1 where the operation ends a job with a due date: its end counts as flow
    shut: ClosedTimes
    setup: Array  # machine, family before, family after
    initial: Array  # family before time 0; -1: none
    people_at: Array  # people by pool
    takes: Array  # machine, pool: how many people
    goals: Weights
    pinned: Array  # operations that stay: 1
    short: Array  # of them, those that lack people beside others that stay, as it was reported: 1
    pin_start: Array  # released start: where a pinned one is, from where another one moves; -1: none
    pin_end: Array
    pin_lane: Array  # released machine; -1: none
    moves: MoveCosts


@dataclass(frozen=True, slots=True)
class ShopNames:
    """The names behind the numbers of a shop."""

    keys: tuple[tuple[str, int], ...]
    machines: tuple[str, ...]

    @property
    def index(self) -> dict[tuple[str, int], int]:
        """Return the operations' numbers by job and index."""
        return {key: n for n, key in enumerate(self.keys)}


def _flat(lists: Iterable[Sequence[int]]) -> tuple[Array, Array]:
    kept = [list(one) for one in lists]
    at = np.zeros(len(kept) + 1, np.int64)
    at[1:] = np.cumsum([len(one) for one in kept])
    return at, np.array([item for one in kept for item in one], np.int64)


def _waits(task: ScheduleJob) -> list[list[int]]:
    """For each operation, those that must be done first."""
    size = {job.id: len(job.operations) for job in task.jobs}
    first = dict(zip(size, np.cumsum([0, *size.values()]).tolist(), strict=False))
    waits: list[list[int]] = []
    for job in task.jobs:
        for n in range(len(job.operations)):
            if n:
                waits.append([first[job.id] + n - 1])
            else:
                waits.append([first[other] + size[other] - 1 for other in dict.fromkeys(job.after) if size[other]])
    return waits


def _followers(waits: Sequence[Sequence[int]]) -> list[list[int]]:
    """For each operation, those that wait for it."""
    followers: list[list[int]] = [[] for _ in waits]
    for n, others in enumerate(waits):
        for other in others:
            followers[other].append(n)
    return followers


def build_shop(
    task: ScheduleJob, *, fixed: Mapping[str, int] | None = None, goals: Goals | None = None
) -> tuple[Shop, ShopNames]:
    """Return a valid schedule job as arrays, nothing pinned. `fixed`: by job, what being late at all costs."""
    keys = tuple((job.id, n) for job in task.jobs for n in range(len(job.operations)))
    steps = [step for job in task.jobs for step in job.operations]
    numbers = {machine.id: n for n, machine in enumerate(task.machines)}
    waits, families = _waits(task), family_numbers(task)
    (before_at, before), (after_at, after) = _flat(waits), _flat(_followers(waits))
    lane_at, lane = _flat([numbers[name] for name in step.on] for step in steps)
    release, due, weight, late, counted = _job_arrays(task, fixed or {})
    initial = [-1 if machine.initial is None else families[machine.initial] for machine in task.machines]
    takes = [[pool.uses.get(machine.id, 0) for pool in task.pools] for machine in task.machines]
    aims = goals or task.goals or Goals()
    shop = Shop(
        release=release,
        hold=np.array([step.hold for step in steps], np.int64),
        pause=np.array([step.pause for step in steps], np.int64),
        family=np.array([families[step.family] for step in steps], np.int64),
        before_at=before_at,
        before=before,
        after_at=after_at,
        after=after,
        lane_at=lane_at,
        lane=lane,
        work=np.array([work for step in steps for work in step.on.values()], np.int64),
        due=due,
        weight=weight,
        fixed=late,
        counted=counted,
        shut=_shut(task),
        setup=setup_tables(task, families),
        initial=np.array(initial, np.int64),
        people_at=np.cumsum([0, *(pool.size for pool in task.pools)]).astype(np.int64),
        takes=np.array(takes, np.int64).reshape(len(task.machines), len(task.pools)),
        goals=Weights(**{name: getattr(aims, name) for name in Weights._fields}),
        pinned=np.zeros(len(steps), np.int64),
        short=np.zeros(len(steps), np.int64),
        pin_start=np.full(len(steps), -1, np.int64),
        pin_end=np.full(len(steps), -1, np.int64),
        pin_lane=np.full(len(steps), -1, np.int64),
        moves=MoveCosts(move=0, machine=0, far=0, by_shift=0, shift=1),
    )
    return shop, ShopNames(keys, tuple(machine.id for machine in task.machines))


def _job_arrays(task: ScheduleJob, fixed: Mapping[str, int]) -> tuple[Array, Array, Array, Array, Array]:
    """By operation: release; and of the last one of a job its due date, weight, what being late at all costs, if it counts."""
    size = sum(len(job.operations) for job in task.jobs)
    release, due = np.zeros(size, np.int64), np.full(size, NEVER, np.int64)
    weight, late, counted = np.zeros(size, np.int64), np.zeros(size, np.int64), np.zeros(size, np.int64)
    low = 0
    for job in task.jobs:
        last = low + len(job.operations) - 1
        release[low : last + 1] = job.release
        if job.due is not None:
            due[last], weight[last], counted[last] = job.due, job.weight, 1
            late[last] = fixed.get(job.id, 0)
        low = last + 1
    return release, due, weight, late, counted


def _shut(task: ScheduleJob) -> ClosedTimes:
    """The closed times, with the table by which they are looked up."""
    shut = [sorted((low, high) for low, high in machine.closed if high > low) for machine in task.machines]
    at, begin = _flat([low for low, _ in one] for one in shut)
    end = np.array([high for one in shut for _, high in one], np.int64)
    piece = int(end.max(initial=0)) // BUCKETS + 1
    begins = np.arange(BUCKETS) * piece
    near = [at[m] + np.searchsorted(end[at[m] : at[m + 1]], begins, side="right") for m in range(len(shut))]
    return ClosedTimes(at, begin, end, np.array(near, np.int64).reshape(len(shut), BUCKETS), piece)


def family_numbers(task: ScheduleJob) -> dict[int, int]:
    """Return a number for each family that is used, without gaps, so that tables stay small whatever families are called."""
    used = {step.family for job in task.jobs for step in job.operations}
    used.update(machine.initial for machine in task.machines if machine.initial is not None)
    return {family: n for n, family in enumerate(sorted(used))}


def setup_tables(task: ScheduleJob, families: Mapping[int, int]) -> Array:
    """Return one table a machine, by numbers of families; zero where a machine needs no set-up. Raises OverflowError."""
    size = max(1, len(families))
    made = np.zeros((len(task.machines), size, size), np.int64)
    for n, machine in enumerate(task.machines):
        if machine.setup is not None:
            known = [(one, number) for one, number in families.items() if one < len(machine.setup)]
            for before, row in known:
                made[n, row, [number for _, number in known]] = [machine.setup[before][after] for after, _ in known]
    return made


def slots_from_arrays(named: ShopNames, shop: Shop, pick: Array, start: Array, end: Array) -> tuple[Slot, ...]:
    """Return a timetable in clear. `pick`: by operation, where in `lane` its machine stands."""
    return tuple(
        Slot(job=job, index=n, machine=named.machines[int(shop.lane[pick[k]])], start=int(start[k]), end=int(end[k]))
        for k, (job, n) in enumerate(named.keys)
    )


def list_from_slots(named: ShopNames, shop: Shop, slots: Iterable[Slot]) -> tuple[Array, Array]:
    """Return a timetable's operations by start, each after those it waits for, and where in `lane` their machines stand."""
    index, numbers = named.index, {name: n for n, name in enumerate(named.machines)}
    pick = np.zeros(len(named.keys), np.int64)
    times: list[tuple[int, int, int]] = []
    depth = precedence_depths(shop)
    for slot in slots:
        k, machine = index[slot.job, slot.index], numbers[slot.machine]
        pick[k] = next(c for c in range(int(shop.lane_at[k]), int(shop.lane_at[k + 1])) if shop.lane[c] == machine)
        times.append((slot.start, int(depth[k]), k))
    return np.array([k for _, _, k in sorted(times)], np.int64), pick


def precedence_depths(shop: Shop) -> Array:
    """Return for each operation the most operations in line before it: an order by depth respects every wait."""
    size = len(shop.release)
    left = np.diff(shop.before_at)
    depth = np.zeros(size, np.int64)
    ready = [k for k in range(size) if left[k] == 0]
    while ready:
        k = ready.pop()
        for other in shop.after[shop.after_at[k] : shop.after_at[k + 1]]:
            depth[other] = max(depth[other], depth[k] + 1)
            left[other] -= 1
            if left[other] == 0:
                ready.append(int(other))
    return depth


def predecessor_lists(shop: Shop, ends: Array) -> tuple[Array, Array]:
    """Return of each of some operations itself and all that it waits for, as a flat list and where each one's part begins."""
    made: list[list[int]] = []
    for last in ends:
        seen, left = {int(last)}, [int(last)]
        while left:
            n = left.pop()
            for other in shop.before[shop.before_at[n] : shop.before_at[n + 1]].tolist():
                if other not in seen:
                    seen.add(other)
                    left.append(other)
        made.append(sorted(seen))
    return _flat(made)
