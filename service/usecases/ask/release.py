"""Make a plan the floor's: write the rows that saw and dock read, from the plan's stored parts."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from service.clock import utc_now_text
from service.contracts.floor import EventKept
from service.contracts.plans import PlanReleased, ReleaseDrops, ReleaseTakenBack
from service.errors import Conflict, NotFound
from service.ports import FloorPageRows, Store, Transaction
from service.stored_form import to_stored_text
from service.usecases.ask.floor_changes import floor_changes_since_plan, numbers_of_same_bars, stock_drawn_by_plan
from service.usecases.ask.rows import FloorRows
from service.usecases.ask.timetable import ensure_plan_rows
from service.usecases.plan_rows import operations_between, plan_catalog, timetable_head
from service.usecases.plans_on_floor import loads_of_earlier_releases
from service.usecases.stored import plan_from_manifest, read_parts
from solver.documents.codes import BODY, short_code
from solver.domain.cut_plan import CutPlan
from solver.domain.dispatch import Dispatch
from solver.domain.event import Freed, Reserved
from solver.domain.ids import order_of, read_bar_id
from solver.domain.kept_work import KeptWork
from solver.domain.plan import LoadPart, Making, Plan, SequencePart, StackPart
from solver.domain.takeoff import Takeoff
from solver.errors import FaultCollector, FieldFault
from solver.plan_parts import PARTS

TOLD_MOST = 20  # of what was done by a release, to say why it stays


def release_plan(plan_id: str, *, drop: bool = False, store: Store) -> PlanReleased:
    """Make a plan the one that saw and dock work from: its bars are numbered, its stock is reserved. Again it changes nothing.

    Raises NotFound; Conflict with what happened since the plan was made that it did not foresee; InputError where work would be
    lost that nobody agreed to lose (`drop`).
    """
    ensure_plan_rows(plan_id, store=store)
    with store.reading() as tx:
        plan, plant = _floor_plan(tx, plan_id), plan_catalog(tx, plan_id)
        manifest = tx.plans.manifest(plan_id)
    rows = _kept_rows(FloorRows(plan, plant))
    while True:  # until nothing happened between looking and writing: nobody waits while what is lost is worked out
        with store.reading() as tx:
            seen = _seen(tx)
            base = seen[0]
            again = base is not None and base[0] == plan_id
            held = Counter[int]() if base is None else _held_by(tx, base[0])
            same = {} if base is None else numbers_of_same_bars(tx, base[0], plan)
            facts = [] if again else floor_changes_since_plan(tx, manifest, plan, held, same)
            lost = None if drop else _drops(tx, plan_id)
        if facts:
            raise Conflict("moved_on", *facts)
        with store.writing() as tx:
            tx.plans.lock_releases()
            tx.events.lock()
            if _seen(tx) != seen:
                continue
            if lost is not None:
                _refuse_lost(lost)
            if not tx.floor.written(plan_id):
                tx.floor.write(plan_id, replace(rows, numbers=_numbers(plan) | same))
            since = base[1] if base is not None and again else tx.plans.release(plan_id)
            if not again:
                wanted = held if len(same) == len(rows.bars) else stock_drawn_by_plan(plan)  # a replan has the bars of before
                _reserve(tx, plan_id, since, wanted, None if base is None else base[0], held)
        return PlanReleased(
            plan=plan_id, released_at=since, bars=len(rows.bars), bundles=len(rows.bundles), loads=len(rows.loads)
        )


def _held_by(tx: Transaction, holder: str) -> Counter[int]:
    """How many of each stock item a release holds."""
    return Counter({item.item: count for item in tx.book.stock(gone=True) if (count := item.held_by(holder))})


def _reserve(tx: Transaction, plan_id: str, since: str, wanted: Counter[int], before: str | None, held: Counter[int]) -> None:
    """Free what the release before holds, and hold what this one draws on."""
    at = utc_now_text()
    for item, count in sorted(held.items()):
        name = f"{plan_id}:{since}:free:{item}"
        tx.events.add(Freed(id=name, kind="freed", at=at, item=item, count=count, holder=before or ""))
    for item, count in sorted(wanted.items()):
        name = f"{plan_id}:{since}:hold:{item}"
        tx.events.add(Reserved(id=name, kind="reserved", at=at, item=item, count=count, holder=plan_id))


def _floor_plan(tx: Transaction, plan_id: str) -> Plan:
    """The plan without what the floor's rows tell nothing of: of its timetable the operations alone."""
    kinds = (Takeoff, StackPart, CutPlan, SequencePart, LoadPart, Dispatch, KeptWork)
    wanted = [kind for kind in PARTS if kind.kind in kinds]
    parts = [part for kind in wanted for part in read_parts(tx, plan_id, kind.stage, kind.kind)]
    table = replace(timetable_head(tx, plan_id).table, operations=operations_between(tx, plan_id))
    manifest = tx.plans.manifest(plan_id)
    makings = tuple(Making(piece=one.piece, making=one.making) for one in manifest.makings)
    return replace(plan_from_manifest(manifest, [*parts, table]), makings=makings)


def take_release_back(plan_id: str, *, store: Store) -> ReleaseTakenBack:
    """Take the floor's plan back while nothing was done by it: the floor works by the release before it again.

    Raises NotFound where the plan is not the floor's, Conflict with what was told since it is.
    """
    with store.writing() as tx:
        tx.plans.lock_releases()
        tx.events.lock()
        now = tx.plans.released()
        if now is None or now[0] != tx.plans.known(plan_id):
            raise NotFound("release of the plan", plan_id)
        done = tx.events.events_of_release(*now, TOLD_MOST)
        if done:
            raise Conflict("moved_on", *(_done(event) for event in done))
        tx.plans.take_release_back()
        before = tx.plans.released()
        _give_back(tx, *now, None if before is None else before[0])
    return ReleaseTakenBack(plan=plan_id, floor=None if before is None else before[0])


