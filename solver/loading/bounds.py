"""How few trucks a load can need: by weight, and by the room on deck as dual feasible functions see it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from itertools import product

from solver.domain.load import Deck, LoadBundle, LoadRules

Scale = Callable[[int, int], Fraction]  # (size, room) to a share of the room


def _share(size: int, room: int) -> Fraction:
    return Fraction(size, room)


def _whole(parts: int) -> Scale:
    """Return the function that counts how many of `parts` + 1 even shares a size is sure to take."""

    def scaled(size: int, room: int) -> Fraction:
        place = Fraction((parts + 1) * size, room)
        return Fraction(size, room) if place.denominator == 1 else Fraction(int(place), parts)

    return scaled


def _half(small: Fraction) -> Scale:
    """Return the function that forgets sizes under `small` of the room and counts those over its rest as all of it."""

    def scaled(size: int, room: int) -> Fraction:
        part = Fraction(size, room)
        if part > 1 - small:
            return Fraction(1)
        return part if part >= small else Fraction(0)

    return scaled


SCALES: tuple[Scale, ...] = (
    _share,
    _whole(1),
    _whole(2),
    _whole(3),
    _half(Fraction(1, 4)),
    _half(Fraction(1, 3)),
    _half(Fraction(1, 2)),
)


def trucks_needed(bundles: Sequence[LoadBundle], decks: Sequence[Deck], rules: LoadRules, *, width_nm: int) -> int:
    """Return a number of trucks that no plan can beat, exact arithmetic.

    By weight: total over the largest payload. By room: a product of dual feasible functions of length, width and
    height, each at most 1 over what fits one deck, is at most 1 over a deck; so its sum over all bundles is a bound
    (Fekete and Schepers 2004, Mathematical Methods of Operations Research 60: 311-329). All decks are taken as large
    as the largest in each direction.
    """
    if not bundles:
        return 0
    payload = max(deck.payload_g for deck in decks)
    best = -(-sum(bundle.weight_g for bundle in bundles) // payload)
    room = (
        max(deck.length_nm for deck in decks),
        width_nm,
        rules.height_limit_nm - min(deck.height_nm for deck in decks),
    )
    sizes: dict[tuple[int, int, int], int] = {}
    for bundle in bundles:
        key = (bundle.length_nm, bundle.width_nm, bundle.height_nm)
        sizes[key] = sizes.get(key, 0) + 1
    tables = [[{size: scale(size, room[way]) for size in {key[way] for key in sizes}} for scale in SCALES] for way in range(3)]
    for along, across, up in product(*tables):
        total = sum((along[key[0]] * across[key[1]] * up[key[2]] * many for key, many in sizes.items()), Fraction(0))
        best = max(best, -(-total.numerator // total.denominator))
    return best


def least_cost(decks: Sequence[Deck], trucks: int, most: int, weight_g: int, volume: int, volumes: Sequence[int]) -> float:
    """Return the least cost of any decks, `trucks` to `most` of them, that hold the weight and the volume."""
    return min((_least(decks, count, weight_g, volume, volumes) for count in range(trucks, most + 1)), default=0.0)


def _least(decks: Sequence[Deck], count: int, weight_g: int, volume: int, volumes: Sequence[int]) -> float:
    """Return the least cost of `count` decks by trying every mixture; infinite where none is enough."""
    best = float("inf")

    def mix(place: int, left: int, cost: float, weight: int, room: int) -> None:
        nonlocal best
        if cost >= best:
            return
        if left == 0:
            if weight >= weight_g and room >= volume:
                best = cost
            return
        if place == len(decks):
            return
        deck = decks[place]
        most = left if deck.count is None else min(left, deck.count)
        for many in range(most, -1, -1):
            mix(
                place + 1,
                left - many,
                cost + many * deck.cost,
                weight + many * deck.payload_g,
                room + many * volumes[place],
            )

    mix(0, count, 0.0, 0, 0)
    return best
