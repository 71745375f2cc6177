"""Trucks and what stands on them where: timbers under each bundle, in one line through all tiers, and what each may carry."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from solver.domain.load import Deck, LoadBundle, LoadRules

GRAVITY_1E5 = 980_665  # standard gravity, 9.80665 m/s2


@dataclass(frozen=True, slots=True)
class BundlePlace:
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


@dataclass(frozen=True, slots=True)
class LoadedTruck:
    """A deck and what stands on it, in order of loading: the last wanted first."""

    deck: Deck
    rules: LoadRules
    width_nm: int  # that may be loaded
    spots: tuple[BundlePlace, ...]


def timber_middles(bundle: LoadBundle, rules: LoadRules) -> tuple[int, ...]:
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
    own = timber_middles(bundle, rules)
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


def aligned_timbers(spots: Sequence[BundlePlace], rules: LoadRules) -> list[tuple[int, ...]]:
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
