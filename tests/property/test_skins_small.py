"""Tiny skins jobs against every way there is, piece by piece, by code that knows only the contract."""

from __future__ import annotations

import itertools
import random
from fractions import Fraction
from typing import Any

import pytest

from service.catalog import read_plant
from service.usecases.make.stages import answer_stage_job, check_stage_result
from tests.generators.skins import small_job, week


def tiny_job(seed: int) -> dict[str, Any]:
    """Return a job of at most 6 pieces in whole metres, up to 3 coils of 2 batches, with a flaw here and there."""
    rng = random.Random(seed)
    faces: list[dict[str, Any]] = []
    for n in range(rng.randint(1, 3)):
        pieces = [{"id": f"p{k}", "length": rng.randint(1, 4), "count": 1} for k in range(rng.randint(1, 2))]
        faces.append({"id": f"f{n}", "group": f"g{rng.randint(0, 1)}", "pieces": pieces})
    coils: list[dict[str, Any]] = []
    for n in range(rng.randint(1, 3)):
        length = rng.randint(4, 11)
        at = rng.randint(0, length - 1)
        flaws = [[at, at + 1]] if rng.random() < 0.4 else []
        coils.append(
            {"id": f"c{n}", "batch": f"b{rng.randint(0, 1)}", "length": length, "flaws": flaws, "cost": rng.choice((1.0, 1.5))}
        )
    return {
        "unit": "mm",
        "change": rng.choice((0, 1)),
        "keep_from": rng.choice((2, 4)),
        "keep_value": rng.choice((0.5, 0.8)),
        "split": rng.choice((0.5, 3)),
        "coils": coils,
        "faces": faces,
    }


def least_end(job: dict[str, Any], coil: dict[str, Any], lengths: list[int]) -> int | None:
    """Return how far a coil is cut at least for these lengths, over every order of them; None where they do not fit."""
    best = None
    for order in set(itertools.permutations(lengths)):
        at = job["change"]
        for length in order:
            moved = True
            while moved:  # on past every flaw in the way
                moved = False
                for first, last in coil["flaws"]:
                    if at < last and first < at + length:
                        at, moved = last, True
            at += length
        if at <= coil["length"] and (best is None or at < best):
            best = at
    return best


def least_cost(job: dict[str, Any]) -> Fraction | None:
    """Return the least cost over every assignment of pieces to coils; None where there is none."""
    pieces = [(face["id"], face["group"], piece["length"]) for face in job["faces"] for piece in face["pieces"]]
    best = None
    for ways in itertools.product(range(len(job["coils"])), repeat=len(pieces)):
        batches = {(group, job["coils"][way]["batch"]) for (_, group, _), way in zip(pieces, ways, strict=True)}
        if len(batches) > len({group for group, _ in batches}):
            continue
        served = {(face, way) for (face, _, _), way in zip(pieces, ways, strict=True)}
        cost = Fraction(repr(float(job["split"]))) * (len(served) - len({face for face, _ in served}))
        for n in set(ways):
            coil = job["coils"][n]
            end = least_end(job, coil, [length for (_, _, length), way in zip(pieces, ways, strict=True) if way == n])
            if end is None:
                break
            left = coil["length"] - end
            kept = Fraction(repr(job["keep_value"])) * left if left >= job["keep_from"] else 0
            cost += Fraction(repr(coil["cost"])) * (coil["length"] - kept)
        else:
            best = cost if best is None or cost < best else best
    return best


@pytest.mark.parametrize("seed", range(60))
def test_tiny_jobs_reach_the_best_of_all_ways(seed: int) -> None:
    job = tiny_job(seed)
    best = least_cost(job)
    got = answer_stage_job("skins", job, plant=read_plant())
    if best is None:
        assert got.code == 3
        assert got.faults
        return
    assert got.result is not None
    assert got.result["status"] == "optimal"
    assert got.result["cost"] == pytest.approx(float(best), abs=1e-9)
    assert check_stage_result({"stage": "skins", "job": job, "result": got.result}, plant=read_plant()).sound


@pytest.mark.parametrize(("make", "seed"), [(small_job, seed) for seed in range(8)] + [(week, 2)])
def test_larger_jobs_keep_to_the_contract_and_to_their_bound(make: Any, seed: int) -> None:
    job = make(seed) | {"time_limit_s": 2}
    got = answer_stage_job("skins", job, plant=read_plant())
    assert got.code in (0, 3)
    if got.result is None:
        return
    assert check_stage_result({"stage": "skins", "job": job, "result": got.result}, plant=read_plant()).sound
    assert 0 < got.result["lower_bound"] <= got.result["cost"]
    assert got.result["cost"] < 1.5 * got.result["lower_bound"]
