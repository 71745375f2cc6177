"""Orders built from the measured truth of open building models, at test time; nothing of the models is kept here."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from typing import Any

from solver.domain.building import Opening, RoofPlane, Wall
from solver.domain.takeoff import Takeoff
from tests.shared import shared_path

SIDES = ("S", "E", "N", "W")  # of a rectangle along x and y: counter-clockwise from its south-west corner


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueWall:
    """An external wall as measured: its storey, the side it faces, and the areas of its outer face in square metres."""

    storey: str
    side: str
    gross_m2: float
    net_m2: float
    length_m: float
    height_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class House:
    """A house as measured, and the order that says it."""

    truth: dict[str, Any]
    order: dict[str, Any]
    walls: tuple[TrueWall, ...]


def truth_of(name: str) -> dict[str, Any]:
    """Return the measured truth of a model, or skip."""
    found: dict[str, Any] = json.loads(shared_path(f"houses/truth/{name}.json").read_text(encoding="utf-8"))
    return found


def house(name: str, *, roof: dict[str, Any] | None = None, tops: dict[str, str] | None = None) -> House:
    """Return a rectangular house of stacked storeys; `tops` names storeys whose walls follow the roof."""
    truth = truth_of(name)
    storeys = sorted(truth["footprints"], key=lambda item: item["base_z"])
    low, high = _bounds(storeys[0]["outline"])
    levels: list[dict[str, Any]] = []
    openings: list[dict[str, Any]] = []
    walls: list[TrueWall] = []
    for n, storey in enumerate(storeys):
        level = f"L{n}"
        held = [wall for wall in truth["walls"] if wall["is_external"] and wall["storey"] == storey["storey"]]
        height = min(wall["height_max"] for wall in held)
        top = (tops or {}).get(storey["storey"], _mm(height))
        levels.append({"id": level, "outline": "o", "base": _mm(storey["base_z"]), "top": top})
        for wall in held:
            side = _side(wall, low, high)
            openings += [
                _opening(wall, item, level, side, low, high, len(openings) + m) for m, item in enumerate(wall["openings"])
            ]
            walls.append(_true_wall(wall, storey["storey"], side))
    _link(openings, low, high)
    order: dict[str, Any] = {
        "format": 1,
        "id": "house",
        "unit": "mm",
        "outlines": {"o": {"corners": _corners(low, high), "walls": list(SIDES)}},
        "levels": levels,
        "openings": openings,
        "site": {"ship_to": {"name": "Plot"}, "time_zone": "America/Denver"},
        "deliveries": [{"id": "D", "need_by": "2031-05-12T07:00", "parts": [level["id"] for level in levels]}],
    }
    if roof is not None:
        order["roofs"] = [{"id": "R", "over": levels[-1]["id"], **roof}]
        order["deliveries"][0]["parts"].append("R")
    return House(truth=truth, order=order, walls=tuple(walls))


def _mm(metres: float) -> float:
    return round(metres * 1000, 1)


def _bounds(outline: list[list[float]]) -> tuple[tuple[float, float], tuple[float, float]]:
    xs, ys = [x for x, _ in outline], [y for _, y in outline]
    return (min(xs), min(ys)), (max(xs), max(ys))


def _corners(low: tuple[float, float], high: tuple[float, float]) -> list[dict[str, Any]]:
    places = [(0.0, 0.0), (high[0] - low[0], 0.0), (high[0] - low[0], high[1] - low[1]), (0.0, high[1] - low[1])]
    return [{"id": name, "at": [_mm(x), _mm(y)]} for name, (x, y) in zip("abcd", places, strict=True)]


def _side(wall: dict[str, Any], low: tuple[float, float], high: tuple[float, float]) -> str:
    (x0, y0), (x1, y1) = wall["body_centreline"]["start"], wall["body_centreline"]["end"]
    x, y = (x0 + x1) / 2, (y0 + y1) / 2
    if abs(x1 - x0) > abs(y1 - y0):
        return "S" if y - low[1] < high[1] - y else "N"
    return "W" if x - low[0] < high[0] - x else "E"


def _opening(
    wall: dict[str, Any],
    item: dict[str, Any],
    level: str,
    side: str,
    low: tuple[float, float],
    high: tuple[float, float],
    number: int,
) -> dict[str, Any]:
    """An opening as measured, along its side from the left seen from outside; what overruns the wall's end is left out."""
    start, end = wall["body_centreline"]["start"], wall["body_centreline"]["end"]
    size = math.hypot(end[0] - start[0], end[1] - start[1])
    ends = []
    for place in (item["left"], item["right"]):
        along = min(max(place, 0.0), size)
        x, y = (a + (b - a) * along / size for a, b in zip(start, end, strict=True))
        ends.append({"S": x - low[0], "E": y - low[1], "N": high[0] - x, "W": high[1] - y}[side])
    left, right = min(ends), max(ends)
    made: dict[str, Any] = {
        "id": f"o{number}",
        "on": f"{level}.{side}",
        "kind": "door" if item["kind"] == "door" else "window",
        "from_left": _mm(left),
        "width": round(_mm(right) - _mm(left), 1),
        "height": _mm(item["height"]),
    }
    if made["kind"] == "window":
        made["sill"] = _mm(item["sill"])
    if not item["rectangular"] and abs(item["area"] - math.pi / 4 * item["width"] ** 2) < 0.001:
        made["head"] = {"kind": "round"}
    return made


