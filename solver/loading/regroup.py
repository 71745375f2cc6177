"""Bundles shared out anew to a given set of decks, by ruin and recreate: fewer trucks, or cheaper ones."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from solver.domain.load import Deck, LoadBundle, LoadRules
from solver.jit import COMPILED
from solver.loading import spots as at
from solver.loading.fill import held_ppm
from solver.loading.laws import laws_of
from solver.loading.legal import usable_width_nm
from solver.loading.place import Spot, Truck, may_carry_g, timbers_of
from solver.loading.rebuild import anneal
from solver.search import Search

CHUNK = 200 if COMPILED else 2  # trials between two looks at the clock
TRIALS = 40_000 if COMPILED else 1_000  # in search of one smaller set of decks
HOT, COLD = 20_000.0, 300.0  # in millionths of a truck; when it is cold, anew from empty trucks, and slower
COOLING, SLOWER = 0.9, 1.5
BREACH = 1_000_000.0  # a law broken by all of a limit weighs as much as a truck


def regrouped(
    backward: Sequence[LoadBundle], decks: Sequence[Deck], rules: LoadRules, search: Search, *, trials: int
) -> list[Truck] | None:
    """Return trucks, one a deck, that hold all the bundles (in reverse order of need) within the law; None: none found.

    Balance and axles are judged in floats here, after every stop: `finish` has the exact word.
    """
    task = _Task(backward, decks, rules, search.seed)
    heat, cooling = HOT, COOLING
    for _ in range(0, trials, CHUNK):
        if search.over():
            return None
        if task.anneal(heat) == 0.0:
            return task.trucks()
        heat *= cooling
        if heat < COLD:
            heat, cooling = HOT, cooling ** (1 / SLOWER)
            task.empty()
        search.tell(f"bundles on {len(decks)} trucks", 0.5)
    return None


class _Task:
    """The arrays of one search: bundles, decks and laws, and where the bundles are."""

    def __init__(self, backward: Sequence[LoadBundle], decks: Sequence[Deck], rules: LoadRules, seed: int) -> None:
        self.backward, self.decks, self.rules = backward, decks, rules
        size = len(backward)
        largest = max(decks, key=lambda deck: deck.length_nm * deck.payload_g)
        self.bundles = np.array([_row(bundle, largest, rules) for bundle in backward], np.int64).ravel()
        self.rooms = np.array([_deck_row(deck, rules) for deck in decks], np.int64).ravel()
        rows = [_law_row(deck, rules) for deck in decks]
        self.laws = np.array([number for row in rows for number in row], np.float64)
        self.starts = np.cumsum([0, *(len(row) for row in rows)]).astype(np.int64)
        self.places = np.zeros(size * at.PLACES, np.int64)
        self.on = np.zeros(len(decks) * size, np.int64)
        self.ends = np.zeros(len(decks), np.int64)
        self.worst = np.zeros(len(decks))
        self.dice = np.array([(seed * 48_271 + 12_345) % 2_147_483_646 + 1], np.int64)
        self.empty()

    def empty(self) -> None:
        """Take every bundle off."""
        self.places[at.TRUCK :: at.PLACES] = -1
        self.ends[:] = np.arange(len(self.decks)) * len(self.backward)
        self.worst[:] = 0.0

    def anneal(self, heat: float) -> float:
        """Go on for a chunk of trials; return the cost of where the bundles are then."""
        return float(
            anneal(
                self.bundles,
                self.places,
                self.on,
                self.ends,
                self.rooms,
                self.laws,
                self.starts,
                float(self.rules.balance_permille),
                self.worst,
                heat,
                CHUNK,
                BREACH,
                self.dice,
            )
        )

    def trucks(self) -> list[Truck]:
        """Return the trucks that carry anything, as they are filled now."""
        size = len(self.backward)
        made = []
        for number, deck in enumerate(self.decks):
            truck = Truck(deck, self.rules, usable_width_nm(deck, self.rules))
            aboard = [int(i) for i in self.on[number * size : self.ends[number]]]
            for i in aboard:
                truck.add(self._spot(i, aboard))
            if aboard:
                made.append(truck)
        return made

    def _spot(self, i: int, aboard: list[int]) -> Spot:
        bundle = self.backward[i]
        own = [int(number) for number in self.places[i * at.PLACES : (i + 1) * at.PLACES]]
        x, y, z, under = own[at.X], own[at.Y], own[at.Z], own[at.UNDER]
        return Spot(
            bundle,
            x,
            y,
            z,
            x + bundle.length_nm,
            y + bundle.width_nm,
            z + bundle.height_nm,
            tuple(x + line for line in timbers_of(bundle, self.rules)),
            -1 if under < 0 else aboard.index(under),
            x,
            may_carry_g(bundle, self.rules),
        )


def _row(bundle: LoadBundle, largest: Deck, rules: LoadRules) -> list[int]:
    timbers = timbers_of(bundle, rules)
    return [
        bundle.length_nm,
        bundle.width_nm,
        bundle.height_nm,
        bundle.weight_g,
        may_carry_g(bundle, rules),
        timbers[0],
        timbers[-1],
        bundle.length_nm if bundle.centre_nm is None else 2 * bundle.centre_nm,
        bundle.width_nm if bundle.centre_across_nm is None else 2 * bundle.centre_across_nm,
        bundle.stop,
        max(1, held_ppm(bundle, largest, rules, usable_width_nm(largest, rules))),
    ]


def _deck_row(deck: Deck, rules: LoadRules) -> list[int]:
    usable = usable_width_nm(deck, rules)
    return [
        deck.length_nm,
        deck.width_nm,
        (deck.width_nm - usable) // 2,
        usable,
        rules.height_limit_nm - deck.height_nm,
        deck.payload_g,
        rules.side_overhang_nm,
        rules.lane_gap_nm,
        *(side in rules.unload_from for side in ("left", "right", "rear")),
    ]


def _law_row(deck: Deck, rules: LoadRules) -> list[Any]:
    return [float(number) for law in laws_of(deck, rules) for number in (law.per_gram, law.per_moment, law.most)]
