"""What a scanned or typed code stands for in the plan on the floor."""

from __future__ import annotations

from dataclasses import replace

from service.contracts.scan import Scanned
from service.ports import Store, Transaction
from service.usecases.ask.floor import one_bar, one_bundle, one_load
from solver.documents.codes import read_code, short_code
from solver.errors import FieldFault, InputError

LONGEST = 400


def scanned(text: str, *, store: Store) -> Scanned:
    """Return the piece, bundle or load that a code means. Raises InputError, with what to do, for one that means none.

    A label of a plan that is not on the floor any more is unknown here: its piece may have been cut in another shape.
    """
    code = read_code(text)
    if not code.text:
        raise InputError(FieldFault("code", "is empty", "scan a label or a tag, or type the digits under its bars"))
    if len(code.text) > LONGEST:
        raise InputError(FieldFault("code", f"has {len(code.text)} characters", f"at most {LONGEST}"))
    if not code.sound:
        raise InputError(
            FieldFault(
                "code", f"{code.text} is misread: its check digit does not hold", "scan it again, or type it from the tag"
            )
        )
    with store.reading() as tx:
        now = tx.plans.released()
        found = None if now is None else _found(tx, now[0], code.kind == "short", code.text)
    if found is None:
        raise InputError(
            FieldFault("code", f"{code.text} is not in the plan on the floor", "set it aside and ask the planner; never guess")
        )
    if found.kind == "piece":
        return _piece(found, store)
    if found.kind == "bundle":
        bundle = one_bundle(found.id, store=store).bundle
        return replace(found, order=bundle.order, load=bundle.load, state=bundle.state, bundle_of=len(bundle.pieces))
    return replace(found, order=one_load(found.id, store=store).load.order)


def _found(tx: Transaction, plan: str, short: bool, text: str) -> Scanned | None:
    if short:
        named = next((one for one in tx.floor.piece_ids(plan) if short_code(one) == text), None)
        return None if named is None else _with_home(tx, plan, named)
    bundle = tx.floor.bundle_named(plan, text)
    if bundle is not None:
        return Scanned(kind="bundle", id=bundle, plan=plan, order="", bundle=bundle)
    if tx.floor.home_of(plan, text) != (None, None):
        return _with_home(tx, plan, text)
    if any(load.id == text for load in tx.floor.loads(plan)):
        return Scanned(kind="load", id=text, plan=plan, order="", load=text)
    return None


def _with_home(tx: Transaction, plan: str, piece: str) -> Scanned:
    bar, bundle = tx.floor.home_of(plan, piece)
    return Scanned(kind="piece", id=piece, plan=plan, order="", bar=bar, bundle=bundle)


def _piece(found: Scanned, store: Store) -> Scanned:
    if found.bundle is not None:
        bundle = one_bundle(found.bundle, store=store).bundle
        lay = next(one for one in bundle.pieces if one.piece == found.id)
        found = replace(
            found, order=bundle.order, load=bundle.load, mark=lay.mark, state=lay.state, bundle_place=lay.place,
            bundle_of=len(bundle.pieces),
        )  # fmt: skip
    if found.bar is not None:
        bar = one_bar(found.bar, store=store).bar
        cut = next(one for one in bar.cuts if one.piece == found.id)
        found = replace(found, machine=bar.machine, order=cut.order, mark=cut.mark, state=cut.state)
    return found
