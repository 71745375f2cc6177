"""Random weeks of skins: orders with outside and inside groups, faces of walls and roof planes, few batches, flaws."""

from __future__ import annotations

import random
from typing import Any

HEIGHTS_MM = (2438.4, 2743.2, 3048.0, 3657.6)


def small_job(seed: int) -> dict[str, Any]:
    """Return a job that an exact model decides: up to 4 groups, 3 batches, 6 short coils, tight enough that faces may split."""
    rng = random.Random(seed)
    groups = rng.randint(1, 4)
    faces = [face(rng, f"g{group}", n, 12) for group in range(groups) for n in range(rng.randint(1, 3))]
    need = sum(piece["length"] * piece["count"] for one in faces for piece in one["pieces"])
    return _job(rng, faces, batches=rng.randint(1, 3), need=need, coil=(20_000, 90_000))


def week(seed: int) -> dict[str, Any]:
    """Return a week: 5 to 40 orders of 3 to 8 elevations, 3 to 10 batches, coils of 150 to 900 m."""
    rng = random.Random(seed)
    orders = rng.randint(5, 40)
    faces = [
        face(rng, f"o{order} {side}", n, 40)
        for order in range(orders)
        for side in ("outside", "inside")
        for n in range(rng.randint(3, 8))
    ]
    need = sum(piece["length"] * piece["count"] for one in faces for piece in one["pieces"])
    return _job(rng, faces, batches=rng.randint(3, 10), need=need, coil=(150_000, 900_000))


def face(rng: random.Random, group: str, n: int, most: int) -> dict[str, Any]:
    """Return a face: a wall of one height with its gable's or its strips' lengths beside."""
    height = rng.choice(HEIGHTS_MM)
    pieces = [{"id": "full", "length": height, "count": rng.randint(3, most)}]
    for k in range(rng.randint(0, 4)):
        length = round(rng.uniform(300, 6500), rng.choice((0, 1)))
        pieces.append({"id": f"p{k}", "length": length, "count": rng.randint(1, 3)})
    return {"id": f"{group} f{n}", "group": group, "pieces": pieces}


def _job(
    rng: random.Random, faces: list[dict[str, Any]], *, batches: int, need: float, coil: tuple[int, int]
) -> dict[str, Any]:
    """Return a job whose coils hold what is wanted with 15 to 60 % to spare."""
    coils: list[dict[str, Any]] = []
    spare, held = rng.uniform(1.15, 1.6), 0.0
    while held < need * spare or len(coils) < batches:
        length = rng.randint(*coil)
        flaws = sorted(_flaw(rng, length) for _ in range(rng.choice((0, 0, 0, 1, 2))))
        batch = f"b{len(coils) % batches}"
        coils.append(
            {"id": f"c{len(coils)}", "batch": batch, "length": length, "flaws": flaws, "cost": rng.choice((1.0, 1.0, 1.1))}
        )
        held += length
    return {
        "unit": "mm",
        "time_limit_s": 10,
        "change": 3000,
        "keep_from": rng.choice((20_000, 60_000)),
        "keep_value": rng.choice((0.5, 0.8, 0.95)),
        "split": rng.choice((5_000, 50_000, 200_000)),
        "coils": coils,
        "faces": faces,
    }


def _flaw(rng: random.Random, length: int) -> list[int]:
    at = rng.randint(0, length - 1000)
    return [at, at + rng.randint(50, 900)]
