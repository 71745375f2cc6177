"""Where a bundle may stand on a deck that already holds others: no overlap, supported, in one line, reachable."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from solver.domain.load import Deck, LoadBundle, LoadRules

GRAVITY_1E5 = 980_665  # standard gravity, 9.80665 m/s2


@dataclass(slots=True)
class Spot:
    """A bundle in its place: x from the deck's front, y from its left, z above it; timbers from the deck's front."""

    bundle: LoadBundle
    x: int
    y: int
    z: int
    x1: int
    y1: int
    z1: int
    timbers: tuple[int, ...]
    under: int = -1  # the spot that it stands on; -1: the deck
    top_from: int = 0  # the next bundle on it may begin here
    spare_g: int = 0  # what it may still carry


@dataclass(slots=True)
class Truck:
    """A deck being filled, the last wanted first; only `add` changes it."""

    deck: Deck
    rules: LoadRules
    width_nm: int  # that may be loaded
    spots: list[Spot] = field(default_factory=list)
    weight_g: int = 0
    moment_twice: int = 0  # twice the moment about the deck's middle line, to the right

    def add(self, spot: Spot) -> None:
        """Put a bundle in its place."""
        self.spots.append(spot)
        self.weight_g += spot.bundle.weight_g
        self.moment_twice += spot.bundle.weight_g * (spot.y + spot.y1 - self.deck.width_nm)
        under = spot.under
        if under >= 0:
            self.spots[under].top_from = spot.x1
        while under >= 0:
            self.spots[under].spare_g -= spot.bundle.weight_g
            under = self.spots[under].under


def timbers_of(bundle: LoadBundle, rules: LoadRules) -> tuple[int, ...]:
    """Return the middles of the timbers that a bundle brings or must be given, from its front end."""
    if bundle.dunnage_nm:
        return bundle.dunnage_nm
    inset = min(rules.support_from_end_nm, bundle.length_nm // 5)
    span = bundle.length_nm - 2 * inset
    gaps = max(1, -(-span // rules.support_every_nm))
    return tuple(inset + span * place // gaps for place in range(gaps + 1))


def may_carry_g(bundle: LoadBundle, rules: LoadRules) -> int:
    """Return what may stand on a bundle: as stated, else what its foam bears beside its own weight.

    Where nothing is stated more timbers go under it as the load asks (case S1), as long as a gap is two timbers wide.
    """
    if bundle.may_carry_g is not None:
        return bundle.may_carry_g
    own = timbers_of(bundle, rules)
    most = (own[-1] - own[0]) // (2 * rules.timber_width_nm) + 1
    return max(0, most * _bears_each(bundle, rules) // _SCALE - bundle.weight_g)


_SCALE = GRAVITY_1E5 * 10**10  # pascal x square nanometres to grams


def _bears_each(bundle: LoadBundle, rules: LoadRules) -> int:
    return rules.core_stress_pa * rules.timber_width_nm * bundle.width_nm


def _more_timbers(timbers: tuple[int, ...], bundle: LoadBundle, above_g: int, rules: LoadRules) -> tuple[int, ...]:
    """Return timbers enough for what stands on a bundle, each new one in the middle of the widest gap."""
    if bundle.may_carry_g is not None or not above_g:
        return timbers
    wanted = -(-(bundle.weight_g + above_g) * _SCALE // _bears_each(bundle, rules))
    made = list(timbers)
    while len(made) < wanted:
        gap, place = max((right - left, place) for place, (left, right) in enumerate(pairwise(made)))
        if gap < 2 * rules.timber_width_nm:
            break
        made.insert(place + 1, made[place] + gap // 2)
    return tuple(made)


def spots_for(truck: Truck, bundle: LoadBundle, *, centred: bool = False) -> Iterator[Spot]:
    """Yield places, behind and on what stands there, where the bundle may go; `centred`: on the deck's middle only.

    Bundles are given in reverse order of need, so whatever stands there stays there when this one comes off.
    """
    deck, rules = truck.deck, truck.rules
    if truck.weight_g + bundle.weight_g > deck.payload_g:
        return
    room = rules.height_limit_nm - deck.height_nm
    carries = may_carry_g(bundle, rules)
    own = timbers_of(bundle, rules)
    if bundle.height_nm <= room:
        for y in _across(truck, bundle, centred):
            y1 = y + bundle.width_nm
            behind = max((spot.x1 for spot in truck.spots if spot.y < y1 and y < spot.y1), default=0)
            for x in {behind, max((spot.x1 for spot in truck.spots), default=0)}:  # in its lane, or behind all
                x1 = x + bundle.length_nm
                if x1 <= deck.length_nm and _free(truck.spots, x, x1, y, y1, 0, rules):
                    timbers = tuple(x + place for place in own)
                    yield Spot(bundle, x, y, 0, x1, y1, bundle.height_nm, timbers, -1, x, carries)
                    break
    for place, lower in enumerate(truck.spots):
        z1 = lower.z1 + bundle.height_nm
        slack = lower.bundle.width_nm - bundle.width_nm
        if z1 > room or slack < -2 * rules.side_overhang_nm or not _bears(truck.spots, place, bundle.weight_g):
            continue
        left = (deck.width_nm - truck.width_nm) // 2
        x, y = lower.top_from, min(max(lower.y + slack // 2, left), left + truck.width_nm - bundle.width_nm)
        x1, y1 = x + bundle.length_nm, y + bundle.width_nm
        if max(lower.y - y, y1 - lower.y1) > rules.side_overhang_nm:
            continue
        if x + own[-1] > lower.x1 or x1 > deck.length_nm or not _stands(truck.spots, lower, x + own[0], x + own[-1]):
            continue
        if _free(truck.spots, x, x1, y, y1, lower.z1, rules) and not _hovers(truck.spots, place, x, x1, y, y1):
            yield Spot(bundle, x, y, lower.z1, x1, y1, z1, tuple(x + line for line in own), place, x, carries)


def _across(truck: Truck, bundle: LoadBundle, centred: bool) -> set[int]:
    left = (truck.deck.width_nm - truck.width_nm) // 2
    last = left + truck.width_nm - bundle.width_nm
    if last < left:
        return set()
    if centred:
        return {left + (last - left) // 2}
    gap = truck.rules.lane_gap_nm
    places = {left, last}
    for spot in truck.spots:
        if not spot.z:
            places.add(spot.y1 + gap)
            places.add(spot.y - gap - bundle.width_nm)
    return {place for place in places if left <= place <= last}


def _bears(spots: Sequence[Spot], under: int, weight_g: int) -> bool:
    while under >= 0:
        if spots[under].spare_g < weight_g:
            return False
        under = spots[under].under
    return True


def _stands(spots: Sequence[Spot], lower: Spot, first: int, last: int) -> bool:
    """Return whether the outer timbers stand within every bundle below, so that all lines go down to the deck."""
    while True:
        if first < lower.x or last > lower.x1:
            return False
        if lower.under < 0:
            return True
        lower = spots[lower.under]


def _free(spots: Sequence[Spot], x: int, x1: int, y: int, y1: int, z: int, rules: LoadRules) -> bool:
    """Return whether a place is empty, with nothing above it, and one side or the rear to come off by."""
    sides = rules.unload_from
    left, right, rear = "left" in sides, "right" in sides, "rear" in sides
    for spot in spots:
        if spot.z1 <= z:
            continue
        along = spot.x < x1 and x < spot.x1
        if spot.y < y1 and y < spot.y1:
            if along:
                return False  # in the same place, or above it
            if spot.x >= x1:
                rear = False
        elif along:
            if spot.y1 <= y:
                left = False
            else:
                right = False
        if not (left or right or rear):
            return False
    return True


def _hovers(spots: Sequence[Spot], under: int, x: int, x1: int, y: int, y1: int) -> bool:
    """Return whether a place on a bundle reaches over others than those that it stands on."""
    stands_on = set()
    while under >= 0:
        stands_on.add(under)
        under = spots[under].under
    return any(
        spot.x < x1 and x < spot.x1 and spot.y < y1 and y < spot.y1
        for place, spot in enumerate(spots)
        if place not in stands_on
    )


def lined_up(spots: Sequence[Spot], rules: LoadRules) -> list[tuple[int, ...]]:
    """Return the timbers under each bundle: its own, more where what stands on it asks, one in line below each above."""
    timbers = [spot.timbers for spot in spots]
    above = [0] * len(spots)
    for place in range(len(spots) - 1, -1, -1):  # what stands on a bundle was placed after it
        spot = spots[place]
        timbers[place] = _more_timbers(timbers[place], spot.bundle, above[place], rules)
        if spot.under >= 0:
            above[spot.under] += above[place] + spot.bundle.weight_g
            below = timbers[spot.under]
            extra = [line for line in timbers[place] if all(abs(line - timber) >= rules.timber_width_nm for timber in below)]
            timbers[spot.under] = tuple(sorted((*below, *extra)))
    return timbers
