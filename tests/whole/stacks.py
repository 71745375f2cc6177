"""Every piece in one bundle of its order and delivery, every bundle on one truck of that order and delivery."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

from solver.domain.building import Delivery
from solver.domain.bundle import Bundle
from solver.domain.piece import Piece
from solver.domain.plan import Plan


def brought_by(piece: Piece, deliveries: Sequence[Delivery]) -> str | None:
    """Return the delivery that brings a piece: base channel with the one that names the base, all else by level or roof."""
    for one in deliveries:
        if piece.role == "base_channel" and one.base:
            return one.id
    if piece.role == "base_channel" and any(one.base for one in deliveries):
        return None
    return next((one.id for one in deliveries if piece.part in one.parts), None)


def deliveries_of(plan: Plan) -> dict[str, str | None]:
    """Return the delivery of each piece id."""
    return {piece.id: brought_by(piece, takeoff.building.deliveries) for takeoff in plan.takeoffs for piece in takeoff.pieces}


def faults_of_stacks(plan: Plan) -> Iterator[str]:
    """Give every fault of the plan's bundles and trucks."""
    pieces: dict[str, Piece] = {piece.id: piece for takeoff in plan.takeoffs for piece in takeoff.pieces}
    bundles: dict[str, Bundle] = {bundle.id: bundle for part in plan.stacks for bundle in part.result.bundles}
    if len(bundles) != sum(len(part.result.bundles) for part in plan.stacks):
        yield "two bundles have one id"
    lying: Counter[str] = Counter(lay.piece for bundle in bundles.values() for lay in bundle.pieces)
    yield from (f"{name} is in {lying[name]} bundles" for name in pieces if lying[name] != 1)
    yield from (f"{name} is bundled and no order has it" for name in lying if name not in pieces)
    wanted = deliveries_of(plan)
    for bundle in bundles.values():
        mine = {(pieces[lay.piece].order, wanted[lay.piece]) for lay in bundle.pieces if lay.piece in pieces}
        if len(mine) > 1 or any(order != bundle.order for order, _ in mine):
            yield f"{bundle.id} mixes orders or deliveries"
        least = sum(pieces[lay.piece].weight_g for lay in bundle.pieces if lay.piece in pieces)
        if bundle.weight_g < least:
            yield f"{bundle.id} weighs less than its pieces"
    yield from _trucks(plan, bundles, pieces, wanted)


def _trucks(
    plan: Plan, bundles: Mapping[str, Bundle], pieces: Mapping[str, Piece], wanted: Mapping[str, str | None]
) -> Iterator[str]:
    loads = [(part.order, load) for part in plan.loads for load in part.result.loads]
    carried: Counter[str] = Counter(item.bundle for _, load in loads for item in load.placed)
    yield from (f"{name} is on {carried[name]} trucks" for name in bundles if carried[name] != 1)
    yield from (f"{name} is loaded and never built" for name in carried if name not in bundles)
    yield from (f"two trucks are called {name}" for name, n in Counter(load.id for _, load in loads).items() if n > 1)
    for order, load in loads:
        aboard = [bundles[item.bundle] for item in load.placed if item.bundle in bundles]
        if any(bundle.order != order for bundle in aboard):
            yield f"{load.id} carries another order"
        brought = {wanted[lay.piece] for bundle in aboard for lay in bundle.pieces if lay.piece in pieces}
        brought |= {bundle.delivery for bundle in aboard if bundle.items}
        if len(brought) > 1:
            yield f"{load.id} carries several deliveries"
        if load.weight_g != sum(bundle.weight_g for bundle in aboard):
            yield f"{load.id} does not weigh what is on it"
