"""Places for bundles in compiled loops, on plain arrays: the rules of place.py, for a search that fills trucks by the thousand.

A bundle is FIELDS numbers of one array, its place PLACES of another; bundles are numbered in order of loading, the last
wanted first. What the loops find is placed again by place.py's own nouns and judged exactly before it is believed.
"""

from __future__ import annotations

from typing import Any

from solver.jit import compiled

Array = Any

LONG, WIDE, HIGH, GRAMS, CARRIES, FIRST, LAST, ALONG, ACROSS, STOP, SIZE = range(
    11
)  # of a bundle; ALONG, ACROSS: twice the centre
FIELDS = 11
TRUCK, UNDER, X, Y, Z, TOP, SPARE = range(7)  # of a place; TRUCK -1: none; UNDER -1: the deck
PLACES = 7
D_LONG, D_WIDE, D_LEFT, D_USABLE, D_ROOM, D_PAYLOAD, D_SIDE, D_GAP, FROM_LEFT, FROM_RIGHT, FROM_REAR = range(11)  # of a deck
DECK = 11
NONE = 1e30  # the cost of no place at all
KEPT = 1e6  # what a bundle gains by staying on what it stood on


@compiled
def is_free(b: Array, s: Array, on: Array, start: int, end: int, d: Array, i: int, x: int, y: int, z: int) -> bool:
    """Return whether a place is empty, with nothing above it, and one side or the rear to come off by."""
    left, right, rear = d[FROM_LEFT] > 0, d[FROM_RIGHT] > 0, d[FROM_REAR] > 0
    x1, y1 = x + b[i * FIELDS + LONG], y + b[i * FIELDS + WIDE]
    for k in range(start, end):
        j, p = on[k] * FIELDS, on[k] * PLACES
        if s[p + Z] + b[j + HIGH] <= z:
            continue
        along = s[p + X] < x1 and x < s[p + X] + b[j + LONG]
        if s[p + Y] < y1 and y < s[p + Y] + b[j + WIDE]:
            if along:
                return False
            if s[p + X] >= x1:
                rear = False
        elif along:
            if s[p + Y] + b[j + WIDE] <= y:
                left = False
            else:
                right = False
        if not (left or right or rear):
            return False
    return True


@compiled
def hovers(b: Array, s: Array, on: Array, start: int, end: int, i: int, x: int, y: int, under: int) -> bool:
    """Return whether a place on a bundle reaches over others than those that it stands on."""
    x1, y1 = x + b[i * FIELDS + LONG], y + b[i * FIELDS + WIDE]
    for k in range(start, end):
        j, p = on[k] * FIELDS, on[k] * PLACES
        if s[p + X] < x1 and x < s[p + X] + b[j + LONG] and s[p + Y] < y1 and y < s[p + Y] + b[j + WIDE]:
            below = under
            while below >= 0 and below != on[k]:
                below = s[below * PLACES + UNDER]
            if below < 0:
                return True
    return False


@compiled
def holds(b: Array, s: Array, i: int, x: int, under: int) -> bool:
    """Return whether every bundle below bears this one's weight and reaches under its outer timbers."""
    first, last = x + b[i * FIELDS + FIRST], x + b[i * FIELDS + LAST]
    while under >= 0:
        p = under * PLACES
        if s[p + SPARE] < b[i * FIELDS + GRAMS] or first < s[p + X] or last > s[p + X] + b[under * FIELDS + LONG]:
            return False
        under = s[p + UNDER]
    return True


@compiled
def behind(b: Array, s: Array, on: Array, start: int, end: int, y: int, y1: int) -> int:
    """Return where the deck is free behind all that stands in a lane."""
    x = 0
    for k in range(start, end):
        p = on[k] * PLACES
        if s[p + Y] < y1 and y < s[p + Y] + b[on[k] * FIELDS + WIDE]:
            x = max(x, s[p + X] + b[on[k] * FIELDS + LONG])
    return x


@compiled
def uneven(b: Array, d: Array, taste: Array, twist: float, i: int, y: int) -> float:
    """Return what it costs that a place leaves the weight off the deck's middle."""
    off = twist + float(b[i * FIELDS + GRAMS]) * (2 * y + b[i * FIELDS + ACROSS] - d[D_WIDE])
    return float(taste[4] * abs(off) / (float(d[D_PAYLOAD]) * d[D_WIDE]))


