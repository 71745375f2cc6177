"""Rows of load sheets: bundles in order of loading, where each stands, weights by axle as bundles come off."""

from __future__ import annotations

from solver.documents.index import PlanIndex
from solver.domain.building import Building
from solver.domain.document import LoadRow, LoadSheet
from solver.domain.ids import short_name
from solver.domain.load import Load
from solver.domain.plan import LoadPart


def load_sheets(index: PlanIndex) -> tuple[LoadSheet, ...]:
    """Return a sheet for every load of a plan."""
    return tuple(_sheet(index, part, load) for part in index.plan.loads for load in part.result.loads)


def load_sheet(index: PlanIndex, load_id: str) -> LoadSheet:
    """Return the sheet of one load. Raises KeyError when the plan has no such load."""
    for part in index.plan.loads:
        for load in part.result.loads:
            if load.id == load_id:
                return _sheet(index, part, load)
    raise KeyError(load_id)


def _sheet(index: PlanIndex, part: LoadPart, load: Load) -> LoadSheet:
    known = {bundle.id: bundle for bundle in part.job.bundles}
    count = len(load.placed)
    building = index.buildings[part.order]
    ship_to = building.ship_to
    return LoadSheet(
        order=part.order,
        load=load,
        deck=next(deck for deck in part.job.decks if deck.id == load.deck),
        rows=tuple(
            LoadRow(
                at=n,
                off=count - n + 1,
                bundle=placed.bundle,
                name=short_name(placed.bundle),
                x_nm=placed.x_nm,
                y_nm=placed.y_nm,
                z_nm=placed.z_nm,
                length_nm=known[placed.bundle].length_nm,
                weight_g=known[placed.bundle].weight_g,
                stop=known[placed.bundle].stop,
            )
            for n, placed in enumerate(load.placed, 1)
        ),
        bundles=tuple(known[placed.bundle] for placed in load.placed),
        names=tuple((placed.bundle, short_name(placed.bundle)) for placed in load.placed),
        axles=load.axles,
        strap_tension_g=part.job.rules.strap_tension_g,
        ship_to=(ship_to.name, *ship_to.lines, ship_to.country),
        unload_from=tuple(part.job.rules.unload_from),
        rule_set=part.job.rules.rule_set,
        local_rules=part.job.rules.local_rules,
        permit=part.job.rules.permit,
        height_limit_nm=part.job.rules.height_limit_nm,
        need_by=_need_by(building, {one.trip for one in known.values() if one.id in {p.bundle for p in load.placed}}),
    )


def _need_by(building: Building, trips: set[str | None]) -> tuple[str, ...]:
    """Return when the load's deliveries are wanted; of all deliveries where its bundles name none."""
    named = tuple(delivery.need_by for delivery in building.deliveries if delivery.id in trips)
    return named or tuple(delivery.need_by for delivery in building.deliveries)
