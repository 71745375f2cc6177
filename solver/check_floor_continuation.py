"""Does a plan go on from the floor as it should? Judged from snapshot and plan, without the code that made it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import datetime

from solver.domain.cut_plan import Bar, Remnant
from solver.domain.floor_snapshot import FloorPiece, FloorSnapshot
from solver.domain.ids import PieceId, StockId, bar_id, order_of, read_bar_id
from solver.domain.kept_work import KeptWork
from solver.domain.plan import Plan
from solver.domain.plant import Plant
from solver.domain.report import Report
from solver.domain.work_ids import bundle_job, load_job
from solver.errors import FaultCollector

CUT = ("cut", "laid", "on", "left")
BEFORE_GLUE = ("season core", "cut core", "film", "laminate")
CHECKED = (
    "every piece of the orders is made, or to come from exactly one bar, kept or new; nothing that is made is made again",
    "bars begun and firm stay, with what is still to come from them where it lies; bars that fell away are not in the plan",
    "bars in the press or from it are not laminated again, and are cut once their glue is set",
    "new bars take no stock that is not there, is another's or is of another material or length, and no number of the floor's",
    "orders that nobody revised keep their bundles and loads; what is laid stays in its bundle, what is on a truck on its load",
    "makings, surplus, what is built and what left are as the floor tells; the timetable begins after it and repeats nothing",
)


def remnants_of(plant: Plant, floor: FloorSnapshot | None) -> tuple[Remnant, ...]:
    """Return the remnants in stock, for who judges the bars that come from them: the floor's, else what the catalog states."""
    if floor is None:
        return plant.stated_stock.remnants
    return tuple(
        Remnant(id=StockId(f"item {item.item}"), material=item.material, length_nm=item.length_nm, width_nm=item.width_nm,
                joints=item.joints)
        for item in floor.stock
        if item.kind in ("remnant", "drop") and item.length_nm is not None
    )  # fmt: skip


def check_floor_continuation(plan: Plan, floor: FloorSnapshot | None) -> Report:
    """Return what was checked of a plan against the snapshot that it goes on from, and every fault found."""
    faults = FaultCollector()
    kept = plan.kept
    if (floor is None) != (kept is None):
        faults.add("kept", "the plan starts elsewhere than this floor", "the plan with the snapshot that it was made from")
    if floor is None or kept is None:
        return Report(checked=CHECKED, faults=tuple(faults.found))
    if (kept.seen, kept.at) != (floor.seen, floor.at):
        faults.add("kept.seen", f"is {kept.seen} at {kept.at}", f"{floor.seen} at {floor.at}, as the floor says")
    states = {piece.id: piece for piece in floor.pieces}
    wanted = {piece.id for takeoff in plan.takeoffs for piece in takeoff.pieces}
    _judge_pieces(plan, kept, states, wanted, faults)
    _judge_kept_bars(kept, floor, states, wanted, faults)
    _judge_pressed(plan, floor, faults)
    _judge_stock(plan, kept, floor, faults)
    _judge_orders(plan, floor, states, faults)
    _judge_facts(plan, kept, floor, states, wanted, faults)
    return Report(checked=CHECKED, faults=tuple(faults.found))


def _judge_pieces(
    plan: Plan, kept: KeptWork, states: Mapping[PieceId, FloorPiece], wanted: set[PieceId], faults: FaultCollector
) -> None:
    bars = [bar for cut in plan.cuts for bar in cut.bars] + [one.bar for one in kept.bars]
    on = Counter(item.piece for bar in bars for item in bar.pieces)
    for name in sorted(wanted | on.keys()):
        made = name in states and states[name].state in CUT
        if name not in wanted:
            faults.add("cuts", f"{name} is cut, which no order wants", "the pieces of the orders alone")
        elif made and on[name]:
            faults.add("cuts", f"{name} is made and comes from a bar again", "no bar for what is made")
        elif not made and on[name] != 1:
            faults.add("cuts", f"{name} is not made and on {on[name]} bars", "exactly one bar, kept or new")
    made_now = {name for name in wanted if name in states and states[name].state in CUT}
    if set(kept.made) != made_now or len(kept.made) != len(made_now):
        faults.add("kept.made", "is not what the floor has made of these orders", "each piece that is cut, once")
    laid = {name for name in made_now if states[name].state != "cut"}
    if set(kept.laid) != laid:
        faults.add("kept.laid", "is not what lies on its bundle", "each piece that is laid, on a truck or gone")


