"""A timetable in clear, spoiled on purpose: each way to say something else than its slots is caught."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from functools import cache

import pytest

from solver.domain.stock import StockSnapshot
from solver.domain.timetable import Job, Lateness, Machine, Operation, ScheduleJob, ScheduleResult, Timetable
from solver.scheduling.check_timetable import timetable_faults
from solver.scheduling.dispatch import dispatch_by_rule
from solver.scheduling.objectives import objective_value
from solver.scheduling.plant.operations import DeliveryWork, PlantWork
from solver.scheduling.plant.steps import OperationMeaning
from solver.scheduling.plant.supply import MaterialLedger
from solver.scheduling.plant.timetable import plant_timetable
from solver.units import Seconds

EPOCH = datetime.fromisoformat("2031-04-28T06:00:00-06:00")


@cache
def sound() -> Timetable:
    """Two lots and two loads on a press and a dock; the second load is late."""
    machines = (Machine(id="press", closed=((3_000, 9_000),), setup=((0, 600), (600, 0))), Machine(id="dock"))
    steps = {"lot 1": (0, 2_700), "lot 2": (1, 2_700)}
    lots = tuple(
        Job(id=name, operations=(Operation(on={"press": work}, family=family, hold=500),))
        for name, (family, work) in steps.items()
    )
    loads = tuple(
        Job(id=f"load {n}", operations=(Operation(on={"dock": 600}),), after=(f"lot {n}",), due=5_000, weight=1) for n in (1, 2)
    )
    job = ScheduleJob(objective="weighted_tardiness", machines=machines, jobs=(*lots, *loads))
    slots = dispatch_by_rule(job, "due")
    result = ScheduleResult(
        status="feasible", objective=objective_value(job, slots), lower_bound=0, operations=slots, seconds=0.0
    )
    work = PlantWork(
        job=job,
        meaning={(one.id, 0): OperationMeaning(order="a", step="load", about=one.id) for one in job.jobs},
        deliveries={("a", f"D{n}"): DeliveryWork(due_s=5_000, jobs=(f"load {n}",)) for n in (1, 2)},
        families={},
        supply=MaterialLedger(StockSnapshot(), 0, EPOCH),
    )
    return plant_timetable(work, result, epoch=EPOCH)


def late(table: Timetable) -> Lateness:
    return next(one for one in table.deliveries if one.late_s)


def with_late(change: Callable[[Lateness], Lateness]) -> Timetable:
    table = sound()
    return replace(table, deliveries=tuple(change(one) if one.late_s else one for one in table.deliveries))


def with_operation(name: str, **changes: object) -> Timetable:
    table = sound()
    return replace(
        table,
        operations=tuple(replace(one, **changes) if one.id == name else one for one in table.operations),  # type: ignore[arg-type]
    )


def with_link(number: int, **changes: object) -> Timetable:
    return with_late(
        lambda one: replace(
            one,
            chain=tuple(replace(link, **changes) if n == number else link for n, link in enumerate(one.chain)),  # type: ignore[arg-type]
        )
    )


def test_what_is_spoiled_was_sound() -> None:
    assert timetable_faults(sound()) == []
    assert [len(one.chain) for one in sound().deliveries] == [0, 3]


SPOILED: dict[str, tuple[Callable[[], Timetable], str]] = {
    "an operation left out": (lambda: replace(sound(), operations=sound().operations[1:]), "one a slot"),
    "an operation told twice": (
        lambda: replace(sound(), operations=(*sound().operations, sound().operations[0])),
        "one a slot",
    ),
    "another time": (lambda: with_operation("lot 1/0", start_s=Seconds(1)), "when and where"),
    "another machine": (lambda: with_operation("lot 1/0", machine="dock"), "when and where"),
    "a set-up not told": (lambda: with_operation("lot 2/0", setup_s=Seconds(0)), "states 0 s of set-up"),
    "late by less": (lambda: with_late(lambda one: replace(one, late_s=Seconds(1))), "said to be 1 s late"),
    "no reasons": (lambda: with_late(lambda one: replace(one, chain=())), "has no reasons"),
    "reasons for nothing": (
        lambda: replace(sound(), deliveries=tuple(replace(one, chain=late(sound()).chain) for one in sound().deliveries)),
        "has reasons",
    ),
    "a chain that starts late": (lambda: with_late(lambda one: replace(one, chain=one.chain[1:])), "breaks at"),
    "a chain with a gap": (lambda: with_late(lambda one: replace(one, chain=(one.chain[0], one.chain[2]))), "breaks at"),
    "a chain that ends early": (lambda: with_late(lambda one: replace(one, chain=one.chain[:-1])), "the chain ends at"),
    "a link that accounts for too little": (lambda: with_link(1, closed_s=Seconds(0)), "accounts for"),
    "idle time for no reason": (
        lambda: with_link(1, closed_s=Seconds(0), idle_s=late(sound()).chain[1].closed_s),
        "for no reason",
    ),
    "an unknown operation": (lambda: with_link(2, operation="load 9/0"), "breaks at"),
}


@pytest.mark.parametrize("name", SPOILED)
def test_a_spoiled_timetable_in_clear_is_caught(name: str) -> None:
    spoil, wanted = SPOILED[name]
    assert wanted in " ".join(str(fault) for fault in timetable_faults(spoil()))
