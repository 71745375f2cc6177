"""Weight by axle group from where the cargo stands: moments about the axles (case S9).

Equations as in Krebs and Ehmke (2021), EURO Journal on Transportation and Logistics 10:100043.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from solver.domain.load import AxleGroup, Deck


@dataclass(frozen=True, slots=True)
class GroupWeight:
    """What one axle group carries; place and spread from the deck's front, rearward."""

    group: AxleGroup
    weight_g: Fraction
    axles: int
    middle_nm: int
    spread_nm: int


def group_weights(deck: Deck, cargo_g: int, moment: int | Fraction) -> tuple[GroupWeight, ...]:
    """Return the axle groups front to rear; `moment` is the sum of grams x nanometres from the deck's front.

    Empty where the deck does not say where its axles are.
    """
    if deck.axle_group_nm is None or deck.mass_nm is None:
        return ()
    front = deck.kingpin_nm if deck.front_axle_nm is None else deck.front_axle_nm
    if front is None:
        return ()
    reach = deck.axle_group_nm - front
    on_front = Fraction(cargo_g * deck.axle_group_nm - moment + deck.tare_g * (deck.axle_group_nm - deck.mass_nm), reach)
    on_rear = cargo_g + deck.tare_g - on_front
    rear = (deck.axles, deck.axle_group_nm, deck.axle_spread_nm)
    if deck.front_axle_nm is not None:
        return (GroupWeight("front", on_front, deck.front_axles, front, 0), GroupWeight("rear", on_rear, *rear))
    trailer = GroupWeight("trailer", on_rear, *rear)
    if deck.tractor is None:
        return (GroupWeight("coupling", on_front, 0, front, 0), trailer)
    tractor = deck.tractor
    steer = (on_front * tractor.kingpin_to_drive_nm + tractor.tare_g * tractor.mass_to_drive_nm) / tractor.steer_to_drive_nm
    drive = on_front + tractor.tare_g - steer
    drive_at = front + tractor.kingpin_to_drive_nm
    return (
        GroupWeight("steer", steer, 1, drive_at - tractor.steer_to_drive_nm, 0),
        GroupWeight("drive", drive, tractor.drive_axles, drive_at, tractor.drive_spread_nm),
        trailer,
    )


def axle_places(groups: tuple[GroupWeight, ...]) -> tuple[list[int], list[Fraction]]:
    """Return each axle's place and weight, front to rear; a group's axles share alike."""
    places, weights = [], []
    for group in groups:
        for axle in range(group.axles):
            offset = group.spread_nm * axle // (group.axles - 1) - group.spread_nm // 2 if group.axles > 1 else 0
            places.append(group.middle_nm + offset)
            weights.append(group.weight_g / group.axles)
    return places, weights


def vehicle_tare_g(deck: Deck) -> int:
    """Return what the empty vehicle weighs, tractor included."""
    return deck.tare_g + (deck.tractor.tare_g if deck.tractor is not None else 0)
