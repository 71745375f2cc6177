"""Places for bundles in compiled loops, on plain arrays: the rules of placed.py, for a search that fills thousands of trucks.

A bundle is FIELDS numbers of one array, its place PLACES of another; bundles are numbered in order of loading, the last
wanted first. What the loops find is placed again by placed.py's own nouns and judged exactly before it is believed.
"""

from __future__ import annotations

from typing import Any

from solver.jit import jit_compiled

Array = Any

LONG, WIDE, HIGH, GRAMS, CARRIES, FIRST, LAST, ALONG, ACROSS, UP, STOP, SIZE = range(
    12
)  # of a bundle; ALONG, ACROSS, UP: twice the centre
FIELDS = 12
TRUCK, UNDER, X, Y, Z, TOP, SPARE = range(7)  # of a place; TRUCK -1: none; UNDER -1: the deck
PLACES = 7
D_LONG, D_WIDE, D_LEFT, D_USABLE, D_ROOM, D_PAYLOAD, D_SIDE, D_GAP, FROM_LEFT, FROM_RIGHT, FROM_REAR = range(11)  # of a deck
DECK = 11
TOP_LEFT, FLOOR, FRONT, DEEP, EVEN, HIGH_LEFT, LOW, CENTRED, SKIP = range(9)  # of a taste: what a place costs, in thousandths
TASTE = 9
NONE = 1e30  # the cost of no place at all
KEPT = 1e6  # what a bundle gains by staying on what it stood on


@jit_compiled
def is_place_free(
    bundles: Array, places: Array, on: Array, start: int, end: int, deck: Array, i: int, x: int, y: int, z: int
) -> bool:
    """Return whether a place is empty, with nothing above it, and one side or the rear to come off by."""
    left, right, rear = deck[FROM_LEFT] > 0, deck[FROM_RIGHT] > 0, deck[FROM_REAR] > 0
    x1, y1 = x + bundles[i * FIELDS + LONG], y + bundles[i * FIELDS + WIDE]
    for k in range(start, end):
        j, p = on[k] * FIELDS, on[k] * PLACES
        if places[p + Z] + bundles[j + HIGH] <= z:
            continue
        along = places[p + X] < x1 and x < places[p + X] + bundles[j + LONG]
        if places[p + Y] < y1 and y < places[p + Y] + bundles[j + WIDE]:
            if along:
                return False
            if places[p + X] >= x1:
                rear = False
        elif along:
            if places[p + Y] + bundles[j + WIDE] <= y:
                left = False
            else:
                right = False
        if not (left or right or rear):
            return False
    return True


@jit_compiled
def overhangs_other_bundles(
    bundles: Array, places: Array, on: Array, start: int, end: int, i: int, x: int, y: int, under: int
) -> bool:
    """Return whether a place on a bundle reaches over others than those that it stands on."""
    x1, y1 = x + bundles[i * FIELDS + LONG], y + bundles[i * FIELDS + WIDE]
    for k in range(start, end):
        j, p = on[k] * FIELDS, on[k] * PLACES
        if (
            places[p + X] < x1
            and x < places[p + X] + bundles[j + LONG]
            and places[p + Y] < y1
            and y < places[p + Y] + bundles[j + WIDE]
        ):
            below = under
            while below >= 0 and below != on[k]:
                below = places[below * PLACES + UNDER]
            if below < 0:
                return True
    return False


@jit_compiled
def is_supported(bundles: Array, places: Array, i: int, x: int, under: int) -> bool:
    """Return whether every bundle below bears this one's weight and reaches under its outer timbers."""
    first, last = x + bundles[i * FIELDS + FIRST], x + bundles[i * FIELDS + LAST]
    while under >= 0:
        p = under * PLACES
        if (
            places[p + SPARE] < bundles[i * FIELDS + GRAMS]
            or first < places[p + X]
            or last > places[p + X] + bundles[under * FIELDS + LONG]
        ):
            return False
        under = places[p + UNDER]
    return True


@jit_compiled
def free_from_in_lane(bundles: Array, places: Array, on: Array, start: int, end: int, y: int, y1: int) -> int:
    """Return where the deck is free behind all that stands in a lane."""
    x = 0
    for k in range(start, end):
        p = on[k] * PLACES
        if places[p + Y] < y1 and y < places[p + Y] + bundles[on[k] * FIELDS + WIDE]:
            x = max(x, places[p + X] + bundles[on[k] * FIELDS + LONG])
    return x


@jit_compiled
def imbalance_cost(bundles: Array, deck: Array, taste: Array, twist: float, i: int, y: int) -> float:
    """Return what it costs that a place leaves the weight off the deck's middle."""
    off = twist + float(bundles[i * FIELDS + GRAMS]) * (2 * y + bundles[i * FIELDS + ACROSS] - deck[D_WIDE])
    return float(taste[EVEN] * abs(off) / (float(deck[D_PAYLOAD]) * deck[D_WIDE]))