@compiled
def on_deck(
    b: Array,
    s: Array,
    on: Array,
    start: int,
    end: int,
    d: Array,
    taste: Array,
    twist: float,
    i: int,
    y: int,
    kept: bool,
    out: Array,
) -> float:
    """Return the cost of the place on the deck in the lane that begins at `y`; put it in `out` where it beats out[4]."""
    x = behind(b, s, on, start, end, y, y + b[i * FIELDS + WIDE])
    last = 0
    for k in range(start, end):
        last = max(last, s[on[k] * PLACES + X] + b[on[k] * FIELDS + LONG])
    for at in (x, last):  # in its lane, or behind all
        if at + b[i * FIELDS + LONG] <= d[D_LONG] and is_free(b, s, on, start, end, d, i, at, y, 0):
            deep = min(y, d[D_WIDE] - y - b[i * FIELDS + WIDE])
            if d[FROM_LEFT] > 0 and d[FROM_RIGHT] == 0:
                deep = d[D_WIDE] - y - b[i * FIELDS + WIDE]
            elif d[FROM_RIGHT] > 0 and d[FROM_LEFT] == 0:
                deep = y
            cost = taste[1] + taste[2] * at / d[D_LONG] + taste[3] * max(0, deep) / d[D_WIDE]
            cost += uneven(b, d, taste, twist, i, y)
            if kept:
                cost -= KEPT
            return take(out, cost, at, y, 0, -1)
    return NONE


@compiled
def take(out: Array, cost: float, x: int, y: int, z: int, under: int) -> float:
    """Note a place where it costs less than the one noted; return its cost."""
    if cost < out[4]:
        out[0], out[1], out[2], out[3], out[4] = x, y, z, under, cost
    return cost


@compiled
def choose(
    b: Array, s: Array, on: Array, start: int, end: int, d: Array, taste: Array, twist: float, i: int, under: int, out: Array
) -> None:
    """Leave the cheapest place of a bundle on one truck in `out`: x, y, z, what it stands on, cost (NONE: nowhere).

    `under` is what it stood on before and stays on if it can: a bundle of this truck, -1 its lane of the deck, -2 nothing.
    """
    out[4] = NONE
    i0 = i * FIELDS
    wide = b[i0 + WIDE]
    left = d[D_LEFT]
    last = left + d[D_USABLE] - wide
    if last < left:
        return
    old = s[i * PLACES + Y]
    if b[i0 + HIGH] <= d[D_ROOM]:
        on_deck(b, s, on, start, end, d, taste, twist, i, left, under == -1 and old <= left, out)
        on_deck(b, s, on, start, end, d, taste, twist, i, last, under == -1 and old >= last, out)
        for k in range(start, end):
            p = on[k] * PLACES
            if s[p + UNDER] >= 0:
                continue
            for y in (s[p + Y] + b[on[k] * FIELDS + WIDE] + d[D_GAP], s[p + Y] - d[D_GAP] - wide):
                if left < y < last:
                    on_deck(b, s, on, start, end, d, taste, twist, i, y, under == -1 and old == y, out)
    for k in range(start, end):
        j = on[k]
        p = j * PLACES
        z = s[p + Z] + b[j * FIELDS + HIGH]
        slack = b[j * FIELDS + WIDE] - wide
        if z + b[i0 + HIGH] > d[D_ROOM] or slack < -2 * d[D_SIDE] or s[p + SPARE] < b[i0 + GRAMS]:
            continue
        x, y = s[p + TOP], min(max(s[p + Y] + slack // 2, left), last)
        if max(s[p + Y] - y, y + wide - s[p + Y] - b[j * FIELDS + WIDE]) > d[D_SIDE] or x + b[i0 + LONG] > d[D_LONG]:
            continue
        if not holds(b, s, i, x, j):
            continue
        if is_free(b, s, on, start, end, d, i, x, y, z) and not hovers(b, s, on, start, end, i, x, y, j):
            over = max(0, s[p + X] + b[j * FIELDS + LONG] - x - b[i0 + LONG])
            cost = taste[0] * over / d[D_LONG] + taste[5] * (d[D_ROOM] - z - b[i0 + HIGH]) / d[D_ROOM]
            cost += uneven(b, d, taste, twist, i, y)
            if under == j:
                cost -= KEPT
            take(out, cost, x, y, z, j)
