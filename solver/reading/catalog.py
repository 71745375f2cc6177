"""Families and colours of an order, from the plant catalog."""

from __future__ import annotations

from typing import Literal

from solver.domain.building import Finish
from solver.domain.order import OrderFinish
from solver.domain.plant import PanelFamily
from solver.reading.draft import Reading


def choose_from_catalog(reading: Reading) -> None:
    """Fill in families, colours and the stud profile, or note what the catalog does not have."""
    families = reading.parts.families
    reading.wall_family = _family(reading, "wall", families.wall)
    reading.roof_family = _family(reading, "roof", families.roof)
    name = families.bearing or reading.plant.default_families.get("bearing", "")
    studs = [profile for profile in reading.plant.profiles if profile.use == "stud"]
    reading.stud = next((profile for profile in studs if profile.id == name), None)
    if reading.stud is None and (families.bearing or reading.parts.bearing):
        reading.faults.add("families.bearing", f"{name!r} is no stud of this plant", _one_of(p.id for p in studs))
    reading.wall_finish = _finish(reading, "wall", reading.parts.colours.wall)
    reading.roof_finish = _finish(reading, "roof", reading.parts.colours.roof)
    reading.trim = _colour(reading, "trim", "trim", reading.parts.colours.trim)


def _one_of(names: object) -> str:
    shown = ", ".join(str(name) for name in names) if hasattr(names, "__iter__") else ""
    return f"one of {shown}" if shown else "a plant catalog that has one"


def _family(reading: Reading, use: Literal["wall", "roof"], said: str | None) -> PanelFamily | None:
    name = said or reading.plant.default_families.get(use, "")
    usable = [family for family in reading.plant.families if family.use == use]
    found = next((family for family in usable if family.id == name), None)
    if found is None:
        reading.faults.add(f"families.{use}", f"{name!r} is no {use} panel of this plant", _one_of(f.id for f in usable))
    return found


def _finish(reading: Reading, use: Literal["wall", "roof"], said: OrderFinish) -> Finish:
    return Finish(
        outside=_colour(reading, f"{use}.outside", f"{use}_outside", said.outside),
        inside=_colour(reading, f"{use}.inside", f"{use}_inside", said.inside),
    )


def _colour(reading: Reading, path: str, default: str, said: str | None) -> str:
    name = said or reading.plant.default_colours.get(default, "")
    if name not in reading.plant.colours:
        reading.faults.add(f"colours.{path}", f"{name!r} is no colour of this plant", _one_of(reading.plant.colours))
    return name
