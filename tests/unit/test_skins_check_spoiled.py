"""Skins plans spoiled on purpose: the check must say what is wrong; and bad jobs get every fault at once."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from service.catalog import read_plant
from service.usecases.make.stages import answer_stage_job
from solver.codec import decode
from solver.domain.skin_plan import SkinCut, SkinDraw, SkinJob
from solver.search import Search
from solver.skins.check import check
from solver.skins.skins import plan_skins
from solver.units import MM, Nm

DATA = {
    "unit": "mm",
    "change": 3000,
    "keep_from": 20000,
    "keep_value": 0.8,
    "split": 50000,
    "coils": [
        {"id": "C1", "batch": "A", "length": 60000, "flaws": [[40000, 40300]], "cost": 1.0},
        {"id": "C2", "batch": "B", "length": 60000},
    ],
    "faces": [
        {"id": "L1.S outside", "group": "cottage-7 outside", "pieces": [{"id": "a", "length": 2743.2, "count": 12}]},
        {"id": "L1.E outside", "group": "cottage-7 outside", "pieces": [{"id": "a", "length": 3000, "count": 5}]},
    ],
}
JOB = decode(SkinJob, DATA, name="job")
SOUND = plan_skins(JOB, Search())
DRAW = SOUND.draws[0]
PIECES = DRAW.pieces


def drawn(*pieces: SkinCut, coil: str = DRAW.coil) -> tuple[SkinDraw, ...]:
    return (SkinDraw(coil=coil, pieces=pieces),)


def shifted(n: int, by_mm: int) -> tuple[SkinDraw, ...]:
    cut = PIECES[n]
    return drawn(*PIECES[:n], replace(cut, at_nm=Nm(cut.at_nm + by_mm * MM)), *PIECES[n + 1 :])


OVER_FLAW = next(n for n, cut in enumerate(PIECES) if cut.at_nm >= 40000 * MM)
SPOILED: dict[str, tuple[dict[str, Any], str, str]] = {
    "a piece left out": ({"draws": drawn(*PIECES[:-1])}, "faces[1].pieces[0]", "4 are cut"),
    "a strange piece": (
        {"draws": drawn(*PIECES, SkinCut(face="x", id="a", at_nm=Nm(55000 * MM)))},
        "pieces[17]",
        "has no piece",
    ),
    "two that overlap": ({"draws": shifted(1, -1)}, "pieces[1].at", "is before"),
    "within the change": ({"draws": shifted(0, -1)}, "pieces[0].at", "is before 3000 mm"),
    "over the flaw": ({"draws": shifted(OVER_FLAW, -1)}, f"pieces[{OVER_FLAW}]", "over the flaw"),
    "behind the coil": ({"draws": shifted(16, 9000)}, "pieces[16]", "behind the coil"),
    "a strange coil": ({"draws": drawn(*PIECES, coil="C9")}, "draws[0].coil", "is no coil"),
    "two batches": (
        {"draws": (*drawn(*PIECES[:5]), *drawn(*PIECES[5:], coil="C2" if DRAW.coil == "C1" else "C1"))},
        "draws",
        "from batches A, B",
    ),
    "a wrong cost": ({"cost": (SOUND.cost or 0) - 1}, "cost", "is stated"),
    "a split not told": ({"splits": 1}, "splits", "1 is stated"),
    "a bound above the cost": ({"lower_bound": (SOUND.cost or 0) + 1}, "lower_bound", "is above the cost"),
    "optimal without proof": ({"lower_bound": (SOUND.cost or 0) * 0.99}, "status", "optimal is stated"),
    "a bound below the steel": ({"lower_bound": 1.0}, "lower_bound", "own length"),
    "unknown, yet a plan": ({"status": "unknown"}, "status", "a plan is given"),
}


def test_the_plan_is_sound_and_takes_one_coil() -> None:
    assert check(JOB, SOUND).sound
    assert (SOUND.status, SOUND.splits, len(SOUND.draws)) == ("optimal", 0, 1)
    # 3 m change, 12 x 2.7432 m and 5 x 3 m; on the coil without a flaw 9.0816 m are left, less than is kept
    assert SOUND.cost == 60000


@pytest.mark.parametrize("name", SPOILED)
def test_what_is_spoiled_is_noticed(name: str) -> None:
    change, path, what = SPOILED[name]
    found = check(JOB, replace(SOUND, **change)).faults
    assert any(path in fault.path and what in fault.problem for fault in found), list(map(str, found))


def test_every_fault_of_a_job_is_said_at_once() -> None:
    flawed = {"id": "C", "batch": "A", "length": 100, "flaws": [[50, 120]]}
    face = {"id": "f", "group": "g", "pieces": [{"id": "a", "length": 1}, {"id": "a", "length": 2}]}
    got = answer_stage_job("skins", {**DATA, "coils": [flawed, flawed], "faces": [face, face]}, plant=read_plant())
    assert got.code == 2
    paths = {fault.path for fault in got.faults}
    assert paths == {
        "coils[1].id",
        "coils[0].flaws[0]",
        "coils[1].flaws[0]",
        "faces[1].id",
        *(f"faces[{n}].pieces[1].id" for n in (0, 1)),
    }
    nameless = {**flawed, "id": "", "batch": "", "flaws": [[5, 3]]}
    got = answer_stage_job("skins", {**DATA, "coils": [nameless]}, plant=read_plant())
    assert {fault.path for fault in got.faults} >= {"coils[0].id", "coils[0].batch"}


def test_a_group_that_no_batch_holds_is_named_with_what_is_short() -> None:
    long = {**DATA, "faces": [{"id": "f", "group": "barn", "pieces": [{"id": "a", "length": 3000, "count": 20}]}]}
    got = answer_stage_job("skins", long, plant=read_plant())
    assert got.code == 3
    assert "'barn' takes 60000 mm of one batch, the largest has 57000 mm clear: short by 3000 mm" in got.faults[0].problem
    big = {**DATA, "faces": [{"id": "f", "group": "barn", "pieces": [{"id": "a", "length": 58000}]}]}
    assert "the longest clear run is 57000 mm" in answer_stage_job("skins", big, plant=read_plant()).faults[0].problem


def test_an_empty_job_is_optimal_and_empty() -> None:
    got = answer_stage_job("skins", {"coils": [], "faces": []}, plant=read_plant())
    assert got.result is not None
    assert (got.result["status"], got.result["draws"], got.result["cost"]) == ("optimal", [], 0)
