"""Loads of random jobs: never an invalid one, never fewer trucks than the bound; the bound against every way to load."""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import pairwise

import pytest

from solver.domain.ids import BundleId
from solver.domain.load import LoadBundle, LoadJob, LoadRules
from solver.loading.bounds import trucks_bound_by_columns, trucks_lower_bound
from solver.loading.check import check
from solver.loading.column_scales import bundle_columns
from solver.loading.cost_bound import least_deck_cost
from solver.loading.load import load
from solver.loading.placed import may_carry_g
from solver.search import Search
from solver.units import INCH, Grams, Nm, grams_from_pounds
from tests.generators.loads import flatbed, random_load

AT_ONCE = Search(left_s=lambda: 0.0)  # the first plan found, so that the sample takes seconds and repeats exactly
ROOM = Nm(102 * INCH)
HEIGHTS = (16, 22, 28, 34, 45)


@pytest.mark.parametrize("seed", range(40))
def test_a_random_load_is_never_invalid(seed: int) -> None:
    job = random_load(seed)
    result = load(job, AT_ONCE)
    assert check(job, result).faults == ()
    assert result.trucks_lower_bound <= result.trucks
    assert result.trucks <= 2 * result.trucks_lower_bound + 1


def test_the_same_job_is_loaded_the_same_way_again() -> None:
    job = random_load(5)
    assert load(job, AT_ONCE) == load(job, AT_ONCE)


def bundle(number: int, length: int, width: int, height: int, *, pounds: float = 100, carries: float = 1e6) -> LoadBundle:
    return LoadBundle(
        id=BundleId(f"B{number}"),
        length_nm=Nm(length * INCH),
        width_nm=Nm(width * INCH),
        height_nm=Nm(height * INCH),
        weight_g=Grams(int(grams_from_pounds(pounds))),
        rank=number,
        may_carry_g=Grams(int(grams_from_pounds(carries))),
    )


def cut_up(dice: random.Random, sides: tuple[int, int, int], times: int) -> list[tuple[int, int, int]]:
    """Boxes that fill a deck without a gap, by cutting one of them through, again and again."""
    boxes = [sides]
    for _ in range(times):
        box = boxes.pop(dice.randrange(len(boxes)))
        way = dice.randrange(3)
        if box[way] < 12:
            boxes.append(box)
            continue
        at = dice.randint(6, box[way] - 6)
        one, other = list(box), list(box)
        one[way], other[way] = at, box[way] - at
        boxes += [(one[0], one[1], one[2]), (other[0], other[1], other[2])]
    return boxes


@pytest.mark.parametrize("part", range(4))
def test_the_bound_never_exceeds_decks_that_were_cut_into_the_bundles(part: int) -> None:
    deck = flatbed(48, cost=100.0)
    rooms = [(deck.length_nm, deck.width_nm, ROOM)]
    sharp = 0
    for seed in range(part, 160, 4):
        dice = random.Random(seed)
        decks = dice.randint(1, 3)
        boxes = [box for _ in range(decks) for box in cut_up(dice, (576, 102, 102), dice.randint(1, 9))]
        bundles = [bundle(number, *box) for number, box in enumerate(boxes)]
        bound = trucks_lower_bound(bundles, [deck], rooms, LoadRules())
        assert bound <= decks, seed
        sharp += bound == decks
    assert sharp == 40  # they fill the decks wholly, so their volume alone proves the number


def test_the_bound_by_columns_never_exceeds_decks_that_were_cut_into_columns_and_those_into_layers() -> None:
    deck = flatbed(48, cost=100.0)
    sharp = 0
    for seed in range(60):
        dice = random.Random(seed)
        decks = dice.randint(1, 3)
        bundles: list[LoadBundle] = []
        for _ in range(decks):
            for length, width, _ in cut_up(dice, (576, 102, 1), dice.randint(0, 5)):
                cuts = sorted({0, 102, *(dice.randint(10, 92) for _ in range(dice.randint(0, 3)))})
                bundles += [bundle(0, length, width, high - low) for low, high in pairwise(cuts)]
        named = [replace(item, id=BundleId(f"B{place}"), rank=place) for place, item in enumerate(_top_first(bundles))]
        bound = trucks_bound_by_columns(named, [deck], [(deck.length_nm, deck.width_nm, ROOM)], LoadRules())
        assert bound <= decks, seed
        sharp += bound == decks
    assert sharp > 55


