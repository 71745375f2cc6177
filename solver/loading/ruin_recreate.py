"""Ruin and recreate in compiled loops: some bundles leave a few trucks, which are then filled anew, again and again.

After Schrimpf, Schneider, Stamm-Wilbrandt and Dueck (2000), Journal of Computational Physics 159: 139-171 (from memory); what
is worse is taken with a chance that falls (simulated annealing). Loops take their arrays one by one, many to a function, as
all of them read and write by place: bundles, places, the order aboard, decks, laws.
"""

from __future__ import annotations

from math import log
from typing import Any

import numpy as np

from solver.jit import jit_compiled
from solver.loading.placement_loops import (
    ACROSS,
    ALONG,
    CARRIES,
    D_LEFT,
    D_LONG,
    D_PAYLOAD,
    D_USABLE,
    D_WIDE,
    DECK,
    DEEP,
    EVEN,
    FIELDS,
    FLOOR,
    FRONT,
    GRAMS,
    HIGH_LEFT,
    LONG,
    LOW,
    NONE,
    PLACES,
    SIZE,
    SKIP,
    SPARE,
    STOP,
    TASTE,
    TOP,
    TOP_LEFT,
    TRUCK,
    UNDER,
    WIDE,
    X,
    Y,
    Z,
    choose_place,
)
from solver.random_numbers import random_fraction

Array = Any
MOST_TRUCKS = 3  # trucks filled anew at a time


@jit_compiled
def put_bundle(bundles: Array, places: Array, i: int, truck: int, out: Array) -> None:
    """Put a bundle where `out` says."""
    p = i * PLACES
    places[p + TRUCK], places[p + X], places[p + Y], places[p + Z], places[p + UNDER] = (
        truck,
        int(out[0]),
        int(out[1]),
        int(out[2]),
        int(out[3]),
    )
    places[p + TOP], places[p + SPARE] = places[p + X], bundles[i * FIELDS + CARRIES]
    under = places[p + UNDER]
    if under >= 0:
        places[under * PLACES + TOP] = places[p + X] + bundles[i * FIELDS + LONG]
    while under >= 0:
        places[under * PLACES + SPARE] -= bundles[i * FIELDS + GRAMS]
        under = places[under * PLACES + UNDER]


@jit_compiled
def add_bundle_to_truck(
    bundles: Array,
    places: Array,
    on: Array,
    ends: Array,
    decks: Array,
    grams: Array,
    twist: Array,
    i: int,
    truck: int,
    out: Array,
) -> None:
    """Put a bundle on a truck where `out` says, and count its weight and its moment about the deck's middle line."""
    put_bundle(bundles, places, i, truck, out)
    on[ends[truck]] = i
    ends[truck] += 1
    grams[truck] += bundles[i * FIELDS + GRAMS]
    off = 2 * places[i * PLACES + Y] + bundles[i * FIELDS + ACROSS] - decks[truck * DECK + D_WIDE]
    twist[truck] += float(bundles[i * FIELDS + GRAMS]) * off


@jit_compiled
def first_fit_trucks(
    bundles: Array, places: Array, on: Array, ends: Array, decks: Array, taste: Array, seed: Array, only_last: bool
) -> int:
    """Put each bundle on the first truck with a place for it; return how many trucks that takes, 0 where there are too few.

    `only_last`: on the last truck begun, or a new one, so that each truck carries a run of the order of need. What `taste`
    says of SKIP: how often, of a thousand, a bundle passes a truck by.
    """
    size, trucks = bundles.shape[0] // FIELDS, ends.shape[0]
    grams, twist, out = np.zeros(trucks), np.zeros(trucks), np.zeros(5)
    for truck in range(trucks):
        ends[truck] = truck * size
    for i in range(size):
        places[i * PLACES + TRUCK] = -1
    used = 0
    for i in range(size):
        for truck in range(max(0, used - 1) if only_last else 0, min(trucks, used + 1)):
            if truck < used and taste[SKIP] > 0 and 1000 * random_fraction(seed) < taste[SKIP]:
                continue
            if grams[truck] + bundles[i * FIELDS + GRAMS] > decks[truck * DECK + D_PAYLOAD]:
                continue
            deck = decks[truck * DECK : truck * DECK + DECK]
            choose_place(bundles, places, on, truck * size, ends[truck], deck, taste, twist[truck], i, -2, out)
            if out[4] < NONE:
                add_bundle_to_truck(bundles, places, on, ends, decks, grams, twist, i, truck, out)
                used = max(used, truck + 1)
                break
        if places[i * PLACES + TRUCK] < 0:
            return 0
    return used


