"""What the floor asks: the next bar, the bundles, the loads, whether a bundle may go on; each with what happened so far."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

from service.contracts.floor import (
    Bar,
    Bundle,
    BundleList,
    BundleState,
    CutQueue,
    CutState,
    EventKept,
    Load,
    LoadList,
    MayLoad,
    OnDeck,
    OneBar,
    OneBundle,
    OneLoad,
    PlannedCut,
    Reason,
)
from service.errors import NotFound
from service.ports import Store, Transaction
from service.usecases.plans_on_floor import loads_of_earlier_releases, plans_on_floor, released_plan
from solver.documents.codes import read_code
from solver.domain.event import ThingKind
from solver.domain.ids import order_of
from solver.units import Unit

REMAKES_SHOWN = 100
State = dict[tuple[str, str], EventKept]


def cut_queue(machine: str | None, after: int, limit: int, *, store: Store) -> CutQueue:
    """Return bars in cut order, of one machine or of all; empty before the first release."""
    with store.reading() as tx:
        plan = released_plan(tx)
        if plan is None:
            return CutQueue(unit="in", plan=None, machines=(), bars=())
        found = tx.floor.bars(plan, machine, after, limit + 1)
        bars = _with_cut_states(tx, plan, found[:limit])
        machines = tx.floor.machines(plan)
        return CutQueue(unit=_unit(tx, plan), plan=plan, machines=machines, bars=bars, more=len(found) > limit)


def next_bar(machine: str, *, store: Store) -> OneBar | None:
    """Return the bar to cut now on a machine, or None when all are done (or nothing is released)."""
    with store.reading() as tx:
        plan = released_plan(tx)
        bar = tx.floor.next_bar(plan, machine) if plan is not None else None
        if plan is None or bar is None:
            return None
        return OneBar(unit=_unit(tx, plan), plan=plan, bar=_with_cut_states(tx, plan, (bar,))[0])


def read_bar(bar_id: str, *, store: Store) -> OneBar:
    """Return a bar of the released plan. Raises NotFound."""
    with store.reading() as tx:
        plan = _must(tx, "bar", bar_id)
        return OneBar(unit=_unit(tx, plan), plan=plan, bar=_with_cut_states(tx, plan, (tx.floor.bar(plan, bar_id),))[0])


def bars_left(*, store: Store) -> dict[str, tuple[int, int]]:
    """Return, by machine, how many bars are left to cut and how many there are."""
    with store.reading() as tx:
        plan = released_plan(tx)
        return {} if plan is None else tx.floor.bars_left(plan)


def waiting_for_remake(*, store: Store) -> tuple[str, ...]:
    """Return the pieces that were scrapped and not made again, the latest first; not drops that were not kept."""
    with store.reading() as tx:
        plan = released_plan(tx)
        found = tx.events.waiting_for_remake(REMAKES_SHOWN)
        return tuple(piece for piece in found if plan is None or not tx.floor.is_bar(plan, piece))


def bundles_on_floor(after: int, limit: int, *, left: bool, store: Store) -> BundleList:
    """Return so many bundles of all releases after as many of them: those that have left, or those that have not."""
    with store.reading() as tx:
        plan = released_plan(tx)
        if plan is None:
            return BundleList(unit="in", bundles=())
        every = _as_left(tx, "bundle", tx.floor.ids_of_all_releases(plan, "bundle"), left)
        some = every[after : after + limit]
        found: dict[tuple[str, str], Bundle] = {}
        for other in {one for one, _ in some}:
            found |= {(other, one.id): one for one in tx.floor.bundles(other, [name for home, name in some if home == other])}
        told = _with_bundle_states(tx, [found[one] for one in some])
        return BundleList(unit=_unit(tx, plan), bundles=told, more=after + len(some) < len(every))


def loads_on_floor(after: int, limit: int, *, left: bool, store: Store) -> LoadList:
    """Return so many loads of all releases after as many of them: those that have left, or those that have not."""
    with store.reading() as tx:
        plan = released_plan(tx)
        if plan is None:
            return LoadList(unit="in", loads=())
        return _loads_of(tx, plan, _as_left(tx, "load", tx.floor.ids_of_all_releases(plan, "load"), left), after, limit)


def _as_left(tx: Transaction, kind: ThingKind, homes: Sequence[tuple[str, str]], left: bool) -> list[tuple[str, str]]:
    now = tx.book.now(kind, [name for _, name in homes])
    return [one for one in homes if (now.get(one[1]) == "left") == left]


def read_bundle(bundle_id: str, *, store: Store) -> OneBundle:
    """Return a bundle of the released plan. Raises NotFound."""
    with store.reading() as tx:
        plan = _must_on_floor(tx, "bundle", bundle_id)
        return OneBundle(unit=_unit(tx, plan), bundle=_with_bundle_states(tx, (tx.floor.bundle(plan, bundle_id),))[0])


def list_trucks(after: int, limit: int, *, store: Store) -> LoadList:
    """Return so many loads on the floor after as many of them: those that have not left, then those that have."""
    with store.reading() as tx:
        plan = released_plan(tx)
        if plan is None:
            return LoadList(unit="in", loads=())
        every = _load_names(tx, plan)
        left = tx.events.last_events_in_force([name for _, name in every], ("shipped",))
        return _loads_of(tx, plan, sorted(every, key=lambda one: (one[1], "shipped") in left), after, limit)


def trucks_left(*, store: Store) -> int:
    """Return how many loads on the floor have not left."""
    with store.reading() as tx:
        plan = released_plan(tx)
        names = [name for _, name in _load_names(tx, plan)] if plan is not None else []
        return len(names) - len(tx.events.last_events_in_force(names, ("shipped",)))


def _load_names(tx: Transaction, plan: str) -> list[tuple[str, str]]:
    """The plan and id of each load of the released plan, then of those of earlier ones that are on the floor still."""
    carried = [(other, name) for other, names in loads_of_earlier_releases(tx).items() for name in names]
    return [*((plan, name) for name in tx.floor.load_names(plan)), *carried]


def _loads_of(tx: Transaction, plan: str, every: Sequence[tuple[str, str]], after: int, limit: int) -> LoadList:
    some = every[after : after + limit]
    by_name: dict[tuple[str, str], Load] = {}
    for other in {one for one, _ in some}:
        loads = tx.floor.loads(other, [name for one, name in some if one == other])
        by_name |= {(other, load.id): load for load in _with_load_states(tx, other, loads)}
    return LoadList(unit=_unit(tx, plan), loads=tuple(by_name[one] for one in some), more=after + len(some) < len(every))


def read_load(load_id: str, *, store: Store) -> OneLoad:
    """Return a load that is on the floor. Raises NotFound."""
    with store.reading() as tx:
        plan = _must_on_floor(tx, "load", load_id)
        return OneLoad(unit=_unit(tx, plan), plan=plan, load=_with_load_states(tx, plan, (tx.floor.load(plan, load_id),))[0])


def may_load(load_id: str, said: str, *, store: Store) -> MayLoad:
    """Return whether the bundle that was scanned or tapped may go on this truck now, and every reason why not.

    `said` is a bundle's id or the serial on its tag. Raises NotFound for the load.
    """
    with store.reading() as tx:
        plan = _must_on_floor(tx, "load", load_id)
        load = _with_load_states(tx, plan, (tx.floor.load(plan, load_id),))[0]
        found = find_bundle(tx, read_code(said).text)
        if found is None:
            return MayLoad(load=load_id, bundle=None, may=False, reasons=(Reason(code="unknown", bundle=said[:100]),))
        whose, named = found
        other = tx.floor.bundle(whose, named).load
    return may_bundle_be_loaded(load, named, other)


def may_bundle_be_loaded(load: Load, bundle: str, rides_on: str | None) -> MayLoad:
    """Return whether a known bundle may go on a load now; `rides_on` is the load that the plan put it on."""
    mine = next((one for one in load.bundles if one.bundle == bundle), None)
    if mine is None:
        return MayLoad(
            load=load.id, bundle=bundle, may=False, reasons=(Reason(code="other_load", bundle=bundle, load=rides_on),)
        )
    reasons = []
    if load.shipped_event is not None:
        reasons.append(Reason(code="left", bundle=bundle))
    if mine.state != "waiting":
        reasons.append(Reason(code="on_already", bundle=bundle))
    missing = tuple(one.bundle for one in load.bundles if one.bundle in mine.stands_on and one.state == "waiting")
    if missing:
        reasons.append(Reason(code="supports", bundle=bundle, first=missing))
    if mine.scrapped:
        reasons.append(Reason(code="scrapped", bundle=bundle, first=mine.scrapped))
    return MayLoad(load=load.id, bundle=bundle, may=not reasons, reasons=tuple(reasons), uncut=mine.uncut)


def next_bundle_to_load(load: Load) -> OnDeck | None:
    """Return the bundle that goes on next: the first in loading order that is not on and may go on, or None."""
    return next(
        (one for one in load.bundles if one.state == "waiting" and may_bundle_be_loaded(load, one.bundle, load.id).may), None
    )


def bundles_that_must_wait(load: Load) -> tuple[Reason, ...]:
    """Return why each bundle that is not on may not go on now, the first reason of each, in loading order."""
    judged = [may_bundle_be_loaded(load, one.bundle, load.id) for one in load.bundles if one.state == "waiting"]
    return tuple(one.reasons[0] for one in judged if one.reasons)


def bundles_standing_on(load: Load, bundle: str) -> tuple[str, ...]:
    """Return the bundles that are on and stand on one."""
    return tuple(one.bundle for one in load.bundles if bundle in one.stands_on and one.state != "waiting")


def _must(tx: Transaction, what: str, name: str) -> str:
    plan = released_plan(tx)
    if plan is None:
        raise NotFound(what, name)
    return plan


def plan_of_thing(tx: Transaction, name: str) -> str | None:
    """Return the plan that a bundle, load or piece on the floor is of: an earlier one for an order the released one has not."""
    plans = plans_on_floor(tx)
    carried = (plan for plan, orders in plans.items() if orders is not None and order_of(name) in orders)
    return next(carried, next(iter(plans), None))


def find_bundle(tx: Transaction, text: str) -> tuple[str, str] | None:
    """Return the plan and id of the bundle on the floor that a name or serial stands for, or None."""
    for plan, orders in plans_on_floor(tx).items():
        named = tx.floor.bundle_named(plan, text)
        if named is not None and (orders is None or order_of(named) in orders):
            return plan, named
    return None


def _must_on_floor(tx: Transaction, what: str, name: str) -> str:
    plan = plan_of_thing(tx, name)
    if plan is None:
        raise NotFound(what, name)
    return plan


def _unit(tx: Transaction, plan: str) -> Unit:
    return tx.plans.manifest(plan).unit


class _Made:
    """What was told of pieces: which making of each counts, whether it is made, and the events that said so."""

    def __init__(self, tx: Transaction, pieces: Collection[str]) -> None:
        self._told = tx.events.last_events_in_force(pieces, ("cut", "scrapped", "remade"))
        self._makings = tx.book.piece_makings(pieces)

    def cut(self, piece: str, making: int) -> tuple[CutState, str | None]:
        """What became of a cut that makes a piece for the time given: a later making says that it was scrapped."""
        counts, where = self._makings.get(piece, (1, "wanted"))
        if where != "wanted" and (counts == making or (piece, "remade") in self._told):
            return "cut", self._last(piece, "cut", "remade")
        if counts > making:
            return "scrapped", self._last(piece, "scrapped")
        return "waiting", None

    def piece(self, piece: str) -> CutState:
        """Whether a piece is made, or waits to be made, or was scrapped and waits to be made again."""
        counts, where = self._makings.get(piece, (1, "wanted"))
        return "cut" if where != "wanted" else "scrapped" if counts > 1 else "waiting"

    def _last(self, piece: str, *kinds: str) -> str | None:
        told = [event for kind in kinds if (event := self._told.get((piece, kind))) is not None]
        return max(told, key=lambda event: event.seq).id if told else None


def _with_cut_states(tx: Transaction, plan: str, bars: Sequence[Bar]) -> tuple[Bar, ...]:
    made = _Made(tx, [cut.piece for bar in bars for cut in bar.cuts])
    drops = tx.events.last_events_in_force([bar.id for bar in bars], ("drop_put_away", "scrapped"), bars_of=plan)
    return tuple(_bar_now(bar, made, drops) for bar in bars)


def _bar_now(bar: Bar, made: _Made, drops: State) -> Bar:
    cuts: list[PlannedCut] = []
    for cut in bar.cuts:
        now, event = made.cut(cut.piece, cut.making)
        cuts.append(replace(cut, state=now, event=event))
    drop = drops.get((bar.id, "drop_put_away")) or drops.get((bar.id, "scrapped"))
    done = all(cut.state != "waiting" for cut in cuts) and (drop is not None or not bar.keep_drop)
    return replace(bar, cuts=tuple(cuts), drop_event=drop.id if drop else None, done=done)


def _bundle_state(loaded: State, shipped: State, bundle: str) -> tuple[BundleState, str | None]:
    event = loaded.get((bundle, "loaded"))
    if event is None:
        return "waiting", None
    gone = event.about is not None and (event.about, "shipped") in shipped
    return ("shipped" if gone else "loaded"), event.id


def _with_bundle_states(tx: Transaction, bundles: Sequence[Bundle]) -> tuple[Bundle, ...]:
    cut = _Made(tx, [piece.piece for one in bundles for piece in one.pieces])
    loaded = tx.events.last_events_in_force([one.id for one in bundles], ("loaded",))
    shipped = tx.events.last_events_in_force({event.about for event in loaded.values() if event.about}, ("shipped",))
    made = []
    for one in bundles:
        state, event = _bundle_state(loaded, shipped, one.id)
        pieces = tuple(replace(piece, state=cut.piece(piece.piece)) for piece in one.pieces)
        made.append(replace(one, state=state, event=event, pieces=pieces))
    return tuple(made)


def _with_load_states(tx: Transaction, plan: str, loads: Sequence[Load]) -> tuple[Load, ...]:
    names = [one.bundle for load in loads for one in load.bundles]
    inside = tx.floor.pieces_in(plan, names)
    cut = _Made(tx, [piece for pieces in inside.values() for piece in pieces])
    loaded = tx.events.last_events_in_force(names, ("loaded",))
    shipped = tx.events.last_events_in_force([load.id for load in loads], ("shipped",))
    return tuple(_load_now(load, inside, cut, loaded, shipped) for load in loads)


def _load_now(load: Load, inside: dict[str, list[str]], cut: _Made, loaded: State, shipped: State) -> Load:
    bundles = []
    for one in load.bundles:
        state, event = _bundle_state(loaded, shipped, one.bundle)
        told = {piece: cut.piece(piece) for piece in inside.get(one.bundle, ())}
        bundles.append(
            replace(
                one,
                state=state,
                event=event,
                uncut=sum(1 for now in told.values() if now == "waiting"),
                scrapped=tuple(piece for piece, now in told.items() if now == "scrapped"),
            )
        )
    gone = shipped.get((load.id, "shipped"))
    return replace(load, bundles=tuple(bundles), shipped_event=gone.id if gone else None)