@jit_compiled
def best_place_on_deck(
    bundles: Array,
    places: Array,
    on: Array,
    start: int,
    end: int,
    deck: Array,
    taste: Array,
    twist: float,
    i: int,
    y: int,
    kept: bool,
    out: Array,
) -> float:
    """Return the cost of the place on the deck in the lane that begins at `y`; put it in `out` where it beats out[4]."""
    x = free_from_in_lane(bundles, places, on, start, end, y, y + bundles[i * FIELDS + WIDE])
    last = 0
    for k in range(start, end):
        last = max(last, places[on[k] * PLACES + X] + bundles[on[k] * FIELDS + LONG])
    for at in (x, last):  # in its lane, or behind all
        if at + bundles[i * FIELDS + LONG] <= deck[D_LONG] and is_place_free(
            bundles, places, on, start, end, deck, i, at, y, 0
        ):
            deep = min(y, deck[D_WIDE] - y - bundles[i * FIELDS + WIDE])
            if deck[FROM_LEFT] > 0 and deck[FROM_RIGHT] == 0:
                deep = deck[D_WIDE] - y - bundles[i * FIELDS + WIDE]
            elif deck[FROM_RIGHT] > 0 and deck[FROM_LEFT] == 0:
                deep = y
            cost = taste[FLOOR] + taste[FRONT] * at / deck[D_LONG] + taste[DEEP] * max(0, deep) / deck[D_WIDE]
            cost += imbalance_cost(bundles, deck, taste, twist, i, y)
            if kept:
                cost -= KEPT
            return keep_if_cheaper(out, cost, at, y, 0, -1)
    return NONE


@jit_compiled
def keep_if_cheaper(out: Array, cost: float, x: int, y: int, z: int, under: int) -> float:
    """Note a place where it costs less than the one noted; return its cost."""
    if cost < out[4]:
        out[0], out[1], out[2], out[3], out[4] = x, y, z, under, cost
    return cost


@jit_compiled
def place_on_bundle(
    bundles: Array,
    places: Array,
    on: Array,
    start: int,
    end: int,
    deck: Array,
    taste: Array,
    twist: float,
    i: int,
    j: int,
    kept: bool,
    out: Array,
) -> None:
    """Put the place of bundle i on bundle j in `out` where it may lie there and beats out[4]."""
    i0, j0, p = i * FIELDS, j * FIELDS, j * PLACES
    wide, left = bundles[i0 + WIDE], deck[D_LEFT]
    z = places[p + Z] + bundles[j0 + HIGH]
    slack = bundles[j0 + WIDE] - wide
    if z + bundles[i0 + HIGH] > deck[D_ROOM] or slack < -2 * deck[D_SIDE] or places[p + SPARE] < bundles[i0 + GRAMS]:
        return
    x, y = places[p + TOP], min(max(places[p + Y] + slack // 2, left), left + deck[D_USABLE] - wide)
    over_side = max(places[p + Y] - y, y + wide - places[p + Y] - bundles[j0 + WIDE])
    if over_side > deck[D_SIDE] or x + bundles[i0 + LONG] > deck[D_LONG] or not is_supported(bundles, places, i, x, j):
        return
    free = is_place_free(bundles, places, on, start, end, deck, i, x, y, z)
    if not free or overhangs_other_bundles(bundles, places, on, start, end, i, x, y, j):
        return
    over = max(0, places[p + X] + bundles[j0 + LONG] - x - bundles[i0 + LONG])
    top = z + bundles[i0 + HIGH]
    cost = (
        taste[TOP_LEFT] * over / deck[D_LONG]
        + taste[HIGH_LEFT] * (deck[D_ROOM] - top) / deck[D_ROOM]
        + taste[LOW] * top / deck[D_ROOM]
    )
    cost += imbalance_cost(bundles, deck, taste, twist, i, y)
    if kept:
        cost -= KEPT
    keep_if_cheaper(out, cost, x, y, z, j)


@jit_compiled
def choose_place(
    bundles: Array,
    places: Array,
    on: Array,
    start: int,
    end: int,
    deck: Array,
    taste: Array,
    twist: float,
    i: int,
    under: int,
    out: Array,
) -> None:
    """Leave the cheapest place of a bundle on one truck in `out`: x, y, z, what it stands on, cost (NONE: nowhere).

    `under` is what it stood on before and stays on if it can: a bundle of this truck, -1 its lane of the deck, -2 nothing.
    """
    out[4] = NONE
    i0 = i * FIELDS
    wide = bundles[i0 + WIDE]
    left = deck[D_LEFT]
    last = left + deck[D_USABLE] - wide
    if last < left:
        return
    old = places[i * PLACES + Y]
    if bundles[i0 + HIGH] <= deck[D_ROOM] and taste[CENTRED] > 0:
        best_place_on_deck(bundles, places, on, start, end, deck, taste, twist, i, left + (last - left) // 2, False, out)
    elif bundles[i0 + HIGH] <= deck[D_ROOM]:
        best_place_on_deck(bundles, places, on, start, end, deck, taste, twist, i, left, under == -1 and old <= left, out)
        best_place_on_deck(bundles, places, on, start, end, deck, taste, twist, i, last, under == -1 and old >= last, out)
        for k in range(start, end):
            p = on[k] * PLACES
            if places[p + UNDER] >= 0:
                continue
            for y in (places[p + Y] + bundles[on[k] * FIELDS + WIDE] + deck[D_GAP], places[p + Y] - deck[D_GAP] - wide):
                if left < y < last:
                    best_place_on_deck(bundles, places, on, start, end, deck, taste, twist, i, y, under == -1 and old == y, out)
    for k in range(start, end):
        place_on_bundle(bundles, places, on, start, end, deck, taste, twist, i, on[k], under == on[k], out)
