"""Bundles and decks as arrays for the compiled loops, and the trucks that the loops made of them as nouns."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from solver.domain.load import Deck, LoadBundle, LoadRules
from solver.loading import placement_loops as at
from solver.loading.legal import usable_width_nm
from solver.loading.lowering_loops import lower_one_truck, standing_heights, stands_lower
from solver.loading.placed import BundlePlace, LoadedTruck, may_carry_g, timber_middles
from solver.loading.placement_weights import PlacementWeights, truck_share_ppm, weights_row
from solver.loading.ruin_recreate import anneal_loads, first_fit_trucks, law_violation
from solver.loading.weight_limits import weight_limits
from solver.random_numbers import seeded_state

BREACH = 1_000_000.0  # a law broken by all of a limit weighs as much as a truck


class Packing:
    """Bundles, in reverse order of need, and a truck for each of some decks; what is aboard where changes call by call."""

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
        self.dice = seeded_state(seed * 48_271 + 12_345)
        self.permille = float(rules.balance_permille)
        self.empty()

    def empty(self) -> None:
        """Take every bundle off."""
        self.places[at.TRUCK :: at.PLACES] = -1
        self.ends[:] = np.arange(len(self.decks)) * len(self.backward)
        self.worst[:] = 0.0

    def snapshot(self) -> tuple[Any, Any, Any]:
        """Return where everything is now, for `restore`."""
        return self.places.copy(), self.on.copy(), self.ends.copy()

    def restore(self, kept: tuple[Any, Any, Any]) -> None:
        """Put everything back where it was."""
        self.places[:], self.on[:], self.ends[:] = kept

    def first_fit(self, taste: PlacementWeights, *, in_runs: bool = False) -> int:
        """Return how many trucks first fit takes by a taste, 0 where there are too few; `in_runs`: each a run of need."""
        row = np.array(weights_row(taste), np.float64)
        return int(first_fit_trucks(self.bundles, self.places, self.on, self.ends, self.rooms, row, self.dice, in_runs))

    def is_lawful(self) -> bool:
        """Return whether the first truck keeps the balance and the axles' limits in some slide, as floats have it."""
        end = int(self.ends[0])
        own = self.laws[: self.starts[1]]
        return bool(law_violation(self.bundles, self.places, self.on, 0, end, self.rooms, own, self.permille) == 0.0)

    def anneal_loads(self, heat: float, times: int) -> float:
        """Share bundles out anew so many times; return the cost of where they are then, 0 when all is aboard and lawful."""
        return float(
            anneal_loads(
                self.bundles,
                self.places,
                self.on,
                self.ends,
                self.rooms,
                self.laws,
                self.starts,
                self.permille,
                self.worst,
                heat,
                times,
                BREACH,
                self.dice,
            )
        )

    def standing_heights(self) -> Any:
        """Return the first truck's tiers, its top, and twice the height of its centre of mass, above the deck."""
        made = np.zeros(3, np.int64)
        standing_heights(self.bundles, self.places, self.on, 0, int(self.ends[0]), made)
        return made

    def lower_first_truck(self, best: Any, heat: float, times: int) -> bool:
        """Search so many times for a lower way to stand, all on one lawful truck; return whether there was one, now in place.

        `best` is the lowest met so far and changes. Where none was lower the search goes on from where it is.
        """
        before, places, on = best.copy(), self.places.copy(), self.on.copy()
        lower_one_truck(
            self.bundles,
            self.places,
            self.on,
            self.ends,
            self.rooms,
            self.laws,
            self.permille,
            best,
            places,
            on,
            heat,
            times,
            self.dice,
        )
        if not stands_lower(best, before):
            return False
        self.places[:], self.on[:] = places, on
        return True

    def bundles_by_truck(self) -> list[list[LoadBundle]]:
        """Return what each truck that is used carries, in reverse order of need."""
        size = len(self.backward)
        rows = [self.on[number * size : self.ends[number]] for number in range(len(self.decks))]
        return [[self.backward[int(i)] for i in row] for row in rows if len(row)]

    def trucks(self) -> list[LoadedTruck]:
        """Return the trucks that carry anything, as they are filled now."""
        size = len(self.backward)
        made = []
        for number, deck in enumerate(self.decks):
            aboard = [int(i) for i in self.on[number * size : self.ends[number]]]
            if aboard:
                spots = tuple(self._spot(i, aboard) for i in aboard)
                made.append(LoadedTruck(deck, self.rules, usable_width_nm(deck, self.rules), spots))
        return made

    def _spot(self, i: int, aboard: list[int]) -> BundlePlace:
        bundle = self.backward[i]
        own = [int(number) for number in self.places[i * at.PLACES : (i + 1) * at.PLACES]]
        x, y, z, under = own[at.X], own[at.Y], own[at.Z], own[at.UNDER]
        return BundlePlace(
            bundle,
            x,
            y,
            z,
            x + bundle.length_nm,
            y + bundle.width_nm,
            z + bundle.height_nm,
            tuple(x + line for line in timber_middles(bundle, self.rules)),
            -1 if under < 0 else aboard.index(under),
        )


def _row(bundle: LoadBundle, largest: Deck, rules: LoadRules) -> list[int]:
    timbers = timber_middles(bundle, rules)
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
        bundle.height_nm if bundle.centre_up_nm is None else 2 * bundle.centre_up_nm,
        bundle.stop,
        max(1, truck_share_ppm(bundle, largest, rules, usable_width_nm(largest, rules))),
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
    return [float(number) for law in weight_limits(deck, rules) for number in (law.per_gram, law.per_moment, law.most)]