def _top_first(bundles: list[LoadBundle]) -> list[LoadBundle]:
    """Columns are made bottom to top, one after the other; turned round, each bundle is wanted before what is below it."""
    return bundles[::-1]


def fewest_bins(sizes: list[int], room: int) -> int:
    """Every way to share sizes out to bins, the largest first, a size never to a second empty bin."""
    best = len(sizes)

    def put(place: int, bins: list[int]) -> None:
        nonlocal best
        if len(bins) >= best:
            return
        if place == len(sizes):
            best = len(bins)
            return
        for bin_place in range(len(bins)):
            if bins[bin_place] + sizes[place] <= room:
                bins[bin_place] += sizes[place]
                put(place + 1, bins)
                bins[bin_place] -= sizes[place]
        put(place + 1, [*bins, sizes[place]])

    put(0, [])
    return best


def test_the_bound_never_exceeds_the_fewest_decks_of_bundles_that_stand_one_behind_the_other() -> None:
    """Bundles as wide and as high as the deck: loading is packing lengths, tried every way."""
    deck = flatbed(48, cost=100.0)
    rooms = [(deck.length_nm, deck.width_nm, ROOM)]
    met = 0
    for seed in range(400):
        dice = random.Random(seed)
        sizes = sorted((dice.choice((96, 120, 150, 192, 200, 240, 288, 300)) for _ in range(dice.randint(1, 9))), reverse=True)
        bundles = [bundle(number, size, 102, 102) for number, size in enumerate(sizes)]
        best = fewest_bins(sizes, 576)
        bound = trucks_lower_bound(bundles, [deck], rooms, LoadRules())
        assert bound <= best, seed
        met += bound == best
    assert met > 300


def columns_needed(bundles: list[LoadBundle], rules: LoadRules) -> int:
    """Every way to share bundles out to columns; within one the earlier wanted is above, each borne by those below."""
    best = len(bundles)

    def holds(column: list[LoadBundle]) -> bool:  # last wanted first: bottom to top
        if sum(item.height_nm for item in column) > ROOM:
            return False
        return all(
            sum(upper.weight_g for upper in column[place + 1 :]) <= may_carry_g(lower, rules)
            for place, lower in enumerate(column)
        )

    def put(place: int, made: list[list[LoadBundle]]) -> None:
        nonlocal best
        if len(made) >= best:
            return
        if place < 0:
            best = len(made)
            return
        for column in made:
            if holds([*column, bundles[place]]):
                column.append(bundles[place])
                put(place - 1, made)
                column.pop()
        put(place - 1, [*made, [bundles[place]]])

    put(len(bundles) - 1, [])
    return best


def test_the_bound_never_exceeds_the_fewest_columns_and_loads_meet_it() -> None:
    """Bundles as long and as wide as the deck: a truck is a column, tried every way; weights on each other bind."""
    deck = replace(flatbed(48, cost=100.0), length_nm=Nm(240 * INCH), kingpin_nm=None, axle_group_nm=None, mass_nm=None)
    rules = LoadRules()
    met = loaded = 0
    for seed in range(200):
        dice = random.Random(seed)
        bundles = [
            bundle(
                number,
                240,
                102,
                dice.choice((16, 22, 28, 34, 45)),
                pounds=dice.randint(300, 2_000),
                carries=dice.randint(0, 2_500),
            )
            for number in range(dice.randint(1, 7))
        ]
        best = columns_needed(bundles, rules)
        room = [(deck.length_nm, deck.width_nm, ROOM)]
        bound = max(trucks_lower_bound(bundles, [deck], room, rules), trucks_bound_by_columns(bundles, [deck], room, rules))
        assert bound <= best, seed
        met += bound == best
        if seed % 5 == 0:
            result = load(LoadJob(decks=(deck,), bundles=tuple(bundles), rules=rules), Search())
            assert result.trucks >= best
            loaded += result.trucks == best
    assert met > 165
    assert loaded >= 36  # of 40