def _judge_kept_bars(
    kept: KeptWork, floor: FloorSnapshot, states: Mapping[PieceId, FloorPiece], wanted: set[PieceId], faults: FaultCollector
) -> None:
    stays = {bar.number: bar for bar in floor.bars if bar.state in ("begun", "firm")}
    given = {one.number: one for one in kept.bars}
    if len(given) != len(kept.bars):
        faults.add("kept.bars", "names a bar twice", "each once")
    for number, bar in stays.items():
        ahead = [
            item
            for item in bar.bar.pieces
            if item.piece in wanted
            and item.piece in states
            and states[item.piece].state == "on_bar"
            and states[item.piece].bar == number
        ]
        mine = given.pop(number, None)
        path = f"kept.bars[{number}]"
        if mine is None:
            if ahead:
                faults.add(path, f"is {bar.state} with {len(ahead)} pieces to come and is not kept", "the bar as it lies")
            continue
        if list(mine.bar.pieces) != ahead:
            faults.add(path, "does not have what is still to come from it where it lies", "its uncut pieces, not moved")
        if mine.ready != bar.ready:
            faults.add(f"{path}.ready", f"is {mine.ready}", f"{bar.ready}, as the floor says")
        if (mine.item, mine.state) != (bar.item, bar.state) or not _same_bar(mine.bar, bar.bar):
            faults.add(path, "is another bar than the floor's", "its stock item, state, material and length")
    for number in given:
        faults.add(f"kept.bars[{number}]", "is no bar that stays", "bars that are begun or firm")


def _judge_pressed(plan: Plan, floor: FloorSnapshot, faults: FaultCollector) -> None:
    """What the press has, or had, is not laminated again, and is cut once its glue is set."""
    epoch = datetime.fromisoformat(plan.timetable.epoch)
    pressed = {
        bar_id(bar.bar.material, bar.number): (datetime.fromisoformat(bar.ready) - epoch).total_seconds()
        for bar in floor.bars
        if bar.ready is not None
    }
    for work in plan.timetable.operations:
        for name in pressed.keys() & set(work.bars):
            if work.step in BEFORE_GLUE:
                faults.add(f"timetable[{work.id}]", f"is to {work.step} {name}, which is laminated", "no such work")
            elif work.start_s < pressed[name]:
                faults.add(f"timetable[{work.id}]", f"begins {work.start_s} s on", f"{pressed[name]:.0f} s: glue of {name}")


def _same_bar(one: Bar, two: Bar) -> bool:
    return (one.material, one.length_nm, one.drop_nm) == (two.material, two.length_nm, two.drop_nm)


def _judge_stock(plan: Plan, kept: KeptWork, floor: FloorSnapshot, faults: FaultCollector) -> None:
    items = {f"item {item.item}": item for item in floor.stock}
    taken: Counter[str] = Counter()
    names = {one.bar.id for one in kept.bars}
    highest = max([floor.last_bar, *(bar.number for bar in floor.bars)])
    given: set[int] = set()
    for cut in plan.cuts:
        for bar in cut.bars:
            path, stock = f"cuts[{cut.name}].{bar.id}", str(bar.stock)
            named = read_bar_id(bar.id)
            if bar.id in names or named is None or named[1] <= highest:
                faults.add(path, "has a number that the floor's bars have", f"a number behind {highest}")
            elif named[1] in given:
                faults.add(path, f"has the number {named[1]} of another bar", "a number of its own")
            else:
                given.add(named[1])
            if stock.startswith(("new ", "made ")):
                continue
            item = items.get(stock)
            if item is None or item.kind not in ("lot", "remnant", "drop"):
                faults.add(path, f"comes from {stock!r}, which is not in the stock", "a stock item, or a length to buy")
                continue
            taken[stock] += 1
            if (item.material, item.length_nm) != (bar.material, bar.length_nm):
                faults.add(path, f"is not of the material and length of {stock}", f"{item.material}, {item.length_nm} nm")
    for name, count in taken.items():
        item = items[name]
        falls_away = [bar for bar in floor.bars if bar.state == "free" and bar.item == item.item]
        there = min(item.count, item.count - item.reserved + len(falls_away))
        if count > there:
            faults.add("cuts", f"{count} bars are taken of {name}", f"{max(0, there)}: the others are not there, or another's")


