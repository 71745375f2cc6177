"""Weeks of a plant, simulated: orders come each morning, a plan goes on from the floor, the day is worked with scrap and flaws.

Each morning all open orders are planned from the snapshot of that floor, and the plan is proved by its check. Then the day runs
as its timetable says: bars are cut, a piece in fifty is scrapped, a bar in a hundred has a flaw and loses its last piece and
its drop, drops that are worth it are put away, bundles are laid as far as nothing is missing, whole trucks leave. Bought bars
are drawn as they are cut. Nothing here is shared with the code that plans: what the floor is, is counted from the bars alone.
"""

from __future__ import annotations

import random
import time
from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from typing import Any

from solver.cut_materials import nest_by_due_window
from solver.domain.building import Building
from solver.domain.cut_plan import Bar
from solver.domain.floor_snapshot import FloorBar, FloorBundle, FloorLoad, FloorPiece, FloorSnapshot, OpenOrder
from solver.domain.ids import BundleId, LoadId, MachineId, OrderId, PieceId
from solver.domain.plan import Plan
from solver.domain.plant import Plant
from solver.domain.stock import StockItem
from solver.floor_continuation import opening_stock
from solver.pipeline import make_plan
from solver.plan_check import check_plan
from solver.reading.read_order import read_order
from solver.search import Search
from solver.takeoff.take_off import take_off
from solver.units import Nm

SCRAPPED, FLAWED = 0.02, 0.01
CUT_STEPS = ("cut", "cut trim")
A_SHIFT = timedelta(hours=8)


@dataclass(frozen=True, slots=True, kw_only=True)
class Morning:
    """What a morning's plan took and showed."""

    at: str
    orders: int
    pieces: int
    planning_s: float
    faults: tuple[str, ...]
    late_s: int  # of trucks that left on the day, in all
    left: int  # trucks that left on the day
    bundles: int  # to come, in the plan of the morning before too
    moved: int  # of those: bundles built more than a shift sooner or later than that plan said


@dataclass(slots=True, kw_only=True)
class Steel:
    """Lengths of bars in all materials, in nanometres: what came in, and where it went."""

    bought: int = 0
    opening: int = 0
    cut_up: int = 0  # bars drawn, whole
    put_away: int = 0  # drops that became stock
    used_again: int = 0  # drops that were drawn
    written_off: int = 0  # drops older than the catalog keeps


