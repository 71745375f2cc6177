"""How little the decks of a load can cost: every mixture of decks that could hold the bundles at all."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from math import comb

from solver.domain.load import Deck, LoadBundle
from solver.loading.bounds import UNTIMED, Room, Rows, largest_room, sum_bound_in_room, trucks_bound_by_room
from solver.search import Search

Need = tuple[int | Fraction, Sequence[int | Fraction]]  # what is needed in all, and what each deck holds of it
MIXTURES = 200_000  # mixtures of decks tried


def least_deck_cost(
    bundles: Sequence[LoadBundle],
    decks: Sequence[Deck],
    rooms: Sequence[Room],
    trucks: int,
    most: int,
    search: Search = UNTIMED,
) -> float:
    """Return the least cost of any decks, `trucks` to `most` of them, that could hold the bundles.

    Together they must have the payload, the volume and the room in scales of the largest, and for every bundle one
    deck that it fits at all.
    """
    if comb(most + len(decks), len(decks)) > MIXTURES:
        return trucks * min(deck.cost for deck in decks)
    total, rows = _in_scales(bundles, rooms, search)
    needs: list[Need] = [
        (sum(bundle.weight_g for bundle in bundles), [deck.payload_g for deck in decks]),
        (sum(bundle.length_nm * bundle.width_nm * bundle.height_nm for bundle in bundles), [a * b * c for a, b, c in rooms]),
        (total, [sum_bound_in_room(rows, room, largest_room(rooms)) for room in rooms]),
    ]
    suits = {
        frozenset(place for place, room in enumerate(rooms) if _fits(bundle, room, decks[place].payload_g))
        for bundle in bundles
    }
    best = float("inf")
    for count in range(trucks, most + 1):
        if search.over():
            return trucks * min(deck.cost for deck in decks)
        best = min(best, _least(decks, count, needs, suits))
    return best


def _sum(counts: Sequence[int], each: Sequence[int | Fraction]) -> Fraction:
    return sum((Fraction(many * one) for many, one in zip(counts, each, strict=False)), Fraction(0))


def _in_scales(bundles: Sequence[LoadBundle], rooms: Sequence[Room], search: Search) -> tuple[Fraction, Rows]:
    _, rows = trucks_bound_by_room(bundles, rooms, search)
    return sum((rows[0][b.length_nm] * rows[1][b.width_nm] * rows[2][b.height_nm] for b in bundles), Fraction(0)), rows


def _fits(bundle: LoadBundle, room: Room, payload_g: int) -> bool:
    sides = (bundle.length_nm, bundle.width_nm, bundle.height_nm)
    return bundle.weight_g <= payload_g and all(side <= space for side, space in zip(sides, room, strict=True))


def _least(
    decks: Sequence[Deck],
    count: int,
    needs: Sequence[Need],
    suits: set[frozenset[int]],
) -> float:
    """Return the least cost of `count` decks by trying every mixture; infinite where none is enough."""
    best = float("inf")

    def mix(place: int, left: int, cost: float, counts: tuple[int, ...]) -> None:
        nonlocal best
        if cost >= best:
            return
        if left == 0 or place == len(decks):
            used = {which for which, many in enumerate(counts) if many}
            enough = all(_sum(counts, each) >= need for need, each in needs)
            if left == 0 and enough and all(suited & used for suited in suits):
                best = cost
            return
        most = left if decks[place].count is None else min(left, decks[place].count or 0)
        for many in range(most, -1, -1):
            mix(place + 1, left - many, cost + many * decks[place].cost, (*counts, many))

    mix(0, count, 0.0, ())
    return best
