"""Closing panels under slopes: cut shapes follow from set shapes by the named allowances, judged by the roof."""

from __future__ import annotations

from dataclasses import replace

import pytest

from service.catalog import read_plant
from solver.domain.piece import Piece
from solver.domain.plant import Plant
from solver.domain.takeoff import Takeoff
from solver.reading.read_order import read_order
from solver.takeoff import panels
from solver.takeoff.check import check
from solver.takeoff.take_off import take_off
from solver.units import INCH, Nm
from tests.bench.closing import Tally, run_one
from tests.cut_shapes import closing_under_slope, wrong_cuts
from tests.generators.closing import closing_order
from tests.orders import box, with_gable

SAMPLE = range(40)


@pytest.fixture(scope="module")
def plant() -> Plant:
    return read_plant()


def test_cut_shapes_under_gables_sheds_and_planes_follow_from_set_shapes(plant: Plant) -> None:
    """A sample of the benchmark's 2,000 buildings."""
    tally = Tally()
    for seed in SAMPLE:
        run_one(seed, plant, tally)
    assert (tally.wrong, tally.unsound, tally.crashed) == ([], [], [])
    assert set(tally.sloped) == {"gable", "shed", "planes"}
    assert sum(tally.sloped.values()) > len(SAMPLE) / 2
    assert tally.closing >= tally.planned


def gabled(plant: Plant) -> tuple[Takeoff, Piece]:
    """A box of 8 x 6 m under a gable of 45 degrees along x, begun at corner a: wall W closes, under the slope."""
    takeoff = take_off(read_order(with_gable(box(), pitch="45 deg"), plant), plant)
    (closing,) = closing_under_slope(takeoff.building, takeoff)
    return takeoff, closing


def test_a_closing_panel_under_a_slope_of_45_degrees_is_cut_at_45_degrees(plant: Plant) -> None:
    """Joint to joint the blank is 48 in wide, so at 45 degrees its edges differ by 48 in, however wide it stands."""
    takeoff, closing = gabled(plant)
    assert closing.peak_nm is None
    assert abs(closing.edge_a[1] - closing.edge_b[1]) == 48 * INCH
    assert closing.head.swing_udeg == 45_000_000
    assert wrong_cuts(takeoff.building, plant, takeoff) == []


def test_a_slope_drawn_anew_between_the_set_heights_is_noticed_by_both_judges(
    plant: Plant, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(
        panels, "refit_line_ends", lambda line, low, high: [(low, line[0][1]), *line[1:-1], (high, line[-1][1])]
    )
    monkeypatch.setattr(panels, "height_on_line", lambda a, b, u: a[1] if abs(u - a[0]) < abs(u - b[0]) else b[1])
    takeoff, closing = gabled(plant)
    assert any(fault.startswith(closing.mark) for fault in wrong_cuts(takeoff.building, plant, takeoff))
    assert closing.mark in {fault.path for fault in check(takeoff.building, plant, takeoff).faults}


def test_a_closing_panel_without_its_allowance_is_noticed_whatever_its_own_figures_say(plant: Plant) -> None:
    """Cut, head and allowances of the piece agree with each other: only the catalog and the set shape tell."""
    takeoff, closing = gabled(plant)
    less = closing.allowances[:-1]
    assert closing.allowances[-1].name == "closing"
    cut = replace(closing.right, kind="rip", outside_nm=Nm(INCH), inside_nm=Nm(INCH))
    false = replace(closing, allowances=less, right=cut)
    spoiled = replace(takeoff, pieces=tuple(false if one is closing else one for one in takeoff.pieces))
    assert any(fault.startswith(closing.mark) for fault in wrong_cuts(takeoff.building, plant, spoiled))
    assert closing.mark in {fault.path for fault in check(takeoff.building, plant, spoiled).faults}


def test_a_gable_whose_slopes_break_is_proved_and_its_closing_panel_follows_both_pitches(plant: Plant) -> None:
    """Four planes, 12/12 to a quarter of the depth and 4/12 on to the ridge: the break is no ridge of two heads."""
    order = with_gable(box())
    bands = [(0, 1500, 2700, 12), (1500, 3000, 4200, 4), (4500, 3000, 4200, 4), (6000, 4500, 2700, 12)]
    order["roofs"] = [
        {
            "id": "R",
            "kind": "planes",
            "over": "L1",
            "planes": [
                {
                    "id": f"P{n}",
                    "line": [[0, foot], [8000, foot]] if foot < head else [[8000, foot], [0, foot]],
                    "z": z,
                    "pitch": f"{rise}/12",
                    "plan": [[0, low := min(foot, head)], [8000, low], [8000, high := max(foot, head)], [0, high]],
                }
                for n, (foot, head, z, rise) in enumerate(bands)
            ],
        }
    ]
    takeoff = take_off(read_order(order, plant), plant)
    assert [str(fault) for fault in check(takeoff.building, plant, takeoff).faults] == []
    assert len(closing_under_slope(takeoff.building, takeoff)) == 1
    assert wrong_cuts(takeoff.building, plant, takeoff) == []


def test_a_seed_gives_the_same_building_each_time() -> None:
    assert closing_order(3) == closing_order(3) != closing_order(4)
