"""Bundles on decks: fewest trucks, in order of need, then the lowest loads, fewest tie-downs and least deck."""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate

from solver.domain.certificate import Certificate
from solver.domain.ids import LoadId, in_order
from solver.domain.load import Deck, Load, LoadBundle, LoadJob, LoadResult, LoadRules
from solver.errors import FaultCollector, FieldFault, NoPlan
from solver.loading.bounds import Room, quick_trucks_bound, trucks_bound_by_columns, trucks_lower_bound
from solver.loading.cost_bound import least_deck_cost
from solver.loading.faults import refuse_impossible, validate
from solver.loading.finish import finish_load
from solver.loading.legal import legal_height_nm, usable_width_nm
from solver.loading.lowest_load import StandingTruck, decks_could_hold, lowest_lawful_slide, lowest_load
from solver.loading.need_order_runs import NeedOrderRuns, count_out_of_order, even_cuts, standing_heights
from solver.loading.packing import Packing
from solver.loading.placement_weights import PLACEMENT_WEIGHTS, random_weights, truck_share_ppm
from solver.loading.reassign import TRIALS, reassign_bundles
from solver.loading.too_few_trucks import proves_too_few_trucks
from solver.search import Search

FRESH = 4  # tastes by chance tried beyond the set ones, on each large deck
PROOF = 0.5  # of the time left goes into a proof that a bound is too low
FEWER = 0.5  # of the time left goes into fewer trucks
ORDER = 0.5  # of what is left then into trucks in order of need, the rest into lower loads
BREATH_S = 0.1  # a bound is not begun with less time than this: its steps take about so long
AT_LEAST = 600  # bundles placed before the clock is asked: the quick answer
LOWER = 4_000  # trials for one truck to stand lower


def load(job: LoadJob, search: Search) -> LoadResult:
    """Return loads in order of need, with bounds on trucks and cost; `unknown` where decks that may be enough were not filled.

    Raises InputError for a faulty job, NoPlan naming each bundle that no deck can take, or when the decks are too few.
    """
    faults = FaultCollector()
    faults.extend(validate(job))
    faults.raise_if_any()
    rules = replace(job.rules, height_limit_nm=legal_height_nm(job.rules))
    if not job.bundles:
        return LoadResult(status="optimal", loads=(), cost=0.0, lower_bound=0.0, seconds=0.0)
    refuse_impossible(job.bundles, job.decks, rules)
    trips: dict[str | None, list[LoadBundle]] = {}
    for bundle in sorted(job.bundles, key=lambda bundle: (bundle.stop, bundle.rank)):
        trips.setdefault(bundle.trip, []).append(bundle)
    used: dict[str, int] = {}
    parts = []
    for place, bundles in enumerate(trips.values()):
        parts.append(_load_trip(bundles, job.decks, rules, used, _some_of(search, 1 / (len(trips) - place))))
        for item in parts[-1].trucks:
            used[item.truck.deck.id] = used.get(item.truck.deck.id, 0) + 1
    return _result(job, parts)


@dataclass(frozen=True, slots=True)
class TripLoads:
    """The loads of one trip, with the bounds on trucks and cost; no loads where none were found."""

    trucks: tuple[StandingTruck, ...]
    trucks_bound: int
    cost_bound: float
    by_weight: bool = True  # weight, volume and ground alone carry the bound on trucks


def _some_of(search: Search, share: float) -> Search:
    """Return a search that ends when this share of the time left is used."""
    kept = max(0.0, search.left_s()) * (1 - share)
    return replace(search, left_s=lambda: search.left_s() - kept)


def _load_trip(
    bundles: Sequence[LoadBundle], decks: Sequence[Deck], rules: LoadRules, used: Mapping[str, int], search: Search
) -> TripLoads:
    """Return the loads of bundles that travel together; decks already `used` by other trips are not used again."""
    rooms = [(deck.length_nm, usable_width_nm(deck, rules), rules.height_limit_nm - deck.height_nm) for deck in decks]
    backward = bundles[::-1]
    bound = least = quick_trucks_bound(bundles, decks, rooms, rules)
    best = _first_fits(backward, decks, rules, used, search)
    if best is None or len(best) > bound:
        bound = max(bound, _proved(bundles, decks, rooms, rules, best, bound, search))
        best = _fewer(backward, decks, rules, used, bound, best, _some_of(search, FEWER))
    if best is None:
        if bound > (most := _most(decks, used, len(bundles))):
            why = f"too few of them for {len(bundles)} bundles: {most} are left, {bound} needed"
            raise NoPlan(FieldFault("decks", why, "more decks, or a larger count"))
        return TripLoads((), bound, bound * min(deck.cost for deck in decks), bound == least)
    best = _in_order(backward, decks, rules, used, best, _some_of(search, ORDER))
    best = _lowered(best, decks, rules, used, search)
    floor = bound * min(deck.cost for deck in decks)
    if search.left_s() > BREATH_S:
        floor = least_deck_cost(bundles, decks, rooms, bound, len(best), search)
    return TripLoads(tuple(best), bound, min(sum(item.truck.deck.cost for item in best), floor), bound == least)


