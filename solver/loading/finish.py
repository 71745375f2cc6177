"""From bundles in their places to a load: slid to its balance, weighed by axle after every bundle, strapped, noted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from solver.domain.ids import LoadId
from solver.domain.load import AxleWeight, BridgeWeight, Deck, Load, LoadRules, PlacedBundle, Tiedowns
from solver.loading.axles import GroupWeight, axle_places, group_weights
from solver.loading.legal import bridge_rows
from solver.loading.placed import BundlePlace, LoadedTruck, aligned_timbers
from solver.loading.tiedowns import count_by_length, count_by_load, first_straps, strap_places
from solver.loading.weight_limits import axle_group_limit_g, bridge_formula_applies, lawful_slides, weight_limits
from solver.units import FOOT, Grams, Nm, round_half_up

CAUTION = (
    "inspect cargo and securement within the first 50 miles, then at each change of duty, 3 hours or 150 miles, whichever "
    "comes first (49 CFR 392.9); federal and local rules and licensed people govern"
)
PARKED = "do not move the truck while it is being unloaded at a stop: an axle group is over its limit until the stop is done"
TARP = "tarp over a ridge pole or end boards so that water runs off and none is trapped between tarp and film"


def doubled_centre_of_mass(spot: BundlePlace) -> tuple[int, int]:
    """Return twice the place of a bundle's centre of mass, along and across the deck."""
    bundle = spot.bundle
    along = 2 * spot.x + (bundle.length_nm if bundle.centre_nm is None else 2 * bundle.centre_nm)
    across = 2 * spot.y + (bundle.width_nm if bundle.centre_across_nm is None else 2 * bundle.centre_across_nm)
    return along, across


def _up_twice(spots: Sequence[BundlePlace]) -> int:
    """Return twice the moment of the bundles' weight about the deck, upward."""
    twice = 0
    for spot in spots:
        bundle = spot.bundle
        own = bundle.height_nm if bundle.centre_up_nm is None else 2 * bundle.centre_up_nm
        twice += bundle.weight_g * (2 * spot.z + own)
    return twice


def tier_count(spots: Sequence[BundlePlace]) -> int:
    """Return the most bundles that stand on each other."""
    tiers: list[int] = []
    for spot in spots:  # what it stands on was placed before
        tiers.append(1 if spot.under < 0 else tiers[spot.under] + 1)
    return max(tiers, default=0)


def centre_height_nm(truck: LoadedTruck) -> int:
    """Return the height of the centre of mass of a truck's cargo above the road."""
    return truck.deck.height_nm + _up_twice(truck.spots) // (2 * sum(spot.bundle.weight_g for spot in truck.spots))


@dataclass(frozen=True, slots=True)
class Slide:
    """How far a load is slid along and across, what that leaves its centre of mass off the deck's middle, and what to note."""

    along: int
    across: int
    shift: int
    parked: tuple[str, ...] = ()


def best_lawful_slide(truck: LoadedTruck) -> Slide | None:
    """Return the lawful slide with the least shift of the centre of mass; None where no slide makes the load legal.

    What axles and vehicle allow, at departure and after every bundle, is an interval.
    """
    deck, spots, rules = truck.deck, truck.spots, truck.rules
    aim_x, aim_y = _aims(deck, spots)
    across = _slide(truck, aim_y)
    if across is None:
        return None
    least, most = -min(spot.x for spot in spots), deck.length_nm - max(spot.x1 for spot in spots)
    laws = weight_limits(deck, rules)
    aboard = _still_aboard(spots)
    on_road = [aboard[0]]
    on_road += [aboard[-place] for place in range(1, len(spots)) if spots[place - 1].bundle.stop != spots[place].bundle.stop]
    for states, parked in ((aboard, ()), (on_road, (PARKED,))):
        allowed = lawful_slides(laws, states, least, most)
        if allowed is not None:
            along = min(max(aim_x, allowed[0]), allowed[1])
            return Slide(along, across, abs(along - aim_x) + abs(across - aim_y), parked)
    return None


