"""The slides that the laws allow, against axle weights worked out anew at the ends of the interval and just past them."""

from __future__ import annotations

import random
from fractions import Fraction

import pytest

from solver.domain.load import LoadRules
from solver.loading.axles import axle_places, group_weights, vehicle_tare_g
from solver.loading.legal import bridge_rows, gross_limit_g
from solver.loading.weight_limits import axle_group_limit_g, bridge_formula_applies, lawful_slides, weight_limits
from solver.units import INCH
from tests.generators.loads import flatbed
from tests.unit.test_loading_load import RIGID, TRAILER

DECKS = (flatbed(48, cost=1.0), flatbed(53, cost=1.0), RIGID, TRAILER)


def lawful(deck_place: int, rules: LoadRules, weight: int, moment: Fraction) -> bool:
    deck = DECKS[deck_place]
    groups = group_weights(deck, weight, moment)
    for group in groups:
        limit = axle_group_limit_g(deck, group, rules)
        if group.weight_g < 0 or (limit is not None and group.weight_g > limit):
            return False
    axles = sum(group.axles for group in groups)
    if deck.tractor is not None or deck.front_axle_nm is not None:
        if vehicle_tare_g(deck) + weight > gross_limit_g(axles, rules, articulated=deck.tractor is not None):
            return False
        places, weights = axle_places(groups)
        if bridge_formula_applies(deck, rules):
            rows = bridge_rows(places, weights)
            return all(sum(weights[first - 1 : last], Fraction(0)) <= limit for first, last, _, _, limit in rows)
    return True


@pytest.mark.parametrize("rule_set", ["US", "EU"])
@pytest.mark.parametrize("place", range(4))
def test_the_interval_of_slides_is_lawful_at_its_ends_and_not_past_them(place: int, rule_set: str) -> None:
    deck, rules = DECKS[place], LoadRules(rule_set="EU" if rule_set == "EU" else "US")
    dice = random.Random(place)
    cut = none = 0
    for _ in range(150):
        states = []
        weight = twice = 0
        for _ in range(dice.randint(1, 4)):
            more = dice.randint(50_000, deck.payload_g)  # over the payload too, so that every deck meets its limits
            weight += more
            twice += 2 * more * dice.randint(0, deck.length_nm)
            states.append((weight, twice))
        least, most = -dice.randint(0, 90) * INCH, dice.randint(0, 90) * INCH
        found = lawful_slides(weight_limits(deck, rules), states, least, most)

        def good(slide: int, states: list[tuple[int, int]] = states) -> bool:
            return all(lawful(place, rules, w, Fraction(t + 2 * slide * w, 2)) for w, t in states)

        if found is None:
            none += 1
            assert not any(good(least + (most - least) * step // 40) for step in range(41))
            continue
        assert least <= found[0] <= found[1] <= most
        assert good(found[0]) and good(found[1]) and good((found[0] + found[1]) // 2)
        if found[0] > least:
            assert not good(found[0] - 1)
        if found[1] < most:
            assert not good(found[1] + 1)
        cut += found != (least, most)
    assert cut + none > 5