def _link(openings: list[dict[str, Any]], low: tuple[float, float], high: tuple[float, float]) -> None:
    """Openings that reach the same corner from both walls are one corner opening of two linked ones."""
    lengths = {"S": _mm(high[0] - low[0]), "N": _mm(high[0] - low[0]), "E": _mm(high[1] - low[1]), "W": _mm(high[1] - low[1])}
    for one in openings:
        level, side = one["on"].split(".")
        if abs(one["from_left"] + one["width"] - lengths[side]) > 0.05:
            continue
        following = f"{level}.{SIDES[(SIDES.index(side) + 1) % 4]}"
        for other in openings:
            if other["on"] == following and other["from_left"] == 0:
                one["corner_with"], other["corner_with"] = other["id"], one["id"]


def _true_wall(wall: dict[str, Any], storey: str, side: str) -> TrueWall:
    face = f"{wall['exterior_side'] or 'left'}_face_area"
    return TrueWall(
        storey=storey,
        side=side,
        gross_m2=wall["gross"][face],
        net_m2=wall["net"][face],
        length_m=wall["length_max"],
        height_m=wall["height_max"],
    )


def twice_area(outline: tuple[tuple[int, int], ...]) -> int:
    """Return twice a polygon's area, in square nanometres."""
    return sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(outline, (*outline[1:], outline[0]), strict=True))


def m2(twice_nm2: int) -> float:
    """Return twice an area in square nanometres as square metres."""
    return twice_nm2 / 2e18


def ordered_m2(opening: Opening) -> float:
    """Return an opening's clear area as ordered."""
    width, height = (opening.u1_nm - opening.u0_nm) / 1e9, (opening.z1_nm - opening.z0_nm) / 1e9
    return math.pi / 4 * width * height if opening.head is not None and opening.head.kind == "round" else width * height


def panels_m2(takeoff: Takeoff, group: Wall | RoofPlane) -> float:
    """Return the outer-face area of a wall's or plane's panels as they stand, less what is cut from them."""
    panels = [piece for piece in takeoff.pieces if piece.group == group.id and piece.is_panel]
    return m2(sum(twice_area(piece.outline) - sum(twice_area(cut.outline) for cut in piece.cutouts) for piece in panels))


def cut_m2(opening: Opening) -> float:
    """Return what the plant cuts for an opening: up to its spring line where its head is finished in the field."""
    width, height = (opening.u1_nm - opening.u0_nm) / 1e9, (opening.z1_nm - opening.z0_nm) / 1e9
    return width * height / 2 if opening.head is not None and opening.head.kind == "round" else width * height
