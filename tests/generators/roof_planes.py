"""Small roofs made by hand for tests: a plane by its own coordinates, and a building that holds planes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import cache
from typing import Any

from service.catalog import read_plant
from solver.domain.building import BearingWall, Building, Finish, Opening, RoofEdge, RoofPlane, ShipTo, Wall
from solver.domain.ids import GroupId, OrderId
from solver.domain.plant import PanelFamily, Plant
from solver.takeoff.roof_cuts import along_slope
from solver.units import MM, MicroDeg, Nm

SLATE = Finish(outside="slate", inside="white")
TAN_30 = (577_350_269_190, 10**12)


def mm(value: float) -> Nm:
    """Millimetres as nanometres."""
    return Nm(round(value * MM))


@cache
def demo_plant() -> Plant:
    """The demo plant."""
    return read_plant()


def plant_with(**changes: Any) -> Plant:
    """The demo plant, its roof family R6 changed: metric figures, no growth and no gap unless they are named."""
    plant = demo_plant()
    plain: dict[str, Any] = {"ridge_gap_nm": Nm(0), "joint_growth_nm": Nm(0)}
    family = replace(plant.family("R6"), **(plain | changes))
    others = tuple(item for item in plant.families if item.id != "R6")
    bundle = replace(plant.bundle, spreader_length_nm=None)  # what two forks handle is the limit
    return replace(plant, families=(*others, family), bundle=bundle)


def roof_family(plant: Plant) -> PanelFamily:
    """The family that these roofs use."""
    return plant.family("R6")


def plane(
    outline: Iterable[tuple[float, float]],
    edges: Iterable[RoofEdge],
    *,
    rise: int = TAN_30[0],
    run: int = TAN_30[1],
    plane_id: str = "R.S",
    a: tuple[float, float] = (0, 0),
    b: tuple[float, float] = (10_000, 0),
    openings: tuple[Opening, ...] = (),
    **more: Any,
) -> RoofPlane:
    """A plane from millimetres, its y already along the slope."""
    return RoofPlane(
        id=GroupId(plane_id),
        roof="R",
        a=(mm(a[0]), mm(a[1])),
        b=(mm(b[0]), mm(b[1])),
        z_nm=mm(3000),
        rise=rise,
        run=run,
        outline=tuple((mm(x), mm(y)) for x, y in outline),
        edges=tuple(edges),
        family="R6",
        finish=SLATE,
        openings=openings,
        **more,
    )


def gable_plane(*, length: float, run_mm: float, eave: float, rake: float, plane_id: str = "R.S", **more: Any) -> RoofPlane:
    """One slope of a gable: a rectangle from eave to ridge, both rakes alike; level distances in millimetres."""
    flat = plane([(0, 0)] * 4, ("eave", "rake", "ridge", "rake"), plane_id=plane_id, **more)
    low, high = Nm(-along_slope(mm(eave), flat)), along_slope(mm(run_mm), flat)
    left, right = mm(-rake), mm(length + rake)
    return replace(flat, outline=((left, low), (right, low), (right, high), (left, high)))


def building_of(*planes: RoofPlane, walls: tuple[Wall, ...] = (), bearing: tuple[BearingWall, ...] = ()) -> Building:
    """A building that is a roof only."""
    return Building(
        order=OrderId("roof-1"),
        revision=1,
        replaces=None,
        unit="mm",
        walls=walls,
        roof=planes,
        bearing=bearing,
        start_corner="a",
        direction="ccw",
        trim_colour="slate",
        anchor_holes="as_measured",
        measured=(),
        deliveries=(),
        ship_to=ShipTo(name="Plot 4", lines=(), country="US"),
        unload_from=("left",),
    )


def support(y_mm: float, *, x0: float = -1000, x1: float = 50_000) -> BearingWall:
    """A bearing wall under a slope whose wall line runs east from the origin."""
    return BearingWall(
        id=GroupId("B1"),
        level="L1",
        a=(mm(x0), mm(y_mm)),
        b=(mm(x1), mm(y_mm)),
        length_nm=mm(x1 - x0),
        base_z_nm=Nm(0),
        top_nm=mm(4000),
        family="stud-6",
    )


def degrees(udeg: MicroDeg) -> float:
    """Degrees of a saw setting."""
    return udeg / 1_000_000