@dataclass(slots=True, kw_only=True)
class Weeks:
    """The plant as the simulation knows it: stock, pieces, bars, bundles and trucks of the open orders."""

    plant: Plant
    dice: random.Random
    items: dict[int, StockItem] = field(default_factory=dict)
    open_orders: dict[OrderId, Building] = field(default_factory=dict)
    parts: dict[OrderId, OpenOrder] = field(default_factory=dict)
    pieces: dict[PieceId, FloorPiece] = field(default_factory=dict)
    bars: dict[int, FloorBar] = field(default_factory=dict)
    laid: dict[BundleId, list[PieceId]] = field(default_factory=dict)
    closed: set[BundleId] = field(default_factory=set)
    gone: dict[LoadId, tuple[BundleId, ...]] = field(default_factory=dict)
    shipped: dict[OrderId, date] = field(default_factory=dict)
    times_made: dict[PieceId, int] = field(default_factory=lambda: defaultdict(int))
    steel: Steel = field(default_factory=Steel)
    seen: int = 0
    last_bar: int = 0
    mornings: list[Morning] = field(default_factory=list)
    built_at: dict[str, datetime] = field(default_factory=dict)  # when the last plan builds each bundle

    def snapshot(self, at: datetime) -> FloorSnapshot:
        """Return the floor at an instant."""
        held: dict[int, int] = defaultdict(int)
        for bar in self.bars.values():
            if bar.item is not None and bar.state != "begun":
                held[bar.item] += 1
        named = {bar.item for bar in self.bars.values()}
        return FloorSnapshot(
            unit=self.plant.unit,
            seen=self.seen,
            at=at.isoformat(),
            stock=tuple(
                replace(item, reserved=held[number]) for number, item in self.items.items() if item.count or number in named
            ),
            orders=tuple(part for order, part in self.parts.items() if order in self.open_orders),
            pieces=tuple(piece for piece in self.pieces.values() if piece.order in self.open_orders),
            bars=tuple(self.bars.values()),
            bundles=tuple(
                FloorBundle(bundle=name, laid=tuple(laid), closed=name in self.closed)
                for name, laid in self.laid.items()
                if name.rpartition("/")[0] in self.open_orders
            ),
            loads=tuple(
                FloorLoad(load=name, on=on, left=True)
                for name, on in self.gone.items()
                if name.rpartition("/")[0] in self.open_orders
            ),
        )

    def write_off_old_drops(self, today: date) -> None:
        """Take drops out of stock that are older than the catalog keeps them."""
        for number, item in self.items.items():
            if item.kind != "remnant" or not item.put_away or not item.count or item.length_nm is None:
                continue
            if (today - date.fromisoformat(item.put_away)).days > self.plant.keeping.days:
                self.steel.written_off += item.length_nm
                self.items[number] = replace(item, count=0)

    def plan(self, at: datetime, seconds: float) -> Plan:
        """Return the morning's plan of all open orders, its faults kept."""
        floor, buildings = self.snapshot(at), tuple(self.open_orders.values())
        begun = time.monotonic()
        plan = make_plan(buildings, self.plant, _clocked(seconds), epoch=floor.at, floor=floor)
        took = time.monotonic() - begun
        faults = tuple(map(str, check_plan(buildings, self.plant, plan, floor).faults))
        count = sum(len(taken.pieces) for taken in plan.takeoffs)
        ends = {work.about: at + timedelta(seconds=work.end_s) for work in plan.timetable.operations if work.step == "bundle"}
        both = [name for name in ends if name in self.built_at]
        moved = sum(abs(ends[name] - self.built_at[name]) > A_SHIFT for name in both)
        self.built_at = ends
        self.mornings.append(
            Morning(
                at=floor.at,
                orders=len(buildings),
                pieces=count,
                planning_s=took,
                faults=faults,
                late_s=0,
                left=0,
                bundles=len(both),
                moved=moved,
            )
        )
        return plan

    def work(self, plan: Plan, until_s: float, today: date) -> None:
        """Work a plan for a day: what its timetable ends within `until_s` seconds of its start is done."""
        self._take_over(plan)
        self._laminate(plan, until_s)
        self._cut(plan, until_s, today)
        self._lay(plan, until_s)
        self._ship(plan, until_s, today)

    def _take_over(self, plan: Plan) -> None:
        """The plan is released: its orders' parts and its bars, each new bar with a number of its own."""
        for taken, stack, load in zip(plan.takeoffs, plan.stacks, plan.loads, strict=True):
            order = taken.building.order
            self.parts[order] = OpenOrder(order=order, revision=taken.building.revision, takeoff=taken, stack=stack, load=load)
            for piece in taken.pieces:
                self.pieces.setdefault(piece.id, FloorPiece(order=piece.order, mark=piece.mark, state="wanted"))
        self.bars = {number: bar for number, bar in self.bars.items() if bar.state != "free"}
        for cut in plan.cuts:
            for bar in cut.bars:
                self.last_bar += 1
                item = int(bar.stock.removeprefix("item ")) if bar.stock.startswith("item ") else None
                self.bars[self.last_bar] = FloorBar(
                    number=self.last_bar, machine=MachineId("saw"), item=item, state="free", bar=bar
                )
                for place in bar.pieces:
                    self.pieces[place.piece] = replace(self.pieces[place.piece], state="on_bar", bar=self.last_bar)

    def _laminate(self, plan: Plan, until_s: float) -> None:
        """Bars of which the press has begun stay, and may be cut once their glue is set."""
        numbers = {bar.bar.id: number for number, bar in self.bars.items() if bar.state == "free"}
        epoch = datetime.fromisoformat(plan.timetable.epoch)
        for work in plan.timetable.operations:
            if work.step == "laminate" and work.start_s < until_s:
                ready = (epoch + timedelta(seconds=work.end_s + work.hold_s)).isoformat()
                for number in (numbers[name] for name in work.bars if name in numbers):
                    self.bars[number] = replace(self.bars[number], state="firm", ready=ready)

    def _cut(self, plan: Plan, until_s: float, today: date) -> None:
        kept = {one.bar.id: one.number for one in plan.kept.bars} if plan.kept is not None else {}
        new = {bar.id for cut in plan.cuts for bar in cut.bars}
        numbers = kept | {
            bar.bar.id: number for number, bar in self.bars.items() if bar.bar.id in new and number not in kept.values()
        }
        keeps = {cut.material: cut.job.keep_from_nm for cut in plan.cuts}
        times: list[tuple[float, float, int]] = []
        for work in plan.timetable.operations:
            if work.step in CUT_STEPS:
                each = (work.end_s - work.start_s) / max(1, len(work.bars))
                times += [
                    (work.start_s + n * each, work.start_s + (n + 1) * each, numbers[name]) for n, name in enumerate(work.bars)
                ]
        for start, end, number in sorted(times):
            if start >= until_s:
                continue
            floor_bar = self.bars[number]
            to_come = [place for place in floor_bar.bar.pieces if self._comes_from(place.piece, number)]
            if floor_bar.state != "begun":
                self._draw(floor_bar)
            whole = end <= until_s
            first = (to_come[0].edge_a, to_come[0].edge_b) if to_come else None
            flawed = whole and self.dice.random() < FLAWED
            for place in to_come:
                if not whole and (place.edge_a, place.edge_b) != first:
                    continue
                spoiled = self.dice.random() < SCRAPPED or (flawed and place is to_come[-1])
                self._made(place.piece, spoiled)
            if whole:
                del self.bars[number]
                if not flawed:
                    self._put_away(floor_bar.bar, keeps.get(floor_bar.bar.material), today)
            else:
                self.bars[number] = replace(floor_bar, state="begun")

    def _comes_from(self, piece: PieceId, number: int) -> bool:
        there = self.pieces.get(piece)
        return there is not None and there.state == "on_bar" and there.bar == number

    def _draw(self, bar: FloorBar) -> None:
        length = int(bar.bar.length_nm)
        self.steel.cut_up += length
        if bar.item is None:
            self.steel.bought += length
            return
        item = self.items[bar.item]
        assert item.count > 0, f"item {bar.item} drawn twice"
        assert item.length_nm == length or item.width_nm is not None, f"item {bar.item} is {item.length_nm}, bar {length}"
        self.items[bar.item] = replace(item, count=item.count - 1)
        if item.source is not None and item.source.startswith("bar "):
            self.steel.used_again += length

    def _made(self, piece: PieceId, spoiled: bool) -> None:
        self.seen += 1
        was = self.pieces[piece]
        if spoiled:
            self.pieces[piece] = replace(was, state="wanted", making=was.making + 1, bar=None)
        else:
            self.times_made[piece] += 1
            self.pieces[piece] = replace(was, state="cut")

    def _put_away(self, bar: Bar, keep_from: Nm | None, today: date) -> None:
        if keep_from is None or bar.drop_nm < keep_from:
            return
        number = max(self.items, default=0) + 1
        self.items[number] = StockItem(
            item=number,
            kind="remnant",
            material=bar.material,
            length_nm=bar.drop_nm,
            put_away=today.isoformat(),
            source=f"bar {bar.id}",
        )
        self.steel.put_away += bar.drop_nm

    def _lay(self, plan: Plan, until_s: float) -> None:
        ends = {work.about: work.end_s for work in plan.timetable.operations if work.step == "bundle"}
        for part in plan.stacks:
            for bundle in part.result.bundles:
                if bundle.id in self.closed or ends.get(bundle.id, 0) > until_s:
                    continue
                lying = self.laid.get(bundle.id, [])
                for place in bundle.pieces[len(lying) :]:
                    there = self.pieces[place.piece]
                    if there.state != "cut":
                        break
                    lying.append(place.piece)
                    self.pieces[place.piece] = replace(there, state="laid", bundle=bundle.id)
                    self.seen += 1
                if lying:
                    self.laid[bundle.id] = lying
                if len(lying) == len(bundle.pieces) and (lying or bundle.items):
                    self.closed.add(bundle.id)

    def _ship(self, plan: Plan, until_s: float, today: date) -> None:
        assert plan.dispatch is not None
        loads = {load.id: load for part in plan.loads for load in part.result.loads}
        late = left = 0
        for truck in plan.dispatch.departures:
            on = tuple(placed.bundle for placed in loads[truck.load].placed)
            if truck.load in self.gone or truck.leave_s > until_s or not set(on) <= self.closed:
                continue
            self.gone[truck.load] = on
            late += max(0, truck.late_s or 0)
            left += 1
            for bundle in on:
                for piece in self.laid.get(bundle, ()):
                    self.pieces[piece] = replace(self.pieces[piece], state="left", load=truck.load)
        self.mornings[-1] = replace(self.mornings[-1], late_s=late, left=left)
        for part in plan.loads:
            if all(load.id in self.gone for load in part.result.loads) and part.order in self.open_orders:
                self._closed(part.order, today)

    def _closed(self, order: OrderId, today: date) -> None:
        """The order has left whole: each of its pieces was made once more than it was scrapped, and is gone."""
        taken = self.parts[order].takeoff
        assert taken is not None
        for piece in taken.pieces:
            assert self.pieces[piece.id].state == "left", f"{piece.id} did not leave"
            assert self.times_made[piece.id] == 1, f"{piece.id} made {self.times_made[piece.id]} times"
        self.shipped[order] = today
        del self.open_orders[order]

    def balance(self) -> int:
        """Return what came in less what went out and what is there, in nanometres: nothing, where the books are right."""
        there = sum(
            (item.length_nm or 0) * item.count for item in self.items.values() if item.kind in ("lot", "remnant", "drop")
        )
        steel = self.steel
        return steel.opening + steel.bought + steel.put_away - steel.cut_up - steel.written_off - there


