"""Trucks to loads: each on the cheapest deck that takes it, its centre of mass nearest the deck's middle."""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping, Sequence

from solver.domain.load import Deck, Load, LoadBundle, LoadRules
from solver.loading.fill import TASTES, packed, random_taste
from solver.loading.finish import Slide, best_slide, finish
from solver.loading.legal import usable_width_nm
from solver.loading.place import Truck
from solver.search import Search

Found = tuple[Truck, Slide]
MORE_TASTES = 24  # tried where the set ones make no legal load of a share


def loads_of(
    shares: Sequence[Sequence[LoadBundle]], decks: Sequence[Deck], rules: LoadRules, used: dict[str, int], search: Search
) -> list[Load] | None:
    """Return each share's load on the cheapest deck that takes it; a share that axles or balance refuse is halved.

    Shares are in reverse order of need; `used` counts the decks taken and grows. None where the decks run out.
    """
    waiting = list(shares)
    loads: list[Load] = []
    while waiting:
        share = waiting.pop()
        done = _best_load(share, decks, rules, used, search)
        if done is not None:
            used[done[0].deck.id] = used.get(done[0].deck.id, 0) + 1
            loads.append(finish(*done))
        elif len(share) == 1:
            return None
        else:
            waiting += [share[: len(share) // 2], share[len(share) // 2 :]]
    return loads


def settled(
    trucks: Sequence[Truck], decks: Sequence[Deck], rules: LoadRules, used: Mapping[str, int], search: Search
) -> list[Load] | None:
    """Return the load of each truck, on a cheaper deck where one takes it; None where the exact law refuses one."""
    taken = dict(used)
    for truck in trucks:
        taken[truck.deck.id] = taken.get(truck.deck.id, 0) + 1
    loads = []
    for truck in trucks:
        taken[truck.deck.id] -= 1
        slide = best_slide(truck)
        best = None if slide is None else (truck, slide)
        cheap = [deck for deck in decks if deck.cost <= truck.deck.cost]
        done = _best_load([spot.bundle for spot in truck.spots], cheap, rules, taken, search)
        if done is not None and (best is None or _worth(done) < _worth(best)):
            best = done
        if best is None:
            return None
        deck = best[0].deck.id
        taken[deck] = taken.get(deck, 0) + 1
        loads.append(finish(*best))
    return loads


def _worth(found: Found) -> tuple[float, int]:
    return found[0].deck.cost, found[1].shift


def _best_load(
    bundles: Sequence[LoadBundle], decks: Sequence[Deck], rules: LoadRules, used: Mapping[str, int], search: Search
) -> Found | None:
    """Return one truck filled on the cheapest deck that takes the bundles, its centre of mass nearest the middle."""
    for deck in sorted(decks, key=lambda deck: deck.cost):
        if (deck.count is None or used.get(deck.id, 0) < deck.count) and could_hold(bundles, [deck], rules):
            best = min(_legal(bundles, deck, rules, search), key=_worth, default=None)
            if best is not None:
                return best
    return None


def _legal(bundles: Sequence[LoadBundle], deck: Deck, rules: LoadRules, search: Search) -> Iterator[Found]:
    """Yield legal fillings by the set tastes; where they make none, or time is over, the first of all."""
    dice = random.Random(len(bundles))
    some = False
    for taste in (*TASTES, *(random_taste(dice, skip=False) for _ in range(MORE_TASTES))):
        if some and (taste not in TASTES or search.over()):
            return
        truck = packed(bundles, deck, rules, usable_width_nm(deck, rules), taste)
        slide = None if truck is None else best_slide(truck)
        if truck is not None and slide is not None:
            some = True
            yield truck, slide


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