def finish_load(truck: LoadedTruck, slide: Slide) -> Load:
    """Return the load of a truck slid as said, without an id yet."""
    load = _load(truck.deck, [_moved(spot, slide.along, slide.across) for spot in truck.spots], truck.rules, "-")
    return replace(load, notes=(*slide.parked, *load.notes))


def _still_aboard(spots: Sequence[BundlePlace]) -> list[tuple[int, int]]:
    """Return the weight and twice the moment of what is aboard, all of it first, then after each bundle taken off."""
    made, weight, twice = [], 0, 0
    for spot in spots:
        weight += spot.bundle.weight_g
        twice += spot.bundle.weight_g * doubled_centre_of_mass(spot)[0]
        made.append((weight, twice))
    return made[::-1]


def _moved(spot: BundlePlace, along: int, across: int) -> BundlePlace:
    return replace(
        spot,
        x=spot.x + along,
        x1=spot.x1 + along,
        y=spot.y + across,
        y1=spot.y1 + across,
        timbers=tuple(line + along for line in spot.timbers),
    )


def _aims(deck: Deck, spots: Sequence[BundlePlace]) -> tuple[int, int]:
    """Return the slides along and across that would put the centre of mass over the deck's middle."""
    weight = sum(spot.bundle.weight_g for spot in spots)
    along = sum(spot.bundle.weight_g * doubled_centre_of_mass(spot)[0] for spot in spots)
    across = sum(spot.bundle.weight_g * doubled_centre_of_mass(spot)[1] for spot in spots)
    return (deck.length_nm * weight - along) // (2 * weight), (deck.width_nm * weight - across) // (2 * weight)


def _slide(truck: LoadedTruck, aim_y: int) -> int | None:
    """Return the slide across, as near to balance as the width lets it; None where that is still out of balance."""
    left = (truck.deck.width_nm - truck.width_nm) // 2
    least = left - min(spot.y for spot in truck.spots)
    most = left + truck.width_nm - max(spot.y1 for spot in truck.spots)
    across = min(max(aim_y, least), most)
    off = 1000 * abs(across - aim_y)
    return across if off <= truck.rules.balance_permille * truck.deck.width_nm else None


def axle_weights(deck: Deck, spots: Sequence[BundlePlace]) -> tuple[int, tuple[GroupWeight, ...]]:
    """Return the cargo's weight and what each axle group carries."""
    weight = sum(spot.bundle.weight_g for spot in spots)
    twice = sum(spot.bundle.weight_g * doubled_centre_of_mass(spot)[0] for spot in spots)
    return weight, group_weights(deck, weight, Fraction(twice, 2))


def _bridge(deck: Deck, groups: tuple[GroupWeight, ...], rules: LoadRules) -> list[tuple[int, int, int, int, int]]:
    return bridge_rows(*axle_places(groups)) if groups and bridge_formula_applies(deck, rules) else []