@jit_compiled
def refill_trucks(
    bundles: Array,
    places: Array,
    on: Array,
    ends: Array,
    decks: Array,
    taste: Array,
    anew: Array,
    freed: Array,
    noise: float,
    seed: Array,
) -> None:
    """Fill the trucks marked `anew` in order of loading; what is not freed stays on what it stood on where it can.

    on, ends: the bundles on each truck in order of loading, a row of as many places as there are bundles each.
    """
    size, trucks = freed.shape[0], ends.shape[0]
    grams, twist = np.zeros(trucks), np.zeros(trucks)
    out, best = np.zeros(5), np.zeros(5)
    for truck in range(trucks):
        if anew[truck] > 0:
            ends[truck] = truck * size
    for i in range(size):
        p = i * PLACES
        home = places[p + TRUCK]
        if home >= 0 and anew[home] == 0:
            continue
        under, goes = -2, -1
        best[4] = NONE
        if home >= 0 and freed[i] == 0:
            under = places[p + UNDER]
            if under >= 0 and places[under * PLACES + TRUCK] != home:
                under = -2
            if grams[home] + bundles[i * FIELDS + GRAMS] <= decks[home * DECK + D_PAYLOAD]:
                deck = decks[home * DECK : home * DECK + DECK]
                choose_place(bundles, places, on, home * size, ends[home], deck, taste, twist[home], i, under, best)
                goes = home
        if best[4] >= NONE:
            for truck in range(trucks):
                if anew[truck] == 0 or grams[truck] + bundles[i * FIELDS + GRAMS] > decks[truck * DECK + D_PAYLOAD]:
                    continue
                deck = decks[truck * DECK : truck * DECK + DECK]
                choose_place(bundles, places, on, truck * size, ends[truck], deck, taste, twist[truck], i, -2, out)
                if out[4] < NONE:
                    out[4] += noise * random_fraction(seed)
                    if out[4] < best[4]:
                        for part in range(5):
                            best[part] = out[part]
                        goes = truck
        if best[4] >= NONE:
            places[p + TRUCK] = -1
            continue
        add_bundle_to_truck(bundles, places, on, ends, decks, grams, twist, i, goes, best)


@jit_compiled
def law_violation(
    bundles: Array, places: Array, on: Array, start: int, end: int, decks: Array, laws: Array, permille: float
) -> float:
    """Return by how much a truck breaks the balance and the axles' limits in the best slide: 0 where it breaks none.

    laws: rows of (per gram, per gram x nanometre, at most), flat; judged at departure and whenever a stop is done.
    """
    if start == end:
        return 0.0
    front, back, low, high = 1 << 60, 0, 1 << 60, 0
    grams, moment, twist = 0.0, 0.0, 0.0
    for k in range(start, end):
        j, p = on[k] * FIELDS, on[k] * PLACES
        front, back = min(front, places[p + X]), max(back, places[p + X] + bundles[j + LONG])
        low, high = min(low, places[p + Y]), max(high, places[p + Y] + bundles[j + WIDE])
        twist += float(bundles[j + GRAMS]) * (2 * places[p + Y] + bundles[j + ACROSS] - decks[D_WIDE])
    least, most = -float(front), float(decks[D_LONG] - back)
    broken = 0.0
    for k in range(start, end):
        j, p = on[k] * FIELDS, on[k] * PLACES
        grams += bundles[j + GRAMS]
        moment += float(bundles[j + GRAMS]) * (2 * places[p + X] + bundles[j + ALONG]) / 2
        if k + 1 < end and bundles[on[k + 1] * FIELDS + STOP] == bundles[j + STOP]:
            continue
        for row in range(0, laws.shape[0], 3):
            left = laws[row + 2] - laws[row] * grams - laws[row + 1] * moment
            slope = laws[row + 1] * grams
            if slope > 1e-9:
                most = min(most, left / slope)
            elif slope < -1e-9:
                least = max(least, left / slope)
            elif left < 0:
                broken += 1.0
    broken += max(0.0, least - most) / decks[D_LONG]
    off = twist / (2 * grams)  # of the middle; a slide to the right adds to it
    slide_low, slide_high = float(decks[D_LEFT] - low), float(decks[D_LEFT] + decks[D_USABLE] - high)
    slide = min(max(-off, slide_low), slide_high)
    return float(broken + max(0.0, abs(off + slide) / decks[D_WIDE] - permille / 1000))


