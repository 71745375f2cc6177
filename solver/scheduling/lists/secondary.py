"""Less set-up and flow time at no more lateness: what is left of the time once lateness is settled. See `neighbourhood`."""

from __future__ import annotations

from solver.domain.timetable import Goals, ScheduleJob, Slot
from solver.jit import COMPILED
from solver.scheduling.lists.annealing import AnnealingChain, estimated_seconds, time_list
from solver.scheduling.lists.shop import build_shop, list_from_slots, slots_from_arrays
from solver.scheduling.objectives import objective_value, secondary_costs
from solver.search import Search

MOVES, MOST_MOVES = (1_000, 100_000) if COMPILED else (5, 500)  # for each operation, and in all
ROUNDS = 40  # temperatures
HOT, COLD = 2.0, 0.02  # first and last temperature, in what an average operation's work costs as flow
MOST_COST = 2**52  # beyond, moves might cost more than whole numbers hold


def has_secondary_goals(task: ScheduleJob) -> bool:
    """Return whether set-up or flow time is to be less, beside lateness, and the moves on lists keep what the job asks."""
    goals = task.goals
    late = task.objective == "weighted_tardiness" and any(job.due is not None and job.operations for job in task.jobs)
    return late and not task.same_order and goals is not None and goals.setup + goals.flow > 0


def improve_secondary(task: ScheduleJob, slots: tuple[Slot, ...], search: Search) -> tuple[Slot, ...]:
    """Return a timetable no later than a sound one, with as little set-up and flow time, by their goals, as was found.

    One more second late costs more than all set-up and flow time of the first timetable, so no gain pays for it. A stated
    number of moves: unless the clock ends it, the same each time.
    """
    goals = task.goals or Goals()
    setup, flow = secondary_costs(task, slots)
    dear = 1 + goals.setup * setup + goals.flow * flow
    if search.over() or dear * (1 + objective_value(task, slots) + flow) > MOST_COST:
        return slots
    shop, named = build_shop(task, goals=Goals(tardiness=dear, setup=goals.setup, flow=goals.flow))
    chain = AnnealingChain(shop, time_list(shop, *list_from_slots(named, shop, slots)), search.seed)
    steps = 1 + min(MOST_MOVES, MOVES * len(named.keys)) // ROUNDS
    unit = max(1.0, float(shop.work.mean()) * max(goals.flow, 1))
    for n in range(ROUNDS):
        if search.over():
            break
        chain.anneal_on(steps, unit * HOT * (COLD / HOT) ** (n / ROUNDS))
        search.spend(estimated_seconds(shop, steps))
        search.tell("set-up and flow time", n / ROUNDS)
    best = time_list(shop, *chain.best)
    return slots_from_arrays(named, shop, best.pick, best.start, best.end)
