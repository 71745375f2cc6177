"""Whether the floor went on since a plan was made from it: what happened that the plan did not foresee, fact by fact.

A plan foresees that kept bars are cut, that what is made is laid and loaded, and that stock comes in. It does not foresee that
a bar that fell away was begun or cut, that a piece was scrapped or a cut taken back, that an order was withdrawn or sent anew,
that stock it draws on is gone or another's, nor that another plan was released.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator

from service.contracts.plans import PlanManifest
from service.ports import Transaction
from service.usecases.ask.order_life import order_life
from service.usecases.floor_bars import bars_on_floor, stock_item_number
from solver.book.things import pieces_digest
from solver.domain.book import ItemState
from solver.domain.cut_plan import Bar
from solver.domain.kept_work import with_kept_bars
from solver.domain.plan import Plan
from solver.errors import FieldFault

AGAIN = "plan again: the new plan goes on from the floor as it is now"
TOLD_MOST = 50


def floor_changes_since_plan(
    tx: Transaction, manifest: PlanManifest, plan: Plan, held: Counter[int], same: Collection[str]
) -> list[FieldFault]:
    """Return what stands against a release, the first `TOLD_MOST` of it.

    `held`: what the release before holds of the stock. `same`: bars that the plan has as that release has them, whatever
    happened to them.
    """
    facts = _facts(tx, manifest, plan, held, frozenset(same))
    return [fault for _, fault in zip(range(TOLD_MOST), facts, strict=False)]


def stock_drawn_by_plan(plan: Plan) -> Counter[int]:
    """Return how many of each stock item a plan's bars take that are not begun, by the item's number."""
    wanted = Counter(item for cut in plan.cuts for bar in cut.bars if (item := stock_item_number(str(bar.stock))) is not None)
    for one in plan.kept.bars if plan.kept is not None else ():
        if one.item is not None and one.state == "firm":
            wanted[one.item] += 1
    return wanted


def numbers_of_same_bars(tx: Transaction, released: str, plan: Plan) -> dict[str, int]:
    """Return the running number of each bar that a plan has as a release has it: of the same name, with the same pieces."""
    there = tx.floor.numbered(released)
    return {
        str(bar.id): there[bar.id].number
        for bar in _bars_of(plan)
        if bar.id in there and there[bar.id].digest == pieces_digest(str(item.piece) for item in bar.pieces)
    }


def _bars_of(plan: Plan) -> list[Bar]:
    return [bar for cut in with_kept_bars(plan.cuts, plan.kept) for bar in cut.bars]


def _facts(
    tx: Transaction, manifest: PlanManifest, plan: Plan, held: Counter[int], same: frozenset[str]
) -> Iterator[FieldFault]:
    if plan.kept is not None:  # a plan of an older version, or of an empty floor, never went on from a release
        yield from _another_release(tx, manifest)
    yield from _orders(tx, manifest)
    if not same.issuperset(str(bar.id) for bar in _bars_of(plan)):  # a replan moves work in time: its bars are those of before
        yield from _pieces(tx, plan, same)
        yield from _bars(tx, plan, same)
        yield from _stock(tx, plan, held)


def _another_release(tx: Transaction, manifest: PlanManifest) -> Iterator[FieldFault]:
    now = tx.plans.released()
    if now is None or now[0] in (manifest.predecessor, manifest.id):
        return
    both = {order.id for order in manifest.orders} & {order.id for order in tx.plans.manifest(now[0]).orders}
    if both:
        problem = f"{now[0]} was released since this plan was made, with {', '.join(sorted(both)[:5])}"
        yield FieldFault("release", problem, AGAIN)


def _orders(tx: Transaction, manifest: PlanManifest) -> Iterator[FieldFault]:
    newest = {line.id: line.revision for line in tx.orders.lines()}
    for order in manifest.orders:
        revision = newest.get(order.id, order.revision)
        if order_life(tx, order.id, revision).state == "withdrawn":
            yield FieldFault(f"orders[{order.id}]", f"{order.id} was withdrawn", AGAIN)
        elif revision != order.revision:
            problem = f"{order.id} was sent anew: revision {revision}, and the plan is of {order.revision}"
            yield FieldFault(f"orders[{order.id}]", problem, AGAIN)


def _pieces(tx: Transaction, plan: Plan, same: frozenset[str]) -> Iterator[FieldFault]:
    """Pieces that are made otherwise than the plan knows: cut of a bar that fell away, scrapped, taken back."""
    kept = plan.kept
    made = set(kept.made) if kept is not None else set()
    stay = {item.piece for one in kept.bars for item in one.bar.pieces} if kept is not None else set()
    stay |= {item.piece for bar in _bars_of(plan) if bar.id in same for item in bar.pieces}
    makings = {one.piece: one.making for one in plan.makings}
    names = [piece.id for taken in plan.takeoffs for piece in taken.pieces]
    now = tx.book.piece_makings([str(name) for name in names])
    for name in names:
        making, where = now.get(name, (1, "wanted"))
        if making != makings.get(name, 1):
            yield FieldFault(f"pieces[{name}]", f"{name} was scrapped: making {making} is wanted", AGAIN)
        elif where != "wanted" and name not in made and name not in stay:
            yield FieldFault(f"pieces[{name}]", f"{name} was made since, and the plan would make it again", AGAIN)
        elif where == "wanted" and name in made:
            yield FieldFault(f"pieces[{name}]", f"{name} is not made after all, and the plan has no bar for it", AGAIN)


def _bars(tx: Transaction, plan: Plan, same: frozenset[str]) -> Iterator[FieldFault]:
    """Bars that fell away in the plan and that were begun since, though nothing was told as cut of them yet."""
    pieces = frozenset(str(piece.id) for taken in plan.takeoffs for piece in taken.pieces)
    kept = {one.number for one in plan.kept.bars} if plan.kept is not None else set()
    for bar, _ in bars_on_floor(tx, plan.timetable.epoch, 0, pieces):
        if bar.state == "begun" and bar.number not in kept and bar.bar.id not in same:
            yield FieldFault(f"bars[{bar.number}]", f"bar {bar.number} ({bar.bar.id}) was begun since", AGAIN)


def _stock(tx: Transaction, plan: Plan, held: Counter[int]) -> Iterator[FieldFault]:
    wanted = stock_drawn_by_plan(plan)
    states = tx.book.states("item", [str(item) for item in wanted])
    for item, count in sorted(wanted.items()):
        state = states.get(str(item))
        free = state.free + held[item] if isinstance(state, ItemState) else 0
        if count > free:
            problem = f"{count} of item {item} are wanted, {max(0, free)} are there and free"
            yield FieldFault(f"stock[{item}]", problem, AGAIN)
