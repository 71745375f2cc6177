"""Very short and very long panels find a bundle and a truck, and what does not is told in the order's terms."""

from __future__ import annotations

from dataclasses import replace

import pytest

from solver.bundling.check import check as check_stack
from solver.bundling.job import stack_job
from solver.bundling.stack import stack
from solver.domain.bundle import StackResult
from solver.domain.plant import Plant
from solver.domain.takeoff import Takeoff
from solver.errors import FieldFault, InputError, NoPlan
from solver.loading.check import check as check_load
from solver.loading.job import load_job
from solver.loading.load import load
from solver.order_fault_paths import refusals_in_order_terms
from solver.reading.read_order import read_order
from solver.search import Search
from solver.takeoff.check import check
from solver.takeoff.take_off import take_off
from solver.units import FOOT, INCH, Nm
from tests.orders import box, plant, with_gable


def low(top_mm: float) -> Takeoff:
    """Walls so high and no higher, as under a curb."""
    order = box()
    order["levels"][0]["top"], order["openings"] = top_mm, []
    return take_off(read_order(order, plant()), plant())


def bundled(takeoff: Takeoff, limits: Plant) -> StackResult:
    """Bundles, proved."""
    job = stack_job(takeoff.pieces, limits, takeoff.building.deliveries, takeoff.hardware)
    result = stack(job, Search())
    assert check_stack(job, result).faults == ()
    return result


@pytest.mark.parametrize("top_mm", [40, 127, 145, 150, 200])
def test_panels_too_short_for_two_timbers_go_into_boxes_and_onto_a_truck(top_mm: float) -> None:
    """Two timbers of 3 1/2 in, a fifth of the length from either end, want 5.83 in (148 mm): what is shorter would tip."""
    takeoff = low(top_mm)
    stacked = bundled(takeoff, plant())
    boxed = {lay.piece for bundle in stacked.bundles if bundle.kind == "box" for lay in bundle.pieces}
    panels = {piece.id for piece in takeoff.pieces if piece.is_panel}
    assert panels & boxed == (panels if top_mm < 148 else set())
    job = load_job(stacked.bundles, takeoff.building, plant())
    loaded = load(job, Search())
    assert check_load(job, loaded).faults == ()


def long_slope() -> Takeoff:
    """A gable whose slopes are 8.35 m (27' 4 3/4"), longer than two forks handle."""
    order = with_gable(box(), pitch="4/12", overhang={"eave": 305})
    for n, y in ((2, 15_240), (3, 15_240)):
        order["outlines"]["o"]["corners"][n]["at"][1] = y
    return take_off(read_order(order, plant()), plant())


def test_roof_panels_of_27_ft_are_made_lifted_with_a_spreader_and_carried() -> None:
    takeoff = long_slope()
    assert check(takeoff.building, plant(), takeoff).faults == ()
    longest = max(piece.length_nm for piece in takeoff.pieces if piece.role == "roof_panel")
    assert 27 * FOOT < longest < 28 * FOOT
    stacked = bundled(takeoff, plant())
    assert any("spreader" in note for bundle in stacked.bundles for note in bundle.notes)
    job = load_job(stacked.bundles, takeoff.building, plant())
    assert check_load(job, load(job, Search())).faults == ()


@pytest.mark.parametrize(
    ("limits", "why"),
    [
        (replace(plant(), bundle=replace(plant().bundle, spreader_length_nm=None)), "that two forks handle"),
        (replace(plant(), bundle=replace(plant().bundle, spreader_length_nm=Nm(26 * FOOT))), "that a spreader lifts"),
        (replace(plant(), decks=tuple(deck for deck in plant().decks if deck.length_nm < 27 * FOOT)), "that a deck carries"),
    ],
    ids=["no spreader", "a short spreader", "short decks"],
)
def test_a_panel_too_long_is_refused_with_the_limit_that_says_so(limits: Plant, why: str) -> None:
    with pytest.raises(NoPlan) as refusal:
        take_off(long_slope().building, limits)
    assert all(why in fault.problem for fault in refusal.value.faults)
    assert check(long_slope().building, limits, long_slope()).faults  # the proof sees it too


def test_a_refusal_of_bundling_or_loading_names_the_wall_or_the_plant() -> None:
    takeoff = low(127)
    tight = replace(plant(), bundle=replace(plant().bundle, box_length_nm=Nm(20 * INCH)))
    with pytest.raises(NoPlan) as refusal, refusals_in_order_terms(takeoff):
        stack(stack_job(takeoff.pieces, tight, takeoff.building.deliveries, takeoff.hardware), Search())
    paths = {fault.path for fault in refusal.value.faults}
    assert paths == {f"box.walls[L1.{side}]" for side in "SENW"}
    bundles = bundled(takeoff, plant()).bundles
    at = next(n for n, bundle in enumerate(bundles) if bundle.pieces)
    piece = next(one for one in takeoff.pieces if one.id == bundles[at].pieces[0].piece)
    with pytest.raises(InputError) as wrong, refusals_in_order_terms(takeoff, bundles):
        raise InputError(FieldFault(f"bundles[{at}].dunnage", "x", "y"), FieldFault("decks", "z", "w"))
    assert [fault.path for fault in wrong.value.faults] == [f"box.walls[{piece.group}]", "plant.decks"]
    assert wrong.value.faults[0].problem.startswith(piece.mark)
