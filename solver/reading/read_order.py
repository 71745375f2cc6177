"""Orders read whole: every fault at once by its path, or a building with every default filled in."""

from __future__ import annotations

from copy import copy
from dataclasses import replace
from typing import Any, Literal, cast

from solver.codec import decode, schema
from solver.domain.building import BearingWall, Building, Delivery, MeasuredAnchor, RoofPlane, ShipTo, Wall
from solver.domain.ids import OrderId
from solver.domain.order import Order
from solver.domain.plant import Plant
from solver.errors import FaultCollector, FieldFault, InputError
from solver.printable_letters import unprintable_letter_fault
from solver.reading.catalog import choose_from_catalog
from solver.reading.draft import PlaneDraft, Reading, WallDraft
from solver.reading.furring import read_furring
from solver.reading.levels import note_shared_names, read_levels
from solver.reading.limits import exceeds_order_limits
from solver.reading.openings import read_openings
from solver.reading.order_parts import split_order, unit_of
from solver.reading.outlines import check_outlines
from solver.reading.overlaps import note_overlapping_planes
from solver.reading.planes import resolve_planes
from solver.reading.roofs import read_roofs
from solver.reading.site import read_bearing_walls, read_deliveries, read_measured_anchors, read_start_corner
from solver.reading.too_tall_walls import note_too_tall_walls
from solver.reading.tops import make_wall_tops


def order_schema() -> dict[str, Any]:
    """Return the JSON Schema of an order document."""
    return schema(Order)


def read_order(data: Any, plant: Plant) -> Building:
    """Return the building that an order's JSON value describes, resolved against the plant catalog.

    Lengths become whole nanometres, each sloped or turned one rounded once. Raises InputError with every fault.
    """
    if isinstance(data, dict) and unit_of(data) is None:
        raise InputError(*_without_unit(data, plant))
    faults = FaultCollector()
    reading = Reading(parts=split_order(data, faults), plant=plant, faults=faults)
    form = len(faults.found)
    if exceeds_order_limits(reading):
        _raise_found(faults.found, form)
    choose_from_catalog(reading)
    check_outlines(reading)
    note_shared_names(reading)
    read_levels(reading)
    read_roofs(reading)
    note_overlapping_planes(reading)
    resolve_planes(reading)
    make_wall_tops(reading)
    read_openings(reading)
    read_furring(reading)
    note_too_tall_walls(reading)
    bearing = read_bearing_walls(reading)
    measured = read_measured_anchors(reading)
    start = read_start_corner(reading)
    deliveries = read_deliveries(reading)
    _revision_faults(reading)
    _letter_faults(reading)
    _raise_found(faults.found, form)
    return _building(reading, bearing, measured, start, deliveries)


def _without_unit(data: dict[str, Any], plant: Plant) -> list[FieldFault]:
    """Return the faults of an order that states no unit: that one, and all that hold whichever it is."""
    try:
        decode(Order, data, name="$")
        found = []
    except InputError as error:
        found = [fault for fault in error.faults if fault.path == "unit"]
    told: list[list[FieldFault]] = []
    for unit in ("mm", "in"):
        stated = copy(data)
        stated["unit"] = unit
        try:
            read_order(stated, plant)
            told.append([])
        except InputError as error:
            told.append(list(error.faults))
    either = {(fault.path, fault.problem) for fault in told[1]}
    return found + [fault for fault in told[0] if (fault.path, fault.problem) in either]


def _revision_faults(reading: Reading) -> None:
    order = reading.parts.whole
    if order is not None and order.replaces is not None and order.replaces >= order.revision:
        problem = f"revision {order.revision} can't replace revision {order.replaces}"
        reading.faults.add("replaces", problem, f"a revision before {order.revision}")


def _letter_faults(reading: Reading) -> None:
    """Note what the packing list could not say of where the order goes; all other texts are ids or the catalog's."""
    order = reading.parts.whole
    if order is None:
        return
    to = order.site.ship_to
    for path, text in (("name", to.name), *((f"lines[{n}]", line) for n, line in enumerate(to.lines)), ("country", to.country)):
        fault = unprintable_letter_fault(f"site.ship_to.{path}", text)
        if fault is not None:
            reading.faults.add(fault.path, fault.problem, fault.fix)


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
