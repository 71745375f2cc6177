"""From an order's bundles and building to the job that loading solves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from solver.domain.building import Building
from solver.domain.bundle import Bundle
from solver.domain.load import LoadBundle, LoadJob
from solver.domain.plant import Plant


def load_job(bundles: Sequence[Bundle], building: Building, plant: Plant) -> LoadJob:
    """Return the loading job of one order: its bundles in order of need, the plant's decks, the sides the site reaches.

    Each delivery is a trip of its own. A bundle that names no delivery goes with the first that wants its level or roof.
    """
    return LoadJob(
        unit=plant.unit,
        decks=plant.decks,
        bundles=tuple(_load_bundle(bundle, rank, building) for rank, bundle in enumerate(bundles)),
        rules=replace(plant.load_rules, unload_from=building.unload_from or plant.load_rules.unload_from),
        name=building.order,
    )


def _load_bundle(bundle: Bundle, rank: int, building: Building) -> LoadBundle:
    return LoadBundle(
        id=bundle.id,
        length_nm=bundle.length_nm,
        width_nm=bundle.width_nm,
        height_nm=bundle.height_nm,
        weight_g=bundle.weight_g,
        rank=rank,
        may_carry_g=bundle.may_carry_g,
        dunnage_nm=bundle.dunnage_nm,
        centre_nm=bundle.centre_nm,
        centre_across_nm=bundle.centre_across_nm,
        centre_up_nm=bundle.centre_up_nm,
        kind=bundle.kind,
        trip=bundle.delivery or _first_wanting(bundle, building),
    )


def _first_wanting(bundle: Bundle, building: Building) -> str | None:
    parts = {group.split(".")[0] for group in bundle.groups}
    wanting = [delivery for delivery in building.deliveries if parts & set(delivery.parts)]
    first = min(wanting or building.deliveries, key=lambda delivery: delivery.need_by, default=None)
    return None if first is None else first.id
