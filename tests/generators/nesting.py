"""Random nesting jobs: plant-like ones with sloped ends for the bench, and small odd ones for properties."""

from __future__ import annotations

import random
from typing import Any

LEANS_MM = (200, 300, 400, 600, 692.8, 800)  # rise over one cover: pitches from 2/12 up


def plant_like(seed: int, *, time_limit_s: float = 10) -> dict[str, Any]:
    """Return a plant-like job: 10 to 60 kinds, sloped and square, two stock lengths, kerf 3.2, end trim."""
    rng = random.Random(seed)
    pitch = rng.sample(LEANS_MM, rng.randint(1, 2))
    turns = rng.choice(
        (["as_is"], ["as_is", "over_end"], ["as_is", "end_for_end"], ["as_is", "end_for_end", "over", "over_end"])
    )
    pieces: list[dict[str, Any]] = []
    for n in range(rng.randint(10, 60)):
        low = rng.randrange(600, 4200)
        count = rng.choice((1, 1, 2, 2, 3, 4, 6, 8))
        draw = rng.random()
        if draw < 0.5:
            pieces.append({"id": f"P{n}", "length": low, "count": count})
            continue
        rise = rng.choice(pitch) * rng.choice((-1, 1))
        start = 0 if draw < 0.85 else rng.choice((rise, -rise))  # some are sloped at both ends
        edge_a, edge_b = [start, low + max(0, start) + abs(rise)], [0, low + max(0, start) + abs(rise) - rise]
        pieces.append({"id": f"P{n}", "edge_a": edge_a, "edge_b": edge_b, "count": count, "turns": turns})
    stock: tuple[int | float, ...] = rng.choice(((6000, 7300), (6000, 8000), (4900, 7300), (7300, 12000)))
    longest = max(
        max(piece.get("edge_a", [0, 0])[1], piece.get("edge_b", [0, 0])[1], piece.get("length", 0)) for piece in pieces
    )
    stock = (
        tuple(length if length > longest + 100 else longest + 100 for length in stock) if stock[1] <= longest + 100 else stock
    )
    return {
        "unit": "mm",
        "kerf": 3.2,
        "end_trim": 12.7,
        "width": 1200,
        "time_limit_s": time_limit_s,
        "seed": seed,
        "stock": [{"id": f"S{length}", "length": length} for length in dict.fromkeys(stock)],
        "pieces": pieces,
    }


def several_lengths(seed: int, *, time_limit_s: float = 20) -> dict[str, Any]:
    """Return a job of square pieces and 2 to 5 stock lengths whose prices follow no one rate: 5 to 60 kinds.

    Some stock is limited, never the longest; two jobs in five credit what is kept.
    """
    rng = random.Random(seed)
    lengths = sorted(rng.sample(range(3000, 13001, 100), rng.randint(2, 5)))
    lengths[-1] = max(lengths[-1], 6000)
    stock: list[dict[str, Any]] = [
        {"id": f"S{n}", "length": length, "cost": round(length * rng.uniform(0.85, 1.15))} for n, length in enumerate(lengths)
    ]
    pieces: list[dict[str, Any]] = []
    for n in range(round(5 * 12 ** rng.random())):
        longest = lengths[-1] * rng.choice((0.25, 0.5, 0.95))
        count = rng.choice((1, 2, 3, 4, 6, 9, 14, 20, 40))
        pieces.append({"id": f"P{n}", "length": rng.randint(350, round(longest)), "count": count})
    if rng.random() < 0.4:
        for item in rng.sample(stock[:-1], rng.randint(1, len(stock) - 1)):
            item["count"] = rng.randint(1, 12)
    job = {"unit": "mm", "kerf": rng.choice((3, 3.2)), "time_limit_s": time_limit_s, "seed": seed}
    if rng.random() < 0.4:
        job |= {"keep_from": rng.choice((600, 1000, 1500)), "keep_value": rng.choice((0.3, 0.5, 0.8))}
    return {**job, "stock": stock, "pieces": pieces}


