"""Plant weeks: orders as the demo plant would see them, as generic schedule jobs with `after`; times in seconds.

The distribution (ours; shapes of work and times follow the demo catalog, common practice, no source):
- A week is Monday 00:00 to Sunday; core saw, press, panel saws, clean benches and router run three shifts from Monday 06:00
  to Saturday 06:00, all else the first two; each shift of 8 hours has breaks of 10, 30 and 10 minutes; Sundays are closed
  and the weeks after are alike.
- An order has 1 to 3 lots of up to 10 bars (1: 20 %, 2: 50 %, 3: 30 %), each of one of 3 thicknesses, 4 colours. A lot is
  cut core, film, laminate (45 min, may not pause), then a hold of 4 hours (70 %) or 24 (30 %). One lot in six was made
  before the week.
- A lot goes to the saw in batches of up to 4 bars: cut (half of them with angled ends) on either saw, the second a quarter
  slower; rip with mitres or without (60 %), rout (50 %), clean. Bundles (one a lot) wait for the lot's batches.
- Trims: 1 to 3 of 6 profiles an order: cut, drill (half), form; a trim bundle waits for them all; slit coil comes on
  Monday, for one trim in ten on Tuesday at 10:00.
- A load waits for all bundles of its order; due at the dock at 10:00, 14:00 or 18:00 of a working day, drawn uniformly from
  12 hours after the order's longest hold to the end of the span, never on the first day; weight 1 (50 %), 2 (30 %), 3 (15 %) or
  6 (5 %).
"""

from __future__ import annotations

import random
from collections.abc import Iterable

from solver.domain.timetable import Goals, Job, Machine, Operation, ScheduleJob

HOUR, DAY, MINUTE = 3600, 86_400, 60
THICKNESSES, COLOURS, PROFILES = ("4", "6", "8"), ("birch", "slate", "moss", "barn"), tuple("abcdef")
BREAKS = ((3 * HOUR, 3 * HOUR + 600), (5 * HOUR, 5 * HOUR + 1800), (7 * HOUR, 7 * HOUR + 600))
Key = tuple[str, ...]
KEYS: tuple[Key, ...] = (
    ("any",),
    *(("panel", thickness, colour) for thickness in THICKNESSES for colour in COLOURS),
    *(("cut", thickness, angle) for thickness in THICKNESSES for angle in ("square", "angled")),
    ("rip", "mitre"),
    ("rip", "plain"),
    *(("trim", profile) for profile in PROFILES),
)
FAMILY = {key: n for n, key in enumerate(KEYS)}
ALL_DAY, TWO_SHIFTS = (6, 14, 22), (6, 14)
STARTS: dict[str, tuple[int, ...]] = {
    "core-saw": ALL_DAY,
    "filmer": ALL_DAY,
    "press": ALL_DAY,
    "panel-saw-1": ALL_DAY,
    "panel-saw-2": ALL_DAY,
    "bevel-saw": ALL_DAY,
    "router": ALL_DAY,
    "clean-1": ALL_DAY,
    "clean-2": TWO_SHIFTS,
    "bay-1": TWO_SHIFTS,
    "bay-2": TWO_SHIFTS,
    "dock-1": TWO_SHIFTS,
    "dock-2": TWO_SHIFTS,
    "trim-saw": TWO_SHIFTS,
    "drill": TWO_SHIFTS,
    "brake": TWO_SHIFTS,
}


def closed(starts: Iterable[int], days: int) -> tuple[tuple[int, int], ...]:
    """Return the closed times of a machine whose shifts of 8 hours start at these hours, Monday to Friday."""
    opened: list[tuple[int, int]] = []
    for day in range(days):
        if day % 7 > 4:
            continue
        for hour in starts:
            at = day * DAY + hour * HOUR
            low = at
            for begin, end in BREAKS:
                opened.append((low, at + begin))
                low = at + end
            opened.append((low, at + 8 * HOUR))
    made, at = [], 0
    for low, high in opened:
        if low > at:
            made.append((at, low))
        at = high
    return (*made, (at, days * DAY))


def set_up(machine: str, before: Key, after: Key) -> int:
    """Return seconds of set-up on a machine from one family to the next."""
    if before[0] != after[0] or before == after:
        return 0
    if before[0] == "panel":
        seconds = (1200 if before[1] != after[1] else 0) + (900 if before[2] != after[2] else 0)
        return seconds if machine == "press" else 0
    if before[0] == "cut":
        seconds = (300 if before[1] != after[1] else 0) + (180 if before[2] != after[2] else 0)
        return seconds if machine.startswith("panel-saw") else 0
    if before[0] == "rip":
        return 300 if machine == "bevel-saw" else 0
    return {"trim-saw": 300, "brake": 900}.get(machine, 0)


def machines(days: int) -> tuple[Machine, ...]:
    """Return the plant's machines, closed as their shifts say."""
    made = []
    for name, starts in STARTS.items():
        table = tuple(tuple(set_up(name, one, two) for two in KEYS) for one in KEYS)
        made.append(Machine(id=name, closed=closed(starts, days), setup=table if any(any(row) for row in table) else None))
    return tuple(made)


