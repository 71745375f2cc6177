"""Random buildings, a fixed sample of the benchmark's: each is planned and proved, or refused for a reason of its own."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from service.catalog import read_plant
from solver.domain.plant import Plant
from solver.errors import InputError, NoPlan
from solver.reading.read_order import read_order
from solver.takeoff.check import check
from solver.takeoff.take_off import take_off
from solver.units import Nm
from tests.bench.takeoff import Tally, confirm, run_one
from tests.generators.buildings import inside_angles, random_order
from tests.generators.refusals import reasons

SAMPLE = (*range(4000, 4036), 22, 83, 144, 1014)


@pytest.fixture(scope="module")
def plant() -> Plant:
    return read_plant()


@pytest.mark.parametrize("seed", SAMPLE)
def test_a_random_building_is_proved_or_refused_for_a_reason_of_its_own(seed: int, plant: Plant) -> None:
    tally = Tally()
    run_one(seed, plant, tally)
    assert tally.crashed == []
    assert tally.unsound == []
    assert tally.unconfirmed == []
    assert tally.missed == []
    assert tally.planned + bool(tally.refused) == 1


def test_a_seed_gives_the_same_order_each_time_and_another_seed_another() -> None:
    assert random_order(7) == random_order(7)
    assert random_order(7) != random_order(8)
    assert json.loads(json.dumps(random_order(7))) == random_order(7)


def test_a_refusal_without_a_reason_would_be_noticed(plant: Plant) -> None:
    """A blade that reaches half as deep refuses orders that have no reason of their own in the real plant's catalog."""
    shallow = replace(plant, saw=replace(plant.saw, depth_nm=Nm(plant.saw.depth_nm // 2)))
    tally = Tally()
    for seed in range(4000, 4004):
        order = random_order(seed)
        with pytest.raises((InputError, NoPlan)) as refusal:
            take_off(read_order(order, shallow), shallow)
        assert isinstance(refusal.value, InputError | NoPlan)
        confirm(seed, order, plant, refusal.value.faults, tally)
        assert "must" in reasons(order, shallow).values()
    assert len(tally.unconfirmed) == 4


def test_a_piece_left_out_of_a_random_building_is_noticed(plant: Plant) -> None:
    building = read_order(random_order(4000), plant)
    whole = take_off(building, plant)
    for dropped in (piece for piece in whole.pieces if piece.is_panel):
        less = replace(whole, pieces=tuple(piece for piece in whole.pieces if piece is not dropped))
        assert not check(building, plant, less).sound
        break


def test_inside_angles_of_a_square_and_an_l() -> None:
    assert inside_angles([(0, 0), (1, 0), (1, 1), (0, 1)]) == pytest.approx([90] * 4)
    assert max(inside_angles([(0, 0), (2, 0), (2, 1), (1, 1), (1, 2), (0, 2)])) == pytest.approx(270)