def few_of_several(seed: int) -> dict[str, Any]:
    """Return a small job of square pieces and 2 to 4 stock lengths at prices of no one rate, for models of all patterns."""
    rng = random.Random(seed)
    lengths = sorted(rng.sample(range(2500, 9001, 100), rng.randint(2, 4)))
    stock: list[dict[str, Any]] = [
        {"id": f"S{n}", "length": length, "cost": round(length * rng.uniform(0.8, 1.2))} for n, length in enumerate(lengths)
    ]
    for item in stock[:-1]:
        if rng.random() < 0.35:
            item["count"] = rng.randint(1, 6)
    pieces = [
        {"id": f"P{n}", "length": rng.randint(700, round(0.95 * lengths[-1])), "count": rng.randint(1, 8)}
        for n in range(rng.randint(3, 6))
    ]
    job = {"unit": "mm", "kerf": rng.choice((0, 3, 3.2)), "seed": seed, "stock": stock, "pieces": pieces}
    if rng.random() < 0.3:
        job |= {"keep_from": rng.choice((600, 1000)), "keep_value": rng.choice((0.3, 0.5, 0.8))}
    return job


def odd(seed: int) -> dict[str, Any]:
    """Return a small job with everything in it: trims, clamp, keeping, counts, triangles, parallelograms, turns."""
    rng = random.Random(seed)
    sloped = rng.random() < 0.6
    pieces: list[dict[str, Any]] = []
    for n in range(rng.randint(1, 6)):
        piece: dict[str, Any] = {"id": f"P{n}", "count": rng.randint(1, 5)}
        if sloped and rng.random() < 0.7:
            start, end = rng.choice((0, 0, 150, -150, 300)), rng.choice((0, 150, -150, 300, 300))
            low = rng.randrange(max(0, start - end, start, end), 2500)
            piece["edge_a"] = [start, low + end + max(0, start)]
            piece["edge_b"] = [0, low + max(0, start)]
            if rng.random() < 0.7:
                piece["turns"] = rng.sample(["as_is", "end_for_end", "over", "over_end"], rng.randint(1, 4))
        else:
            piece["length"] = rng.randrange(100, 3000)
        pieces.append(piece)
    job: dict[str, Any] = {"unit": "mm", "kerf": rng.choice((0, 3.2, 10)), "width": 1200, "pieces": pieces}
    if rng.random() < 0.5:
        job["end_trim"] = rng.choice((5, 50))
    if rng.random() < 0.5:
        job["clamp"] = rng.choice((200, 900))
    if rng.random() < 0.5:
        job["keep_from"], job["keep_value"] = rng.choice((300, 1000)), rng.choice((0.3, 0.5, 1))
    job["stock"] = [
        {"id": f"S{n}", "length": rng.randrange(4500, 8000), "cost": rng.choice((None, rng.randrange(3000, 9000)))}
        for n in range(rng.randint(1, 3))
    ]
    if rng.random() < 0.4:
        job["stock"].append({"id": "R", "length": rng.randrange(1500, 4500), "count": rng.randint(0, 3)})
    return job


def house_day(seed: int) -> list[dict[str, Any]]:
    """Return the jobs of a day of 40 houses: 15 materials, some 8,000 pieces; panels sloped at gables, trims square."""
    rng = random.Random(seed)
    jobs = []
    for material in range(15):
        panels = material < 4
        stock: tuple[int, ...] = (2438, 3048, 3658, 4877, 6096, 7315) if panels else (3048, 3658, 6096)
        pieces: dict[tuple[int, int], int] = {}
        for _ in range(40):
            eave, rise = rng.choice((2400, 2440, 2700, 3048)), rng.choice((300, 400, 600))
            for _ in range(1 if not panels else 2):
                for n in range(rng.randint(6, 10)):
                    sloped = panels and n < 4
                    length = eave + n * rise if sloped else (eave if panels else rng.randrange(400, 3000, 25))
                    key = (min(length, 5400), rise if sloped else 0)
                    pieces[key] = pieces.get(key, 0) + (2 if panels else 1)
        kinds = []
        for n, ((length, rise), count) in enumerate(pieces.items()):
            shape: dict[str, Any] = {"edge_a": [0, length], "edge_b": [0, length + rise], "turns": ["as_is", "over_end"]}
            kinds.append({"id": f"P{n}", "count": count, **(shape if rise else {"length": length})})
        jobs.append(
            {
                "unit": "mm",
                "kerf": 3.2,
                "end_trim": 12.7 if panels else 0,
                "width": 1219.2,
                "stock": [{"id": f"S{length}", "length": length} for length in stock],
                "pieces": kinds,
            }
        )
    return jobs
