"""Buildings of walls alone, by hand: outlines, tops and openings in millimetres, on a plant of metric panels."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import cache
from typing import Any, Literal

from service.catalog import read_plant
from solver.domain.building import Building, Corner, Finish, Head, Opening, ShipTo, Wall
from solver.domain.ids import GroupId, OrderId
from solver.domain.plant import PanelFamily, Plant, Profile
from solver.units import MM, MicroDeg, Nm, isqrt_nearest


def mm(value: float) -> Nm:
    return Nm(round(value * MM))


@cache
def demo_plant() -> Plant:
    return read_plant()


def metric_plant(**changes: Any) -> Plant:
    """The demo plant with one wall family "M": cover 1200, thickness 150, no growth nor closing unless changed; a saw that
    reaches 45 degrees through it, and channels to fit."""
    plant = demo_plant()
    base = plant.family("W6")
    given: dict[str, Any] = {
        "cover_nm": mm(1200),
        "thickness_nm": mm(150),
        "narrowest_rip_nm": mm(300),
        "min_leg_nm": mm(150),
        "joint_clear_nm": mm(150),
        "joint_growth_nm": Nm(0),
        "closing_nm": Nm(0),
        "end_lap_nm": Nm(0),
        **changes,
    }
    family: PanelFamily = replace(base, id="M", **given)
    fits = [
        replace(item, id=f"{item.id}m", for_thickness_nm=family.thickness_nm, width_nm=family.thickness_nm)
        for item in plant.profiles
        if item.id in ("base-6", "cap-6", "open-6")
    ]
    profiles: tuple[Profile, ...] = (*plant.profiles, *fits)
    saw = replace(plant.saw, depth_nm=mm(212.2))
    bundle = replace(plant.bundle, spreader_length_nm=None)  # what two forks handle is the limit
    return replace(plant, families=(*plant.families, family), profiles=profiles, saw=saw, bundle=bundle)


def opening(
    name: str,
    u0: float,
    u1: float,
    z0: float,
    z1: float,
    *,
    head: Head | None = None,
    corner_with: str | None = None,
) -> Opening:
    kind: Literal["door", "window"] = "door" if z0 == 0 else "window"
    return Opening(
        id=name,
        kind=kind,
        u0_nm=mm(u0),
        u1_nm=mm(u1),
        z0_nm=mm(z0),
        z1_nm=mm(z1),
        head=head,
        corner_with=corner_with,
    )


def interior_udeg(before: tuple[float, float], at: tuple[float, float], after: tuple[float, float]) -> MicroDeg:
    back = math.atan2(before[1] - at[1], before[0] - at[0])
    on = math.atan2(after[1] - at[1], after[0] - at[0])
    return MicroDeg(round(math.degrees((back - on) % (2 * math.pi)) * 1e6))


def walls_of(
    corners: Sequence[tuple[float, float]],
    *,
    height: float = 2700,
    tops: Mapping[int, Sequence[tuple[float, float]]] = {},
    openings: Mapping[int, Sequence[Opening]] = {},
    joints: Mapping[int, tuple[str, str]] = {},
    family: str = "M",
    level: str = "L1",
    base: float = 0,
) -> tuple[Wall, ...]:
    """Walls along corners in millimetres: wall n from corner n; `joints[n]` names the joint of the walls before and after."""
    count = len(corners)
    points = [(mm(x), mm(y)) for x, y in corners]
    ids = [GroupId(f"{level}.{n}") for n in range(count)]

    def corner(n: int, neighbour: int, joint: str) -> Corner:
        angle = interior_udeg(corners[n - 1], corners[n], corners[(n + 1) % count])
        return Corner(id=f"c{n}", neighbour=ids[neighbour], interior_udeg=angle, joint=joint)  # type: ignore[arg-type]

    walls = []
    for n in range(count):
        a, b = points[n], points[(n + 1) % count]
        length = Nm(isqrt_nearest((b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2))
        top = tuple((mm(u), mm(z)) for u, z in tops[n]) if n in tops else ((Nm(0), mm(height)), (length, mm(height)))
        after = (n + 1) % count
        walls.append(
            Wall(
                id=ids[n],
                level=level,
                a=a,
                b=b,
                length_nm=length,
                base_z_nm=mm(base),
                top=top,
                left=corner(n, (n - 1) % count, joints.get(n, ("mitred", "mitred"))[1]),
                right=corner(after, after, joints.get(after, ("mitred", "mitred"))[0]),
                family=family,
                finish=Finish(outside="birch", inside="white"),
                openings=tuple(openings.get(n, ())),
                on_slab=base == 0,
            )
        )
    return tuple(walls)


def building_of(walls: Sequence[Wall], **changes: Any) -> Building:
    building = Building(
        order=OrderId("test-1"),
        revision=1,
        replaces=None,
        unit="mm",
        walls=tuple(walls),
        roof=(),
        bearing=(),
        start_corner="c0",
        direction="ccw",
        trim_colour="slate",
        anchor_holes="template",
        measured=(),
        deliveries=(),
        ship_to=ShipTo(name="Plot", lines=(), country="US"),
        unload_from=("left",),
    )
    return replace(building, **changes)


def box(width: float, depth: float) -> list[tuple[float, float]]:
    return [(0, 0), (width, 0), (width, depth), (0, depth)]
