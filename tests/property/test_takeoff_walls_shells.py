"""Random shells of walls, all standing: the independent proof accepts each, whichever way it is set."""

from __future__ import annotations

from dataclasses import replace

import pytest

from solver.takeoff.check import check
from solver.takeoff.take_off import take_off
from tests.generators.wall_shells import shell
from tests.generators.walls import demo_plant

SEEDS = range(40, 85)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_proof_accepts_a_random_shell(seed: int) -> None:
    building, plant = shell(seed), demo_plant()
    taken = take_off(building, plant)
    assert [str(fault) for fault in check(building, plant, taken).faults] == []
    closers = [piece for piece in taken.pieces if piece.closing]
    loops = {wall.level for wall in building.walls}
    mitred = all(wall.left.joint == "mitred" for wall in building.walls)
    assert len({piece.part for piece in closers}) == (len(loops) if mitred else 0)


def test_a_shell_set_the_other_way_round_covers_the_same_faces() -> None:
    plant = demo_plant()
    for seed in range(6):
        building = shell(seed)
        other = replace(building, direction="cw" if building.direction == "ccw" else "ccw")
        assert check(other, plant, take_off(other, plant)).sound


def test_shells_are_of_every_kind() -> None:
    shells = [shell(seed) for seed in SEEDS]
    turns = {wall.left.interior_udeg // 10**6 for one in shells for wall in one.walls}
    assert min(turns) < 91 and max(turns) >= 270 and len(turns) > 8
    assert max(len([w for w in one.walls if w.level == "L1"]) for one in shells) >= 16
    assert any(len(wall.top) > 3 for one in shells for wall in one.walls)
    assert any(opening.corner_with for one in shells for wall in one.walls for opening in wall.openings)
    assert {len({wall.level for wall in one.walls}) for one in shells} == {1, 2, 3}
