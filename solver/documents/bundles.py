"""Rows of bundle tags and bundle sheets: contents top to bottom, weight, forks, the container code."""

from __future__ import annotations

from solver.documents.codes import gs1_digital_link, sscc_for_name
from solver.documents.index import PlanIndex
from solver.domain.building import delivery_of_part
from solver.domain.bundle import Bundle
from solver.domain.document import BundleRow, BundleTag, TagPlace
from solver.domain.ids import short_name
from solver.units import Nm


def bundle_tags(index: PlanIndex) -> tuple[BundleTag, ...]:
    """Return a tag for every bundle of a plan, in order of need."""
    return tuple(bundle_tag(index, bundle) for bundle in index.bundles)


def bundle_tag(index: PlanIndex, bundle_id: str) -> BundleTag:
    """Return the tag of one bundle. Raises KeyError when the plan has no such bundle."""
    bundle = index.bundles[bundle_id]
    serial = bundle.serial or sscc_for_name(index.plant.company_prefix, bundle.id)
    rows = tuple(_row(index, bundle, n) for n in range(1, len(bundle.pieces) + 1))
    building = index.buildings.get(str(bundle.order)) if bundle.order is not None else None
    wanting = building.deliveries if building else ()
    inside = [index.pieces[row.piece] for row in rows]
    brought = {one.id for piece in inside if (one := delivery_of_part(wanting, piece.part, piece.role)) is not None}
    deliveries = tuple(one.id for one in wanting if one.id in brought or (bundle.items and one.id == bundle.delivery))
    return BundleTag(
        bundle=bundle,
        unit=building.unit if building else index.plant.unit,
        name=short_name(bundle.id),
        count=sum(1 for one in index.bundles.values() if one.order == bundle.order),
        serial=serial,
        link=gs1_digital_link(serial),
        rows=rows,
        forks_nm=_forks(bundle),
        stack=tuple(index.stack_pieces[lay.piece] for lay in bundle.pieces),
        dunnage_nm=(index.plant.bundle.dunnage_nm, index.plant.bundle.dunnage_width_nm),
        deliveries=deliveries,
        place=_place(index, bundle),
        spreader=bundle.length_nm > min(family.handled_nm for family in index.plant.families),
    )


def _place(index: PlanIndex, bundle: Bundle) -> TagPlace | None:
    """Return where a bundle rides; None where the plan has it on no truck."""
    load = index.loads.get(bundle.id)
    if load is None:
        return None
    at, placed = next((n, placed) for n, placed in enumerate(load.placed, 1) if placed.bundle == bundle.id)
    return TagPlace(load=str(load.id), at=at, of=len(load.placed), x_nm=placed.x_nm, y_nm=placed.y_nm, z_nm=placed.z_nm)


def _row(index: PlanIndex, bundle: Bundle, from_top: int) -> BundleRow:
    lay = bundle.pieces[-from_top]
    piece, box = index.pieces[lay.piece], index.stack_pieces[lay.piece]
    return BundleRow(
        at=from_top,
        piece=piece.id,
        mark=piece.mark,
        role=piece.role,
        stands=piece.stands,
        length_nm=box.length_nm,
        width_nm=box.width_nm,
        weight_g=piece.weight_g,
        set_aside=piece.id in bundle.set_aside,
    )


def _forks(bundle: Bundle) -> tuple[Nm, Nm] | None:
    """Return where the two forks go, from the foot end; None where the bundle names no two lift points."""
    return (bundle.lift_nm[0], bundle.lift_nm[-1]) if len(bundle.lift_nm) >= 2 else None
