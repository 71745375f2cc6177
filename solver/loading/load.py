"""Bundles on decks: fewest trucks, then decks of least cost, then least shift of the centre of mass."""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from solver.domain.ids import LoadId
from solver.domain.load import Deck, Load, LoadBundle, LoadJob, LoadResult, LoadRules
from solver.errors import Faults, FieldFault, NoPlan
from solver.loading.bounds import trucks_by_columns, trucks_needed
from solver.loading.cost_bound import least_cost
from solver.loading.faults import refuse_impossible, validate
from solver.loading.fill import TASTES, filled, random_taste
from solver.loading.legal import legal_height_nm, usable_width_nm
from solver.loading.regroup import TRIALS, regrouped
from solver.loading.settle import could_hold, loads_of, settled
from solver.loading.towers import too_few
from solver.search import Search

FRESH = 4  # tastes by chance tried beyond the set ones, on each large deck
PROOF = 0.5  # of the time left goes into a proof that a bound is too low
FEWER = 0.7  # of the time left goes into fewer trucks, the rest into cheaper decks
CHEAPER_TRIALS = TRIALS // 10  # in search of one cheaper set of decks


def load(job: LoadJob, search: Search) -> LoadResult:
    """Return loads in order of need, with bounds on trucks and cost; `unknown` where decks that may be enough were not filled.

    Raises InputError for a faulty job, NoPlan naming each bundle that no deck can take, or when the decks are too few.
    """
    faults = Faults()
    faults.extend(validate(job))
    faults.raise_any()
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
        for item in parts[-1].loads:
            used[item.deck] = used.get(item.deck, 0) + 1
    return _result(job, parts)


@dataclass(frozen=True, slots=True)
class Part:
    """The loads of one trip, with the bounds on trucks and cost; no loads where none were found."""

    loads: tuple[Load, ...]
    trucks_bound: int
    cost_bound: float
    cost: float


def _some_of(search: Search, share: float) -> Search:
    """Return a search that ends when this share of the time left is used."""
    kept = max(0.0, search.left_s()) * (1 - share)
    return replace(search, left_s=lambda: search.left_s() - kept)


def _load_trip(
    bundles: Sequence[LoadBundle], decks: Sequence[Deck], rules: LoadRules, used: Mapping[str, int], search: Search
) -> Part:
    """Return the loads of bundles that travel together; decks already `used` by other trips are not used again."""
    rooms = [(deck.length_nm, usable_width_nm(deck, rules), rules.height_limit_nm - deck.height_nm) for deck in decks]
    backward = bundles[::-1]
    bound = trucks_needed(bundles, decks, rooms, rules, search)
    best = _first_fits(backward, decks, rules, used, bound, search)
    if best is None or len(best) > bound:
        bound = max(bound, trucks_by_columns(bundles, rooms, rules, search))
        payload = max(deck.payload_g for deck in decks)
        while (best is None or bound < len(best)) and too_few(bundles, bound, rooms, payload, rules, _some_of(search, PROOF)):
            bound += 1
        best = _fewer(backward, decks, rules, used, bound, best, _some_of(search, FEWER))
    if best is None:
        if bound > (most := _most(decks, used, len(bundles))):
            why = f"too few of them for {len(bundles)} bundles: {most} are left, {bound} needed"
            raise NoPlan(FieldFault("decks", why, "more decks, or a larger count"))
        return Part((), bound, bound * min(deck.cost for deck in decks), 0.0)
    floor = least_cost(bundles, decks, rooms, bound, len(best), search)
    best = _cheaper(backward, decks, rules, used, floor, best, search)
    cost = _cost(best, decks)
    return Part(tuple(best), bound, min(cost, floor), cost)


def _first_fits(
    backward: Sequence[LoadBundle],
    decks: Sequence[Deck],
    rules: LoadRules,
    used: Mapping[str, int],
    bound: int,
    search: Search,
) -> list[Load] | None:
    """Return the best loads of first fit: every set taste and some by chance on every large deck."""
    best: list[Load] | None = None
    dice = random.Random(search.seed)
    for deck in _unbeaten(decks):
        for taste in (*TASTES, *(random_taste(dice) for _ in range(FRESH))):
            if best is not None and search.over():
                return best
            shares = filled(backward, deck, rules, usable_width_nm(deck, rules), taste, dice, most=len(backward))
            if shares is None:
                continue
            if best is None or len(shares) <= len(best):
                best = _better(best, loads_of(shares, decks, rules, dict(used), search), decks)
            if best is not None and len(best) == bound and taste is TASTES[-1]:
                return best
    return best


