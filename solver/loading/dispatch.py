"""What goes on its truck when: one dock door, ready times and need-by times, least largest lateness."""

from __future__ import annotations

import heapq
from collections.abc import Sequence

from solver.domain.dispatch import Departure, DispatchJob, DispatchLoad, DispatchResult
from solver.errors import Faults, FieldFault
from solver.search import Search
from solver.units import Seconds

NODES = 20_000  # partial orders looked at before the best known is given as feasible


def validate(job: DispatchJob) -> list[FieldFault]:
    """Return every fault of a job: ids given twice."""
    faults = Faults()
    seen: dict[str, int] = {}
    for place, item in enumerate(job.loads):
        if (first := seen.setdefault(item.id, place)) != place:
            faults.add(f"loads[{place}].id", f"{item.id!r} is the id of loads[{first}] too", "an id of its own")
    return faults.found


def dispatch(job: DispatchJob, search: Search) -> DispatchResult:
    """Return the order of loads at the dock of least largest lateness, with its bound.

    Branch and bound over orders: the earliest due of those ready first (Schrage), the preemptive schedule of each rest
    as its bound (Jackson 1955; Carlier 1982, European Journal of Operational Research 11: 42-47). Lateness counts at
    the site, transit included. Raises InputError.
    """
    faults = Faults()
    faults.extend(validate(job))
    faults.raise_any()
    if not job.loads:
        return DispatchResult(status="optimal", departures=(), most_late_s=0, lower_bound=0)
    bound = _preemptive(job.loads, 0)
    best = _by_due(job.loads)
    value = _most_late(best)
    proved = value == bound
    if not proved:
        best, value, proved = _branch(job.loads, best, value, bound, search)
    return DispatchResult(
        status="optimal" if proved else "feasible",
        departures=_departures(best),
        most_late_s=value,
        lower_bound=value if proved else bound,
    )


def _due_s(item: DispatchLoad) -> int:
    """Return when a load must have left the dock."""
    return item.need_by_s - item.transit_s


def _by_due(loads: Sequence[DispatchLoad]) -> list[DispatchLoad]:
    waiting = sorted(loads, key=lambda item: (item.ready_s, _due_s(item), item.id))
    ready: list[tuple[int, str, DispatchLoad]] = []
    made: list[DispatchLoad] = []
    now = place = 0
    while len(made) < len(waiting):
        if not ready:
            now = max(now, waiting[place].ready_s)
        while place < len(waiting) and waiting[place].ready_s <= now:
            heapq.heappush(ready, (_due_s(waiting[place]), waiting[place].id, waiting[place]))
            place += 1
        made.append(heapq.heappop(ready)[2])
        now += made[-1].dock_s
    return made


def _departures(order: Sequence[DispatchLoad]) -> tuple[Departure, ...]:
    made, now = [], 0
    for item in order:
        start = max(now, item.ready_s)
        now = start + item.dock_s
        arrive = now + item.transit_s
        made.append(
            Departure(
                load=item.id,
                start_s=Seconds(start),
                leave_s=Seconds(now),
                arrive_s=Seconds(arrive),
                late_s=arrive - item.need_by_s,
            )
        )
    return tuple(made)


def _most_late(order: Sequence[DispatchLoad]) -> int:
    return max(departure.late_s for departure in _departures(order))


def _preemptive(loads: Sequence[DispatchLoad], now: int) -> int:
    """Return the least largest lateness when loads could be interrupted: no order without interruption beats it."""
    waiting = sorted(loads, key=lambda item: item.ready_s)
    ready: list[tuple[int, int, int]] = []
    place, worst = 0, -(2**62)
    while ready or place < len(waiting):
        if not ready:
            now = max(now, waiting[place].ready_s)
        while place < len(waiting) and waiting[place].ready_s <= now:
            heapq.heappush(ready, (_due_s(waiting[place]), place, waiting[place].dock_s))
            place += 1
        due, which, left = heapq.heappop(ready)
        until = waiting[place].ready_s if place < len(waiting) else now + left
        done = min(left, until - now)
        now += done
        if done < left:
            heapq.heappush(ready, (due, which, left - done))
        else:
            worst = max(worst, now - due)
    return worst


def _branch(
    loads: Sequence[DispatchLoad], best: list[DispatchLoad], value: int, bound: int, search: Search
) -> tuple[list[DispatchLoad], int, bool]:
    """Return the best order, its lateness, and whether every other was ruled out."""
    stack: list[tuple[list[DispatchLoad], int, int]] = [([], 0, -(2**62))]
    nodes = 0
    while stack:
        nodes += 1
        if nodes > NODES or search.over():
            return best, value, value == bound
        done, now, late = stack.pop()
        if late >= value:
            continue
        left = [item for item in loads if item not in done]
        if not left:
            best, value = done, late
            continue
        soonest = min(max(now, item.ready_s) + item.dock_s for item in left)
        children = []
        for item in left:
            if item.ready_s > soonest:
                continue  # another would be done before this one can begin
            end = max(now, item.ready_s) + item.dock_s
            worst = max(late, end - _due_s(item))
            rest = [other for other in left if other is not item]
            floor = max(worst, _preemptive(rest, end)) if rest else worst
            if floor < value:
                children.append((floor, _due_s(item), item.id, [*done, item], end, worst))
        children.sort(key=lambda child: child[:3], reverse=True)
        stack += [(order, end, worst) for _, _, _, order, end, worst in children]
    return best, value, True
