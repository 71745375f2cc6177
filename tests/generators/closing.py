"""Random buildings whose loop of mitred walls closes, most of them, under a slope: gables, sheds and explicit planes.

Distribution (shares of orders, drawn anew for each seed):
- outlines: rectangles 14 to 44 ft along the ridge, 12 to 30 ft across; eaves 7 to 11 ft; both units; 4 in and 6 in walls
- roofs: gable 40 %, shed 25 %, explicit planes 35 % (a ridge off the middle with a pitch of its own on either side, one
  plane, or four with a break in each slope), ridges along x or y; pitches 1/12 to 14/12 or whole degrees; overhangs 0 to 18 in
- start: in five of six orders the corner and direction whose last wall rises under the slope, else any
- openings: none to two windows a wall, over joints too
"""

from __future__ import annotations

import random
from typing import Any

Spot = tuple[float, float]
SIDES = ("S", "E", "N", "W")


def closing_order(seed: int) -> dict[str, Any]:
    """Return the order document of a seed; the same seed gives the same order."""
    rng = random.Random(seed * 104_729 + 5)
    unit = rng.choice(("in", "mm"))

    def size(feet: float) -> float:
        return round(feet * 304.8, 2) if unit == "mm" else round(feet * 192) / 16

    along, across, eave = (round(rng.uniform(*span) * 16) / 16 for span in ((14, 44), (12, 30), (7, 11)))  # 3/4 in
    kind = rng.choices(("gable", "shed", "planes"), (40, 25, 35))[0]
    turned = rng.random() < 0.5  # the ridge runs along y
    plan: list[Spot] = [(0, 0), (across, 0), (across, along), (0, along)] if turned else [
        (0, 0), (along, 0), (along, across), (0, across)]  # fmt: skip
    sloped = (0, 2) if turned else (1, 3)
    over = rng.choice((0.0, 0.5, 1.0, 1.5))
    roof: dict[str, Any] = {"id": "R", "kind": kind, "over": "L1"}
    if kind == "gable":
        reach = {"eave": size(over), "rake": size(rng.choice((0.0, 1.0)))}
        roof |= {"ridge": "y" if turned else "x", "pitch": _pitch(rng, across / 2), "eave_z": size(eave), "overhang": reach}
    elif kind == "shed":
        low = rng.choice([n for n in range(4) if n not in sloped])
        roof |= {"low": SIDES[low], "pitch": _pitch(rng, across), "eave_z": size(eave), "overhang": {"low": size(over)}}
    else:
        roof["planes"] = _planes(rng, along, across, eave, turned=turned, size=size)
    direction = rng.choice(("ccw", "cw"))
    last = rng.choice(sloped) if rng.random() < 5 / 6 else rng.randrange(4)
    corner = (last + 1) % 4 if direction == "ccw" else last
    return {
        "format": 1,
        "id": f"closing-{seed}",
        "unit": unit,
        "families": {"wall": rng.choice(("W6", "W4")), "roof": "R6"},
        "outlines": {
            "o": {
                "corners": [{"id": f"c{n}", "at": [size(x), size(y)]} for n, (x, y) in enumerate(plan)],
                "walls": list(SIDES),
            }
        },
        "levels": [{"id": "L1", "outline": "o", "base": 0, "top": "roof"}],
        "openings": [item for n in range(4) for item in _windows(rng, n, plan, size)],
        "roofs": [roof],
        "start": {"corner": f"c{corner}", "direction": direction},
        "site": {"ship_to": {"name": "Plot"}, "time_zone": "America/Denver"},
        "deliveries": [{"id": "D1", "need_by": "2031-05-12T07:00", "parts": ["L1", "R"]}],
    }


def _pitch(rng: random.Random, run_feet: float) -> str:
    """A pitch that rises no more than 11 ft over its run."""
    steepest = min(14, 132 / run_feet)
    if rng.random() < 0.3:
        return f"{rng.randint(5, max(6, int(4 * steepest)))} deg"
    return f"{rng.randint(1, max(2, int(steepest)))}/12"


def _planes(rng: random.Random, along: float, across: float, eave: float, *, turned: bool, size: Any) -> list[dict[str, Any]]:
    """Explicit planes over a rectangle with its ridge along x, turned a quarter where it runs along y."""
    shape = rng.choice(("saltbox", "saltbox", "one", "broken"))
    twelfths = [rng.randint(2, 10), rng.randint(2, 10)]
    ridge = round(across * rng.uniform(0.3, 0.7) * 16) / 16
    if shape == "one":
        bands = [(0.0, across, twelfths[0], 1)]
    elif shape == "saltbox":
        bands = [(0.0, ridge, twelfths[0], 1), (ridge, across, twelfths[1], -1)]
    else:
        near, far = (round(part * 16) / 16 for part in (ridge * 0.4, ridge + (across - ridge) * 0.6))
        upper = rng.randint(1, 4), rng.randint(1, 4)
        bands = [(0.0, near, upper[0] + rng.randint(2, 8), 1), (near, ridge, upper[0], 1)]
        bands += [(ridge, far, upper[1], -1), (far, across, upper[1] + rng.randint(2, 8), -1)]

    def at(x: float, y: float) -> list[float]:
        return [size(across - y), size(x)] if turned else [size(x), size(y)]

    made, z, heights = [], eave, []
    for low_y, high_y, rise, way in bands:
        heights.append((z, z := z + way * (high_y - low_y) * rise / 12))
    for n, ((low_y, high_y, rise, way), (start_z, end_z)) in enumerate(zip(bands, heights, strict=True)):
        line = [at(0, low_y), at(along, low_y)] if way > 0 else [at(along, high_y), at(0, high_y)]
        ring = [(0, low_y), (along, low_y), (along, high_y), (0, high_y)]
        made.append(
            {"id": f"P{n}", "line": line, "z": f"{(start_z if way > 0 else end_z) * 304.8:.6f} mm", "pitch": f"{rise}/12",
             "plan": [at(x, y) for x, y in ring]}
        )  # fmt: skip
    return made


def _windows(rng: random.Random, wall: int, plan: list[Spot], size: Any) -> list[dict[str, Any]]:
    (x0, y0), (x1, y1) = plan[wall], plan[(wall + 1) % 4]
    length, found, place = abs(x1 - x0) + abs(y1 - y0), [], 1.0
    for n in range(rng.randint(0, 2)):
        width = rng.uniform(1.5, 5)
        start = place + rng.uniform(0.7, 6)
        if start + width > length - 2:
            break
        found.append({"id": f"w{wall}{n}", "on": f"L1.{SIDES[wall]}", "kind": "window", "from_left": size(start),
                      "sill": size(3), "width": size(width), "height": size(3)})  # fmt: skip
        place = start + width
    return found
