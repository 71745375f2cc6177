"""What is left to place, by the search for large timetables: what stays is pinned, what moves pays for it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np

from solver.domain.replan import ReplanJob
from solver.domain.timetable import Goals, Job, Slot
from solver.replanning.freeze import Frozen, Key
from solver.replanning.staying import stay
from solver.scheduling.lists import TOO_MUCH
from solver.scheduling.neighbourhood import Found, improve, timed
from solver.scheduling.shop import Array, Shop, depths, shop_of, slots_of
from solver.scheduling.through import around
from solver.search import Search


@dataclass(frozen=True, slots=True)
class Wishes:
    """What a way to go on minds: weighted tardiness, how often over the costs of moves count; whether nothing may be sooner."""

    tardiness: int
    moves: int
    keep: bool  # work starts no sooner than released
    fixed: Mapping[str, int] = field(default_factory=dict)


def ends_of(jobs: Iterable[Job], slots: Iterable[Slot]) -> dict[str, int]:
    """Return when each job is done, its hold included."""
    last = {(job.id, len(job.operations) - 1): job.operations[-1].hold for job in jobs if job.operations}
    return {slot.job: slot.end + last[slot.job, slot.index] for slot in slots if (slot.job, slot.index) in last}


def place(
    job: ReplanJob, frozen: Frozen, wishes: Wishes, search: Search, begin: Mapping[Key, Slot] = MappingProxyType({})
) -> tuple[Slot, ...]:
    """Return a whole timetable: what stays where it is, the rest in its released order first, then better as time allows.

    `begin`: where new work finds room beside all that is released, to begin with; else it begins as soon as it can.
    """
    shop, named = shop_of(frozen.task, fixed=wishes.fixed, goals=_goals(job, wishes))
    released = {(slot.job, slot.index): slot for slot in job.slots}
    firm = max(job.firm_until, job.now)
    machines = {name: n for n, name in enumerate(named.machines)}
    pick = shop.lane_at[:-1].copy()
    costs = job.calm
    shop.calm[:] = [costs.move * wishes.moves, costs.machine * wishes.moves, costs.far * wishes.moves,
                    costs.far * wishes.moves, costs.shift]  # fmt: skip
    for n, key in enumerate(named.keys):
        slot = frozen.kept.get(key) or released.get(key)
        there = slot or begin.get(key)
        if there is not None:
            lane = machines[there.machine]
            pick[n] = next(c for c in range(int(shop.lane_at[n]), int(shop.lane_at[n + 1])) if shop.lane[c] == lane)
        if slot is None:
            shop.release[n] = max(shop.release[n], job.now)
            continue
        shop.pin_start[n], shop.pin_end[n], shop.pin_lane[n] = slot.start, slot.end, lane
        if key in frozen.kept:
            shop.pinned[n] = 1
        elif key in frozen.forced:
            shop.release[n] = max(shop.release[n], job.now)
        else:
            shop.release[n] = max(shop.release[n], slot.start if wishes.keep else firm)
    soonest = np.array([begin[key].start if key in begin else -1 for key in named.keys], np.int64)
    begun = _in_released_order(shop, pick, np.maximum(shop.pin_start, soonest))
    assert begun.cost < TOO_MUCH  # pinned work comes first, where it was
    best = improve(shop, begun, search)
    slots = slots_of(named, shop, best.pick, best.start, best.end)
    slots = around(frozen.task, slots, frozen.kept, dict(zip(named.keys, shop.release.tolist(), strict=True)), job.slots)
    return stay(frozen.task, slots, frozen.kept, released)


def _goals(job: ReplanJob, wishes: Wishes) -> Goals:
    goals = job.plan.goals or Goals()
    return Goals(tardiness=wishes.tardiness, setup=goals.setup, flow=goals.flow)


def _in_released_order(shop: Shop, pick: Array, starts: Array) -> Found:
    """The list by known starts, what stays first; new work as soon as what it waits for is done.

    Of what stays and began at one instant on one machine, all but the last has no length.
    """
    depth = depths(shop)
    rank = starts.copy()
    for n in np.argsort(depth, kind="stable"):
        rank[n] = max(rank[n], shop.release[n])
        for other in shop.before[shop.before_at[n] : shop.before_at[n + 1]]:
            rank[n] = max(rank[n], rank[other])
    ends = np.where(shop.pinned == 1, shop.pin_end, 0)
    order = np.lexsort((depth, ends, rank, 1 - shop.pinned)).astype(np.int64)
    return timed(shop, order, pick)