def _judge_orders(plan: Plan, floor: FloorSnapshot, states: Mapping[PieceId, FloorPiece], faults: FaultCollector) -> None:
    takeoffs = {takeoff.building.order: takeoff for takeoff in plan.takeoffs}
    stacks, loads = {part.order: part for part in plan.stacks}, {part.order: part for part in plan.loads}
    for one in floor.orders:
        now = takeoffs.get(one.order)
        if now is None or one.takeoff is None or one.stack is None or one.load is None:
            continue
        unrevised = one.takeoff.building == now.building
        unrevised = unrevised and {piece.id for piece in one.takeoff.pieces} == {piece.id for piece in now.pieces}
        if unrevised and stacks.get(one.order) != one.stack:
            faults.add(
                f"stacks[{one.order}]", "are not the bundles of an order that nobody revised", "its bundles as they were"
            )
        if unrevised and loads.get(one.order) != one.load:
            faults.add(f"loads[{one.order}]", "are not the loads of an order that nobody revised", "its loads as they were")
    home = {lay.piece: bundle.id for part in plan.stacks for bundle in part.result.bundles for lay in bundle.pieces}
    for name, state in states.items():
        if name in home and state.state in ("laid", "on", "left") and state.bundle not in (None, home[name]):
            faults.add("stacks", f"{name} lies on {state.bundle} and is planned for {home[name]}", "the bundle that it lies on")
    placed = {item.bundle: load.id for part in plan.loads for load in part.result.loads for item in load.placed}
    for load in floor.loads:
        for bundle in load.on:
            if order_of(bundle) in takeoffs and placed.get(bundle) != load.load:
                faults.add(
                    "loads", f"{bundle} is on {load.load} and planned for {placed.get(bundle)}", "the load that it is on"
                )


def _judge_facts(
    plan: Plan,
    kept: KeptWork,
    floor: FloorSnapshot,
    states: Mapping[PieceId, FloorPiece],
    wanted: set[PieceId],
    faults: FaultCollector,
) -> None:
    makings = {name: states[name].making for name in wanted & states.keys() if states[name].making > 1}
    if {PieceId(one.piece): one.making for one in plan.makings} != makings:
        faults.add("makings", "are not those of the floor", "each piece that is made again, and which time it is")
    spare = {one.id for one in floor.pieces if one.state in ("cut", "laid", "on") and one.id not in wanted}
    if Counter(one.piece for one in kept.surplus) != Counter(spare):
        faults.add("kept.surplus", "is not what is made and no order wants", "each such piece that has not left, once")
    if set(kept.left) != {load.load for load in floor.loads if load.left}:
        faults.add("kept.left", "are not the loads that left", "each load that left")
    if set(kept.aboard) != {name for load in floor.loads for name in load.on}:
        faults.add("kept.aboard", "are not the bundles on trucks", "each bundle that is on its load")
    _judge_built(plan, kept, floor, states, faults)
    if datetime.fromisoformat(plan.timetable.epoch) < datetime.fromisoformat(floor.at):
        faults.add("timetable.epoch", f"{plan.timetable.epoch} is before the floor's {floor.at}", "at or after it")
    done = {bundle_job(name) for name in kept.built} | {load_job(name) for name in kept.left}
    again = sorted({slot.job for slot in plan.timetable.result.operations} & done)
    if again:
        faults.add("timetable", f"does again what is done: {', '.join(again[:3])}", "only what is to come")


def _judge_built(
    plan: Plan, kept: KeptWork, floor: FloorSnapshot, states: Mapping[PieceId, FloorPiece], faults: FaultCollector
) -> None:
    """A bundle is built whose pieces all lie on it; one that was closed or put on a truck needs no more where none is uncut."""
    ended = {one.bundle for one in floor.bundles if one.closed} | {name for load in floor.loads for name in load.on}
    known = {one.order for one in floor.orders}
    built = set()
    for part in plan.stacks:
        for bundle in part.result.bundles:
            found: Sequence[str] = [states[lay.piece].state if lay.piece in states else "wanted" for lay in bundle.pieces]
            lie = bool(found) and all(state in ("laid", "on", "left") for state in found)
            if part.order in known and (lie or (bundle.id in ended and all(state in CUT for state in found))):
                built.add(bundle.id)
    if set(kept.built) != built:
        odd = ", ".join(sorted(set(kept.built) ^ built)[:3])
        faults.add("kept.built", f"is not what needs no more work: {odd}", "bundles with all on them, or closed and all cut")
