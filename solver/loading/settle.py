"""Trucks to loads: each on the cheapest deck that takes it, its centre of mass nearest the deck's middle."""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping, Sequence

from solver.domain.load import Deck, Load, LoadBundle, LoadRules
from solver.loading.fill import TASTES, packed, random_taste
from solver.loading.finish import finish
from solver.loading.legal import usable_width_nm
from solver.loading.place import Truck

MORE_TASTES = 24  # tried where the set ones make no legal load of a share


def loads_of(
    shares: Sequence[Sequence[LoadBundle]], decks: Sequence[Deck], rules: LoadRules, used: dict[str, int]
) -> list[Load] | None:
    """Return each share's load on the cheapest deck that takes it; a share that axles or balance refuse is halved.

    Shares are in reverse order of need; `used` counts the decks taken and grows. None where the decks run out.
    """
    waiting = list(shares)
    loads: list[Load] = []
    while waiting:
        share = waiting.pop()
        done = _best_load(share, decks, rules, used)
        if done is not None:
            used[done.deck] = used.get(done.deck, 0) + 1
            loads.append(done)
        elif len(share) == 1:
            return None
        else:
            waiting += [share[: len(share) // 2], share[len(share) // 2 :]]
    return loads


def settled(trucks: Sequence[Truck], decks: Sequence[Deck], rules: LoadRules, used: Mapping[str, int]) -> list[Load] | None:
    """Return the load of each truck, on a cheaper deck where one takes it; None where the exact law refuses one."""
    taken = dict(used)
    for truck in trucks:
        taken[truck.deck.id] = taken.get(truck.deck.id, 0) + 1
    loads = []
    for truck in trucks:
        taken[truck.deck.id] -= 1
        share = [spot.bundle for spot in truck.spots]
        own = finish(truck, "-")
        done = _best_load(share, [deck for deck in decks if deck.cost <= truck.deck.cost], rules, taken)
        if done is None or (own is not None and done.deck == truck.deck.id and own[0] < _shift(done, truck.deck)):
            done = None if own is None else own[1]
        if done is None:
            return None
        taken[done.deck] = taken.get(done.deck, 0) + 1
        loads.append(done)
    return loads


def _shift(load: Load, deck: Deck) -> int:
    """Return how far a load's centre of mass is off the deck's middle, along and across."""
    return abs(load.centre_nm - deck.length_nm // 2) + abs(load.centre_across_nm - deck.width_nm // 2)


def _best_load(bundles: Sequence[LoadBundle], decks: Sequence[Deck], rules: LoadRules, used: Mapping[str, int]) -> Load | None:
    """Return one truck's load on the cheapest deck that takes it, its centre of mass nearest the middle."""
    for deck in sorted(decks, key=lambda deck: deck.cost):
        if (deck.count is None or used.get(deck.id, 0) < deck.count) and could_hold(bundles, [deck], rules):
            found = list(_legal_loads(bundles, deck, rules))
            if found:
                return min(found, key=lambda item: item[0])[1]
    return None


def _legal_loads(bundles: Sequence[LoadBundle], deck: Deck, rules: LoadRules) -> Iterator[tuple[int, Load]]:
    """Yield the legal loads of the set tastes; where they make none, the first of some by chance."""
    dice = random.Random(len(bundles))
    some = False
    for taste in (*TASTES, *(random_taste(dice, skip=False) for _ in range(MORE_TASTES))):
        if some and taste not in TASTES:
            return
        truck = packed(bundles, deck, rules, usable_width_nm(deck, rules), taste)
        done = None if truck is None else finish(truck, "-")
        if done is not None:
            some = True
            yield done


def could_hold(bundles: Sequence[LoadBundle], decks: Sequence[Deck], rules: LoadRules) -> bool:
    """Return whether decks together have the payload and the volume for bundles, and the longest of them the length."""
    volume = sum(bundle.length_nm * bundle.width_nm * bundle.height_nm for bundle in bundles)
    return (
        sum(bundle.weight_g for bundle in bundles) <= sum(deck.payload_g for deck in decks)
        and volume <= sum(_room(deck, rules) for deck in decks)
        and max(bundle.length_nm for bundle in bundles) <= max(deck.length_nm for deck in decks)
    )


def _room(deck: Deck, rules: LoadRules) -> int:
    return usable_width_nm(deck, rules) * deck.length_nm * (rules.height_limit_nm - deck.height_nm)
