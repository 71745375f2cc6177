"""Bundles on decks: fewest trucks, then decks of least cost, then least shift of the centre of mass."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from solver.domain.ids import LoadId
from solver.domain.load import Deck, Load, LoadBundle, LoadJob, LoadResult, LoadRules
from solver.errors import Faults, FieldFault, NoPlan
from solver.loading.bounds import least_cost, trucks_by_columns, trucks_needed
from solver.loading.exchange import Oracle, shared_out
from solver.loading.fill import CENTRED, TASTES, filled, packed, random_taste
from solver.loading.finish import finish
from solver.loading.legal import legal_height_nm, legal_width_nm
from solver.search import Search
from solver.units import INCH

FRESH = 4  # tastes by chance tried beyond the set ones, on each large deck
MORE_TASTES = 24  # tried where the set ones make no legal load of a share
FILLINGS = 1_200  # trucks filled on trial in search of each smaller number of trucks


def validate(job: LoadJob) -> list[FieldFault]:
    """Return every fault of a job: ids given twice, limits beyond the law without a permit, decks without sense."""
    faults = Faults()
    _twice("bundles", [bundle.id for bundle in job.bundles], faults)
    _twice("decks", [deck.id for deck in job.decks], faults)
    if job.bundles and not job.decks:
        faults.add("decks", "there is none to load on", "at least one deck")
    _rule_faults(job.rules, faults)
    for place, deck in enumerate(job.decks):
        _deck_faults(deck, f"decks[{place}]", job.rules, faults)
    for place, bundle in enumerate(job.bundles):
        _bundle_faults(bundle, f"bundles[{place}]", job.rules.timber_width_nm, faults)
    return faults.found


def _twice(name: str, ids: Sequence[str], faults: Faults) -> None:
    seen: dict[str, int] = {}
    for place, item in enumerate(ids):
        if (first := seen.setdefault(item, place)) != place:
            faults.add(f"{name}[{place}].id", f"{item!r} is the id of {name}[{first}] too", "an id of its own")


def _rule_faults(rules: LoadRules, faults: Faults) -> None:
    if rules.rule_set == "US" and rules.width_limit_nm > 102 * INCH:
        faults.add("rules.width_limit", "is over 102 in (23 CFR 658.15)", "102 in, or permit_width with a permit")
    for name, given in (("permit_width", rules.permit_width_nm), ("permit_gross_g", rules.permit_gross_g)):
        if given is not None and not rules.permit:
            faults.add(f"rules.{name}", "is given without a permit", "the permit's number and route")
    if rules.permit_axles_permille > 1000 and not rules.permit:
        faults.add("rules.permit_axles_permille", "is given without a permit", "the permit's number and route")
    if len(set(rules.unload_from)) < len(rules.unload_from):
        faults.add("rules.unload_from", "names a side twice", "each side once")


def _deck_faults(deck: Deck, path: str, rules: LoadRules, faults: Faults) -> None:
    if deck.height_nm >= legal_height_nm(rules):
        faults.add(f"{path}.height", "leaves no height for a load", "a deck lower than the height limit")
    front = deck.front_axle_nm if deck.front_axle_nm is not None else deck.kingpin_nm
    if deck.axle_group_nm is not None and front is not None and deck.axle_group_nm <= front:
        faults.add(f"{path}.axle_group", "is not behind the front support", "a place behind the kingpin or front axle")
    if deck.tractor is not None and deck.front_axle_nm is not None:
        faults.add(f"{path}.front_axle", "is given beside a tractor", "one of the two")
    given = (deck.axle_group_nm is not None, deck.mass_nm is not None, front is not None)
    if any(given) and not all(given):
        faults.add(path, "gives some of kingpin or front_axle, axle_group and mass", "all three, or none")


def _bundle_faults(bundle: LoadBundle, path: str, timber_nm: int, faults: Faults) -> None:
    for place, timber in enumerate(bundle.dunnage_nm):
        if not 0 <= timber <= bundle.length_nm:
            faults.add(f"{path}.dunnage[{place}]", "lies outside the bundle", "between its ends")
    if any(right - left < timber_nm for left, right in pairwise(bundle.dunnage_nm)):
        faults.add(f"{path}.dunnage", "has timbers out of order or in one another", "rising, a timber's width apart")
    if bundle.centre_nm is not None and bundle.centre_nm > bundle.length_nm:
        faults.add(f"{path}.centre", "lies outside the bundle", "at most its length")
    if bundle.centre_across_nm is not None and bundle.centre_across_nm > bundle.width_nm:
        faults.add(f"{path}.centre_across", "lies outside the bundle", "at most its width")


def load(job: LoadJob, search: Search) -> LoadResult:
    """Return loads in order of need, with bounds on trucks and cost.

    Raises InputError for a faulty job, NoPlan naming each bundle that no deck can take.
    """
    faults = Faults()
    faults.extend(validate(job))
    faults.raise_any()
    rules = replace(job.rules, height_limit_nm=legal_height_nm(job.rules))
    if not job.bundles:
        return LoadResult(status="optimal", loads=(), cost=0.0, lower_bound=0.0, seconds=0.0)
    _refuse_impossible(job.bundles, job.decks, rules)
    trips: dict[str | None, list[LoadBundle]] = {}
    for bundle in sorted(job.bundles, key=lambda bundle: (bundle.stop, bundle.rank)):
        trips.setdefault(bundle.trip, []).append(bundle)
    used: dict[str, int] = {}
    parts = [_load_trip(bundles, job.decks, rules, used, search) for bundles in trips.values()]
    return _result(job, parts)


@dataclass(frozen=True, slots=True)
class Part:
    """The loads of one trip, with the bounds on trucks and cost."""

    loads: tuple[Load, ...]
    trucks_bound: int
    cost_bound: float
    cost: float


def _load_trip(
    bundles: Sequence[LoadBundle], decks: Sequence[Deck], rules: LoadRules, used: dict[str, int], search: Search
) -> Part:
    """Return the loads of bundles that travel together; decks already `used` by other trips are not used again."""
    rooms = [(deck.length_nm, usable_width_nm(deck, rules), rules.height_limit_nm - deck.height_nm) for deck in decks]
    bound = trucks_needed(bundles, decks, rooms, rules)
    best = _first_fits(bundles[::-1], decks, rules, used, bound, search)
    if best is not None and len(best) > bound and not search.over():
        bound = max(bound, trucks_by_columns(bundles, rooms, rules))
        best = _exchanged(bundles[::-1], decks, rules, used, bound, best, search)
    if best is None:
        raise NoPlan(FieldFault("decks", f"too few of them for {len(bundles)} bundles", "more decks, or a larger count"))
    for item in best:
        used[item.deck] = used.get(item.deck, 0) + 1
    cost = _worth(best, decks)[1]
    floor = min(cost, least_cost(bundles, decks, rooms, bound, len(best)))
    return Part(tuple(best), bound, floor, cost)


def _first_fits(
    backward: Sequence[LoadBundle],
    decks: Sequence[Deck],
    rules: LoadRules,
    used: dict[str, int],
    bound: int,
    search: Search,
) -> list[Load] | None:
    """Return the best loads of first fit: every set taste and some by chance on every large deck."""
    best: list[Load] | None = None
    dice = random.Random(search.seed)
    for deck in _by_room(decks):
        for taste in (*TASTES, *(random_taste(dice) for _ in range(FRESH))):
            if best is not None and search.over():
                return best
            shares = filled(backward, deck, rules, usable_width_nm(deck, rules), taste, dice, most=len(backward))
            if shares is None:
                continue
            if best is None or len(shares) <= len(best):
                best = _better(best, _loads_of(shares, decks, rules, dict(used)), decks)
            if best is not None and len(best) == bound and taste is TASTES[-1]:
                return best
    return best


def _exchanged(
    backward: Sequence[LoadBundle],
    decks: Sequence[Deck],
    rules: LoadRules,
    used: dict[str, int],
    bound: int,
    best: list[Load],
    search: Search,
) -> list[Load]:
    """Return loads on fewer trucks, from the bound up, by exchanging bundles between trucks; else the best as it was."""
    dice = random.Random(search.seed)
    for trucks in range(bound, len(best)):
        for deck in _by_room(decks):
            if not _could_hold(backward, deck, rules, trucks):
                continue
            oracle = Oracle(deck, rules, usable_width_nm(deck, rules), dice, fillings=FILLINGS, over=search.over)
            while not oracle.spent():
                shares = shared_out(backward, trucks, oracle, dice)
                made = None if shares is None else _loads_of([_backward(share) for share in shares], decks, rules, dict(used))
                best = _better(best, made, decks) or best
                if len(best) <= trucks:
                    return best
            search.tell("bundles exchanged between trucks", 0.9)
    return best


def _could_hold(bundles: Sequence[LoadBundle], deck: Deck, rules: LoadRules, trucks: int) -> bool:
    """Return whether so many of a deck have the payload and the volume for all the bundles, and each fits it by its length."""
    volume = sum(bundle.length_nm * bundle.width_nm * bundle.height_nm for bundle in bundles)
    return (
        max(bundle.length_nm for bundle in bundles) <= deck.length_nm
        and sum(bundle.weight_g for bundle in bundles) <= trucks * deck.payload_g
        and volume <= trucks * _room(deck, rules)
    )


def _backward(share: Sequence[LoadBundle]) -> list[LoadBundle]:
    return sorted(share, key=lambda bundle: (bundle.stop, bundle.rank), reverse=True)


def _better(best: list[Load] | None, made: list[Load] | None, decks: Sequence[Deck]) -> list[Load] | None:
    if made is None:
        return best
    return made if best is None or _worth(made, decks) < _worth(best, decks) else best


def _result(job: LoadJob, parts: Sequence[Part]) -> LoadResult:
    rank = {bundle.id: (bundle.stop, bundle.rank) for bundle in job.bundles}
    loads = [item for part in parts for item in part.loads]
    loads.sort(key=lambda item: min(rank[placed.bundle] for placed in item.placed))
    stem = f"{job.name}/" if job.name else ""
    cost, floor = sum(part.cost for part in parts), sum(part.cost_bound for part in parts)
    bound = sum(part.trucks_bound for part in parts)
    return LoadResult(
        status="optimal" if len(loads) == bound and cost <= floor * (1 + 1e-9) else "feasible",
        loads=tuple(replace(item, id=LoadId(f"{stem}L{place:02d}")) for place, item in enumerate(loads, 1)),
        cost=cost,
        lower_bound=floor,
        seconds=0.0,
        trucks=len(loads),
        trucks_lower_bound=bound,
    )


def _worth(loads: Sequence[Load], decks: Sequence[Deck]) -> tuple[int, float]:
    prices = {deck.id: deck.cost for deck in decks}
    return len(loads), sum(prices[item.deck] for item in loads)


def usable_width_nm(deck: Deck, rules: LoadRules) -> int:
    """Return the width that may be loaded: the deck's within the law, or the permit's past it."""
    legal = legal_width_nm(rules)
    return legal if rules.permit and rules.permit_width_nm is not None else min(deck.width_nm, legal)


def _by_room(decks: Sequence[Deck]) -> list[Deck]:
    """Return the decks that no other deck beats in length, payload and lowness all at once."""
    made = []
    for deck in decks:
        size = (deck.length_nm, deck.width_nm, deck.payload_g, -deck.height_nm)
        if not any(
            all(mine <= other for mine, other in zip(size, _size(rival), strict=True)) and size != _size(rival)
            for rival in decks
        ):
            made.append(deck)
    return made


def _size(deck: Deck) -> tuple[int, int, int, int]:
    return deck.length_nm, deck.width_nm, deck.payload_g, -deck.height_nm


def _refuse_impossible(bundles: Sequence[LoadBundle], decks: Sequence[Deck], rules: LoadRules) -> None:
    faults = []
    for bundle in bundles:
        if not any(_alone(bundle, deck, rules) for deck in decks):
            faults.append(
                FieldFault(bundle.id, f"no deck can take it: {_why(bundle, decks, rules)}", "a smaller bundle or another deck")
            )
    if faults:
        raise NoPlan(*faults)


def _alone(bundle: LoadBundle, deck: Deck, rules: LoadRules) -> bool:
    truck = packed([bundle], deck, rules, usable_width_nm(deck, rules), CENTRED)
    return truck is not None and finish(truck, "-") is not None


def _why(bundle: LoadBundle, decks: Sequence[Deck], rules: LoadRules) -> str:
    if all(bundle.length_nm > deck.length_nm for deck in decks):
        return "it is longer than every deck"
    if all(bundle.width_nm > usable_width_nm(deck, rules) for deck in decks):
        return "it is wider than may be loaded without a permit"
    if all(bundle.height_nm + deck.height_nm > rules.height_limit_nm for deck in decks):
        return "it stands higher than the limit"
    if all(bundle.weight_g > deck.payload_g for deck in decks):
        return "it is heavier than every payload"
    return "its size or its weight on the axles"


def _loads_of(
    shares: Sequence[Sequence[LoadBundle]], decks: Sequence[Deck], rules: LoadRules, used: dict[str, int]
) -> list[Load] | None:
    """Return each truck's load on the cheapest deck that takes it; a share that axles or balance refuse is halved."""
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