def _proved(
    bundles: Sequence[LoadBundle],
    decks: Sequence[Deck],
    rooms: Sequence[Room],
    rules: LoadRules,
    best: Sequence[StandingTruck] | None,
    bound: int,
    search: Search,
) -> int:
    """Return the bound on trucks, raised by ever dearer proofs as long as there is time and it is below what was found."""
    for bounded in (trucks_lower_bound, trucks_bound_by_columns):
        if search.left_s() > BREATH_S and (best is None or bound < len(best)):
            bound = max(bound, bounded(bundles, decks, rooms, rules, search))
    payload = max(deck.payload_g for deck in decks)
    while (
        search.left_s() > BREATH_S
        and (best is None or bound < len(best))
        and proves_too_few_trucks(bundles, bound, rooms, payload, rules, _some_of(search, PROOF))
    ):
        bound += 1
    return bound


def _first_fits(
    backward: Sequence[LoadBundle], decks: Sequence[Deck], rules: LoadRules, used: Mapping[str, int], search: Search
) -> list[StandingTruck] | None:
    """Return the fewest trucks of first fit by any taste, in runs of the order of need where that takes no more."""
    best: list[StandingTruck] | None = None
    dice = random.Random(search.seed)
    work = 0
    for mixture in _mixtures(decks, used, _most(decks, used, len(backward))):
        packing = Packing(backward, mixture, rules, search.seed)
        for taste in (*PLACEMENT_WEIGHTS, *(random_weights(dice) for _ in range(FRESH))):
            for in_runs in (True, False):
                if best is not None and work > AT_LEAST and search.over():
                    return best
                work += len(backward)
                trucks = packing.first_fit(taste, in_runs=in_runs)
                if trucks and (best is None or trucks < len(best)):
                    found = _settled(packing.bundles_by_truck(), decks, rules, used, search)
                    if found is not None and (best is None or len(found) < len(best)):
                        best = found
    return best


