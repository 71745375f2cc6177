"""What is kept on the rack: remnants that are not too old, and no more drops than there are slots."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date

from solver.domain.cut_plan import NestJob, NestResult
from solver.domain.ids import MaterialId
from solver.domain.plant import Plant
from solver.domain.stock import StockSnapshot
from solver.units import Nm, length_as_number

ROUNDS = 3


def without_expired_remnants(stock: StockSnapshot, plant: Plant, today: date) -> StockSnapshot:
    """Return the stock without remnants that have lain longer than the plant keeps them; one with no date is kept."""
    fresh = tuple(
        item
        for item in stock.remnants
        if item.put_away is None or (today - date.fromisoformat(item.put_away)).days <= plant.keeping.days
    )
    return replace(stock, remnants=fresh)


def free_rack_slots(plant: Plant, stock: StockSnapshot, found: Iterable[tuple[NestJob, NestResult]]) -> int:
    """Return how many slots are free for drops once these plans took remnants and kept their own drops; at least 0."""
    rack = {item.id for item in stock.remnants}
    free = plant.keeping.slots - stock.drops_kept - len(rack)
    for job, result in found:
        free += sum(bar.repeat for bar in result.bars if bar.stock in rack) - len(kept_drop_lengths(job, result))
    return max(0, free)


def kept_drop_lengths(job: NestJob, result: NestResult) -> list[Nm]:
    """Return the lengths of the drops that a plan keeps."""
    if job.keep_from_nm is None:
        return []
    return [bar.drop_nm for bar in result.bars for _ in range(bar.repeat) if bar.drop_nm >= job.keep_from_nm]


def limit_kept_drops(
    jobs: Mapping[MaterialId, NestJob],
    found: Mapping[MaterialId, NestResult],
    slots: int,
    again: Callable[[NestJob], NestResult],
) -> tuple[dict[MaterialId, NestJob], dict[MaterialId, NestResult]]:
    """Return jobs and plans that keep no more drops than there are slots: those worth most.

    A material whose drops find no slot keeps only longer ones, and is nested again; in the end none.
    """
    jobs, found = dict(jobs), dict(found)
    for turn in range(ROUNDS + 1):
        drops = sorted(
            (
                (_worth(job, found[name], drop), drop, name)
                for name, job in jobs.items()
                for drop in kept_drop_lengths(job, found[name])
            ),
            reverse=True,
        )
        refused = drops[slots:]
        for name in dict.fromkeys(item[2] for item in refused):
            most = max(drop for _, drop, other in refused if other == name)
            longer = [drop for _, drop, other in drops[:slots] if other == name and drop > most]
            least = min(longer) if longer and turn < ROUNDS else _beyond(jobs[name])
            jobs[name] = replace(jobs[name], keep_from_nm=Nm(least))
            found[name] = again(jobs[name])
        if not refused:
            break
    return jobs, found


def _worth(job: NestJob, result: NestResult, drop: int) -> float:
    """What a drop earns: at the dearest rate of the stock that the plan uses."""
    used = {bar.stock for bar in result.bars}
    rates: Sequence[float] = [
        (length_as_number(item.length_nm, job.unit) if item.cost is None else item.cost) / item.length_nm
        for item in job.stock
        if item.id in used
    ]
    return job.keep_value * max(rates, default=0.0) * drop


def _beyond(job: NestJob) -> int:
    """A length that no drop has."""
    return max(item.length_nm for item in job.stock) + 1
