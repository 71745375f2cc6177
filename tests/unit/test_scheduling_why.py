"""Why a job is late, on cases whose answer can be seen: each kind of wait once."""

from __future__ import annotations

from solver.documents.lateness_words import duration_text, lateness_reasons
from solver.documents.names import ThingNames
from solver.documents.numbering import BarNumber
from solver.domain.timetable import (
    Job,
    Lateness,
    Link,
    Machine,
    Operation,
    PlannedOperation,
    Pool,
    ScheduleJob,
    Slot,
)
from solver.scheduling.buffers.repair import compact_timetable
from solver.scheduling.plant.lateness_chain import lateness_chain
from solver.units import Seconds
from tests.languages import ENGLISH, SPANISH
from tests.orders import plant

H = 3600
NIGHTS = tuple((day * 24 * H + low * H, day * 24 * H + high * H) for day in range(9) for low, high in ((0, 6), (14, 24)))


def links_of(task: ScheduleJob, order: list[tuple[str, int, str]], job: str) -> tuple[Link, ...]:
    """The chain of a job when the work is done in this order, each as early as can be."""
    slots = compact_timetable(
        task, [Slot(job=name, index=n, machine=on, start=k, end=k) for k, (name, n, on) in enumerate(order)]
    )
    return lateness_chain(task, {(slot.job, slot.index): slot for slot in slots}, job)


def test_work_before_it_on_its_machine_and_the_set_up_between() -> None:
    task = ScheduleJob(
        objective="weighted_tardiness",
        machines=(Machine(id="saw", setup=((0, 300), (600, 0))),),
        jobs=(
            Job(id="a", operations=(Operation(on={"saw": H}),)),
            Job(id="b", operations=(Operation(on={"saw": 2 * H}, family=1),), due=H),
        ),
    )
    assert links_of(task, [("a", 0, "saw"), ("b", 0, "saw")], "b") == (
        Link(operation="a/0", waits_for="start", work_s=Seconds(H)),
        Link(operation="b/0", waits_for="machine", before="a/0", setup_s=Seconds(300), work_s=Seconds(2 * H)),
    )


def test_glue_that_sets_over_a_night_and_a_morning_until_the_saw_opens() -> None:
    """Laminated until 13:00, glue sets 12 h to 01:00, the saw opens at 06:00; the cut pauses from 14:00 to 06:00."""
    task = ScheduleJob(
        objective="weighted_tardiness",
        machines=(Machine(id="press", closed=NIGHTS), Machine(id="saw", closed=NIGHTS)),
        jobs=(Job(id="a", operations=(Operation(on={"press": 7 * H}, hold=12 * H), Operation(on={"saw": 9 * H}, pause=True))),),
    )
    assert links_of(task, [("a", 0, "press"), ("a", 1, "saw")], "a") == (
        Link(operation="a/0", waits_for="start", closed_s=Seconds(6 * H), work_s=Seconds(7 * H)),
        Link(
            operation="a/1",
            waits_for="job",
            before="a/0",
            hold_s=Seconds(12 * H),
            closed_s=Seconds(5 * H),
            work_s=Seconds(9 * H),
            pause_s=Seconds(16 * H),
        ),
    )


def test_material_that_comes_late() -> None:
    task = ScheduleJob(
        objective="weighted_tardiness",
        machines=(Machine(id="saw"),),
        jobs=(
            Job(id="a", operations=(Operation(on={"saw": H}),), release=5 * H),
            Job(id="b", operations=(Operation(on={"saw": H}),), after=("a",)),
        ),
    )
    assert links_of(task, [("a", 0, "saw"), ("b", 0, "saw")], "b")[0] == Link(
        operation="a/0", waits_for="release", release_s=Seconds(5 * H), work_s=Seconds(H)
    )


def test_people_at_work_elsewhere() -> None:
    task = ScheduleJob(
        objective="weighted_tardiness",
        machines=(Machine(id="brake"), Machine(id="saw")),
        jobs=(Job(id="a", operations=(Operation(on={"brake": 3 * H}),)), Job(id="b", operations=(Operation(on={"saw": H}),))),
        pools=(Pool(id="crew", size=2, uses={"brake": 2, "saw": 1}),),
    )
    assert links_of(task, [("a", 0, "brake"), ("b", 0, "saw")], "b") == (
        Link(operation="a/0", waits_for="start", work_s=Seconds(3 * H)),
        Link(operation="b/0", waits_for="people", before="a/0", work_s=Seconds(H)),
    )