def _fewer(
    backward: Sequence[LoadBundle],
    decks: Sequence[Deck],
    rules: LoadRules,
    used: Mapping[str, int],
    bound: int,
    best: list[Load] | None,
    search: Search,
) -> list[Load] | None:
    """Return loads on ever fewer trucks, down to the bound, as long as the search finds them; else the best as it was."""
    while not search.over() and (best is None or len(best) > bound):
        trucks = _most(decks, used, len(backward)) if best is None else len(best) - 1
        before = best
        for mixture in _mixtures(decks, used, trucks):
            if could_hold(backward, mixture, rules):
                found = regrouped(backward, mixture, rules, search, trials=TRIALS)
                best = best if found is None else _better(best, settled(found, decks, rules, used, search), decks)
            if best is not before:
                break
        if best is before:
            break
    return best


def _cheaper(
    backward: Sequence[LoadBundle],
    decks: Sequence[Deck],
    rules: LoadRules,
    used: Mapping[str, int],
    floor: float,
    best: list[Load],
    search: Search,
) -> list[Load]:
    """Return loads on as many trucks of less cost, one deck exchanged for a cheaper one at a time, down to the bound."""
    before: list[Load] | None = None
    while best is not before and _cost(best, decks) > floor * (1 + 1e-9):
        before = best
        for mixture in _cheaper_mixtures(best, decks, used):
            if search.over():
                return best
            if could_hold(backward, mixture, rules):
                found = regrouped(backward, mixture, rules, search, trials=CHEAPER_TRIALS)
                best = best if found is None else _better(best, settled(found, decks, rules, used, search), decks) or best
            if best is not before:
                break
    return best


def _mixtures(decks: Sequence[Deck], used: Mapping[str, int], trucks: int) -> Iterator[list[Deck]]:
    """Yield sets of so many decks: as many as there are of each large one, filled up with the next largest."""
    large_first = sorted(decks, key=_size, reverse=True)
    for lead in _unbeaten(decks):
        order = [lead, *(deck for deck in large_first if deck is not lead)]
        made = [deck for deck in order for _ in range(_left(deck, used, trucks))][:trucks]
        if len(made) == trucks:
            yield made


def _cheaper_mixtures(loads: Sequence[Load], decks: Sequence[Deck], used: Mapping[str, int]) -> Iterator[list[Deck]]:
    """Yield the decks of loads with one of them exchanged for a cheaper, the greatest saving first."""
    known = {deck.id: deck for deck in decks}
    own = [known[item.deck] for item in loads]
    pairs = [(old, new) for old in dict.fromkeys(own) for new in decks if new.cost < old.cost]
    for old, new in sorted(pairs, key=lambda pair: pair[1].cost - pair[0].cost):
        if _left(new, used, len(own)) > own.count(new):
            place = own.index(old)
            yield [*own[:place], new, *own[place + 1 :]]


def _left(deck: Deck, used: Mapping[str, int], most: int) -> int:
    return most if deck.count is None else min(most, deck.count - used.get(deck.id, 0))


def _most(decks: Sequence[Deck], used: Mapping[str, int], most: int) -> int:
    """Return how many decks are left, at most `most`."""
    return min(most, sum(_left(deck, used, most) for deck in decks))


def _better(best: list[Load] | None, made: list[Load] | None, decks: Sequence[Deck]) -> list[Load] | None:
    if made is None:
        return best
    return made if best is None or (len(made), _cost(made, decks)) < (len(best), _cost(best, decks)) else best


def _cost(loads: Sequence[Load], decks: Sequence[Deck]) -> float:
    prices = {deck.id: deck.cost for deck in decks}
    return sum(prices[item.deck] for item in loads)


def _result(job: LoadJob, parts: Sequence[Part]) -> LoadResult:
    rank = {bundle.id: (bundle.stop, bundle.rank) for bundle in job.bundles}
    loads = [item for part in parts for item in part.loads]
    loads.sort(key=lambda item: min(rank[placed.bundle] for placed in item.placed))
    stem = f"{job.name}/" if job.name else ""
    cost, floor = sum(part.cost for part in parts), sum(part.cost_bound for part in parts)
    bound = sum(part.trucks_bound for part in parts)
    if not all(part.loads for part in parts):
        why = "the time ended before decks were found for all bundles, and it is not ruled out that there are enough"
        return LoadResult(
            status="unknown", loads=(), cost=None, lower_bound=floor, seconds=0.0, notes=(why,), trucks_lower_bound=bound
        )
    return LoadResult(
        status="optimal" if len(loads) == bound and cost <= floor * (1 + 1e-9) else "feasible",
        loads=tuple(replace(item, id=LoadId(f"{stem}L{place:02d}")) for place, item in enumerate(loads, 1)),
        cost=cost,
        lower_bound=floor,
        seconds=0.0,
        trucks=len(loads),
        trucks_lower_bound=bound,
    )


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
