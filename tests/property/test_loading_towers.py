"""The proof that trucks are too few, against every way to load, and against loads that were found."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from solver.domain.load import LoadRules
from solver.loading.load import load
from solver.loading.too_few_trucks import BUNDLES, proves_too_few_trucks
from solver.search import Search
from solver.units import INCH, Nm
from tests.generators.loads import flatbed, random_load
from tests.property.test_loading_random import AT_ONCE, ROOM, bundle, columns_needed, fewest_bins

PAYLOAD = 10**9


def test_columns_are_refused_below_the_fewest_of_every_way_and_never_at_it() -> None:
    rules, room = LoadRules(), (Nm(240 * INCH), Nm(102 * INCH), ROOM)
    refused = needed = 0
    for seed in range(120):
        dice = random.Random(seed)
        bundles = [
            bundle(
                n, 240, 102, dice.choice((16, 22, 28, 34, 45)), pounds=dice.randint(300, 2_000), carries=dice.randint(0, 2_500)
            )
            for n in range(dice.randint(2, 7))
        ]
        best = columns_needed(bundles, rules)
        assert not proves_too_few_trucks(bundles, best, [room], PAYLOAD, rules, Search()), seed
        if best > 1:
            needed += 1
            refused += proves_too_few_trucks(bundles, best - 1, [room], PAYLOAD, rules, Search())
    assert refused > 0.97 * needed > 30  # sizes and what is carried are rounded for the proof


def test_lanes_are_refused_below_the_fewest_of_every_way_and_never_at_it() -> None:
    """Bundles as high as the deck and half as wide: packing lengths into twice as many lanes."""
    rules, room = LoadRules(), (Nm(576 * INCH), Nm(102 * INCH), ROOM)
    refused = needed = 0
    for seed in range(80):
        dice = random.Random(seed)
        sizes = sorted((dice.choice((96, 120, 150, 192, 200, 240, 288, 300)) for _ in range(dice.randint(4, 10))), reverse=True)
        bundles = [bundle(n, size, dice.choice((40, 51)), 102) for n, size in enumerate(sizes)]
        best = -(-fewest_bins(sizes, 576) // 2)
        assert not proves_too_few_trucks(bundles, best, [room], PAYLOAD, rules, Search()), seed
        if best > 1:
            needed += 1
            refused += proves_too_few_trucks(bundles, best - 1, [room], PAYLOAD, rules, Search())
    assert refused == needed > 30


def test_a_payload_is_refused_below_the_weights_of_every_way() -> None:
    rules, room = LoadRules(), (Nm(576 * INCH), Nm(102 * INCH), ROOM)
    three = [bundle(n, 100, 49, 20, pounds=6_000) for n in range(3)]
    assert proves_too_few_trucks(three, 2, [room], 2 * three[0].weight_g - 1_000, rules, Search())
    assert not proves_too_few_trucks(three, 2, [room], 2 * three[0].weight_g, rules, Search())


def test_ends_may_reach_past_the_bundle_below_as_far_as_their_outer_timbers_let_them() -> None:
    """Two of 130 in on one of 240 in: their timbers are 24 in from their ends; on 264 in of deck, one lane wide."""
    uppers = [bundle(n, 130, 60, 45, pounds=10) for n in range(2)]
    whole = [*uppers, bundle(2, 240, 60, 45)]
    for deck, refused in ((264, False), (255, True)):
        room = (Nm(deck * INCH), Nm(102 * INCH), ROOM)
        assert proves_too_few_trucks(whole, 1, [room], PAYLOAD, LoadRules(), Search()) is refused


@pytest.mark.parametrize("part", range(4))
def test_trucks_that_were_loaded_are_never_refused(part: int) -> None:
    decks = (flatbed(48, cost=100.0), flatbed(53, cost=112.0))
    for seed in range(part, 60, 4):
        whole = random_load(seed)
        few = random.Random(seed).sample(whole.bundles, min(12, len(whole.bundles)))
        job = replace(whole, bundles=tuple(few), decks=decks)
        trucks = load(job, AT_ONCE).trucks
        ordered = sorted(few, key=lambda item: (item.stop, item.rank))
        rooms = [(deck.length_nm, deck.width_nm, Nm(102 * INCH)) for deck in decks]
        assert not proves_too_few_trucks(ordered, trucks, rooms, decks[0].payload_g, job.rules, Search()), seed


def test_what_is_too_large_or_out_of_time_is_not_called_proved() -> None:
    room = (Nm(576 * INCH), Nm(102 * INCH), ROOM)
    four = [bundle(n, 576, 102, 102) for n in range(4)]
    assert proves_too_few_trucks(four, 3, [room], PAYLOAD, LoadRules(), Search())
    assert not proves_too_few_trucks(four, 3, [room], PAYLOAD, LoadRules(), Search(left_s=lambda: 0.0))
    many = [bundle(n, 576, 102, 102) for n in range(BUNDLES + 1)]
    assert not proves_too_few_trucks(many, 1, [room], PAYLOAD, LoadRules(), Search())
