"""What axles, the whole vehicle and the bridge formula allow, as straight lines in the cargo's weight and its moment."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache
from math import lcm

from solver.domain.load import Deck, LoadRules
from solver.loading.axles import GroupWeight, axle_places, group_weights, vehicle_tare_g
from solver.loading.legal import bridge_rows, gross_limit_g, group_limit_g


@dataclass(frozen=True, slots=True)
class LinearWeightLimit:
    """`per_gram` x cargo in grams + `per_moment` x its moment about the deck's front (grams x nanometres) is at most `most`."""

    per_gram: Fraction
    per_moment: Fraction
    most: Fraction
    whole: tuple[int, int, int] = field(init=False, compare=False)  # the three times one number that makes them whole

    def __post_init__(self) -> None:
        parts = (self.per_gram, self.per_moment, self.most)
        times = lcm(*(part.denominator for part in parts))
        object.__setattr__(self, "whole", tuple(part.numerator * (times // part.denominator) for part in parts))


def axle_group_limit_g(deck: Deck, group: GroupWeight, rules: LoadRules) -> int | None:
    """Return what an axle group may carry; None where nothing is known."""
    if group.group == "coupling":
        return deck.coupling_limit_g
    return group_limit_g(group.axles, group.spread_nm, rules, driven=group.group in ("drive", "rear"))


def bridge_formula_applies(deck: Deck, rules: LoadRules) -> bool:
    """Return whether the bridge formula applies to a deck's vehicle: US, no permit, all of its axles known."""
    return rules.rule_set == "US" and not rules.permit and (deck.tractor is not None or deck.front_axle_nm is not None)


@lru_cache(maxsize=256)
def weight_limits(deck: Deck, rules: LoadRules) -> tuple[LinearWeightLimit, ...]:
    """Return every limit of a deck's vehicle; none where its axle places are not known. No group may be pulled upward."""
    groups = group_weights(deck, 0, 0)
    by_gram, by_moment = group_weights(deck, 1, 0), group_weights(deck, 0, 1)
    made = []
    for empty, gram, moment in zip(groups, by_gram, by_moment, strict=True):
        one, other = gram.weight_g - empty.weight_g, moment.weight_g - empty.weight_g
        made.append(LinearWeightLimit(-one, -other, empty.weight_g))
        limit = axle_group_limit_g(deck, empty, rules)
        if limit is not None:
            made.append(LinearWeightLimit(one, other, limit - empty.weight_g))
    if groups and (deck.tractor is not None or deck.front_axle_nm is not None):
        axles = sum(group.axles for group in groups)
        gross = gross_limit_g(axles, rules, articulated=deck.tractor is not None)
        made.append(LinearWeightLimit(Fraction(1), Fraction(0), Fraction(gross - vehicle_tare_g(deck))))
        if bridge_formula_applies(deck, rules):
            made += _bridge_laws(groups, by_gram, by_moment)
    return tuple(made)


def _bridge_laws(
    groups: tuple[GroupWeight, ...], by_gram: tuple[GroupWeight, ...], by_moment: tuple[GroupWeight, ...]
) -> Iterator[LinearWeightLimit]:
    places, empty = axle_places(groups)
    gram, moment = axle_places(by_gram)[1], axle_places(by_moment)[1]
    for first, last, _, _, limit in bridge_rows(places, empty):
        own = sum(empty[first - 1 : last], Fraction(0))
        one, other = sum(gram[first - 1 : last], Fraction(0)) - own, sum(moment[first - 1 : last], Fraction(0)) - own
        yield LinearWeightLimit(one, other, limit - own)


def lawful_slides(
    laws: Sequence[LinearWeightLimit], states: Sequence[tuple[int, int]], least: int, most: int
) -> tuple[int, int] | None:
    """Return the least and the greatest slide rearward, within those given, that keeps every law in every state.

    A state is the weight aboard and twice its moment before the slide. None where no slide does.
    """
    for law in laws:
        per_gram, per_moment, limit = law.whole
        for weight, twice in states:
            left = 2 * (limit - per_gram * weight) - per_moment * twice
            slope = 2 * per_moment * weight
            if slope > 0:
                most = min(most, left // slope)
            elif slope < 0:
                least = max(least, -(left // -slope))
            elif left < 0:
                return None
            if least > most:
                return None
    return least, most
