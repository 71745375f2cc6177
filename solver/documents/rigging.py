"""Rows of the rigging sheet: how each bundle is lifted, and which single pieces take more than one pair of hands."""

from __future__ import annotations

import math
from collections import defaultdict

from solver.documents.index import PlanIndex
from solver.domain.bundle import Bundle
from solver.domain.document import CrewRow, HandRow, RigRow, RigSheet
from solver.domain.ids import OrderId, short_name
from solver.domain.lift import Lift
from solver.domain.piece import Piece
from solver.units import Grams, MicroDeg, Nm

SLING_UDEG = tuple(MicroDeg(angle * 1_000_000) for angle in (60, 45, 30))  # from level; below 30 no sling is used


def rig_sheets(index: PlanIndex) -> tuple[RigSheet, ...]:
    """Return a rigging sheet for every order of a plan, its bundles in order of need."""
    return tuple(_sheet(index, takeoff.building.order) for takeoff in index.plan.takeoffs)


def _sheet(index: PlanIndex, order: OrderId) -> RigSheet:
    pieces = [piece for piece in index.pieces.values() if piece.order == order]
    lifts: dict[Lift, list[Piece]] = defaultdict(list)
    for piece in sorted(pieces, key=lambda piece: piece.weight_g):
        lifts[index.plant.lift(piece.weight_g)].append(piece)
    handled = min(family.handled_nm for family in index.plant.families)
    return RigSheet(
        order=order,
        unit=index.buildings[order].unit,
        handled_nm=handled,
        forklift_centre_nm=index.plant.bundle.forklift_centre_nm,
        limits_g=index.plant.lift_limits_g,
        published=not index.plant.team_lift_g,
        rows=tuple(_row(index, bundle, handled) for bundle in index.bundles.values() if bundle.order == order),
        crews=tuple(CrewRow(lift=lift, count=len(alike), heaviest_g=alike[-1].weight_g) for lift, alike in lifts.items()),
        hands=tuple(_hand(index, piece) for piece in pieces if not index.plant.lift(piece.weight_g).alone),
    )


def _row(index: PlanIndex, bundle: Bundle, handled_nm: Nm) -> RigRow:
    load = index.loads.get(bundle.id)
    return RigRow(
        bundle=bundle,
        name=short_name(bundle.id),
        load=str(load.id) if load else "",
        spreader=bundle.length_nm > handled_nm,
        spread_nm=Nm(bundle.lift_nm[-1] - bundle.lift_nm[0]) if len(bundle.lift_nm) > 1 else None,
        gap_nm=index.plant.bundle.dunnage_nm,
        rating_g=fork_rating_g(bundle, index.plant.bundle.forklift_centre_nm),
        legs_g=tuple(sling_leg_g(bundle.weight_g, angle) for angle in SLING_UDEG),
    )


def fork_rating_g(bundle: Bundle, centre_nm: Nm) -> Grams:
    """Return what a truck with a load centre must be rated for, in grams, to take a bundle from its side.

    Its rating times its load centre is the moment it may carry (29 CFR 1910.178 App. A-5): the bundle's weight times the
    distance of its centre of mass from the worse side. Never less than the weight itself.
    """
    from_side = max(bundle.centre_across_nm, bundle.width_nm - bundle.centre_across_nm)
    return Grams(max(bundle.weight_g, -(-bundle.weight_g * from_side // centre_nm)))


def sling_leg_g(weight_g: Grams, angle_udeg: MicroDeg) -> Grams:
    """Return the pull in each of two alike sling legs at an angle from level, in grams: half the weight / sin (statics)."""
    return Grams(math.ceil(weight_g / 2 / math.sin(math.radians(angle_udeg / 1e6))))


def _hand(index: PlanIndex, piece: Piece) -> HandRow:
    bundle, _ = index.places.get(piece.id, (None, 0))
    return HandRow(
        stands=piece.stands,
        mark=piece.mark,
        role=piece.role,
        bundle_name=short_name(bundle.id) if bundle else "",
        length_nm=piece.length_nm,
        weight_g=piece.weight_g,
        lift=index.plant.lift(piece.weight_g),
    )
