"""Bundles shared out anew to a given set of decks, by ruin and recreate: fewer trucks."""

from __future__ import annotations

from collections.abc import Sequence

from solver.domain.load import Deck, LoadBundle, LoadRules
from solver.jit import COMPILED
from solver.loading.packing import Packing
from solver.loading.placed import LoadedTruck
from solver.search import Search

CHUNK = 200 if COMPILED else 2  # trials between two looks at the clock
TRIALS = 40_000 if COMPILED else 1_000  # in search of one smaller set of decks, at most
TRIALS_A_PAIR = 20  # for each pair of bundles: few bundles are through sooner
HOT, COLD = 20_000.0, 300.0  # in millionths of a truck; when it is cold, anew from empty trucks, and slower
COOLING, SLOWER = 0.9, 1.5
COOL = 4_000  # trials that half a cooling takes
HOPELESS = 200_000.0  # left over after the first cooling: of 300 random loads none came from there to nothing


def reassign_bundles(
    backward: Sequence[LoadBundle], decks: Sequence[Deck], rules: LoadRules, search: Search, *, trials: int
) -> list[LoadedTruck] | None:
    """Return trucks, one a deck, that hold all the bundles (in reverse order of need) within the law; None: none found.

    Balance and axles are judged in floats here, after every stop: `finish` has the exact word.
    """
    packing = Packing(backward, decks, rules, search.seed)
    trials = min(trials, max(COOL, TRIALS_A_PAIR * len(backward) ** 2))
    return packing.trucks() if find_lawful_loads(packing, search, trials) else None


def find_lawful_loads(packing: Packing, search: Search, trials: int) -> bool:
    """Share bundles out anew, from empty trucks, until all is aboard and lawful; return whether it came to that."""
    packing.empty()
    heat, cooling, least = HOT, COOLING, HOPELESS
    for _ in range(0, trials, CHUNK):
        if search.over():
            return False
        cost = packing.anneal_loads(heat, CHUNK)
        if cost == 0.0:
            return True
        least = min(least, cost)
        heat *= cooling
        if heat < COLD:
            if least >= HOPELESS:
                return False
            heat, cooling = HOT, cooling ** (1 / SLOWER)
            packing.empty()
        search.tell(f"bundles on {len(packing.decks)} trucks", 0.5)
    return False
