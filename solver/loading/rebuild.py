"""Ruin and recreate in compiled loops: some bundles leave a few trucks, which are then filled anew, again and again.

After Schrimpf, Schneider, Stamm-Wilbrandt and Dueck (2000), Journal of Computational Physics 159: 139-171 (from memory); what
is worse is taken with a chance that falls (simulated annealing).
"""

from __future__ import annotations

from math import log
from typing import Any

import numpy as np

from solver.jit import compiled
from solver.loading.spots import (
    ACROSS,
    ALONG,
    CARRIES,
    D_LEFT,
    D_LONG,
    D_PAYLOAD,
    D_USABLE,
    D_WIDE,
    DECK,
    FIELDS,
    GRAMS,
    LONG,
    NONE,
    PLACES,
    SIZE,
    SPARE,
    STOP,
    TOP,
    TRUCK,
    UNDER,
    WIDE,
    X,
    Y,
    Z,
    choose,
)

Array = Any
MOST_TRUCKS = 3  # trucks filled anew at a time


@compiled
def dice(seed: Array) -> float:
    """Return a number from 0 to 1 by a Lehmer generator: the same with and without compiling."""
    seed[0] = seed[0] * 48271 % 2147483647
    return float(seed[0] / 2147483647.0)


@compiled
def place(b: Array, s: Array, i: int, truck: int, out: Array) -> None:
    """Put a bundle where `out` says."""
    p = i * PLACES
    s[p + TRUCK], s[p + X], s[p + Y], s[p + Z], s[p + UNDER] = truck, int(out[0]), int(out[1]), int(out[2]), int(out[3])
    s[p + TOP], s[p + SPARE] = s[p + X], b[i * FIELDS + CARRIES]
    under = s[p + UNDER]
    if under >= 0:
        s[under * PLACES + TOP] = s[p + X] + b[i * FIELDS + LONG]
    while under >= 0:
        s[under * PLACES + SPARE] -= b[i * FIELDS + GRAMS]
        under = s[under * PLACES + UNDER]


