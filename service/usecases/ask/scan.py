"""What a scanned or typed code stands for in the plan on the floor."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from service.contracts.scan import Scanned, SoCalled
from service.ports import Store, Transaction
from service.usecases.ask.floor import read_bar, read_bundle, read_load
from service.usecases.plans_on_floor import plans_on_floor
from solver.documents.codes import BODY, ScannedCode, making_name, parse_making_name, read_code, short_code
from solver.domain.ids import order_of, short_name
from solver.errors import FieldFault, InputError

LONGEST = 400


def read_scanned(text: str, *, store: Store) -> Scanned:
    """Return the piece, bundle or load that a code means. Raises InputError, with what to do, for one that means none.

    A label of a plan that is not on the floor any more is unknown here: its piece may have been cut in another shape.
    """
    code = read_code(text)
    if not code.text:
        raise InputError(FieldFault("code", "is empty", "scan a label or a tag, or type the digits under its bars"))
    if len(code.text) > LONGEST:
        raise InputError(FieldFault("code", f"has {len(code.text)} characters", f"at most {LONGEST}"))
    if not code.sound:
        problem = f"{code.text} is misread or mistyped: its check digits do not hold"
        raise InputError(FieldFault("code", problem, "scan it again, or type it from the label"))
    with store.reading() as tx:
        found = next(_findings(tx, code), None)
    if found is None:
        raise InputError(
            FieldFault("code", f"{code.text} is not in the plan on the floor", "set it aside and ask the planner; never guess")
        )
    if found.kind == "piece":
        return _piece(found, store)
    if found.kind == "bundle":
        bundle = read_bundle(found.id, store=store).bundle
        return replace(found, order=bundle.order, load=bundle.load, state=bundle.state, bundle_of=len(bundle.pieces))
    return replace(found, order=read_load(found.id, store=store).load.order)


def things_called(text: str, *, store: Store) -> tuple[SoCalled, ...]:
    """Return what on the floor is called so behind its order, of every order there: for a person to choose, never a guess."""
    said = read_code(text).text
    if not said or len(said) > LONGEST or "/" in said:
        return ()
    with store.reading() as tx:
        return tuple(
            SoCalled(kind=kind, id=name, order=order_of(name), name=short_name(name))
            for plan, orders in plans_on_floor(tx).items()
            for kind, name in tx.floor.called(plan, said)
            if orders is None or order_of(name) in orders
        )


def _findings(tx: Transaction, code: ScannedCode) -> Iterator[Scanned]:
    """What a code may mean in the plans that things on the floor are of. Raises InputError for a label that is void."""
    for plan, orders in plans_on_floor(tx).items():
        found = _short(tx, plan, code.text) if code.kind == "short" else _named(tx, plan, code.text)
        if found is not None and (orders is None or order_of(found.id) in orders):
            yield found if orders is None else replace(found, bar=None)  # its bars are not on the floor any more


def _short(tx: Transaction, plan: str, text: str) -> Scanned | None:
    """The piece that a label's digits stand for, whichever making the label is of."""
    names = {(piece, 1) for piece in tx.floor.pieces_of_code(plan, text[:BODY])}
    names |= {(piece, 1) for piece in tx.floor.pieces_without_code(plan) if short_code(piece) == text}
    for piece, last in tx.book.makings().items():
        names |= {(piece, n) for n in range(2, last + 1) if short_code(making_name(piece, n)) == text and _has(tx, plan, piece)}
    if len(names) > 1:
        told = ", ".join(sorted(piece for piece, _ in names))
        raise InputError(FieldFault("code", f"{text} stands for {told}", "scan the square code, or type the piece's name"))
    return _piece_of(tx, plan, *names.pop()) if names else None


def _named(tx: Transaction, plan: str, text: str) -> Scanned | None:
    bundle = tx.floor.bundle_named(plan, text)
    if bundle is not None:
        return Scanned(kind="bundle", id=bundle, plan=plan, order="", bundle=bundle, code=bundle)
    piece, making = parse_making_name(text)
    if _has(tx, plan, piece):
        return _piece_of(tx, plan, piece, making)
    if tx.floor.loads(plan, [text]):
        return Scanned(kind="load", id=text, plan=plan, order="", load=text, code=text)
    return None


def _has(tx: Transaction, plan: str, piece: str) -> bool:
    return tx.floor.bar_and_bundle_of(plan, piece) != (None, None)


def _piece_of(tx: Transaction, plan: str, piece: str, label: int) -> Scanned:
    """A piece by a label of one of its makings: one that was scrapped and made again has no other valid label than its last."""
    making = tx.book.makings([piece]).get(piece, 1)
    last = tx.events.last_before(None, piece, ("cut", "scrapped", "remade"))
    waits = last is not None and last.kind == "scrapped"
    if label > making or (label < making and not waits):
        problem = f"{making_name(piece, label)} is a void label: {piece} was scrapped, and making {making} holds"
        raise InputError(FieldFault("code", problem, f"scan the label of making {making}; what bears this one is scrap"))
    bar, bundle = tx.floor.bar_and_bundle_of(plan, piece)
    name = making_name(piece, making)
    return Scanned(kind="piece", id=piece, plan=plan, order="", bar=bar, bundle=bundle, code=name, making=making)


def _piece(found: Scanned, store: Store) -> Scanned:
    if found.bundle is not None:
        bundle = read_bundle(found.bundle, store=store).bundle
        lay = next(one for one in bundle.pieces if one.piece == found.id)
        found = replace(
            found, order=bundle.order, load=bundle.load, mark=lay.mark, state=lay.state, bundle_place=lay.place,
            bundle_of=len(bundle.pieces),
        )  # fmt: skip
    if found.bar is not None:
        bar = read_bar(found.bar, store=store).bar
        cut = next(one for one in bar.cuts if one.piece == found.id)
        found = replace(found, machine=bar.machine, order=cut.order, mark=cut.mark, state=cut.state)
    return found
