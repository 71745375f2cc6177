"""Bundles on decks: fewest trucks, then decks of least cost, then least shift of the centre of mass."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from solver.domain.ids import LoadId
from solver.domain.load import Deck, Load, LoadBundle, LoadJob, LoadResult, LoadRules
from solver.errors import Faults, FieldFault, NoPlan
from solver.loading.bounds import least_cost, trucks_needed
from solver.loading.finish import finish
from solver.loading.legal import legal_height_nm, legal_width_nm
from solver.loading.place import Spot, Truck, spots_for
from solver.search import Search
from solver.units import INCH


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
        _bundle_faults(bundle, f"bundles[{place}]", faults)
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


def _bundle_faults(bundle: LoadBundle, path: str, faults: Faults) -> None:
    for place, timber in enumerate(bundle.dunnage_nm):
        if not 0 <= timber <= bundle.length_nm:
            faults.add(f"{path}.dunnage[{place}]", "lies outside the bundle", "between its ends")
    if list(bundle.dunnage_nm) != sorted(bundle.dunnage_nm):
        faults.add(f"{path}.dunnage", "is not in order", "positions from the foot end, rising")
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
    width = max(usable_width_nm(deck, rules) for deck in decks)
    bound = trucks_needed(bundles, decks, rules, width_nm=width)
    best: list[Load] | None = None
    for choice in CHOICES:
        for deck in _by_room(decks):
            made = _fill(bundles, decks, rules, deck, choice, dict(used))
            if made is not None and (best is None or _worth(made, decks) < _worth(best, decks)):
                best = made
        search.tell("trucks filled", 0.5)
        if search.over() and best is not None:
            break
    if best is None:
        raise NoPlan(FieldFault("decks", f"too few of them for {len(bundles)} bundles", "more decks, or a larger count"))
    for item in best:
        used[item.deck] = used.get(item.deck, 0) + 1
    rooms = [usable_width_nm(deck, rules) * deck.length_nm * (rules.height_limit_nm - deck.height_nm) for deck in decks]
    volume = sum(bundle.length_nm * bundle.width_nm * bundle.height_nm for bundle in bundles)
    weight = sum(bundle.weight_g for bundle in bundles)
    cost = _worth(best, decks)[1]
    floor = min(cost, least_cost(decks, bound, len(best), weight, volume, rooms))
    return Part(tuple(best), bound, floor, cost)


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


def _alone(bundle: LoadBundle, deck: Deck, rules: LoadRules) -> Load | None:
    width = usable_width_nm(deck, rules)
    for spot in spots_for(Truck(deck=deck), bundle, rules, width_nm=width):
        truck = Truck(deck=deck)
        truck.add(spot)
        done = finish(truck, rules, "-", width_nm=width)
        if done is not None:
            return done[1]
    return None


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


def _hidden(spot: Spot, deck: Deck, rules: LoadRules) -> int:
    """Return how near a place is to the side that the crew works from: the deepest is filled first."""
    sides = rules.unload_from
    if "left" in sides and "right" not in sides:
        return deck.width_nm - spot.y1
    if "right" in sides and "left" not in sides:
        return spot.y
    return min(spot.y, deck.width_nm - spot.y1)


CHOICES: tuple[str, ...] = ("section", "lane", "low", "centred")


def _key(choice: str, spot: Spot, deck: Deck, rules: LoadRules) -> tuple[int, ...]:
    hidden = _hidden(spot, deck, rules)
    if choice == "lane":
        return hidden, spot.x, -spot.z
    if choice == "low":
        return spot.x, spot.z, hidden
    if choice == "centred":
        return abs(2 * spot.y + spot.bundle.width_nm - deck.width_nm), spot.x, -spot.z
    return spot.x, -spot.z, hidden


def _fill(
    bundles: Sequence[LoadBundle],
    decks: Sequence[Deck],
    rules: LoadRules,
    deck: Deck,
    choice: str,
    used: dict[str, int],
) -> list[Load] | None:
    """Return loads by first fit, in reverse order of need, each bundle to its best place; None where decks run out."""
    width = usable_width_nm(deck, rules)
    trucks: list[Truck] = []
    for bundle in reversed(bundles):
        if not any(_put(truck, bundle, rules, choice, width) for truck in trucks):
            trucks.append(Truck(deck=deck))
            if not _put(trucks[-1], bundle, rules, choice, width):
                return None
    waiting = [[spot.bundle for spot in truck.spots] for truck in trucks]
    loads: list[Load] = []
    while waiting:
        share = waiting.pop()
        done = _best_load(share, decks, rules, used)
        if done is None:
            if len(share) == 1:
                return None
            half = len(share) // 2  # axles or balance refuse it: halve it
            waiting += [share[:half], share[half:]]
            continue
        used[done.deck] = used.get(done.deck, 0) + 1
        loads.append(done)
    return loads


def _put(truck: Truck, bundle: LoadBundle, rules: LoadRules, choice: str, width: int) -> bool:
    spots = spots_for(truck, bundle, rules, width_nm=width)
    best = min(spots, key=lambda spot: _key(choice, spot, truck.deck, rules), default=None)
    if best is None:
        return False
    truck.add(best)
    return True


def _best_load(bundles: Sequence[LoadBundle], decks: Sequence[Deck], rules: LoadRules, used: dict[str, int]) -> Load | None:
    """Return one truck's load on the cheapest deck that takes it, its centre of mass nearest the middle."""
    for deck in sorted(decks, key=lambda deck: deck.cost):
        if deck.count is not None and used.get(deck.id, 0) >= deck.count:
            continue
        found = [item for item in _ways(bundles, deck, rules) if item is not None]
        if found:
            return min(found, key=lambda item: item[0])[1]
    return None


def _ways(bundles: Sequence[LoadBundle], deck: Deck, rules: LoadRules) -> Iterator[tuple[int, Load] | None]:
    width = usable_width_nm(deck, rules)
    for choice in CHOICES:
        truck = Truck(deck=deck)
        if all(_put(truck, bundle, rules, choice, width) for bundle in bundles):
            yield finish(truck, rules, "-", width_nm=width)