@compiled
def refill(
    b: Array, s: Array, on: Array, ends: Array, d: Array, taste: Array, anew: Array, freed: Array, noise: float, seed: Array
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
        home = s[p + TRUCK]
        if home >= 0 and anew[home] == 0:
            continue
        under, goes = -2, -1
        best[4] = NONE
        if home >= 0 and freed[i] == 0:
            under = s[p + UNDER]
            if under >= 0 and s[under * PLACES + TRUCK] != home:
                under = -2
            if grams[home] + b[i * FIELDS + GRAMS] <= d[home * DECK + D_PAYLOAD]:
                deck = d[home * DECK : home * DECK + DECK]
                choose(b, s, on, home * size, ends[home], deck, taste, twist[home], i, under, best)
                goes = home
        if best[4] >= NONE:
            for truck in range(trucks):
                if anew[truck] == 0 or grams[truck] + b[i * FIELDS + GRAMS] > d[truck * DECK + D_PAYLOAD]:
                    continue
                deck = d[truck * DECK : truck * DECK + DECK]
                choose(b, s, on, truck * size, ends[truck], deck, taste, twist[truck], i, -2, out)
                if out[4] < NONE:
                    out[4] += noise * dice(seed)
                    if out[4] < best[4]:
                        for part in range(5):
                            best[part] = out[part]
                        goes = truck
        if best[4] >= NONE:
            s[p + TRUCK] = -1
            continue
        place(b, s, i, goes, best)
        on[ends[goes]] = i
        ends[goes] += 1
        grams[goes] += b[i * FIELDS + GRAMS]
        twist[goes] += float(b[i * FIELDS + GRAMS]) * (2 * s[p + Y] + b[i * FIELDS + ACROSS] - d[goes * DECK + D_WIDE])


@compiled
def unlawful(b: Array, s: Array, on: Array, start: int, end: int, d: Array, laws: Array, permille: float) -> float:
    """Return by how much a truck breaks the balance and the axles' limits in the best slide: 0 where it breaks none.

    laws: rows of (per gram, per gram x nanometre, at most), flat; judged at departure and whenever a stop is done.
    """
    if start == end:
        return 0.0
    front, back, low, high = 1 << 60, 0, 1 << 60, 0
    grams, moment, twist = 0.0, 0.0, 0.0
    for k in range(start, end):
        j, p = on[k] * FIELDS, on[k] * PLACES
        front, back = min(front, s[p + X]), max(back, s[p + X] + b[j + LONG])
        low, high = min(low, s[p + Y]), max(high, s[p + Y] + b[j + WIDE])
        twist += float(b[j + GRAMS]) * (2 * s[p + Y] + b[j + ACROSS] - d[D_WIDE])
    least, most = -float(front), float(d[D_LONG] - back)
    broken = 0.0
    for k in range(start, end):
        j, p = on[k] * FIELDS, on[k] * PLACES
        grams += b[j + GRAMS]
        moment += float(b[j + GRAMS]) * (2 * s[p + X] + b[j + ALONG]) / 2
        if k + 1 < end and b[on[k + 1] * FIELDS + STOP] == b[j + STOP]:
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
    broken += max(0.0, least - most) / d[D_LONG]
    off = twist / (2 * grams)  # of the middle; a slide to the right adds to it
    slide_low, slide_high = float(d[D_LEFT] - low), float(d[D_LEFT] + d[D_USABLE] - high)
    slide = min(max(-off, slide_low), slide_high)
    return float(broken + max(0.0, abs(off + slide) / d[D_WIDE] - permille / 1000))


@compiled
def anneal(
    b: Array,
    s: Array,
    on: Array,
    ends: Array,
    d: Array,
    laws: Array,
    starts: Array,
    permille: float,
    worst: Array,
    heat: float,
    times: int,
    weight: float,
    seed: Array,
) -> float:
    """Ruin and recreate so many times from the places in `s`; return the cost of what is left there, 0 when all is aboard.

    Cost: the sizes of what is on no truck, and what trucks break of the law (`worst`, by truck) times `weight`.
    """
    size, trucks = b.shape[0] // FIELDS, ends.shape[0]
    anew, freed = np.zeros(trucks, np.int64), np.zeros(size, np.int64)
    taste = np.zeros(6)
    s_old, on_old, ends_old, worst_old = s.copy(), on.copy(), ends.copy(), worst.copy()
    cost = left_over(b, s, worst, weight)
    for _ in range(times):
        if cost == 0.0:
            break
        anew[:] = 0
        for _ in range(1 + int(dice(seed) * min(trucks, MOST_TRUCKS))):
            anew[int(dice(seed) * trucks)] = 1
        ruin(s, anew, freed, seed)
        taste[0] = 300.0 * 10 ** dice(seed)
        taste[1] = 50.0 * 12 ** dice(seed)
        taste[2] = 50.0 * 60 ** dice(seed)
        taste[3] = 20.0 * 50 ** dice(seed)
        taste[4] = 0.0 if dice(seed) < 0.3 else 1000.0 * 16 ** dice(seed)
        taste[5] = 0.0 if dice(seed) < 0.3 else 1500.0 * dice(seed)
        noise = 0.0 if dice(seed) < 0.3 else 3000.0 * dice(seed) ** 3
        refill(b, s, on, ends, d, taste, anew, freed, noise, seed)
        for truck in range(trucks):
            if anew[truck] > 0:
                deck, own = d[truck * DECK : truck * DECK + DECK], laws[starts[truck] : starts[truck + 1]]
                worst[truck] = unlawful(b, s, on, truck * size, ends[truck], deck, own, permille)
        now = left_over(b, s, worst, weight)
        if now <= cost - heat * log(dice(seed)):
            cost = now
            s_old[:], on_old[:], ends_old[:], worst_old[:] = s, on, ends, worst
        else:
            s[:], on[:], ends[:], worst[:] = s_old, on_old, ends_old, worst_old
    return cost


@compiled
def left_over(b: Array, s: Array, worst: Array, weight: float) -> float:
    """Return the sizes of what is on no truck, and what the trucks break of the law."""
    cost = weight * worst.sum()
    for i in range(b.shape[0] // FIELDS):
        if s[i * PLACES + TRUCK] < 0:
            cost += b[i * FIELDS + SIZE]
    return float(cost)


@compiled
def ruin(s: Array, anew: Array, freed: Array, seed: Array) -> None:
    """Free some bundles of the trucks that are filled anew: by chance each, or a run of the order of loading."""
    size = freed.shape[0]
    share = 0.5 * dice(seed) ** 2
    run = dice(seed) < 0.5
    first = int(dice(seed) * size)
    last = first + 1 + int(dice(seed) * 0.3 * size)
    for i in range(size):
        freed[i] = 0
        if s[i * PLACES + TRUCK] >= 0 and anew[s[i * PLACES + TRUCK]] > 0:
            if run:
                freed[i] = 1 if first <= i < last and dice(seed) < 0.7 else 0
            else:
                freed[i] = 1 if dice(seed) < share else 0