def step(key: Key, times: dict[str, int], *, hold: int = 0, pause: bool = True) -> Operation:
    """Return an operation of a family."""
    return Operation(on=times, family=FAMILY[key], hold=hold, pause=pause)


class _Order:
    def __init__(self, name: str, dice: random.Random) -> None:
        self.name, self.dice = name, dice
        self.jobs: list[Job] = []
        self.bundles: list[str] = []

    def add(self, name: str, operations: list[Operation], **more: object) -> str:
        job = Job(id=f"{self.name} {name}", operations=tuple(operations), **more)  # type: ignore[arg-type]  # Job's own fields
        self.jobs.append(job)
        return job.id

    def lot(self, n: int) -> None:
        dice, bars = self.dice, self.dice.randint(6, 10)
        thickness, colour = dice.choice(THICKNESSES), dice.choice(COLOURS)
        waits: tuple[str, ...] = ()
        if dice.random() > 1 / 6:
            hold = 4 * HOUR if dice.random() < 0.7 else 24 * HOUR
            metres = bars * dice.randint(4, 7)
            steps = [
                step(("any",), {"core-saw": 300 + 4 * metres}),
                step(("any",), {"filmer": 120 + 3 * metres}),
                step(("panel", thickness, colour), {"press": 2700}, hold=hold, pause=False),
            ]
            waits = (self.add(f"lot {n}", steps),)
        batches = [self.batch(f"{n}.{k}", min(4, bars - 4 * k), thickness, waits) for k in range(-(-bars // 4))]
        pieces = bars * dice.randint(2, 3)
        bundle = step(("any",), {"bay-1": 600 + 90 * pieces, "bay-2": 600 + 90 * pieces})
        self.bundles.append(self.add(f"bundle {n}", [bundle], after=tuple(batches)))

    def batch(self, name: str, bars: int, thickness: str, after: tuple[str, ...]) -> str:
        dice = self.dice
        angle = dice.choice(("square", "angled"))
        cut = bars * (240 + dice.randint(2, 4) * (60 if angle == "square" else 90))
        steps = [step(("cut", thickness, angle), {"panel-saw-1": cut, "panel-saw-2": cut * 5 // 4})]
        if dice.random() < 0.6:
            kind = dice.choice(("mitre", "plain"))
            steps.append(step(("rip", kind), {"bevel-saw": bars * (180 + 30 * dice.randint(3, 7))}))
        if dice.random() < 0.5:
            steps.append(step(("any",), {"router": 240 + 360 * dice.randint(1, bars)}))
        steps.append(step(("any",), {"clean-1": 120 * bars, "clean-2": 120 * bars}))
        return self.add(f"bars {name}", steps, after=after)

    def trims(self) -> None:
        dice, made = self.dice, []
        for profile in sorted(dice.sample(PROFILES, dice.randint(1, 3))):
            pieces = dice.randint(8, 24)
            steps = [step(("trim", profile), {"trim-saw": 60 + 50 * pieces})]
            if dice.random() < 0.5:
                steps.append(step(("any",), {"drill": 60 + 18 * pieces * 4}))
            steps.append(step(("trim", profile), {"brake": 60 * pieces}))
            made.append(self.add(f"trim {profile}", steps, release=DAY + 10 * HOUR if dice.random() < 0.1 else 0))
        bundle = step(("any",), {"bay-1": 1500, "bay-2": 1500})
        self.bundles.append(self.add("bundle trims", [bundle], after=tuple(made)))

    def load(self, days: int) -> None:
        dice = self.dice
        time = 1800 + 600 * len(self.bundles)
        hold = max((job.operations[-1].hold for job in self.jobs), default=0)
        times = [day * DAY + hour * HOUR for day in range(1, days) if day % 7 < 5 for hour in (10, 14, 18)]
        due = dice.choice([time for time in times if time >= 18 * HOUR + hold])
        weight = dice.choices((1, 2, 3, 6), (50, 30, 15, 5))[0]
        steps = [step(("any",), {"dock-1": time, "dock-2": time})]
        self.add("load", steps, after=tuple(self.bundles), due=due, weight=weight)


def new_order(name: str, seed: int, days: int = 5) -> tuple[Job, ...]:
    """Return the jobs of one order of the distribution; its load, the last one, is due in `days`."""
    order = _Order(name, random.Random(seed))
    for n in range(order.dice.choices((1, 2, 3), (20, 50, 30))[0]):
        order.lot(n + 1)
    order.trims()
    order.load(days)
    return tuple(order.jobs)


def week(seed: int, *, orders: int = 60, days: int = 5) -> ScheduleJob:
    """Return a plant week: this many orders due within so many days (calendar days; 5 is one week, 26 four)."""
    dice = random.Random(seed)
    jobs = [job for n in range(orders) for job in new_order(f"{n + 1:03}", dice.randrange(2**31), days)]
    return ScheduleJob(
        objective="weighted_tardiness",
        machines=machines(4 * days + 28),
        jobs=tuple(jobs),
        seed=seed,
        goals=Goals(),
    )


def month(seed: int) -> ScheduleJob:
    """Return a plant month: 250 orders due within four weeks."""
    return week(seed, orders=250, days=26)
