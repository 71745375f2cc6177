"""From bundles in their places to a load: slid to its balance, weighed by axle after every bundle, strapped, noted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from solver.domain.ids import LoadId
from solver.domain.load import AxleWeight, BridgeWeight, Deck, Load, LoadRules, PlacedBundle, Tiedowns
from solver.loading.axles import GroupWeight, axle_places, group_weights
from solver.loading.laws import bridged, laws_of, limit_g, slides
from solver.loading.legal import bridge_rows
from solver.loading.place import Spot, Truck, lined_up
from solver.loading.tiedowns import count_by_length, count_by_load, strap_places
from solver.units import FOOT, Grams, Nm, round_half_up

CAUTION = (
    "inspect cargo and securement within the first 50 miles, then at each change of duty, 3 hours or 150 miles, whichever "
    "comes first (49 CFR 392.9); federal and local rules and licensed people govern"
)
PARKED = "do not move the truck while it is being unloaded at a stop: an axle group is over its limit until the stop is done"
TARP = "tarp over a ridge pole or end boards so that water runs off and none is trapped between tarp and film"


def middle_of(spot: Spot) -> tuple[int, int]:
    """Return twice the place of a bundle's centre of mass, along and across the deck."""
    bundle = spot.bundle
    along = 2 * spot.x + (bundle.length_nm if bundle.centre_nm is None else 2 * bundle.centre_nm)
    across = 2 * spot.y + (bundle.width_nm if bundle.centre_across_nm is None else 2 * bundle.centre_across_nm)
    return along, across


@dataclass(frozen=True, slots=True)
class Slide:
    """How far a load is slid along and across, what that leaves its centre of mass off the deck's middle, and what to note."""

    along: int
    across: int
    shift: int
    parked: tuple[str, ...] = ()


def best_slide(truck: Truck) -> Slide | None:
    """Return the lawful slide with the least shift of the centre of mass; None where no slide makes the load legal.

    What axles and vehicle allow, at departure and after every bundle, is an interval.
    """
    deck, spots, rules = truck.deck, truck.spots, truck.rules
    aim_x, aim_y = _aims(deck, spots)
    across = _slide(truck, aim_y)
    if across is None:
        return None
    least, most = -min(spot.x for spot in spots), deck.length_nm - max(spot.x1 for spot in spots)
    laws = laws_of(deck, rules)
    aboard = _still_aboard(spots)
    on_road = [aboard[0]]
    on_road += [aboard[-place] for place in range(1, len(spots)) if spots[place - 1].bundle.stop != spots[place].bundle.stop]
    for states, parked in ((aboard, ()), (on_road, (PARKED,))):
        allowed = slides(laws, states, least, most)
        if allowed is not None:
            along = min(max(aim_x, allowed[0]), allowed[1])
            return Slide(along, across, abs(along - aim_x) + abs(across - aim_y), parked)
    return None


def finish(truck: Truck, slide: Slide) -> Load:
    """Return the load of a truck slid as said, without an id yet."""
    load = _load(truck.deck, [_moved(spot, slide.along, slide.across) for spot in truck.spots], truck.rules, "-")
    return replace(load, notes=(*slide.parked, *load.notes))


def _still_aboard(spots: Sequence[Spot]) -> list[tuple[int, int]]:
    """Return the weight and twice the moment of what is aboard, all of it first, then after each bundle taken off."""
    made, weight, twice = [], 0, 0
    for spot in spots:
        weight += spot.bundle.weight_g
        twice += spot.bundle.weight_g * middle_of(spot)[0]
        made.append((weight, twice))
    return made[::-1]


def _moved(spot: Spot, along: int, across: int) -> Spot:
    return replace(
        spot,
        x=spot.x + along,
        x1=spot.x1 + along,
        y=spot.y + across,
        y1=spot.y1 + across,
        timbers=tuple(line + along for line in spot.timbers),
    )


def _aims(deck: Deck, spots: Sequence[Spot]) -> tuple[int, int]:
    """Return the slides along and across that would put the centre of mass over the deck's middle."""
    weight = sum(spot.bundle.weight_g for spot in spots)
    along = sum(spot.bundle.weight_g * middle_of(spot)[0] for spot in spots)
    across = sum(spot.bundle.weight_g * middle_of(spot)[1] for spot in spots)
    return (deck.length_nm * weight - along) // (2 * weight), (deck.width_nm * weight - across) // (2 * weight)


def _slide(truck: Truck, aim_y: int) -> int | None:
    """Return the slide across, as near to balance as the width lets it; None where that is still out of balance."""
    left = (truck.deck.width_nm - truck.width_nm) // 2
    least = left - min(spot.y for spot in truck.spots)
    most = left + truck.width_nm - max(spot.y1 for spot in truck.spots)
    across = min(max(aim_y, least), most)
    off = 1000 * abs(across - aim_y)
    return across if off <= truck.rules.balance_permille * truck.deck.width_nm else None


def weigh(deck: Deck, spots: Sequence[Spot]) -> tuple[int, tuple[GroupWeight, ...]]:
    """Return the cargo's weight and what each axle group carries."""
    weight = sum(spot.bundle.weight_g for spot in spots)
    twice = sum(spot.bundle.weight_g * middle_of(spot)[0] for spot in spots)
    return weight, group_weights(deck, weight, Fraction(twice, 2))


def _bridge(deck: Deck, groups: tuple[GroupWeight, ...], rules: LoadRules) -> list[tuple[int, int, int, int, int]]:
    return bridge_rows(*axle_places(groups)) if groups and bridged(deck, rules) else []


def _load(deck: Deck, spots: Sequence[Spot], rules: LoadRules, name: str) -> Load:
    timbers = lined_up(spots, rules)
    weight = sum(spot.bundle.weight_g for spot in spots)
    along = sum(spot.bundle.weight_g * middle_of(spot)[0] for spot in spots) // (2 * weight)
    across = sum(spot.bundle.weight_g * middle_of(spot)[1] for spot in spots) // (2 * weight)
    _, groups = weigh(deck, spots)
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
    )


def _axle_rows(deck: Deck, spots: Sequence[Spot], rules: LoadRules) -> list[AxleWeight]:
    made = []
    for after in range(len(spots)):
        for group in weigh(deck, spots[: len(spots) - after])[1]:
            limit = limit_g(deck, group, rules)
            made.append(
                AxleWeight(
                    group=group.group,
                    weight_g=Grams(round_half_up(group.weight_g)),
                    limit_g=None if limit is None else Grams(limit),
                    after=after,
                )
            )
    return made


def _tiedowns(spots: Sequence[Spot], timbers: Sequence[Sequence[int]], rules: LoadRules) -> Tiedowns:
    spans = [
        (
            spot.x,
            spot.x1,
            count_by_length(spot.bundle.length_nm, spot.bundle.weight_g, blocked_forward=rules.blocked_forward),
        )
        for spot in spots
    ]
    lines = sorted({line for each in timbers for line in each})
    by_load = count_by_load(sum(spot.bundle.weight_g for spot in spots), rules.tiedown_wll_g)
    by_length = len(strap_places(spans, lines, least=0, edge_nm=rules.strap_edge_nm))
    places = strap_places(spans, lines, least=by_load, edge_nm=rules.strap_edge_nm)
    return Tiedowns(
        by_length=by_length,
        by_load=by_load,
        required=max(by_length, by_load),
        positions_nm=places,
        edge_protectors=2 * len(places),
    )


def _notes(deck: Deck, spots: Sequence[Spot], rules: LoadRules, weighed: bool) -> list[str]:
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
