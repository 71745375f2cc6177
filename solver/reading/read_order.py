"""Orders read whole: every fault at once by its path, or a building with every default filled in."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Literal, cast

from solver.codec import schema
from solver.domain.building import BearingWall, Building, Delivery, MeasuredAnchor, RoofPlane, ShipTo, Wall
from solver.domain.ids import OrderId
from solver.domain.order import Order
from solver.domain.plant import Plant
from solver.errors import Faults, FieldFault, InputError
from solver.reading.catalog import choose_from_catalog
from solver.reading.draft import PlaneDraft, Reading, WallDraft
from solver.reading.furring import read_furring
from solver.reading.levels import check_names, read_levels
from solver.reading.limits import over_limits
from solver.reading.not_yet import built_lengths
from solver.reading.openings import read_openings
from solver.reading.outlines import check_outlines
from solver.reading.overlaps import refuse_overlaps
from solver.reading.parts import take_apart
from solver.reading.planes import lay_out
from solver.reading.roofs import read_roofs
from solver.reading.site import read_bearing, read_deliveries, read_measured, read_start
from solver.reading.tops import make_tops


def order_schema() -> dict[str, Any]:
    """Return the JSON Schema of an order document."""
    return schema(Order)


def read_order(data: Any, plant: Plant) -> Building:
    """Return the building that an order's JSON value describes, resolved against the plant catalog.

    Lengths become whole nanometres, each sloped or turned one rounded once. Raises InputError with every fault.
    """
    faults = Faults()
    reading = Reading(parts=take_apart(data, faults), plant=plant, faults=faults)
    form = len(faults.found)
    if over_limits(reading):
        _raise_found(faults.found, form)
    choose_from_catalog(reading)
    check_outlines(reading)
    check_names(reading)
    read_levels(reading)
    read_roofs(reading)
    refuse_overlaps(reading)
    lay_out(reading)
    make_tops(reading)
    read_openings(reading)
    read_furring(reading)
    built_lengths(reading)
    bearing = read_bearing(reading)
    measured = read_measured(reading)
    start = read_start(reading)
    deliveries = read_deliveries(reading)
    _revision_faults(reading)
    _raise_found(faults.found, form)
    return _building(reading, bearing, measured, start, deliveries)


def _revision_faults(reading: Reading) -> None:
    order = reading.parts.whole
    if order is not None and order.replaces is not None and order.replaces >= order.revision:
        problem = f"revision {order.revision} can't replace revision {order.replaces}"
        reading.faults.add("replaces", problem, f"a revision before {order.revision}")


def _raise_found(found: list[FieldFault], form: int) -> None:
    """Raise all faults, each once; what only follows from a fault of form at the same path is left out."""
    bad = {fault.path for fault in found[:form]}
    kept = found[:form] + [fault for fault in found[form:] if fault.path not in bad]
    if kept:
        named = (fault if fault.path else replace(fault, path="document") for fault in kept)
        raise InputError(*dict.fromkeys(named))


def _building(
    reading: Reading,
    bearing: list[BearingWall],
    measured: list[MeasuredAnchor],
    start: tuple[str, str],
    deliveries: list[Delivery],
) -> Building:
    order = reading.parts.whole
    assert order is not None
    ship_to = order.site.ship_to
    return Building(
        order=OrderId(order.id),
        revision=order.revision,
        replaces=order.replaces,
        unit=order.unit,
        walls=tuple(_wall(reading, wall) for wall in reading.walls),
        roof=tuple(_plane(reading, plane) for plane in reading.planes),
        bearing=tuple(bearing),
        start_corner=start[0],
        direction=cast(Literal["ccw", "cw"], start[1]),
        trim_colour=reading.trim,
        anchor_holes=order.anchors.holes,
        measured=tuple(measured),
        deliveries=tuple(deliveries),
        ship_to=ShipTo(name=ship_to.name, lines=ship_to.lines, country=ship_to.country),
        unload_from=order.site.unload_from,
    )


def _wall(reading: Reading, wall: WallDraft) -> Wall:
    assert wall.top and reading.wall_family is not None
    return Wall(
        id=wall.id,
        level=wall.level,
        a=wall.a,
        b=wall.b,
        length_nm=wall.length_nm,
        base_z_nm=wall.base_z_nm,
        top=wall.top,
        left=wall.left,
        right=wall.right,
        family=reading.wall_family.id,
        finish=reading.wall_finish,
        openings=tuple(wall.openings),
        on_slab=wall.on_slab,
        under_roof=wall.under_roof,
        furring=wall.furring,
    )


def _plane(reading: Reading, plane: PlaneDraft) -> RoofPlane:
    assert reading.roof_family is not None
    return RoofPlane(
        id=plane.id,
        roof=plane.roof,
        a=plane.a,
        b=plane.b,
        z_nm=plane.z_nm,
        rise=plane.rise,
        run=plane.run,
        outline=plane.outline,
        edges=tuple(plane.edges),
        family=reading.roof_family.id,
        finish=reading.roof_finish,
        openings=tuple(plane.openings),
        ridge_cut=plane.cut.ridge,
        eave_cut=plane.cut.eave,
        pitch_shown=plane.pitch_shown,
    )