def _settled(
    shares: Sequence[Sequence[LoadBundle]],
    decks: Sequence[Deck],
    rules: LoadRules,
    used: Mapping[str, int],
    search: Search,
) -> list[StandingTruck] | None:
    """Return each share's truck; a share that axles or balance refuse is halved. None where the decks run out."""
    taken, waiting = dict(used), list(shares)
    made: list[StandingTruck] = []
    while waiting:
        share = waiting.pop()
        found = lowest_load(share, decks, rules, taken, search)
        if found is not None:
            taken[found.truck.deck.id] = taken.get(found.truck.deck.id, 0) + 1
            made.append(found)
        elif len(share) == 1:
            return None
        else:
            waiting += [share[: len(share) // 2], share[len(share) // 2 :]]
    return made


def _fewer(
    backward: Sequence[LoadBundle],
    decks: Sequence[Deck],
    rules: LoadRules,
    used: Mapping[str, int],
    bound: int,
    best: list[StandingTruck] | None,
    search: Search,
) -> list[StandingTruck] | None:
    """Return loads on ever fewer trucks, down to the bound, as long as the search finds them; else the best as it was."""
    while not search.over() and (best is None or len(best) > bound):
        trucks = _most(decks, used, len(backward)) if best is None else len(best) - 1
        before = best
        for mixture in _mixtures(decks, used, trucks):
            if decks_could_hold(backward, mixture, rules):
                found = reassign_bundles(backward, mixture, rules, search, trials=TRIALS)
                made = [] if found is None else [item for item in map(lowest_lawful_slide, found) if item is not None]
                if found is not None and len(made) == len(found):
                    best = made
                    break
        if best is before:
            break
    return best


def _in_order(
    backward: Sequence[LoadBundle],
    decks: Sequence[Deck],
    rules: LoadRules,
    used: Mapping[str, int],
    best: list[StandingTruck],
    search: Search,
) -> list[StandingTruck]:
    """Return as many trucks, each with a run of the order of need, the lowest cuts found; else the best as it was."""
    if len(best) == 1 or search.over():
        return best
    largest = max(decks, key=_size)
    width = usable_width_nm(largest, rules)
    runs = NeedOrderRuns(backward, decks, rules, used, search)
    even = even_cuts([truck_share_ppm(bundle, largest, rules, width) for bundle in backward], len(best))
    found = runs.lowered_trucks(even)
    if found is None and count_out_of_order(best) == 0:
        ordered = sorted(best, key=_wanted, reverse=True)
        ends = list(accumulate(len(item.truck.spots) for item in ordered))
        found = runs.lowered_trucks(tuple(ends[:-1]))
    if found is None or (count_out_of_order(best) == 0 and standing_heights(best) <= standing_heights(found)):
        return best
    return found


def _lowered(
    best: Sequence[StandingTruck], decks: Sequence[Deck], rules: LoadRules, used: Mapping[str, int], search: Search
) -> list[StandingTruck]:
    """Return the trucks, each with what it carried, standing as low as was found."""
    taken = dict(used)
    for item in best:
        taken[item.truck.deck.id] = taken.get(item.truck.deck.id, 0) + 1
    made = []
    for place, item in enumerate(best):
        taken[item.truck.deck.id] -= 1
        share = _some_of(search, 1 / (len(best) - place))
        found = None if search.over() else lowest_load(item.bundles, decks, rules, taken, share, times=LOWER)
        made.append(item if found is None or item.height <= found.height else found)
        taken[made[-1].truck.deck.id] = taken.get(made[-1].truck.deck.id, 0) + 1
    return made


def _mixtures(decks: Sequence[Deck], used: Mapping[str, int], trucks: int) -> Iterator[list[Deck]]:
    """Yield sets of so many decks: as many as there are of each large one, filled up with the next largest."""
    large_first = sorted(decks, key=_size, reverse=True)
    for lead in _unbeaten(decks):
        order = [lead, *(deck for deck in large_first if deck is not lead)]
        made = [deck for deck in order for _ in range(_left(deck, used, trucks))][:trucks]
        if len(made) == trucks:
            yield made


def _left(deck: Deck, used: Mapping[str, int], most: int) -> int:
    return most if deck.count is None else min(most, deck.count - used.get(deck.id, 0))


def _most(decks: Sequence[Deck], used: Mapping[str, int], most: int) -> int:
    """Return how many decks are left, at most `most`."""
    return min(most, sum(_left(deck, used, most) for deck in decks))


def _result(job: LoadJob, parts: Sequence[TripLoads]) -> LoadResult:
    floor, bound = sum(part.cost_bound for part in parts), sum(part.trucks_bound for part in parts)
    certificate = Certificate(kind="weight" if all(part.by_weight for part in parts) else "search")
    if not all(part.trucks for part in parts):
        why = "the time ended before decks were found for all bundles, and it is not ruled out that there are enough"
        return LoadResult(
            status="unknown",
            loads=(),
            cost=None,
            lower_bound=floor,
            seconds=0.0,
            notes=(why,),
            trucks_lower_bound=bound,
            certificate=certificate,
        )
    loads = sorted((pair for part in parts for pair in loads_in_order_of_need(part.trucks)), key=lambda pair: pair[0])
    return LoadResult(
        status="optimal" if len(loads) == bound else "feasible",
        loads=tuple(replace(item, id=LoadId(in_order(job.name, f"L{place:02d}"))) for place, (_, item) in enumerate(loads, 1)),
        cost=sum(item.truck.deck.cost for part in parts for item in part.trucks),
        lower_bound=floor,
        seconds=0.0,
        trucks=len(loads),
        trucks_lower_bound=bound,
        certificate=certificate,
    )


def loads_in_order_of_need(trucks: Sequence[StandingTruck]) -> Iterator[tuple[tuple[int, int], Load]]:
    """Yield the loads of one trip, each with how soon it is wanted, and what rides later than it is wanted named."""
    latest = (-1, -1)
    for item in sorted(trucks, key=_wanted):
        ranks = [(bundle.stop, bundle.rank) for bundle in item.bundles]
        late = tuple(bundle.id for bundle in reversed(item.bundles) if (bundle.stop, bundle.rank) < latest)
        latest = max(latest, *ranks)
        yield min(ranks), replace(finish_load(item.truck, item.slide), out_of_order=late)


def _wanted(item: StandingTruck) -> tuple[int, int]:
    return min((bundle.stop, bundle.rank) for bundle in item.bundles)


def _unbeaten(decks: Sequence[Deck]) -> list[Deck]:
    """Return the decks that no other deck beats in length, payload and lowness all at once."""
    made = []
    for deck in decks:
        size = _size(deck)
        if not any(
            all(mine <= other for mine, other in zip(size, _size(rival), strict=True)) and size != _size(rival)
            for rival in decks
        ):
            made.append(deck)
    return made


def _size(deck: Deck) -> tuple[int, int, int, int]:
    return deck.length_nm, deck.width_nm, deck.payload_g, -deck.height_nm
