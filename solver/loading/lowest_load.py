"""One truck's bundles on the deck that lets them stand lowest: tiers, top, centre of mass, then straps, cost."""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from solver.domain.load import Deck, LoadBundle, LoadRules
from solver.loading.finish import Slide, best_lawful_slide, centre_height_nm, straps_needed, tier_count
from solver.loading.legal import usable_width_nm
from solver.loading.packing import Packing
from solver.loading.placed import LoadedTruck
from solver.loading.placement_weights import LOW_PLACEMENT_WEIGHTS, PLACEMENT_WEIGHTS, random_weights
from solver.loading.reassign import find_lawful_loads
from solver.search import Search
from solver.units import INCH

Height = tuple[int, int, int, int, float]  # tiers, top and centre of mass above the road (in whole inches), straps, cost
MORE_TASTES = 24  # tried where the set ones make no lawful load
RESCUE = 1_000  # trials where tastes make none
SET_TASTES = len(LOW_PLACEMENT_WEIGHTS) + len(PLACEMENT_WEIGHTS)
AT_LEAST = 200  # bundles placed before the clock is asked
CHUNK = 100  # trials between two looks at the clock
STALE = 6  # chunks without a lower way, after which it is left at that
HEAT, COOLING = 0.2, 0.7


@dataclass(frozen=True, slots=True)
class StandingTruck:
    """A truck loaded within the law, the slide that makes it so, and how high it stands: the lower the better."""

    truck: LoadedTruck
    slide: Slide
    height: Height

    @property
    def bundles(self) -> list[LoadBundle]:
        """What it carries, in reverse order of need."""
        return [spot.bundle for spot in self.truck.spots]


def lowest_lawful_slide(truck: LoadedTruck) -> StandingTruck | None:
    """Return a filled truck with its best slide and its height; None where no slide makes it lawful."""
    slide = best_lawful_slide(truck)
    return None if slide is None else StandingTruck(truck, slide, _height(truck))


def lowest_load(
    bundles: Sequence[LoadBundle],
    decks: Sequence[Deck],
    rules: LoadRules,
    used: Mapping[str, int],
    search: Search,
    *,
    times: int = 0,
) -> StandingTruck | None:
    """Return one truck with all the bundles (in reverse order of need), the lowest found on any deck left; None: none lawful.

    `times`: trials a deck beyond the set tastes, which end sooner where they find nothing lower any more. When time is over
    the first that is found will do.
    """
    best: StandingTruck | None = None
    for deck in decks:
        if (deck.count is not None and used.get(deck.id, 0) >= deck.count) or not decks_could_hold(bundles, [deck], rules):
            continue
        if best is not None and search.over():
            break
        found = _on(bundles, deck, rules, search, times)
        if found is not None and (best is None or found.height < best.height):
            best = found
    return best


def _on(bundles: Sequence[LoadBundle], deck: Deck, rules: LoadRules, search: Search, times: int) -> StandingTruck | None:
    packing = Packing(bundles, [deck], rules, search.seed)
    for kept in reversed(list(_ever_lower(packing, search, times))):
        packing.restore(kept)
        found = lowest_lawful_slide(packing.trucks()[0])
        if found is not None:  # the loops judge axles in floats; this is the exact word
            return found
    return None


def _ever_lower(packing: Packing, search: Search, times: int) -> Iterator[Any]:
    """Yield lawful ways to stand, each lower than the one before."""
    best = _by_tastes(packing, search)
    if best is None:
        if search.over() or not find_lawful_loads(packing, search, RESCUE):
            return
        best = packing.snapshot()
    yield best
    packing.restore(best)
    lowest = packing.standing_heights()
    heat, stale = HEAT, 0
    for _ in range(0, times, CHUNK):
        if lowest[0] == 1 or stale == STALE or search.over():
            return
        stale += 1
        if packing.lower_first_truck(lowest, heat, CHUNK):
            stale = 0
            yield packing.snapshot()
        heat *= COOLING


def _by_tastes(packing: Packing, search: Search) -> Any:
    """Return the lowest lawful way of first fit by the set tastes; where they make none, the first of others; else None."""
    best, height = None, (0, 0, 0)
    dice = random.Random(len(packing.backward))
    work = 0
    for taste in (*LOW_PLACEMENT_WEIGHTS, *PLACEMENT_WEIGHTS, *(random_weights(dice, skip=False) for _ in range(MORE_TASTES))):
        work += len(packing.backward)
        if packing.first_fit(taste) == 1 and packing.is_lawful():
            tiers, top, centre = (int(number) for number in packing.standing_heights())
            if best is None or (tiers, top, centre) < height:
                best, height = packing.snapshot(), (tiers, top, centre)
        if best is not None and (work >= len(packing.backward) * SET_TASTES or (work > AT_LEAST and search.over())):
            break
    return best


def _height(truck: LoadedTruck) -> Height:
    top = truck.deck.height_nm + max(spot.z1 for spot in truck.spots)
    return tier_count(truck.spots), top, centre_height_nm(truck) // INCH, straps_needed(truck), truck.deck.cost


def decks_could_hold(bundles: Sequence[LoadBundle], decks: Sequence[Deck], rules: LoadRules) -> bool:
    """Return whether decks together have the payload and the volume for bundles, and the longest of them the length."""
    volume = sum(bundle.length_nm * bundle.width_nm * bundle.height_nm for bundle in bundles)
    return (
        sum(bundle.weight_g for bundle in bundles) <= sum(deck.payload_g for deck in decks)
        and volume <= sum(_room(deck, rules) for deck in decks)
        and max(bundle.length_nm for bundle in bundles) <= max(deck.length_nm for deck in decks)
    )


def _room(deck: Deck, rules: LoadRules) -> int:
    return usable_width_nm(deck, rules) * deck.length_nm * (rules.height_limit_nm - deck.height_nm)