def test_a_column_ends_where_any_bundle_of_it_would_bear_too_much() -> None:
    weak = [bundle(0, 240, 102, 20), bundle(1, 240, 102, 20, carries=50), bundle(2, 240, 102, 20, carries=5_000)]
    assert sorted(bundle_columns(weak, LoadRules(), ROOM, Search())) == [(0,), (1,), (2, 0), (2, 1)]
    four = [bundle(n, 240, 102, 20, carries=carries) for n, carries in enumerate((0, 500, 150, 5_000))]
    assert (3, 2, 1, 0) not in bundle_columns(four, LoadRules(), ROOM, Search())
    assert {(3, 2, 1), (3, 2, 0), (3, 1, 0)} <= set(bundle_columns(four, LoadRules(), ROOM, Search()))


def test_the_cost_bound_never_exceeds_the_cheapest_single_deck_that_is_loaded() -> None:
    small = replace(
        flatbed(48, cost=40.0), id="short", length_nm=Nm(240 * INCH), axle_group_nm=Nm(200 * INCH), mass_nm=Nm(130 * INCH)
    )
    low = replace(small, id="low", height_nm=Nm(40 * INCH), length_nm=Nm(192 * INCH), cost=25.0, axle_group_nm=Nm(160 * INCH))
    decks = (flatbed(53, cost=112.0), flatbed(48, cost=100.0), small, low)
    rooms = [(deck.length_nm, deck.width_nm, Nm(162 * INCH - deck.height_nm)) for deck in decks]
    met = 0
    for seed in range(24):
        dice = random.Random(seed)
        bundles = tuple(
            bundle(n, dice.choice((96, 120, 180, 200, 288)), dice.choice((43, 49)), dice.choice(HEIGHTS))
            for n in range(dice.randint(1, 9))
        )
        prices = []
        for deck in decks:
            if max(item.length_nm for item in bundles) <= deck.length_nm:
                alone = load(LoadJob(decks=(deck,), bundles=bundles, rules=LoadRules(unload_from=("left", "right"))), AT_ONCE)
                prices += [deck.cost] if alone.trucks == 1 else []
        if prices:
            bound = least_deck_cost(bundles, decks, rooms, 1, 1)
            assert bound <= min(prices), seed
            met += bound == min(prices)
    assert met > 10


def test_a_stop_further_on_never_rides_in_the_way() -> None:
    """Bundles of three stops on one truck come off stop by stop, whichever way they were listed."""
    bundles = tuple(
        replace(bundle(number, 120, 49, 45, pounds=900, carries=2_000), stop=2 - number // 4) for number in range(12)
    )
    job = LoadJob(decks=(flatbed(53, cost=1.0),), bundles=bundles, rules=LoadRules(unload_from=("right",)))
    result = load(job, Search())
    assert check(job, result).faults == ()
    assert result.trucks == 1
    stops = {item.id: item.stop for item in bundles}
    off = [stops[placed.bundle] for placed in reversed(result.loads[0].placed)]
    assert all(before <= after for before, after in pairwise(off))


def test_trips_never_share_a_truck() -> None:
    bundles = tuple(
        replace(bundle(number, 12 * 10, 49, 40, pounds=500), trip="D1" if number < 2 else "D2") for number in range(4)
    )
    result = load(LoadJob(decks=(flatbed(48, cost=1.0),), bundles=bundles), Search())
    assert (result.trucks, result.trucks_lower_bound, result.status) == (2, 2, "optimal")
