"""The worked cases of angled ends, and what a job is refused for."""

from __future__ import annotations

from typing import Any

import pytest

from service.catalog import read_plant
from service.usecases.make.stages import answer_stage_job as answer_of
from solver.codec import decode
from solver.domain.cut_plan import NestJob, NestResult
from solver.errors import InputError, NoPlan
from solver.nesting.check import check
from solver.nesting.nest import nest, validate
from solver.nesting.shapes import gap_nm
from solver.search import Search
from solver.units import MM


def solve(job: dict[str, Any]) -> tuple[NestJob, NestResult]:
    made = decode(NestJob, {"unit": "mm", **job}, name="$")
    result = nest(made, Search())
    assert check(made, result).faults == ()
    return made, result


def gables(turns: list[str], stock: float, second: str = "G") -> dict[str, Any]:
    """Case G5: two gable pieces 2400/3000 over 1200, kerf 3.2."""
    shapes = {"G": ([0, 2400], [0, 3000]), "M": ([0, 3000], [0, 2400])}
    pieces = [
        {"id": f"{name}{n}", "edge_a": shapes[name][0], "edge_b": shapes[name][1], "turns": turns}
        for n, name in enumerate(("G", second))
    ]
    return {"kerf": 3.2, "width": 1200, "stock": [{"id": "S", "length": stock}], "pieces": pieces}


@pytest.mark.parametrize(
    ("second", "turn", "length"),
    [
        ("G", "as_is", 6003.578),
        ("G", "end_for_end", 5403.578),
        ("G", "over", 6003.578),
        ("G", "over_end", 6003.578),
        ("M", "as_is", 6003.578),
        ("M", "end_for_end", 6003.578),
        ("M", "over", 6003.578),
        ("M", "over_end", 5403.578),
    ],
)
def test_two_gable_pieces_take_the_bar_length_of_case_g5(second: str, turn: str, length: float) -> None:
    turns = list(dict.fromkeys(["as_is", turn]))
    _, result = solve(gables(turns, length, second))
    assert [bar.repeat for bar in result.bars] == [1]
    assert result.bars[0].drop_nm == 0
    # where the slopes can lie outwards instead, square ends meet and the cut takes 3.2, not 3.578
    _, result = solve(gables(turns, length - 0.379, second))
    assert sum(bar.repeat for bar in result.bars) == 2


def test_pieces_stay_as_they_are_where_a_turn_saves_no_bar() -> None:
    _, result = solve(gables(["as_is", "end_for_end", "over", "over_end"], 6004))
    assert {piece.turn for bar in result.bars for piece in bar.pieces} == {"as_is"}


def test_kerf_along_the_bar_is_that_of_case_g6() -> None:
    width = 1200 * MM
    assert round(gap_nm(3_200_000, width, 0) / MM, 3) == 3.2
    assert round(gap_nm(3_200_000, width, 600 * MM) / MM, 3) == 3.578
    assert round(gap_nm(3_200_000, width, 1200 * MM) / MM, 3) == 4.525


def test_base_channel_alternates_as_in_case_g17() -> None:
    """Three channels 3000 outside, 150 wide, 45 degrees at both ends: 8709.05 alternating, 9009.05 all as they are."""
    piece = {"id": "C", "edge_a": [0, 3000], "edge_b": [150, 2850], "count": 3}
    job = {"kerf": 3.2, "width": 150, "stock": [{"id": "S", "length": 8709.06}], "pieces": [piece]}
    _, result = solve(job | {"pieces": [piece | {"turns": ["as_is", "end_for_end"]}]})
    assert [bar.repeat for bar in result.bars] == [1]
    _, result = solve(job)
    assert sum(bar.repeat for bar in result.bars) == 2
    _, result = solve(job | {"stock": [{"id": "S", "length": 9009.06}]})
    assert [bar.repeat for bar in result.bars] == [1]


def test_the_contract_example_costs_what_it_says() -> None:
    job = {
        "kerf": 3.2,
        "keep_from": 600,
        "keep_value": 0.5,
        "width": 1200,
        "stock": [{"id": "S", "length": 6000, "cost": 6000, "count": None}],
        "pieces": [{"id": "A", "length": 2400, "count": 4}],
    }
    _, result = solve(job)
    assert result.cost == pytest.approx(10806.4, rel=1e-12)
    assert result.waste == pytest.approx(0.2, rel=1e-12)
    assert result.bars[0].repeat == 2
    assert result.bars[0].drop_nm == 1_193_600_000


def test_an_empty_job_has_an_empty_optimal_plan() -> None:
    _, result = solve({"stock": [], "pieces": []})
    assert (result.status, result.cost, result.lower_bound, result.bars) == ("optimal", 0, 0, ())


def test_a_piece_longer_than_all_stock_is_named() -> None:
    job = {"stock": [{"id": "S", "length": 6000}], "pieces": [{"id": "fits", "length": 6000}, {"id": "long", "length": 6000.1}]}
    with pytest.raises(NoPlan) as caught:
        solve(job)
    assert [fault.path for fault in caught.value.faults] == ["pieces[1]"]
    assert "long" in caught.value.faults[0].problem


def test_every_fault_of_a_job_is_listed() -> None:
    job = {
        "unit": "mm",
        "stock": [{"id": "S", "length": 6000}, {"id": "S", "length": 7000}],
        "pieces": [
            {"id": "A", "length": 10},
            {"id": "A", "length": 10, "edge_a": [0, 5], "edge_b": [0, 5]},
            {"id": "B", "edge_a": [5, 0], "edge_b": [0, 5]},
            {"id": "C"},
            {"id": "D", "edge_a": [0, 5]},
            {"id": "E", "edge_a": [3, 3], "edge_b": [3, 3]},
            {"id": "F", "length": 10, "count": 1_000_001, "turns": ["over", "over"]},
        ],
    }
    paths = [fault.path for fault in validate(decode(NestJob, job, name="$"))]
    assert sorted(paths) == [
        "pieces",
        "pieces[1].id",
        "pieces[1].length",
        "pieces[2].edge_a",
        "pieces[3].length",
        "pieces[4].edge_b",
        "pieces[5].edge_a",
        "pieces[6].turns",
        "stock[1].id",
        "width",
    ]
    with pytest.raises(InputError):
        nest(decode(NestJob, job, name="$"), Search())


def test_faults_of_reading_and_of_meaning_are_told_together() -> None:
    data = {
        "unit": "mm",
        "stock": [{"id": "S", "length": 6000}, {"id": "S", "length": 7000}, {"id": "T", "length": -1}],
        "pieces": [
            {"id": "A", "length": 0},
            {"id": "B", "edge_a": [5, 0], "edge_b": [0, 5]},
            {"id": "C", "edge_a": [0, 5], "edge_b": [0, 6], "turns": ["sideways"]},
            {"id": "D", "edge_a": [0, 5], "edge_b": [0, 6], "turns": ["over", "over"]},
            {"id": "D", "length": 3},
        ],
    }
    answer = answer_of("nest", data, plant=read_plant())
    assert answer.code == 2
    assert sorted(fault.path for fault in answer.faults) == [
        "pieces[0].length",
        "pieces[1].edge_a",
        "pieces[2].turns[0]",
        "pieces[3].turns",
        "pieces[4].id",
        "stock[1].id",
        "stock[2].length",
        "width",
    ]
    unreadable: tuple[Any, ...] = (None, [], 3, {"pieces": 3, "stock": {}}, {"unit": "cubit", "pieces": [None]})
    for odd in unreadable:
        assert answer_of("nest", odd, plant=read_plant()).code == 2
