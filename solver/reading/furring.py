"""Furring on the inside faces of walls: which walls it is asked for, and how far apart."""

from __future__ import annotations

from solver.domain.building import Furring
from solver.domain.order import OrderFurring
from solver.reading.draft import Reading, WallDraft


def read_furring(reading: Reading) -> None:
    """Give the walls that an order wants furred their furring; note spacings, names and walls that cannot be."""
    said: dict[str, str] = {}
    for n, item in enumerate(reading.parts.furring):
        if item is None:
            continue
        path = f"furring[{n}]"
        spacings = reading.plant.furring.spacings_nm
        if item.spacing_nm not in spacings:
            known = ", ".join(reading.show(spacing) for spacing in spacings)
            reading.faults.add(f"{path}.spacing", f"{reading.show(item.spacing_nm)} is no spacing here", f"one of {known}")
        if not any(profile.use == "furring" for profile in reading.plant.profiles):
            reading.faults.add(path, "the plant has no furring", "a furring profile in the catalog")
        for wall, where in _walls(reading, item, path):
            if wall.id in said:
                reading.faults.add(where, f"{wall.id} is furred twice, first at {said[wall.id]}", "each wall once")
            said.setdefault(wall.id, where)
            wall.furring = Furring(spacing_nm=item.spacing_nm, runs=item.runs)


def _walls(reading: Reading, item: OrderFurring, path: str) -> list[tuple[WallDraft, str]]:
    """The walls that are named, each with the path of its name."""
    if item.on is None:
        return [(wall, path) for wall in reading.walls]
    found = []
    for n, name in enumerate(item.on):
        where = f"{path}.on[{n}]"
        held = [wall for wall in reading.walls if name in (wall.id, wall.level)]
        if not held and not reading.unread(name):
            reading.faults.add(
                where, f"{name!r} is no level or wall of this order", "a level such as L1 or a wall such as L1.S"
            )
        found += [(wall, where) for wall in held]
    return found