@jit_compiled
def mutate_weights(taste: Array, seed: Array) -> None:
    """Leave another taste by chance."""
    taste[TOP_LEFT] = 300.0 * 10 ** random_fraction(seed)
    taste[FLOOR] = 50.0 * 12 ** random_fraction(seed)
    taste[FRONT] = 50.0 * 60 ** random_fraction(seed)
    taste[DEEP] = 20.0 * 50 ** random_fraction(seed)
    taste[EVEN] = 0.0 if random_fraction(seed) < 0.3 else 1000.0 * 16 ** random_fraction(seed)
    taste[HIGH_LEFT] = 0.0 if random_fraction(seed) < 0.3 else 1500.0 * random_fraction(seed)
    taste[LOW] = 0.0


@jit_compiled
def anneal_loads(
    bundles: Array,
    places: Array,
    on: Array,
    ends: Array,
    decks: Array,
    laws: Array,
    starts: Array,
    permille: float,
    worst: Array,
    heat: float,
    times: int,
    weight: float,
    seed: Array,
) -> float:
    """Ruin and recreate so many times from the places in `places`; return the cost of what is left there, 0 when all is aboard.

    Cost: the sizes of what is on no truck, and what trucks break of the law (`worst`, by truck) times `weight`.
    """
    size, trucks = bundles.shape[0] // FIELDS, ends.shape[0]
    anew, freed = np.zeros(trucks, np.int64), np.zeros(size, np.int64)
    taste = np.zeros(TASTE)
    s_old, on_old, ends_old, worst_old = places.copy(), on.copy(), ends.copy(), worst.copy()
    cost = unloaded_penalty(bundles, places, worst, weight)
    for _ in range(times):
        if cost == 0.0:
            break
        anew[:] = 0
        for _ in range(1 + int(random_fraction(seed) * min(trucks, MOST_TRUCKS))):
            anew[int(random_fraction(seed) * trucks)] = 1
        ruin_trucks(places, anew, freed, seed)
        mutate_weights(taste, seed)
        noise = 0.0 if random_fraction(seed) < 0.3 else 3000.0 * random_fraction(seed) ** 3
        refill_trucks(bundles, places, on, ends, decks, taste, anew, freed, noise, seed)
        for truck in range(trucks):
            if anew[truck] > 0:
                deck, own = decks[truck * DECK : truck * DECK + DECK], laws[starts[truck] : starts[truck + 1]]
                worst[truck] = law_violation(bundles, places, on, truck * size, ends[truck], deck, own, permille)
        now = unloaded_penalty(bundles, places, worst, weight)
        if now <= cost - heat * log(random_fraction(seed)):
            cost = now
            s_old[:], on_old[:], ends_old[:], worst_old[:] = places, on, ends, worst
        else:
            places[:], on[:], ends[:], worst[:] = s_old, on_old, ends_old, worst_old
    return cost


@jit_compiled
def unloaded_penalty(bundles: Array, places: Array, worst: Array, weight: float) -> float:
    """Return the sizes of what is on no truck, and what the trucks break of the law."""
    cost = weight * worst.sum()
    for i in range(bundles.shape[0] // FIELDS):
        if places[i * PLACES + TRUCK] < 0:
            cost += bundles[i * FIELDS + SIZE]
    return float(cost)


@jit_compiled
def ruin_trucks(places: Array, anew: Array, freed: Array, seed: Array) -> None:
    """Free some bundles of the trucks that are filled anew: by chance each, or a run of the order of loading."""
    size = freed.shape[0]
    share = 0.5 * random_fraction(seed) ** 2
    run = random_fraction(seed) < 0.5
    first = int(random_fraction(seed) * size)
    last = first + 1 + int(random_fraction(seed) * 0.3 * size)
    for i in range(size):
        freed[i] = 0
        if places[i * PLACES + TRUCK] >= 0 and anew[places[i * PLACES + TRUCK]] > 0:
            if run:
                freed[i] = 1 if first <= i < last and random_fraction(seed) < 0.7 else 0
            else:
                freed[i] = 1 if random_fraction(seed) < share else 0
