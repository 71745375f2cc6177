"""How few trucks a load can need, by weight and by room, and how little their decks can cost; exact arithmetic."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from functools import lru_cache
from math import lcm
from operator import mul

import numpy as np

from solver.domain.load import Deck, LoadBundle, LoadRules
from solver.loading.column_scales import TooManyColumns, bundle_columns, column_scale
from solver.loading.placed import may_carry_g
from solver.search import Search

Scale = Callable[[int, int], Fraction]  # (size, room) to a share of the room
Room = tuple[int, int, int]  # length, width and height that may be loaded
Rows = list[dict[int, Fraction]]  # for each direction, a size's scaled share
KINDS = 40  # sizes of one direction that scales are made from, at most
PATTERNS = 3_000  # ways to fill a direction that a linear program takes
ROUNDS = 3
SCALE = 1_000_000
UNTIMED = Search()


def _share(size: int, room: int) -> Fraction:
    return Fraction(size, room)


def _counting(parts: int) -> Scale:
    """Return the scale that counts how many of `parts` + 1 even shares a size is sure to take."""

    def scaled(size: int, room: int) -> Fraction:
        place = Fraction((parts + 1) * size, room)
        return Fraction(size, room) if place.denominator == 1 else Fraction(int(place), parts)

    return scaled


def _forgetting(small: int) -> Scale:
    """Return the scale that forgets sizes under `small` (at most half the room) and counts those beside them as all."""

    def scaled(size: int, room: int) -> Fraction:
        if size > room - small:
            return Fraction(1)
        return Fraction(size, room) if size >= small else Fraction(0)

    return scaled


def _stepping(step: int) -> Scale:
    """Return the scale that counts whole steps: twice those a small size holds, twice those a large one leaves no room for.

    Carlier, Clautiaux and Moukrim (2007), Computers and Operations Research 34: 2223-2250.
    """

    def scaled(size: int, room: int) -> Fraction:
        whole = room // step
        if 2 * size > room:
            return Fraction(whole - (room - size) // step, whole)
        if 2 * size == room:
            return Fraction(1, 2)
        return Fraction(size // step, whole)

    return scaled


def dual_feasible_scales(sizes: Sequence[int], room: int) -> list[Scale]:
    """Return the scales tried in one direction: each maps what fits the room to at most 1 in sum."""
    halves = sorted({size for size in sizes if 2 * size <= room} | {room - size for size in sizes if 2 * size > room})
    picked = [size for size in halves[:: max(1, len(halves) // KINDS)] if 0 < 2 * size <= room]
    made: list[Scale] = [_share, *(_counting(parts) for parts in range(1, 8))]
    made += [_forgetting(size) for size in picked]
    return made + [_stepping(size) for size in picked]


def quick_trucks_bound(bundles: Sequence[LoadBundle], decks: Sequence[Deck], rooms: Sequence[Room], rules: LoadRules) -> int:
    """Return a number of trucks that no plan can beat, at once: by weight, by volume and by ground.

    By ground: bundles that can carry none of the others never share ground.
    """
    if not bundles:
        return 0
    by_weight = -(-sum(bundle.weight_g for bundle in bundles) // max(deck.payload_g for deck in decks))
    lightest = min(bundle.weight_g for bundle in bundles)
    ground = sum(bundle.length_nm * bundle.width_nm for bundle in bundles if may_carry_g(bundle, rules) < lightest)
    by_ground = -(-ground // max(room[0] * room[1] for room in rooms))
    volume = sum(bundle.length_nm * bundle.width_nm * bundle.height_nm for bundle in bundles)
    by_volume = -(-volume // max(room[0] * room[1] * room[2] for room in rooms))
    return max(by_weight, by_ground, by_volume)


def trucks_lower_bound(
    bundles: Sequence[LoadBundle], decks: Sequence[Deck], rooms: Sequence[Room], rules: LoadRules, search: Search = UNTIMED
) -> int:
    """Return a number of trucks that no plan can beat, in exact arithmetic; `rooms` of the decks, one each.

    By what `quick_trucks_bound` counts, and by room: scales of length, width and height that never sum to more
    than 1 over what fits side by side; then products summed over all bundles are at most 1 a deck (conservative scales:
    Fekete and Schepers 2004, Mathematical Methods of Operations Research 60: 311-329).
    """
    if not bundles:
        return 0
    return max(quick_trucks_bound(bundles, decks, rooms, rules), _up(trucks_bound_by_room(bundles, rooms, search)[0]))


def trucks_bound_by_columns(
    bundles: Sequence[LoadBundle], _decks: Sequence[Deck], rooms: Sequence[Room], rules: LoadRules, search: Search = UNTIMED
) -> int:
    """Return a number of trucks that no plan can beat, from what may stand on what as well as from the room on deck.

    A height's scale over columns of bundles takes the place of one over heights alone. Still at most 1 a deck: where
    two bundles' plans meet, one stands on the other, so over each point of a cross section the shares of one column are
    met; intervals across that meet nowhere in more than 1 split into sets that lie side by side (interval graphs are
    perfect), each at most 1 by the width's scale; and the same again along the deck.
    """
    if not bundles:
        return 0
    _, rows = trucks_bound_by_room(bundles, rooms, search)
    return _up(_by_columns(bundles, rooms, rules, rows, search))


def _up(trucks: Fraction) -> int:
    return -(-trucks.numerator // trucks.denominator)


def largest_room(rooms: Sequence[Room]) -> Room:
    """Return the room of most volume."""
    return max(rooms, key=lambda room: (room[0] * room[1] * room[2], room))


def trucks_bound_by_room(bundles: Sequence[LoadBundle], rooms: Sequence[Room], search: Search) -> tuple[Fraction, Rows]:
    """Return trucks by the largest sum of products of scales found over the largest room, and those scales.

    First the best triple of set scales, then each direction's best for the others as they are. Decks with more of
    some direction are allowed for by what they can hold in the same scales.
    """
    room = largest_room(rooms)
    kinds: dict[Room, int] = {}
    for bundle in bundles:
        key = (bundle.length_nm, bundle.width_nm, bundle.height_nm)
        kinds[key] = kinds.get(key, 0) + 1
    rows = _best_set_scales(kinds, room)
    patterns = [_patterns(tuple(sorted({key[way] for key in kinds})), room[way]) for way in range(3)]
    best = _total(rows, kinds) / _most_of_any(rows, room, rooms)
    for _ in range(ROUNDS):
        before = best
        for way in (1, 2, 0):
            known = patterns[way]
            if known is not None and not search.over():
                rows = _improved(rows, kinds, way, known)
                best = max(best, _total(rows, kinds) / _most_of_any(rows, room, rooms))
        if best == before:
            break
    return best, rows


def _by_columns(bundles: Sequence[LoadBundle], rooms: Sequence[Room], rules: LoadRules, rows: Rows, search: Search) -> Fraction:
    room = largest_room(rooms)
    ordered = sorted(bundles, key=lambda bundle: (bundle.stop, bundle.rank))
    higher = {other for other in rooms if any(other[way] > room[way] for way in range(3))}
    best = Fraction(0)
    try:
        chains = {high: bundle_columns(ordered, rules, high, search) for high in {room[2]} | {other[2] for other in higher}}
    except TooManyColumns:
        return best
    patterns = [_patterns(tuple(sorted(rows[way])), room[way]) for way in range(2)]
    for _ in range(ROUNDS):
        if search.over():
            break
        before = best
        worth = [rows[0][bundle.length_nm] * rows[1][bundle.width_nm] for bundle in ordered]
        shares = column_scale(worth, chains[room[2]])
        total = sum((value * share for value, share in zip(worth, shares, strict=True)), Fraction(0))
        most = Fraction(1)
        for other in higher:
            whole, parts = _whole(shares)
            held = Fraction(max(sum(whole[place] for place in chain) for chain in chains[other[2]]), parts)
            most = max(most, held * _most_in(rows[0], other[0]) * _most_in(rows[1], other[1]))
        best = max(best, total / most)
        if best == before:
            break
        for way in (1, 0):
            known = patterns[way]
            if known is not None:
                rows = _improved_by_item(rows, ordered, shares, way, known)
    return best


def _improved_by_item(
    rows: Rows, bundles: Sequence[LoadBundle], shares: Sequence[Fraction], way: int, patterns: Sequence[tuple[int, ...]]
) -> Rows:
    """Return the scales with that of length or width the best for the columns' shares."""
    sizes = sorted(rows[way])
    worth = dict.fromkeys(sizes, Fraction(0))
    for bundle, share in zip(bundles, shares, strict=True):
        size, other = (bundle.length_nm, rows[1][bundle.width_nm]) if way == 0 else (bundle.width_nm, rows[0][bundle.length_nm])
        worth[size] += share * other
    found = _best_scale(sizes, worth, patterns)
    if found is None or sum(found[size] * worth[size] for size in sizes) <= sum(
        rows[way][size] * worth[size] for size in sizes
    ):
        return rows
    return [found if other == way else rows[other] for other in range(3)]


