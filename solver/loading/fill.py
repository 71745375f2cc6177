"""Trucks filled in reverse order of need: each bundle to the place that wastes least, by a taste that the search varies."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass

from solver.domain.load import Deck, LoadBundle, LoadRules
from solver.loading.place import Spot, Truck, spots_for


@dataclass(frozen=True, slots=True)
class Taste:
    """What a place costs, in thousandths: length left over on top, deck begun, distance from the front, from the deep side."""

    top: int
    floor: int
    front: int
    deep: int
    high: int = 0  # height left over it, where it goes on another
    even: int = 0  # weight left and right of the deck's middle
    skip: int = 0  # how often, of a thousand, a bundle passes a truck by
    centred: bool = False


SECTION = Taste(top=1000, floor=200, front=2000, deep=50)
LANE = Taste(top=1000, floor=200, front=100, deep=1000)
TIGHT = Taste(top=1000, floor=500, front=2000, deep=100)
CENTRED = Taste(top=1000, floor=200, front=1000, deep=0, centred=True)
FLAT = Taste(top=5000, floor=0, front=1000, deep=100)
EVEN = Taste(top=1000, floor=200, front=2000, deep=50, even=8000)
TASTES = (SECTION, LANE, TIGHT, FLAT, EVEN, CENTRED)


def random_taste(dice: random.Random, *, skip: bool = True) -> Taste:
    """Return another taste, from the search's own dice; without `skip` it passes no truck by."""
    return Taste(
        top=dice.choice((300, 1000, 3000)),
        floor=dice.choice((50, 150, 300, 600)),
        front=dice.choice((50, 300, 1000, 3000)),
        deep=dice.choice((20, 100, 500, 1000)),
        skip=dice.choice((0, 0, 30, 100, 200)) if skip else 0,
        high=dice.choice((0, 200, 600, 1500)),
        even=dice.choice((0, 1000, 4000, 16000)),
    )


def _cost(spot: Spot, truck: Truck, taste: Taste) -> int:
    deck = truck.deck
    if spot.under >= 0:
        left_over = taste.top * max(0, truck.spots[spot.under].x1 - spot.x1) // deck.length_nm
        room = truck.rules.height_limit_nm - deck.height_nm
        return left_over + taste.high * (room - spot.z1) // room + _uneven(spot, truck, taste)
    left, right = spot.y, deck.width_nm - spot.y1
    sides = truck.rules.unload_from
    if "left" in sides and "right" not in sides:
        deep = right
    elif "right" in sides and "left" not in sides:
        deep = left
    else:
        deep = min(left, right)
    begun = taste.floor + taste.front * spot.x // deck.length_nm + taste.deep * max(0, deep) // deck.width_nm
    return begun + _uneven(spot, truck, taste)


def _uneven(spot: Spot, truck: Truck, taste: Taste) -> int:
    """Return what it costs that a place leaves the weight off the deck's middle."""
    if not taste.even:
        return 0
    off = truck.moment_twice + spot.bundle.weight_g * (spot.y + spot.y1 - truck.deck.width_nm)
    return taste.even * abs(off) // (truck.deck.payload_g * truck.deck.width_nm)


def put(truck: Truck, bundle: LoadBundle, taste: Taste) -> bool:
    """Put a bundle in the place on the truck that costs least, and return whether there is one."""
    best: Spot | None = None
    least = 0
    for spot in spots_for(truck, bundle, centred=taste.centred):
        cost = _cost(spot, truck, taste)
        if best is None or cost < least:
            best, least = spot, cost
    if best is None:
        return False
    truck.add(best)
    return True


def packed(bundles: Sequence[LoadBundle], deck: Deck, rules: LoadRules, width_nm: int, taste: Taste) -> Truck | None:
    """Return one truck with all the bundles, given in reverse order of need; None where this taste finds no way."""
    truck = Truck(deck, rules, width_nm)
    return truck if all(put(truck, bundle, taste) for bundle in bundles) else None


def filled(
    bundles: Sequence[LoadBundle],
    deck: Deck,
    rules: LoadRules,
    width_nm: int,
    taste: Taste,
    dice: random.Random,
    *,
    most: int,
) -> list[list[LoadBundle]] | None:
    """Return the bundles of each truck by first fit, in reverse order of need; None where over `most` trucks are needed."""
    trucks: list[Truck] = []
    for bundle in bundles:
        for truck in trucks:
            if taste.skip and dice.randrange(1000) < taste.skip:
                continue
            if put(truck, bundle, taste):
                break
        else:
            if len(trucks) == most:
                return None
            trucks.append(Truck(deck, rules, width_nm))
            if not put(trucks[-1], bundle, taste):
                return None
    return [[spot.bundle for spot in truck.spots] for truck in trucks]


def held_ppm(bundle: LoadBundle, deck: Deck, rules: LoadRules, width_nm: int) -> int:
    """Return how much of a truck a bundle takes, in millionths, by its weight or its volume, whichever is more."""
    room = deck.length_nm * width_nm * (rules.height_limit_nm - deck.height_nm)
    volume = bundle.length_nm * bundle.width_nm * bundle.height_nm
    return max(1_000_000 * volume // room, 1_000_000 * bundle.weight_g // deck.payload_g)