def _give_back(tx: Transaction, plan_id: str, since: str, before: str | None) -> None:
    """Free what a release held, and hold again for the one before what it had freed of that, as far as it is there still."""
    at = utc_now_text()
    for item in tx.book.stock(gone=True):
        if item.held_by(plan_id):
            name = f"{plan_id}:{since}:back:{item.item}"
            tx.events.add(Freed(id=name, kind="freed", at=at, item=item.item, holder=plan_id))
        freed = tx.events.by_id(f"{plan_id}:{since}:free:{item.item}")
        if before is not None and freed is not None and isinstance(freed.body, Freed) and freed.body.count:
            name = f"{plan_id}:{since}:again:{item.item}"
            tx.events.add(Reserved(id=name, kind="reserved", at=at, item=item.item, count=freed.body.count, holder=before))


def _done(event: EventKept) -> FieldFault:
    problem = f"{event.subject} was told as {event.kind} at {event.station}, {event.at}"
    return FieldFault("release", problem, "undone first, where it is not so; else a new plan")


def _seen(tx: Transaction) -> tuple[tuple[str, str] | None, int]:
    """What the floor's state hangs on: the plan that is released, and the last event."""
    return tx.plans.released(), tx.events.last()


def _numbers(plan: Plan) -> dict[str, int]:
    """The running numbers in the names of a plan's bars, where it went on from a floor; others get theirs when written."""
    if plan.kept is None:
        return {}
    bars = (*(bar for cut in plan.cuts for bar in cut.bars), *(one.bar for one in plan.kept.bars))
    named = ((bar.id, read_bar_id(bar.id)) for bar in bars)
    return {str(name): read[1] for name, read in named if read is not None}


def _kept_rows(rows: FloorRows) -> FloorPageRows:
    """The rows with the texts in which they are stored: worked out before the transaction that writes them begins."""
    bars, bundles = rows.bars(), rows.bundles()
    return FloorPageRows(
        bars=tuple((bar, to_stored_text(replace(bar, cuts=()))) for bar in bars),
        cuts=tuple((bar.id, cut, to_stored_text(cut)) for bar in bars for cut in bar.cuts),
        bundles=tuple((bundle, to_stored_text(bundle)) for bundle in bundles),
        loads=tuple((load, to_stored_text(load)) for load in rows.loads()),
        numbers={},
        codes={piece.piece: short_code(piece.piece)[:BODY] for bundle in bundles for piece in bundle.pieces},
    )


def release_drops(plan_id: str, *, store: Store) -> ReleaseDrops:
    """Return what saw and dock would lose if a plan were released now. Raises NotFound."""
    with store.reading() as tx:
        return _drops(tx, tx.plans.known(plan_id))


def _drops(tx: Transaction, plan_id: str) -> ReleaseDrops:
    now = tx.plans.released()
    if now is None or now[0] == plan_id:
        return ReleaseDrops(pieces=0, bars=0)
    orders = {order.id for order in tx.plans.manifest(plan_id).orders}  # planned again: what fell away of them is meant
    lost = [(bar, piece) for bar, piece in tx.floor.open_cuts(now[0]) if order_of(piece) not in orders]
    there = list(tx.floor.loads(now[0]))
    there += [load for plan, names in loads_of_earlier_releases(tx).items() for load in tx.floor.loads(plan, names)]
    left = {subject for subject, _ in tx.events.last_events_in_force([load.id for load in there], ("shipped",))}
    there = [load for load in there if load.id not in left]
    on = {
        bundle
        for bundle, _ in tx.events.last_events_in_force([one.bundle for load in there for one in load.bundles], ("loaded",))
    }
    meant = _meant(tx, plan_id)
    begun = [load for load in there if load.order in orders and any(one.bundle in on for one in load.bundles)]
    return ReleaseDrops(
        pieces=len(lost),
        bars=len({bar for bar, _ in lost}),
        orders=tuple(sorted({order_of(piece) for _, piece in lost})),
        changed=tuple(load.id for load in begun if meant.get(load.id) != [(one.bundle, one.serial) for one in load.bundles]),
        stays=tuple(load.id for load in there if load.order not in orders),
    )


def _meant(tx: Transaction, plan_id: str) -> dict[str, list[tuple[str, str]]]:
    """The bundles of each load of a plan, in loading order, with their serials."""
    stacks, loads = read_parts(tx, plan_id, "stack", StackPart), read_parts(tx, plan_id, "load", LoadPart)
    serials = {str(bundle.id): bundle.serial for part in stacks for bundle in part.result.bundles}
    return {
        load.id: [(str(one.bundle), serials[one.bundle]) for one in load.placed] for part in loads for load in part.result.loads
    }


def _refuse_lost(drops: ReleaseDrops) -> None:
    if not drops.any:
        return
    faults = FaultCollector()
    fix = "a plan that has these orders too, or drop=true where that is meant"
    if drops.pieces:
        names = ", ".join(drops.orders)
        faults.add("drop", f"{drops.pieces} pieces on {drops.bars} bars of {names} are not cut: the saw would lose them", fix)
    if drops.changed:
        faults.add("drop", f"{', '.join(drops.changed)} is being loaded and would be loaded otherwise", fix)
    faults.raise_if_any()
