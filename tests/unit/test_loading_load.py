"""What loading refuses, what it says, and how it chooses decks."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from solver.codec import decode, encode, schema
from solver.domain.ids import BundleId
from solver.domain.load import Deck, LoadBundle, LoadJob, LoadResult, LoadRules
from solver.errors import InputError, NoPlan
from solver.loading.check import check
from solver.loading.faults import validate
from solver.loading.load import load
from solver.loading.tiedowns import strap_places
from solver.search import Search
from solver.units import FOOT, INCH, Grams, Nm, grams_from_pounds
from tests.generators.loads import flatbed

DECK = flatbed(48, cost=100.0)
RIGID = Deck(
    id="rigid",
    length_nm=Nm(20 * FOOT),
    width_nm=Nm(102 * INCH),
    height_nm=Nm(40 * INCH),
    payload_g=grams_from_pounds(10_000),
    tare_g=grams_from_pounds(14_000),
    cost=45.0,
    front_axle_nm=Nm(-48 * INCH),
    axle_group_nm=Nm(168 * INCH),
    mass_nm=Nm(60 * INCH),
    axles=1,
)
TRAILER = Deck(
    id="trailer",
    length_nm=Nm(16 * FOOT),
    width_nm=Nm(102 * INCH),
    height_nm=Nm(40 * INCH),
    payload_g=grams_from_pounds(7_000),
    tare_g=grams_from_pounds(2_400),
    cost=25.0,
    kingpin_nm=Nm(-48 * INCH),
    axle_group_nm=Nm(112 * INCH),
    mass_nm=Nm(92 * INCH),
    axle_spread_nm=Nm(35 * INCH),
    coupling_limit_g=grams_from_pounds(1_800),
)


def bundle(number: int, length: int = 240, width: int = 49, height: int = 40, pounds: float = 1_000) -> LoadBundle:
    return LoadBundle(
        id=BundleId(f"B{number}"),
        length_nm=Nm(length * INCH),
        width_nm=Nm(width * INCH),
        height_nm=Nm(height * INCH),
        weight_g=Grams(int(grams_from_pounds(pounds))),
        rank=number,
    )


def loaded(*bundles: LoadBundle, decks: tuple[Deck, ...] = (DECK,), rules: LoadRules | None = None) -> LoadResult:
    job = LoadJob(unit="in", decks=decks, bundles=bundles, rules=rules or LoadRules())
    result = load(job, Search())
    assert check(job, result).faults == ()
    return result


def test_an_empty_job_gives_an_empty_optimal_result() -> None:
    result = load(LoadJob(decks=(), bundles=()), Search())
    assert (result.status, result.loads, result.cost, result.trucks) == ("optimal", (), 0.0, 0)


def test_one_small_bundle_goes_on_the_cheapest_deck_that_takes_it() -> None:
    result = loaded(bundle(0, 180), decks=(DECK, RIGID, TRAILER))
    assert [item.deck for item in result.loads] == ["trailer"]
    assert (result.status, result.cost, result.lower_bound) == ("optimal", 25.0, 25.0)
    assert {row.group for row in result.loads[0].axles} == {"coupling", "trailer"}


def test_a_rigid_truck_is_weighed_front_and_rear() -> None:
    result = loaded(bundle(0, 238), decks=(RIGID,))
    weights = {row.group: row.weight_g for row in result.loads[0].axles}
    assert set(weights) == {"front", "rear"}
    assert sum(weights.values()) == pytest.approx(RIGID.tare_g + bundle(0).weight_g, abs=2)


def test_decks_are_not_used_more_often_than_there_are() -> None:
    """The fourth bundle stands 20 in lower on the one low trailer than beside another on a flatbed."""
    one = replace(TRAILER, count=1)
    result = loaded(*(bundle(number, 190, 98, 60) for number in range(4)), decks=(one, DECK))
    assert sorted(item.deck for item in result.loads) == ["flatbed-48", "trailer"]
    with pytest.raises(NoPlan) as refused:
        loaded(*(bundle(number, 190, 98, 60) for number in range(4)), decks=(one,))
    assert "too few of them" in str(refused.value)


def test_decks_that_may_be_enough_but_were_not_filled_in_time_are_unknown_not_impossible() -> None:
    """Two bundles that may not carry, too wide for two lanes: their ground fits the one short deck, but no way to load does."""
    short = replace(TRAILER, length_nm=Nm(120 * INCH), axle_group_nm=None, mass_nm=None, kingpin_nm=None, count=1)
    bundles = tuple(replace(bundle(number, 108, 52, 40, 200), may_carry_g=Grams(number * 10)) for number in range(2))
    job = LoadJob(unit="in", decks=(short,), bundles=bundles, rules=LoadRules())
    result = load(job, Search(left_s=lambda: 0.0))
    assert (result.status, result.loads, result.cost, result.trucks_lower_bound) == ("unknown", (), None, 1)
    assert check(job, result).faults == ()
    assert check(job, replace(result, cost=1.0)).faults != ()


def test_every_bundle_that_no_deck_takes_is_named_with_why() -> None:
    with pytest.raises(NoPlan) as refused:
        loaded(bundle(0), bundle(1, 600), bundle(2, width=110), bundle(3, height=110), bundle(4, pounds=50_000))
    assert [(fault.path, fault.problem.partition(": ")[2]) for fault in refused.value.faults] == [
        ("B1", "it is longer than every deck"),
        ("B2", "it is wider than may be loaded without a permit"),
        ("B3", "it stands higher than the limit"),
        ("B4", "it is heavier than every payload"),
    ]


def test_an_overwide_bundle_rides_only_under_a_permit_that_the_load_names() -> None:
    rules = LoadRules(permit="P-77, route 40", permit_width_nm=Nm(120 * INCH))
    result = loaded(bundle(0, width=110), rules=rules)
    assert any("permit P-77, route 40" in note and "23 CFR 658.5" in note for note in result.loads[0].notes)


@pytest.mark.parametrize(("permit", "good"), [("P-77, route 40", True), ("P-77", False), ("by road, 40", False), ("", False)])
def test_a_permit_is_a_number_and_a_route(permit: str, good: bool) -> None:
    data = encode(LoadJob(unit="in", decks=(DECK,), bundles=(bundle(0),)))
    data["rules"] = {"permit": permit}
    if good:
        assert decode(LoadJob, data, name="$").rules.permit == permit
    else:
        with pytest.raises(InputError) as refused:
            decode(LoadJob, data, name="$")
        assert [fault.path for fault in refused.value.faults] == ["rules.permit"]


def test_what_is_not_known_of_a_deck_is_said() -> None:
    bare = replace(DECK, kingpin_nm=None, axle_group_nm=None, mass_nm=None)
    result = loaded(bundle(0), decks=(bare,))
    assert result.loads[0].axles == ()
    assert any("weigh the axles" in note for note in result.loads[0].notes)


def test_cautions_and_local_rules_are_on_every_load() -> None:
    notes = loaded(bundle(0), bundle(1), rules=LoadRules(local_rules="county road 9: 60,000 lb")).loads[0].notes
    assert any("first 50 miles" in note and "licensed people" in note for note in notes)
    assert any("tarp" in note and "none is trapped" in note for note in notes)
    assert any("county road 9" in note for note in notes)


def test_a_faulty_job_gets_every_fault_at_once() -> None:
    wrong = replace(bundle(0), dunnage_nm=(Nm(0), Nm(INCH), Nm(999 * INCH)), centre_nm=Nm(999 * INCH))
    job = LoadJob(
        decks=(DECK, replace(DECK, axle_group_nm=Nm(0)), replace(DECK, id="d3", mass_nm=None, height_nm=Nm(170 * INCH))),
        bundles=(wrong, bundle(0)),
        rules=LoadRules(width_limit_nm=Nm(110 * INCH), permit_width_nm=Nm(120 * INCH), permit_axles_permille=1100),
    )
    assert sorted({fault.path for fault in validate(job)}) == [
        "bundles[0].centre",
        "bundles[0].dunnage",
        "bundles[0].dunnage[2]",
        "bundles[1].id",
        "decks[1].axle_group",
        "decks[1].id",
        "decks[2]",
        "decks[2].height",
        "rules.permit_axles_permille",
        "rules.permit_width",
        "rules.width_limit",
    ]
    with pytest.raises(InputError):
        load(job, Search())


def test_the_load_that_is_wanted_first_is_listed_first_and_named_after_the_order() -> None:
    job = LoadJob(decks=(DECK,), bundles=tuple(bundle(n, 288, 98, 60) for n in range(3)), name="cottage-7")
    result = load(job, Search())
    assert [item.id for item in result.loads] == ["cottage-7/L01", "cottage-7/L02"]
    assert "B0" in {placed.bundle for placed in result.loads[0].placed}


def test_job_and_result_go_through_json_and_back() -> None:
    job = LoadJob(unit="in", decks=(DECK, RIGID), bundles=tuple(bundle(number) for number in range(9)))
    result = load(job, Search())
    assert decode(LoadJob, encode(job), name="$") == job
    assert decode(LoadResult, encode(result, unit="in"), name="$", unit="in") == result
    assert "trucks_lower_bound" in schema(LoadResult)["$defs"]["LoadResult"]["properties"]


def test_straps_lie_evenly_over_timbers_and_every_bundle_keeps_its_count() -> None:
    lines = [24, 72, 120, 168, 216]
    assert strap_places([(0, 240, 3)], lines, least=0, edge_nm=6) == (72, 120, 168)
    assert strap_places([(0, 240, 2)], lines, least=3, edge_nm=6) == (72, 120, 168)
    dice = random.Random(1)
    for _ in range(60):
        starts = [dice.randint(0, 400) for _ in range(dice.randint(1, 6))]
        spans = [(start, start + dice.randint(60, 240), dice.randint(1, 4)) for start in starts]
        timbers = sorted({start + (end - start) * k // 5 for start, end, _ in spans for k in range(1, 5)})
        places = strap_places(spans, timbers, least=dice.randint(0, 6), edge_nm=6)
        assert list(places) == sorted(set(places))
        for start, end, count in spans:
            assert sum(start <= place <= end for place in places) >= count
