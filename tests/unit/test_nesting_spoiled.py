"""The check notices a spoiled plan, whatever was spoiled; each sound plan it passes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from solver.codec import decode
from solver.domain.cut_plan import CutBar, NestJob, NestResult, PlacedPiece
from solver.domain.ids import StockId
from solver.nesting.check import check
from solver.nesting.nest import nest
from solver.search import Search
from solver.units import Nm

JOB = decode(
    NestJob,
    {
        "unit": "mm",
        "kerf": 3.2,
        "end_trim": 10,
        "clamp": 300,
        "width": 1200,
        "keep_from": 500,
        "keep_value": 0.5,
        "stock": [{"id": "S", "length": 6000, "count": 9}, {"id": "R", "length": 3500, "count": 1}],
        "pieces": [
            {"id": "G", "edge_a": [0, 2400], "edge_b": [0, 3000], "count": 4, "turns": ["as_is", "end_for_end"]},
            {"id": "A", "length": 900, "count": 5},
            {"id": "B", "length": 250, "count": 2},
        ],
    },
    name="$",
)
RESULT = nest(JOB, Search())


def with_bar(n: int, bar: CutBar) -> NestResult:
    return replace(RESULT, bars=(*RESULT.bars[:n], bar, *RESULT.bars[n + 1 :]))


def with_piece(change: Callable[[PlacedPiece], PlacedPiece], *, at: int, bar: int = 0) -> NestResult:
    held = RESULT.bars[bar]
    at %= len(held.pieces)
    return with_bar(bar, replace(held, pieces=(*held.pieces[:at], change(held.pieces[at]), *held.pieces[at + 1 :])))


def moved(piece: PlacedPiece, by_nm: int) -> PlacedPiece:
    a, b = piece.edge_a, piece.edge_b
    return replace(piece, edge_a=(Nm(a[0] + by_nm), Nm(a[1] + by_nm)), edge_b=(Nm(b[0] + by_nm), Nm(b[1] + by_nm)))


SPOILED: dict[str, tuple[NestResult, str]] = {
    "a bar is cut once more": (with_bar(0, replace(RESULT.bars[0], repeat=RESULT.bars[0].repeat + 1)), "is made"),
    "a bar is missing": (replace(RESULT, bars=RESULT.bars[1:]), "is made"),
    "stock that is not on offer": (with_bar(0, replace(RESULT.bars[0], stock=StockId("X"))), "not on offer"),
    "more bars than there are": (
        replace(RESULT, bars=tuple(replace(bar, stock=StockId("R")) for bar in RESULT.bars)),
        "at most 1",
    ),
    "a piece a nanometre nearer to the one before": (with_piece(lambda p: moved(p, -1), at=1), "a gap of"),
    "a piece within the end trim": (with_piece(lambda p: moved(p, -1), at=0), "leaves the bar"),
    "a piece beyond the far trim": (with_piece(lambda p: moved(p, 4_000_000_000), at=-1), "leaves the bar"),
    "a piece a nanometre short": (
        with_piece(lambda p: replace(p, edge_a=(p.edge_a[0], Nm(p.edge_a[1] - 1))), at=0),
        "its own shape",
    ),
    "a turn that is not allowed": (
        replace(
            RESULT,
            bars=tuple(
                replace(bar, pieces=tuple(replace(p, turn="over") if p.id == "G" else p for p in bar.pieces))
                for bar in RESULT.bars
            ),
        ),
        "may not be turned",
    ),
    "a piece nobody wants": (with_piece(lambda p: replace(p, id="Z"), at=0), "not wanted"),
    "a drop that is not there": (with_bar(0, replace(RESULT.bars[0], drop_nm=Nm(RESULT.bars[0].drop_nm + 1))), "not the drop"),
    "a cost that is too low": (replace(RESULT, cost=(RESULT.cost or 0) - 1), "not the cost"),
    "a bound above the cost": (replace(RESULT, lower_bound=(RESULT.cost or 0) + 1), "above the cost"),
    "optimal without the proof": (replace(RESULT, status="optimal", lower_bound=RESULT.lower_bound - 100), "optimal at"),
    "waste that is wrong": (replace(RESULT, waste=(RESULT.waste or 0) + 0.001), "not the waste"),
    "unknown with a plan": (replace(RESULT, status="unknown"), "unknown"),
    "an empty bar": (replace(RESULT, bars=(*RESULT.bars, replace(RESULT.bars[0], pieces=()))), "an empty bar"),
}


def test_the_plan_as_it_was_is_sound_and_optimal() -> None:
    assert check(JOB, RESULT).faults == ()
    assert RESULT.status == "optimal"
    assert len(check(JOB, RESULT).checked) >= 7


@pytest.mark.parametrize("name", SPOILED)
def test_a_spoiled_plan_is_caught(name: str) -> None:
    spoiled, problem = SPOILED[name]
    assert any(problem in str(fault) for fault in check(JOB, spoiled).faults), check(JOB, spoiled).faults


def test_a_piece_turned_for_nothing_is_caught() -> None:
    job = replace(JOB, clamp_nm=Nm(0), keep_from_nm=None, pieces=(replace(JOB.pieces[0], count=1),))
    result = nest(job, Search())
    (bar,) = result.bars
    (piece,) = bar.pieces
    assert piece.turn == "as_is"
    turned = PlacedPiece(
        id="G", turn="end_for_end", edge_a=(Nm(10_000_000), Nm(3_010_000_000)), edge_b=(Nm(610_000_000), Nm(3_010_000_000))
    )
    spoiled = replace(result, bars=(replace(bar, pieces=(turned,)),))
    assert any("for nothing" in str(fault) for fault in check(job, spoiled).faults)


def test_a_short_last_piece_in_the_clamps_dead_length_is_caught() -> None:
    job = replace(JOB, keep_from_nm=None, pieces=(replace(JOB.pieces[2], count=1),))
    result = nest(job, Search())
    (bar,) = result.bars
    length = {item.id: item.length_nm for item in job.stock}[bar.stock]
    far = length - job.end_trim_nm
    late = moved(bar.pieces[0], far - 250_000_000 - bar.pieces[0].edge_a[0])
    spoiled = replace(result, bars=(replace(bar, pieces=(late,), drop_nm=Nm(0)),))
    assert any("clamp" in str(fault) for fault in check(job, spoiled).faults)
