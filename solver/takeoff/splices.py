"""Where a long channel is spliced: fewest lengths, then the stock that costs least, clear of what a splice must keep from.

Each length ends where some stock length reaches from the splice before, or just clear of a joint below that; a short search
over those ends is exact among them. A very long run takes its longest stock first and leaves the last few to the search.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from solver.domain.plant import StockPrice

SEARCHED = 5  # lengths that are searched for together; the ones before them are the longest stock


@dataclass(frozen=True, slots=True, kw_only=True)
class SplicePlan:
    """Places of splices along a run, from its low end, and the distances of those too near a joint."""

    places: tuple[int, ...]
    too_near: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class RunToSplice:
    """A run to splice: from `low` to `high`, its lengths `steep` times longer than they measure along it (a slope).

    `first_nm` and `last_nm`: where the first splice may lie at the nearest and the last at the farthest; `joints`: places that
    splices keep `clear_nm` from.
    """

    low: int
    high: int
    first_nm: int
    last_nm: int
    stock: tuple[StockPrice, ...]
    steep: Fraction = Fraction(1)
    joints: tuple[int, ...] = ()
    clear_nm: int = 0

    def length(self, start: int, end: int) -> Fraction:
        """Return the length of channel between two places."""
        return (end - start) * self.steep


Score = tuple[int, int, int, tuple[int, ...]]  # too near a joint, lengths, cost, places (the first length the longest)


def best_splices(run: RunToSplice) -> SplicePlan:
    """Return the best splices of a run."""
    longest = max(item.length_nm for item in run.stock)
    place, before = run.low, SplicePlan(places=())
    while run.length(place, run.high) > SEARCHED * longest:
        place, near = _step(run, place, longest)
        before = SplicePlan(places=(*before.places, place), too_near=(*before.too_near, *near))
    _, rest = _search(run, place, longest, {})
    return SplicePlan(places=(*before.places, *rest.places), too_near=(*before.too_near, *rest.too_near))


def _search(run: RunToSplice, place: int, longest: int, known: dict[int, tuple[Score, SplicePlan]]) -> tuple[Score, SplicePlan]:
    """The best splices from a place on, with their score."""
    if place in known:
        return known[place]
    if run.length(place, run.high) <= longest:
        found: tuple[Score, SplicePlan] = ((0, 1, _price(run, place, run.high), ()), SplicePlan(places=()))
        known[place] = found
        return found
    best: tuple[Score, SplicePlan] | None = None
    for item in sorted(run.stock, key=lambda item: -item.length_nm):
        here, near = _step(run, place, item.length_nm)
        fewest = 1 - int(-run.length(here, run.high) // longest)
        if here <= place or (best is not None and best[0][0] == 0 and fewest > best[0][1]):
            continue
        score, rest = _search(run, here, longest, known)
        mine = (score[0] + len(near), score[1] + 1, score[2] + _price(run, place, here), (-here, *score[3]))
        if best is None or mine < best[0]:
            best = (mine, SplicePlan(places=(here, *rest.places), too_near=(*near, *rest.too_near)))
    assert best is not None  # the longest stock always reaches on
    known[place] = best
    return best


def _step(run: RunToSplice, place: int, stock_nm: int) -> tuple[int, tuple[int, ...]]:
    """Where a stock length from a place ends, clear of the joints; or as far as it reaches, and how near a joint that is."""
    floor = max(place, run.first_nm)
    reach = place + int(stock_nm / run.steep)
    most = min(reach, max(run.last_nm, (place + run.high) // 2))  # the last length is no sliver
    here = most
    while near := [joint for joint in run.joints if abs(joint - here) < run.clear_nm]:
        here = min(near) - run.clear_nm
    if here > floor:
        return here, ()
    if most <= floor:
        return place, ()
    return most, (min(abs(joint - most) for joint in run.joints),)


def _price(run: RunToSplice, start: int, end: int) -> int:
    """The cost of the cheapest stock that a length can be cut from."""
    length = run.length(start, end)
    return min(
        (item.price_cents for item in run.stock if item.length_nm >= length), default=max(i.price_cents for i in run.stock)
    )


def mirrored_run(run: RunToSplice) -> RunToSplice:
    """Return the same run seen from its other end."""

    def turned(place: int) -> int:
        return run.low + run.high - place

    return RunToSplice(
        low=run.low,
        high=run.high,
        first_nm=turned(run.last_nm),
        last_nm=turned(run.first_nm),
        stock=run.stock,
        steep=run.steep,
        joints=tuple(turned(joint) for joint in run.joints),
        clear_nm=run.clear_nm,
    )


def splice_from(run: RunToSplice, *, from_low: bool) -> SplicePlan:
    """Return the best splices of a run laid from one of its ends, places from the low end up."""
    if from_low:
        return best_splices(run)
    found = best_splices(mirrored_run(run))
    places: Sequence[int] = [run.low + run.high - place for place in found.places]
    return SplicePlan(places=tuple(reversed(places)), too_near=found.too_near)