def simulate(
    documents: Sequence[tuple[date, dict[str, Any]]],
    plant: Plant,
    start: datetime,
    *,
    seconds: float,
    days: int,
    seed: int = 1,
    tell: Callable[[Morning], None] = lambda _: None,
) -> Weeks:
    """Return the plant after so many working mornings; `documents`: the day on which each order comes, and the order.

    A morning's plan has `seconds`; `tell` hears of each. It ends sooner where all orders have come and left.
    """
    stock = opening_stock(plant)
    weeks = Weeks(plant=plant, dice=random.Random(seed), items={item.item: item for item in stock})
    weeks.steel.opening = sum((item.length_nm or 0) * item.count for item in stock if item.kind in ("lot", "remnant", "drop"))
    waiting = sorted(documents, key=lambda one: one[0])
    at = start
    for _ in range(days):
        while waiting and waiting[0][0] <= at.date():
            building = read_order(waiting.pop(0)[1], plant)
            weeks.open_orders[building.order] = building
        following = at + timedelta(days=3 if at.weekday() == 4 else 1)
        if weeks.open_orders:
            weeks.write_off_old_drops(at.date())
            weeks.work(weeks.plan(at, seconds), (following - at).total_seconds(), at.date())
            tell(weeks.mornings[-1])
        if not waiting and not weeks.open_orders:
            break
        at = following
    return weeks


def each_alone(documents: Sequence[tuple[date, dict[str, Any]]], plant: Plant, *, seconds: float) -> int:
    """Return the length of bars that the orders take where each week is nested by itself on the stock of an empty floor."""
    by_week: dict[tuple[int, int], list[Building]] = defaultdict(list)
    for day, document in documents:
        by_week[day.isocalendar()[:2]].append(read_order(document, plant))
    length = 0
    for buildings in by_week.values():
        search = _clocked(seconds)
        taken = tuple(take_off(building, plant) for building in buildings)
        cuts = nest_by_due_window(taken, plant, plant.stated_stock, search)
        length += sum(int(bar.length_nm) for cut in cuts for bar in cut.bars)
    return length


def _clocked(seconds: float) -> Search:
    end = time.monotonic() + seconds
    return Search(seed=1, left_s=lambda: end - time.monotonic())
