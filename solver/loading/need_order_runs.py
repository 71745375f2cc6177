"""Trucks in the order of need: the first carries what is wanted first, each a run of the order, cut where all stand lowest."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from solver.domain.load import Deck, LoadBundle, LoadRules
from solver.loading.lowest_load import StandingTruck, lowest_load
from solver.search import Search

Cuts = tuple[int, ...]  # how many bundles, of those in reverse order of need, come before each cut
MOVES = 40  # cuts moved, at most


def count_out_of_order(trucks: Sequence[StandingTruck]) -> int:
    """Return how many bundles ride on a later truck though one on an earlier truck is wanted after them."""
    said = sorted(sorted((spot.bundle.stop, spot.bundle.rank) for spot in item.truck.spots) for item in trucks)
    count, latest = 0, (-1, -1)
    for ranks in said:
        count += sum(rank < latest for rank in ranks)
        latest = max(latest, ranks[-1])
    return count


def standing_heights(trucks: Sequence[StandingTruck]) -> tuple[float, ...]:
    """Return how high trucks stand, for comparing: of tiers, tops and centres the highest, then their sums; straps; cost."""
    tiers, tops, centres, straps, costs = zip(*(item.height for item in trucks), strict=True)
    return (max(tiers), sum(tiers), max(tops), sum(tops), max(centres), sum(centres), sum(straps), sum(costs))


class NeedOrderRuns:
    """Runs of the order of need on so many trucks; each run is loaded once, however often cuts come back to it."""

    def __init__(
        self, backward: Sequence[LoadBundle], decks: Sequence[Deck], rules: LoadRules, used: Mapping[str, int], search: Search
    ) -> None:
        self.backward, self.decks, self.rules, self.used, self.search = backward, decks, rules, used, search
        self.known: dict[tuple[int, int, tuple[tuple[str, int], ...]], StandingTruck | None] = {}

    def lowered_trucks(self, cuts: Cuts) -> list[StandingTruck] | None:
        """Return trucks cut there, or where moving one cut after the other makes them stand lower; None: not lawful."""
        best = self.cut(cuts)
        moves = 0
        while best is not None and not self.search.over():
            before = cuts
            for other in _neighbours(cuts, len(self.backward)):
                moves += 1
                found = self.cut(other) if moves <= MOVES and not self.search.over() else None
                if found is not None and standing_heights(found) < standing_heights(best):
                    best, cuts = found, other
                    break
            if cuts == before:
                break
        return best

    def cut(self, cuts: Cuts) -> list[StandingTruck] | None:
        """Return trucks with the bundles between the cuts; None where one of them is not lawful, as far as was found."""
        taken = dict(self.used)
        made = []
        for start, end in zip((0, *cuts), (*cuts, len(self.backward)), strict=True):
            scarce = tuple((deck.id, taken.get(deck.id, 0)) for deck in self.decks if deck.count is not None)
            key = (start, end, scarce)
            if key not in self.known:
                self.known[key] = lowest_load(self.backward[start:end], self.decks, self.rules, taken, self.search)
            found = self.known[key]
            if found is None:
                return None
            taken[found.truck.deck.id] = taken.get(found.truck.deck.id, 0) + 1
            made.append(found)
        return made


def even_cuts(sizes: Sequence[int], parts: int) -> Cuts:
    """Return the cuts that share sizes out most evenly, none of the parts empty."""
    whole, cuts, total = sum(sizes), list[int](), 0
    for place, size in enumerate(sizes):
        left = parts - len(cuts)
        if left > 1 and place > (cuts[-1] if cuts else 0):
            goal = whole * (len(cuts) + 1)
            if abs(parts * total - goal) <= abs(parts * (total + size) - goal) or len(sizes) - place < left:
                cuts.append(place)
        total += size
    return tuple(cuts)


def _neighbours(cuts: Cuts, size: int) -> Iterator[Cuts]:
    for place, cut in enumerate(cuts):
        low, high = (cuts[place - 1] if place else 0), (cuts[place + 1] if place + 1 < len(cuts) else size)
        for step in (-1, 1, -2, 2):
            if low < cut + step < high:
                yield (*cuts[:place], cut + step, *cuts[place + 1 :])
