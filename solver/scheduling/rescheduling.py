"""What replanning asks of scheduling: the face of its rooms. Pinned work stays, all else is placed anew, and moves cost."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

import numpy as np

from solver.domain.timetable import Goals, ScheduleJob, Slot
from solver.scheduling.buffers.contents import BufferContents
from solver.scheduling.buffers.overfull import total_buffer_excess
from solver.scheduling.buffers.released_buffers import ReleasedBuffers
from solver.scheduling.buffers.repair import repair_around_kept
from solver.scheduling.buffers.right_shift import restore_released_times
from solver.scheduling.calendar import Calendar
from solver.scheduling.faults import validate
from solver.scheduling.lists.annealing import TimedList, anneal_side_by_side, time_list
from solver.scheduling.lists.decoding import TOO_MUCH, occupy_people
from solver.scheduling.lists.shop import Array, MoveCosts, Shop, build_shop, precedence_depths, slots_from_arrays
from solver.scheduling.objectives import completion_times, secondary_costs, weighted_tardiness
from solver.scheduling.precedence import Key, in_precedence_order
from solver.scheduling.resource_profile import FAR, ResourceProfile, Span, working_spans
from solver.search import Search

__all__ = [
    "FAR",
    "BufferContents",
    "Calendar",
    "Key",
    "MoveCosts",
    "ReleasedBuffers",
    "ResourceProfile",
    "Span",
    "completion_times",
    "in_precedence_order",
    "reschedule",
    "secondary_costs",
    "total_buffer_excess",
    "validate",
    "weighted_tardiness",
    "working_spans",
]


def reschedule(
    task: ScheduleJob,
    released: Sequence[Slot],
    search: Search,
    *,
    kept: Mapping[Key, Slot],
    not_before: Mapping[Key, int],
    goals: Goals,
    moves: MoveCosts,
    fixed: Mapping[str, int] = MappingProxyType({}),
    begin: Mapping[Key, Slot] = MappingProxyType({}),
) -> tuple[Slot, ...]:
    """Return a whole timetable: what is `kept` where it is, the rest in its released order first, then better as time allows.

    `not_before`: of all that is not kept. `fixed`: by job, what being late at all costs. `begin`: where new work finds room
    beside all that is released, to begin with; else it begins as soon as it can.
    """
    shop, named = build_shop(task, fixed=fixed, goals=goals)
    shop = shop._replace(moves=moves)
    before = {(slot.job, slot.index): slot for slot in released}
    machines = {name: n for n, name in enumerate(named.machines)}
    pick = shop.lane_at[:-1].copy()
    for n, key in enumerate(named.keys):
        slot = kept.get(key) or before.get(key)
        if (placed := slot or begin.get(key)) is not None:
            lane = machines[placed.machine]
            pick[n] = next(c for c in range(int(shop.lane_at[n]), int(shop.lane_at[n + 1])) if shop.lane[c] == lane)
        if slot is not None:
            shop.pin_start[n], shop.pin_end[n], shop.pin_lane[n] = slot.start, slot.end, machines[slot.machine]
        if key in kept:
            shop.pinned[n] = 1
        else:
            shop.release[n] = max(shop.release[n], not_before[key])
    _mark_short_of_people(shop)
    soonest = np.array([begin[key].start if key in begin else -1 for key in named.keys], np.int64)
    begun = _in_released_order(shop, pick, np.maximum(shop.pin_start, soonest))
    assert begun.cost < TOO_MUCH  # pinned work comes first, where it was
    best = anneal_side_by_side(shop, begun, search)
    slots = slots_from_arrays(named, shop, best.pick, best.start, best.end)
    slots = repair_around_kept(task, slots, kept, dict(zip(named.keys, shop.release.tolist(), strict=True)), released)
    return restore_released_times(task, slots, kept, before)


def _mark_short_of_people(shop: Shop) -> None:
    """Mark what stays and lacks people beside other work that stays: it was reported so, or its pause leaves them to others."""
    people = np.zeros(int(shop.people_at[-1]), np.int64)
    stays = np.flatnonzero((shop.pinned == 1) & (shop.pin_end > shop.pin_start))
    for n in stays[np.lexsort((shop.pin_end[stays], shop.pin_start[stays]))]:
        if not occupy_people(shop, people, int(shop.pin_lane[n]), int(shop.pin_start[n]), int(shop.pin_end[n])):
            shop.short[n] = 1


def _in_released_order(shop: Shop, pick: Array, starts: Array) -> TimedList:
    """The list by known starts, what stays first; new work as soon as what it waits for is done.

    Of what stays and began at one instant on one machine, all but the last has no length.
    """
    depth = precedence_depths(shop)
    rank = starts.copy()
    for n in np.argsort(depth, kind="stable"):
        rank[n] = max(rank[n], shop.release[n])
        for other in shop.before[shop.before_at[n] : shop.before_at[n + 1]]:
            rank[n] = max(rank[n], rank[other])
    ends = np.where(shop.pinned == 1, shop.pin_end, 0)
    order = np.lexsort((depth, ends, rank, 1 - shop.pinned)).astype(np.int64)
    return time_list(shop, order, pick)