def test_a_timetable_with_needless_idle_time_says_so() -> None:
    task = ScheduleJob(
        objective="makespan", machines=(Machine(id="saw"),), jobs=(Job(id="a", operations=(Operation(on={"saw": H}),)),)
    )
    slot = Slot(job="a", index=0, machine="saw", start=2 * H, end=3 * H)
    assert lateness_chain(task, {("a", 0): slot}, "a")[0].idle_s == 2 * H


def planned(name: str, step: str, about: str, machine: str) -> PlannedOperation:
    return PlannedOperation(id=name, step=step, about=about, machine=machine, start_s=Seconds(0), end_s=Seconds(0))


def test_the_reasons_are_told_machine_by_machine_in_both_languages() -> None:
    links = (
        Link(operation="lot 1/0", waits_for="start", closed_s=Seconds(6 * H), work_s=Seconds(H)),
        Link(operation="lot 2/0", waits_for="machine", before="lot 1/0", setup_s=Seconds(900), work_s=Seconds(H)),
        Link(operation="bar 1/0", waits_for="job", before="lot 2/0", hold_s=Seconds(24 * H), work_s=Seconds(600)),
    )
    work = [
        planned("lot 1/0", "laminate", "lot 1 W6|birch|white", "press"),
        planned("lot 2/0", "laminate", "lot 2 W6|moss|white", "press"),
        planned("bar 1/0", "cut", "W6|birch|white#001", "panel-saw-1"),
    ]
    late = Lateness(order="a", delivery="D1", due_s=Seconds(0), done_s=Seconds(0), late_s=Seconds(1), chain=links)
    names = ThingNames(plant(), ENGLISH, {"W6|birch|white#001": BarNumber("panel-saw-1", 53, 60)})
    named = [names.operation(one) for one in work]
    assert lateness_reasons(late, named, ENGLISH) == (
        "1 d 8 h from start to end: 1 d glue or core setting, 15 min set-up, 6 h until the machine was open, 2 h 10 min work",
        "press: 2 in a row up to laminate lot 2, 6 in wall, moss outside; "
        "15 min set-up, 6 h until the machine was open, 2 h work",
        "panel-saw-1: cut bar 53, 6 in wall, birch outside; 1 d glue or core setting, 10 min work",
    )
    spanish = [ThingNames(plant(), SPANISH, names.numbers).operation(one) for one in work]
    assert lateness_reasons(late, spanish, SPANISH)[2] == (
        "panel-saw-1: cortar barra 53, muro de 6 in, birch por fuera; 1 d de curado o reposo, 10 min de trabajo"
    )
    assert (
        lateness_reasons(Lateness(order="a", delivery="D1", due_s=None, done_s=Seconds(0), late_s=Seconds(0)), work, ENGLISH)
        == ()
    )


def test_a_long_chain_is_told_in_few_lines_that_add_up() -> None:
    links = tuple(
        Link(
            operation=f"j{n}/0",
            waits_for="start" if n == 0 else "job",
            before=f"j{n - 1}/0" if n else None,
            work_s=Seconds(60 * n),
        )
        for n in range(30)
    )
    work = [planned(f"j{n}/0", "cut", f"bar {n}", f"m{n % 2}") for n in range(30)]
    late = Lateness(order="a", delivery="D", due_s=Seconds(0), done_s=Seconds(0), late_s=Seconds(1), chain=links)
    lines = lateness_reasons(late, work, ENGLISH)
    assert len(lines) == 8
    assert lines[-1].startswith("24 shorter links between; ")
    assert duration_text(60 * sum(range(30))) in lines[0]


def test_work_without_length_at_one_instant_waits_for_nothing_that_waits_for_it() -> None:
    steps = (Operation(on={"saw": 0}),)
    jobs = (Job(id="b", operations=steps, after=("a",), due=1), Job(id="a", operations=steps), Job(id="c", operations=steps))
    task = ScheduleJob(objective="weighted_tardiness", machines=(Machine(id="saw"),), jobs=jobs)
    slots = {(job.id, 0): Slot(job=job.id, index=0, machine="saw", start=5, end=5) for job in jobs}  # b is listed before a
    links = lateness_chain(task, slots, "b")
    assert links[-1].operation == "b/0" and len(links) == len({link.operation for link in links})