def _best_load(bundles: Sequence[LoadBundle], decks: Sequence[Deck], rules: LoadRules, used: dict[str, int]) -> Load | None:
    """Return one truck's load on the cheapest deck that takes it, its centre of mass nearest the middle."""
    weight = sum(bundle.weight_g for bundle in bundles)
    volume = sum(bundle.length_nm * bundle.width_nm * bundle.height_nm for bundle in bundles)
    for deck in sorted(decks, key=lambda deck: deck.cost):
        if deck.count is not None and used.get(deck.id, 0) >= deck.count:
            continue
        if weight > deck.payload_g or volume > _room(deck, rules):
            continue
        found: list[tuple[int, Load]] = []
        dice = random.Random(len(bundles))
        for taste in (*TASTES, *(random_taste(dice, skip=False) for _ in range(MORE_TASTES))):
            if found and taste not in TASTES:
                break
            truck = packed(bundles, deck, rules, usable_width_nm(deck, rules), taste)
            done = None if truck is None else finish(truck, "-")
            if done is not None:
                found.append(done)
        if found:
            return min(found, key=lambda item: item[0])[1]
    return None


def _room(deck: Deck, rules: LoadRules) -> int:
    return usable_width_nm(deck, rules) * deck.length_nm * (rules.height_limit_nm - deck.height_nm)