def _load(deck: Deck, spots: Sequence[BundlePlace], rules: LoadRules, name: str) -> Load:
    timbers = aligned_timbers(spots, rules)
    weight = sum(spot.bundle.weight_g for spot in spots)
    along = sum(spot.bundle.weight_g * doubled_centre_of_mass(spot)[0] for spot in spots) // (2 * weight)
    across = sum(spot.bundle.weight_g * doubled_centre_of_mass(spot)[1] for spot in spots) // (2 * weight)
    _, groups = axle_weights(deck, spots)
    bridge = [
        BridgeWeight(first=first, last=last, feet=feet, weight_g=Grams(carried), limit_g=Grams(limit))
        for first, last, feet, carried, limit in _bridge(deck, groups, rules)
    ]
    return Load(
        id=LoadId(name),
        deck=deck.id,
        placed=tuple(
            PlacedBundle(
                bundle=spot.bundle.id,
                x_nm=Nm(spot.x),
                y_nm=Nm(spot.y),
                z_nm=Nm(spot.z),
                supports_nm=tuple(Nm(line) for line in lines),
            )
            for spot, lines in zip(spots, timbers, strict=True)
        ),
        weight_g=Grams(weight),
        axles=tuple(_axle_rows(deck, spots, rules)),
        tiedowns=_tiedowns(spots, timbers, rules),
        notes=tuple(_notes(deck, spots, rules, bool(groups))),
        bridge=tuple(bridge),
        centre_nm=Nm(along),
        centre_across_nm=Nm(across),
        height_nm=Nm(deck.height_nm + max(spot.z1 for spot in spots)),
        centre_up_nm=Nm(deck.height_nm + _up_twice(spots) // (2 * weight)),
        tiers=tier_count(spots),
    )


def _axle_rows(deck: Deck, spots: Sequence[BundlePlace], rules: LoadRules) -> list[AxleWeight]:
    made = []
    for after in range(len(spots)):
        for group in axle_weights(deck, spots[: len(spots) - after])[1]:
            limit = axle_group_limit_g(deck, group, rules)
            made.append(
                AxleWeight(
                    group=group.group,
                    weight_g=Grams(round_half_up(group.weight_g)),
                    limit_g=None if limit is None else Grams(limit),
                    after=after,
                )
            )
    return made


def straps_needed(truck: LoadedTruck) -> int:
    """Return how many tie-downs a truck needs, as its bundles stand."""
    spans, lines = _spans(truck.spots, truck.rules), _lines(aligned_timbers(truck.spots, truck.rules))
    by_length = len(first_straps(spans, lines, truck.rules.strap_edge_nm))
    return max(by_length, count_by_load(sum(spot.bundle.weight_g for spot in truck.spots), truck.rules.tiedown_wll_g))


def _spans(spots: Sequence[BundlePlace], rules: LoadRules) -> list[tuple[int, int, int]]:
    """Return each bundle's start, end and count of tie-downs by its length."""
    blocked = rules.blocked_forward
    counts = [count_by_length(spot.bundle.length_nm, spot.bundle.weight_g, blocked_forward=blocked) for spot in spots]
    return [(spot.x, spot.x1, count) for spot, count in zip(spots, counts, strict=True)]


def _lines(timbers: Sequence[Sequence[int]]) -> list[int]:
    return sorted({line for each in timbers for line in each})


def _tiedowns(spots: Sequence[BundlePlace], timbers: Sequence[Sequence[int]], rules: LoadRules) -> Tiedowns:
    spans, lines = _spans(spots, rules), _lines(timbers)
    by_load = count_by_load(sum(spot.bundle.weight_g for spot in spots), rules.tiedown_wll_g)
    by_length = len(first_straps(spans, lines, rules.strap_edge_nm))
    places = strap_places(spans, lines, least=by_load, edge_nm=rules.strap_edge_nm)
    return Tiedowns(
        by_length=by_length,
        by_load=by_load,
        required=max(by_length, by_load),
        positions_nm=places,
        edge_protectors=2 * len(places),
    )


def _notes(deck: Deck, spots: Sequence[BundlePlace], rules: LoadRules, weighed: bool) -> list[str]:
    made = [TARP, CAUTION]
    if any(spot.z for spot in spots):
        made.insert(0, "two tiers: high-friction mats or blocking between them (49 CFR 393.118), straps over the top tier")
    if deck.tractor is not None and deck.length_nm > 48 * FOOT and rules.rule_set == "US":
        made.append("semi-trailer over 48 ft: check every state on the route (23 CFR 658.13 protects 48 ft everywhere)")
    if not weighed:
        made.append(f"axle places of {deck.id} are not in the catalog: weigh the axles before the road")
    if rules.permit:
        made.append(f"under permit {rules.permit}; panel bundles are divisible loads (23 CFR 658.5)")
    if rules.local_rules:
        made.append(f"local rules: {rules.local_rules}")
    return made
