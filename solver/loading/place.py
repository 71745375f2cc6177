"""Where a bundle may stand on a deck that already holds others: no overlap, supported, in one line, reachable."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from solver.domain.load import Deck, LoadBundle, LoadRules

GRAVITY_1E5 = 980_665  # standard gravity, 9.80665 m/s2


@dataclass(frozen=True, slots=True)
class Spot:
    """A bundle in its place: x from the deck's front, y from its left, z above it; timbers from the deck's front."""

    bundle: LoadBundle
    x: int
    y: int
    z: int
    timbers: tuple[int, ...]
    under: int = -1  # the spot that it stands on; -1: the deck

    @property
    def x1(self) -> int:
        """Rear end."""
        return self.x + self.bundle.length_nm

    @property
    def y1(self) -> int:
        """Right side."""
        return self.y + self.bundle.width_nm

    @property
    def z1(self) -> int:
        """Top."""
        return self.z + self.bundle.height_nm


@dataclass(slots=True)
class Truck:
    """A deck being filled, the last wanted first; only `add` changes it."""

    deck: Deck
    spots: list[Spot] = field(default_factory=list)
    on_top_g: list[int] = field(default_factory=list)
    weight_g: int = 0

    def add(self, spot: Spot) -> None:
        """Put a bundle in its place."""
        self.spots.append(spot)
        self.on_top_g.append(0)
        self.weight_g += spot.bundle.weight_g
        under = spot.under
        while under >= 0:
            self.on_top_g[under] += spot.bundle.weight_g
            under = self.spots[under].under


def timbers_of(bundle: LoadBundle, rules: LoadRules) -> tuple[int, ...]:
    """Return the middles of the timbers that a bundle brings or must be given, from its front end."""
    if bundle.dunnage_nm:
        return bundle.dunnage_nm
    inset = min(rules.support_from_end_nm, bundle.length_nm // 5)
    span = bundle.length_nm - 2 * inset
    count = max(2, -(-span // rules.support_every_nm) + 1)
    return tuple(inset + span * place // (count - 1) for place in range(count))


def may_carry_g(bundle: LoadBundle, timbers: int, rules: LoadRules) -> int:
    """Return what may stand on a bundle: as stated, else what the foam over its timbers bears beside its own weight."""
    if bundle.may_carry_g is not None:
        return bundle.may_carry_g
    bears = rules.core_stress_pa * rules.timber_width_nm * bundle.width_nm * timbers // (GRAVITY_1E5 * 10**10)
    return max(0, bears - bundle.weight_g)


def spots_for(truck: Truck, bundle: LoadBundle, rules: LoadRules, *, width_nm: int, tiers: bool = True) -> Iterator[Spot]:
    """Yield each place, of those beside, behind and on what stands there, where the bundle may go.

    Bundles are given in reverse order of need, so whatever stands there stays there when this one comes off.
    """
    if truck.weight_g + bundle.weight_g > truck.deck.payload_g:
        return
    room = rules.height_limit_nm - truck.deck.height_nm
    own = timbers_of(bundle, rules)
    if bundle.height_nm <= room:
        for x in _along(truck, bundle):
            for y in _across(truck, bundle, rules.lane_gap_nm, width_nm):
                spot = Spot(bundle, x, y, 0, tuple(x + place for place in own))
                if _clear(truck.spots, spot) and reachable(truck.spots, spot, rules):
                    yield spot
    if not tiers:
        return
    for place, lower in enumerate(truck.spots):
        if lower.z1 + bundle.height_nm <= room:
            for spot in _on(truck, place, bundle, own, width_nm):
                if _bears(truck, spot, rules) and _clear(truck.spots, spot) and reachable(truck.spots, spot, rules):
                    yield spot


def _along(truck: Truck, bundle: LoadBundle) -> list[int]:
    last = truck.deck.length_nm - bundle.length_nm
    places = {0, last}
    for spot in truck.spots:
        places |= {spot.x, spot.x1, spot.x - bundle.length_nm, spot.x1 - bundle.length_nm}
    return sorted(place for place in places if 0 <= place <= last)


def _across(truck: Truck, bundle: LoadBundle, gap_nm: int, width_nm: int) -> list[int]:
    left = (truck.deck.width_nm - width_nm) // 2
    last = left + width_nm - bundle.width_nm
    places = {left, last, left + (width_nm - bundle.width_nm) // 2}
    for spot in truck.spots:
        if not spot.z:
            places |= {spot.y1 + gap_nm, spot.y - gap_nm - bundle.width_nm}
    return sorted(place for place in places if left <= place <= last)


def _on(truck: Truck, place: int, bundle: LoadBundle, own: Sequence[int], width_nm: int) -> Iterator[Spot]:
    """Yield places on top of one bundle: timbers within it, no wider than it, ends or timbers in line."""
    lower = truck.spots[place]
    if bundle.width_nm > lower.bundle.width_nm:
        return
    slack = lower.bundle.length_nm - bundle.length_nm
    starts = {lower.x, lower.x + slack, lower.x + slack // 2}
    starts |= {line - own[0] for line in lower.timbers} | {line - own[-1] for line in lower.timbers}
    y = lower.y + (lower.bundle.width_nm - bundle.width_nm) // 2
    for x in sorted(starts):
        lines = tuple(x + timber for timber in own)
        inside = 0 <= x <= truck.deck.length_nm - bundle.length_nm
        if inside and lower.x <= lines[0] and lines[-1] <= lower.x1:
            yield Spot(bundle, x, y, lower.z1, lines, place)


def _bears(truck: Truck, spot: Spot, rules: LoadRules) -> bool:
    """Return whether all below bear the bundle, and its timbers find one line with theirs through all tiers."""
    lines, under = spot.timbers, spot.under
    while under >= 0:
        lower = truck.spots[under]
        own = timbers_of(lower.bundle, rules)
        if truck.on_top_g[under] + spot.bundle.weight_g > may_carry_g(lower.bundle, len(own), rules):
            return False
        if not all(lower.x <= line <= lower.x1 for line in lines):
            return False
        if merged(lower.timbers, lines, rules) is None:
            return False
        under = lower.under
    return True


def merged(timbers: Sequence[int], lines: Sequence[int], rules: LoadRules) -> tuple[int, ...] | None:
    """Return timbers with one more under each line from above that has none; None where two would lie in one another."""
    extra = [line for line in lines if all(abs(line - timber) > rules.in_line_nm for timber in timbers)]
    for line in extra:
        if any(abs(line - timber) < rules.timber_width_nm for timber in timbers):
            return None
    return tuple(sorted((*timbers, *extra)))


def lined_up(spots: Sequence[Spot], rules: LoadRules) -> list[tuple[int, ...]] | None:
    """Return the timbers under each bundle, with one in line below each timber above; None where that can't be."""
    timbers = [spot.timbers for spot in spots]
    for place in range(len(spots) - 1, -1, -1):  # what stands on a bundle was placed after it
        under = spots[place].under
        if under >= 0:
            both = merged(timbers[under], timbers[place], rules)
            if both is None:
                return None
            timbers[under] = both
    return timbers


def _clear(spots: Sequence[Spot], new: Spot) -> bool:
    for spot in spots:
        if spot.x < new.x1 and new.x < spot.x1 and spot.y < new.y1 and new.y < spot.y1 and spot.z < new.z1 and new.z < spot.z1:
            return False
    return True


def reachable(spots: Sequence[Spot], new: Spot, rules: LoadRules) -> bool:
    """Return whether a bundle comes off with the given others still there: nothing on it, one side or the rear free."""
    free = set(rules.unload_from)
    for spot in spots:
        along = spot.x < new.x1 and new.x < spot.x1
        across = spot.y < new.y1 and new.y < spot.y1
        if along and across and spot.z >= new.z1:
            return False
        if spot.z1 > new.z:
            if along and spot.y1 <= new.y:
                free.discard("left")
            if along and spot.y >= new.y1:
                free.discard("right")
            if across and spot.x >= new.x1:
                free.discard("rear")
    return bool(free)
