"""What a place for a bundle costs, as a taste that the search varies: the cheapest place is taken."""

from __future__ import annotations

import random
from dataclasses import astuple, dataclass

from solver.domain.load import Deck, LoadBundle, LoadRules


@dataclass(frozen=True, slots=True)
class PlacementWeights:
    """What a place costs, in thousandths; fields in the order in which the compiled loops (`spots`) read them.

    On another: `top`, length left over on it; `high`, height left over it; `low`, the height of its own top. On the deck:
    `floor`, that it is begun; `front`, distance from the front; `deep`, from the side it is reached by. On both: `even`,
    weight off the middle.
    """

    top: int
    floor: int
    front: int
    deep: int
    even: int = 0
    high: int = 0
    low: int = 0
    centred: bool = False  # on the deck's middle only
    skip: int = 0  # how often, of a thousand, a bundle passes a truck by


SECTION = PlacementWeights(top=1000, floor=200, front=2000, deep=50)
LANE = PlacementWeights(top=1000, floor=200, front=100, deep=1000)
TIGHT = PlacementWeights(top=1000, floor=500, front=2000, deep=100)
CENTRED = PlacementWeights(top=1000, floor=200, front=1000, deep=0, centred=True)
FLAT = PlacementWeights(top=5000, floor=0, front=1000, deep=100)
EVEN = PlacementWeights(top=1000, floor=200, front=2000, deep=50, even=8000)
PLACEMENT_WEIGHTS = (SECTION, LANE, TIGHT, FLAT, EVEN, CENTRED)
SPREAD = PlacementWeights(top=1000, floor=0, front=100, deep=100, low=20_000)
LEVEL = PlacementWeights(top=1000, floor=0, front=1000, deep=50, low=4_000, even=4_000)
LOW_PLACEMENT_WEIGHTS = (SPREAD, LEVEL)  # the deck before any bundle, then the lowest


def random_weights(dice: random.Random, *, skip: bool = True) -> PlacementWeights:
    """Return another taste, from the search's own dice; without `skip` it passes no truck by."""
    return PlacementWeights(
        top=dice.choice((300, 1000, 3000)),
        floor=dice.choice((50, 150, 300, 600)),
        front=dice.choice((50, 300, 1000, 3000)),
        deep=dice.choice((20, 100, 500, 1000)),
        skip=dice.choice((0, 0, 30, 100, 200)) if skip else 0,
        high=dice.choice((0, 200, 600, 1500)),
        even=dice.choice((0, 1000, 4000, 16000)),
    )


def weights_row(taste: PlacementWeights) -> tuple[float, ...]:
    """Return a taste as the compiled loops read it."""
    return tuple(float(number) for number in astuple(taste))


def truck_share_ppm(bundle: LoadBundle, deck: Deck, rules: LoadRules, width_nm: int) -> int:
    """Return how much of a truck a bundle takes, in millionths, by its weight or its volume, whichever is more."""
    room = deck.length_nm * width_nm * (rules.height_limit_nm - deck.height_nm)
    volume = bundle.length_nm * bundle.width_nm * bundle.height_nm
    return max(1_000_000 * volume // room, 1_000_000 * bundle.weight_g // deck.payload_g)
