"""The plan by hand that plans are measured against is one that a plant could follow; and a plan needs no more steel than it."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from solver.domain.bundle import Bundle
from solver.domain.plan import Plan
from solver.domain.takeoff import Takeoff
from solver.domain.timetable import Job, ScheduleJob
from solver.takeoff.take_off import take_off
from tests.bench.by_hand import by_hand, planned, price_of
from tests.bench.by_hand_plan import bundles_by_hand, cut_by_hand, loads_by_hand, with_dues
from tests.generators.plans import START
from tests.plans import demo_buildings, demo_plan, demo_plant
from tests.whole.bars import faults_of_bars

INCH = 25_400_000


@cache
def takeoffs() -> tuple[Takeoff, ...]:
    return tuple(take_off(building, demo_plant()) for building in demo_buildings())


def test_bars_by_hand_hold_every_piece_clear_of_the_next() -> None:
    """Judged as a plan's bars are, by code apart."""
    cuts = cut_by_hand(takeoffs(), demo_plant(), demo_plant().stated_stock)
    made = replace(demo_plan(), takeoffs=takeoffs(), cuts=cuts)
    assert list(faults_of_bars(made, demo_plant())) == []


def test_no_two_orders_share_a_bar_by_hand() -> None:
    order_of = {piece.id: piece.order for takeoff in takeoffs() for piece in takeoff.pieces}
    bars = [bar for cut in cut_by_hand(takeoffs(), demo_plant(), demo_plant().stated_stock) for bar in cut.bars]
    assert all(len({order_of[item.piece] for item in bar.pieces}) == 1 for bar in bars)


def test_bundles_by_hand_hold_every_piece_once_within_the_margin() -> None:
    """Four fifths of 4,000 lb and of 46 in, which the demo catalog allows, but for a piece that is more by itself."""
    for takeoff in takeoffs():
        bundles = bundles_by_hand(takeoff, demo_plant())
        lying = [lay.piece for bundle in bundles for lay in bundle.pieces]
        assert sorted(lying) == sorted(piece.id for piece in takeoff.pieces)
        assert all(_within(bundle) for bundle in bundles)


def _within(bundle: Bundle) -> bool:
    return len(bundle.pieces) == 1 or (5 * bundle.weight_g <= 4 * 1_814_369 and 5 * bundle.height_nm <= 4 * 46 * INCH)


def test_trucks_by_hand_carry_every_bundle_once_and_no_more_than_they_may() -> None:
    decks = {deck.id: deck for deck in demo_plant().decks}
    for takeoff in takeoffs():
        bundles = bundles_by_hand(takeoff, demo_plant())
        part = loads_by_hand(bundles, takeoff, demo_plant())
        carried = [item.bundle for load in part.result.loads for item in load.placed]
        assert sorted(carried) == sorted(bundle.id for bundle in bundles)
        assert all(load.weight_g <= decks[load.deck].payload_g for load in part.result.loads)
        long = {bundle.id: bundle.length_nm for bundle in bundles}
        for load in part.result.loads:
            assert all(item.x_nm + long[item.bundle] <= decks[load.deck].length_nm for item in load.placed)


def test_work_is_due_when_the_first_of_what_waits_for_it_is() -> None:
    """By hand: a feeds b and c, due at 9 and 5; so a is due at 5, and d, which feeds a, too."""
    jobs = (
        Job(id="d", operations=()),
        Job(id="a", operations=(), after=("d",)),
        Job(id="b", operations=(), after=("a",), due=9),
        Job(id="c", operations=(), after=("a",), due=5),
        Job(id="e", operations=()),
    )
    told = with_dues(ScheduleJob(objective="weighted_tardiness", machines=(), jobs=jobs))
    assert {job.id: job.due for job in told.jobs} == {"d": 5, "a": 5, "b": 9, "c": 5, "e": None}


def test_a_bar_between_two_listed_lengths_costs_its_share_of_the_longer() -> None:
    """W4 of the demo catalog: 24 ft for $456.00, laminated longer for $66.08 a metre."""
    plant = demo_plant()
    assert price_of("W4|birch|white", 24 * 12 * INCH, plant) == 45_600
    assert price_of("W4|birch|white", 22 * 12 * INCH, plant) == 41_800
    assert round(price_of("W4|birch|white", 30 * 12 * INCH, plant)) == round(6608 * 9.144)


def test_a_plan_takes_less_than_the_hand_and_is_no_later() -> None:
    plan: Plan = demo_plan()
    hand, ours = by_hand(demo_buildings(), demo_plant(), START), planned(plan, demo_plant())
    for name in ("price_dollars", "metres", "bars", "bundles"):
        assert ours[name] < hand[name], name
    assert ours["trucks"] <= hand["trucks"]
    assert ours["weighted_hours_late"] <= hand["weighted_hours_late"]