def _most_of_any(rows: Rows, room: Room, rooms: Sequence[Room]) -> Fraction:
    """Return the largest sum of products that any deck can hold: 1 in the room that the scales were made for."""
    return max(sum_bound_in_room(rows, other, room) for other in set(rooms))


def sum_bound_in_room(rows: Rows, other: Room, room: Room) -> Fraction:
    """Return no less than the sum of products that fits `other`, in scales made for `room`; at most 1 within `room`."""
    held = Fraction(1)
    for way in range(3):
        held *= _most_in(rows[way], other[way]) if other[way] != room[way] else 1
    return min(held, Fraction(1)) if all(other[way] <= room[way] for way in range(3)) else held


def _most_in(row: dict[int, Fraction], room: int) -> Fraction:
    """Return no less than the largest sum of a scale over what fits a room: exact where the ways to fill it are few."""
    sizes = tuple(sorted(row))
    patterns = _patterns(sizes, room)
    if patterns is None:
        return room * max(share / size for size, share in row.items())
    whole, parts = _whole([row[size] for size in sizes])
    return Fraction(max((sum(map(mul, pattern, whole)) for pattern in patterns), default=0), parts)


def _whole(shares: Sequence[Fraction]) -> tuple[list[int], int]:
    """Return shares as whole numbers of the same parts, and how many parts are 1: sums of them are fast and exact."""
    parts = lcm(*(share.denominator for share in shares))
    return [share.numerator * (parts // share.denominator) for share in shares], parts


def _total(rows: Rows, kinds: dict[Room, int]) -> Fraction:
    along, across, up = rows
    return sum((along[key[0]] * across[key[1]] * up[key[2]] * many for key, many in kinds.items()), Fraction(0))


def _best_set_scales(kinds: dict[Room, int], room: Room) -> Rows:
    """Return the triple of set scales of the largest sum, found in floats."""
    tables: list[list[dict[int, Fraction]]] = []
    floats = []
    for way in range(3):
        sizes = sorted({key[way] for key in kinds})
        tables.append([{size: scale(size, room[way]) for size in sizes} for scale in dual_feasible_scales(sizes, room[way])])
        floats.append(np.array([[float(table[key[way]]) for key in kinds] for table in tables[way]]))
    sums = np.einsum("ai,bi,ci->abc", floats[0] * np.array(list(kinds.values())), floats[1], floats[2], optimize=True)
    best = np.unravel_index(int(np.argmax(sums)), sums.shape)
    return [table[int(place)] for table, place in zip(tables, best, strict=True)]


@lru_cache(maxsize=64)
def _patterns(sizes: tuple[int, ...], room: int) -> Sequence[tuple[int, ...]] | None:
    """Return every way to fill the room that takes no more, as counts of each size; None where there are too many."""
    made: list[tuple[int, ...]] = []

    def add(place: int, left: int, counts: tuple[int, ...]) -> bool:
        if len(made) > PATTERNS:
            return False
        if place < 0:
            if left < sizes[0]:
                made.append(counts)
            return True
        return all(add(place - 1, left - many * sizes[place], (many, *counts)) for many in range(left // sizes[place] + 1))

    return made if add(len(sizes) - 1, room, ()) else None


def _improved(rows: Rows, kinds: dict[Room, int], way: int, patterns: Sequence[tuple[int, ...]]) -> Rows:
    """Return the scales with that of one direction the best for the others as they are."""
    sizes = sorted({key[way] for key in kinds})
    worth = dict.fromkeys(sizes, Fraction(0))
    for key, many in kinds.items():
        others = [rows[other][key[other]] for other in range(3) if other != way]
        worth[key[way]] += many * others[0] * others[1]
    found = _best_scale(sizes, worth, patterns)
    if found is None:
        return rows
    made = [found if other == way else rows[other] for other in range(3)]
    return made if _total(made, kinds) > _total(rows, kinds) else rows


def _best_scale(
    sizes: Sequence[int], worth: dict[int, Fraction], patterns: Sequence[tuple[int, ...]]
) -> dict[int, Fraction] | None:
    """Return the scale of largest worth over every way to fill a direction, or None where the solver gives none.

    A linear program over sizes; its float answer is cut to whole millionths, then divided by the most that any pattern
    makes of it, so that what is returned is a scale whatever the solver said.
    """
    from ortools.linear_solver import pywraplp

    solver = pywraplp.Solver.CreateSolver("GLOP")
    shares = [solver.NumVar(0, 1, "") for _ in sizes]
    for pattern in patterns:
        solver.Add(sum(many * share for many, share in zip(pattern, shares, strict=True) if many) <= 1)
    solver.Maximize(sum(float(worth[size]) * share for size, share in zip(sizes, shares, strict=True)))
    if solver.Solve() != pywraplp.Solver.OPTIMAL:
        return None
    whole = [max(0, int(share.solution_value() * SCALE + 0.5)) for share in shares]
    most = max(SCALE, *(sum(many * share for many, share in zip(pattern, whole, strict=True)) for pattern in patterns))
    return {size: Fraction(share, most) for size, share in zip(sizes, whole, strict=True)}
