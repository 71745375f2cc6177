"""One truck's load made to stand lower, in compiled loops: fewest tiers, the lowest top, the lowest centre of mass."""

from __future__ import annotations

from math import log
from typing import Any

import numpy as np

from solver.jit import jit_compiled
from solver.loading.placement_loops import D_ROOM, FIELDS, GRAMS, HIGH, LOW, PLACES, TASTE, UNDER, UP, Z
from solver.loading.ruin_recreate import law_violation, mutate_weights, refill_trucks, ruin_trucks
from solver.random_numbers import random_fraction

Array = Any
TIER, TOP_NM, CENTRE = 2.0, 3.0, 6.0  # what a tier, the top and the centre of mass, as shares of the room, count in the search


@jit_compiled
def standing_heights(bundles: Array, places: Array, on: Array, start: int, end: int, out: Array) -> None:
    """Leave in `out` the tiers, the top above the deck, and twice the height of the centre of mass above the deck."""
    tiers, top, moment, grams = 0, 0, 0, 0
    for k in range(start, end):
        i, p = on[k] * FIELDS, on[k] * PLACES
        deep, under = 1, places[p + UNDER]
        while under >= 0:
            deep, under = deep + 1, places[under * PLACES + UNDER]
        tiers = max(tiers, deep)
        top = max(top, places[p + Z] + bundles[i + HIGH])
        moment += bundles[i + GRAMS] * (2 * places[p + Z] + bundles[i + UP])
        grams += bundles[i + GRAMS]
    out[0], out[1], out[2] = tiers, top, moment // max(1, grams)


@jit_compiled
def stands_lower(one: Array, other: Array) -> bool:
    """Return whether one way to stand comes before the other."""
    for part in range(3):
        if one[part] != other[part]:
            return bool(one[part] < other[part])
    return False


@jit_compiled
def lower_one_truck(
    bundles: Array,
    places: Array,
    on: Array,
    ends: Array,
    deck: Array,
    laws: Array,
    permille: float,
    best: Array,
    best_s: Array,
    best_on: Array,
    heat: float,
    times: int,
    seed: Array,
) -> None:
    """Ruin and recreate one lawful truck so many times; leave the lowest way met in `best`, `best_s` and `best_on`."""
    size = bundles.shape[0] // FIELDS
    anew, freed, taste = np.ones(1, np.int64), np.zeros(size, np.int64), np.zeros(TASTE)
    now, s_old, on_old = np.zeros(3, np.int64), places.copy(), on.copy()
    room = float(deck[D_ROOM])
    standing_heights(bundles, places, on, 0, size, now)
    cost = TIER * now[0] + TOP_NM * now[1] / room + CENTRE * now[2] / (2 * room)
    for _ in range(times):
        ruin_trucks(places, anew, freed, seed)
        mutate_weights(taste, seed)
        taste[LOW] = 0.0 if random_fraction(seed) < 0.2 else 100.0 * 200 ** random_fraction(seed)
        noise = 0.0 if random_fraction(seed) < 0.3 else 3000.0 * random_fraction(seed) ** 3
        refill_trucks(bundles, places, on, ends, deck, taste, anew, freed, noise, seed)
        good = ends[0] == size and law_violation(bundles, places, on, 0, size, deck, laws, permille) == 0.0
        if good:
            standing_heights(bundles, places, on, 0, size, now)
            made = TIER * now[0] + TOP_NM * now[1] / room + CENTRE * now[2] / (2 * room)
            good = made <= cost - heat * log(random_fraction(seed))
        if good:
            cost = made
            s_old[:], on_old[:] = places, on
            if stands_lower(now, best):
                best[:], best_s[:], best_on[:] = now, places, on
        else:
            places[:], on[:] = s_old, on_old
    ends[0] = size
