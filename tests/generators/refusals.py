"""Why an order must be refused, told from the order alone: the second opinion on every refusal of reading and takeoff.

It shares nothing with the solver: floats, closed formulas of the trade, and shapely's offset of the eave outline for the
longest slope of a skeleton roof. A reason is `must` where the order is plainly beyond a limit, `may` within a margin of it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, Literal

from solver.domain.plant import PanelFamily, Plant
from solver.errors import FieldFault

Reason = Literal[
    "corner angle", "corner reach", "wall too tall", "roof cut reach", "roof too long", "eaves cross", "planes collide"
]
Told = dict[Reason, Literal["must", "may"]]
MARGIN = 0.03
_SIGNS: tuple[tuple[str, Reason], ...] = (
    ("inside angle is", "corner angle"),
    ("mitre needs a", "corner reach"),
    ("bevel of a lapped end", "corner reach"),
    ("no row of", "corner reach"),  # a wall whose end runs out of reach has no layout either
    ("no end lap falls on a support", "roof too long"),
    ("in is longer than the", "wall too tall"),
    ("that W", "wall too tall"),
    ("from square is beyond", "roof cut reach"),
    ("is beyond the saw's tilt", "roof cut reach"),
    ("of blade, the saw has", "roof cut reach"),
    ("under a roof that falls inward", "roof cut reach"),
    ("under its neighbours' overhang", "eaves cross"),
    ("eaves cross", "eaves cross"),
    ("overlaps plane", "planes collide"),
)


def reason_of(fault: FieldFault) -> Reason | None:
    """Return which reason a fault gives, by its words, or nothing if it is none of those that are known here."""
    if fault.path.startswith("corners[") and "degrees" in fault.problem:
        return "corner reach"
    return next((reason for sign, reason in _SIGNS if sign in fault.problem), None)


def reasons(order: dict[str, Any], plant: Plant) -> Told:
    """Return every reason to refuse an order, from its own figures."""
    view = _View(order, plant)
    told: Told = {}
    for reason, excess in view.excesses():
        if excess > MARGIN:
            told[reason] = "must"
        elif excess > -MARGIN:
            told.setdefault(reason, "may")
    return told


class _View:
    """An order's figures in inches."""

    def __init__(self, order: dict[str, Any], plant: Plant) -> None:
        self.order, self.plant = order, plant
        self.walls, self.roofs = (plant.family(order["families"][use]) for use in ("wall", "roof"))
        self.outlines = {
            name: [(self.size(corner["at"][0]), self.size(corner["at"][1])) for corner in outline["corners"]]
            for name, outline in order["outlines"].items()
        }
        self._first = self.outlines[order["levels"][0]["outline"]][0]
        self.swing, self.tilt = plant.saw.swing_udeg / 1e6, plant.saw.tilt_udeg / 1e6
        self.depth = plant.saw.depth_nm / 25.4e6

    def size(self, value: float | str) -> float:
        if isinstance(value, str):
            feet, inches = value.rstrip('"').split("'")
            return int(feet) * 12 + float(inches)
        return value / 25.4 if self.order["unit"] == "mm" else value

    def excesses(self) -> list[tuple[Reason, float]]:
        """Each limit with by how much, as a share of it, the order goes beyond."""
        found = self._corners() + self._tops()
        for roof in self.order.get("roofs", []):
            found += self._roof(roof) if roof["id"] != "P" else self._porch(roof["planes"][0])
        return found

    def _porch(self, porch: dict[str, Any]) -> list[tuple[Reason, float]]:
        """By how much of a panel's thickness the porch under the first wall stands in the overhang of the roof above it."""
        (left, low), (right, _) = [(self.size(x), self.size(y)) for x, y in porch["line"]]
        slope, thick = _slope(porch["pitch"]), self.roofs.thickness_nm / 25.4e6
        found: list[tuple[Reason, float]] = []
        for roof in self.order["roofs"]:
            over = self._over_first_wall(roof) if roof["id"] != "P" else None
            if over is None:
                continue
            reach = min(over[0], -low)
            for x in (left, right):
                for out in (0.0, reach) if reach > 0.04 else ():
                    apart = over[1](x, out) - self.size(porch["z"]) - slope * (-low - out)
                    upright = thick * math.hypot(1, slope if apart > 0 else over[2])
                    found.append(("planes collide", (upright - abs(apart)) / thick))
        return found

    def _over_first_wall(self, roof: dict[str, Any]) -> tuple[float, Callable[[float, float], float], float] | None:
        """The overhang of a roof over the first wall, its lower face's height there (along, outward), and its pitch."""
        plan = self._plan(roof)
        if plan[0] != self._first or plan[1][1] != plan[0][1]:
            return None  # set back: the porch lies before the level below
        overhang, slope = roof.get("overhang", {}), self._span(roof)[1]
        base = self.size(roof["eave_z"] if "eave_z" in roof else roof["planes"][0]["z"])
        xs, ys = zip(*plan, strict=True)
        rake = overhang.get("rake", 0)
        rake = self.size(next(iter(rake.values())) if isinstance(rake, dict) else rake)
        if roof["kind"] == "gable" and roof["ridge"] == "y":
            return rake, lambda x, _: base + slope * min(x - min(xs), max(xs) - x), slope
        if roof["kind"] == "shed":
            low = int(roof["low"].lstrip("uw")) % 4
            if low == 2:
                return self.size(overhang.get("high", 0)), lambda _, out: base + slope * (max(ys) - min(ys) + out), slope
            if low in (1, 3):
                return rake, lambda x, _: base + slope * (max(xs) - x if low == 1 else x - min(xs)), slope
            return self.size(overhang.get("low", 0)), lambda _, out: base - slope * out, slope
        eave = -self.size(roof["planes"][0]["plan"][0][1]) if roof["kind"] == "planes" else self.size(overhang.get("eave", 0))
        return eave, lambda _, out: base - slope * out, slope

    def _corners(self) -> list[tuple[Reason, float]]:
        found: list[tuple[Reason, float]] = []
        thick = self.walls.thickness_nm / 25.4e6
        for name, plan in self.outlines.items():
            for n, angle in enumerate(_angles(plan)):
                found.append(("corner angle", max(60 - angle, angle - 300) / 60))
                lapped = self.order["outlines"][name]["corners"][n].get("joint", {}).get("kind") == "lapped"
                bevel = abs(90 - angle % 180) if lapped else abs(180 - angle) / 2
                cuts = self._cut("corner reach", bevel, thick)
                if abs(bevel - 45) < 0.01:  # a square mitre is made daily: no margin
                    cuts = [(reason, 1.0 if excess > 0.001 else -1.0) for reason, excess in cuts]
                found += cuts
        return found

    def _cut(self, reason: Reason, tilt: float, thick: float) -> list[tuple[Reason, float]]:
        if tilt >= 89.9:
            return [(reason, 1.0)]
        return [(reason, (tilt - self.tilt) / self.tilt), (reason, thick / math.cos(math.radians(tilt)) / self.depth - 1)]

    def _tops(self) -> list[tuple[Reason, float]]:
        limit = self._limit(self.walls)
        found: list[tuple[Reason, float]] = []
        for level in self.order["levels"]:
            own = [self.size(point[1]) for wall in level.get("walls", {}).values() for point in wall["top"]["outline"]]
            tops = own if level["top"] == "roof" else [*own, self.size(level["top"])]
            for roof in self.order.get("roofs", []):
                if roof.get("over") == level["id"] and level["top"] == "roof":
                    eave_z = roof["eave_z"] if "eave_z" in roof else roof["planes"][0]["z"]
                    tops.append(self.size(eave_z) - self.size(level["base"]) + self._gable_rise(roof))
            lapped = self.walls.end_lap_nm > 0  # a planned joint may save a wall that is too tall
            found += [("wall too tall", min(0.0, top / limit - 1) if lapped else top / limit - 1) for top in tops]
        return found

    def _limit(self, family: PanelFamily) -> float:
        limits, decks = self.plant.bundle, [deck.length_nm for deck in self.plant.decks]
        lifted = max(min(family.handled_nm, limits.length_nm), limits.spreader_length_nm or 0)
        return min(family.longest_nm, lifted, max(decks)) / 25.4e6

    def _span(self, roof: dict[str, Any]) -> tuple[float, float]:
        """Level run from eave to ridge (shed: to the high wall), and the pitch's rise over run."""
        plan = self._plan(roof)
        xs, ys = zip(*plan, strict=True)
        width, depth = max(xs) - min(xs), max(ys) - min(ys)
        if roof["kind"] == "planes":  # crossing gables over an L plan: the main one is the wider
            return plan[3][1] / 2, _slope(roof["planes"][0]["pitch"])
        if roof["kind"] == "gable":
            return (depth if roof["ridge"] == "x" else width) / 2, _slope(roof["pitch"])
        if roof["kind"] == "shed":
            return (depth if int(roof["low"].lstrip("uw")) % 2 == 0 else width), _slope(roof["pitch"])
        return min(width, depth) / 2, _slope(roof["pitch"])

    def _plan(self, roof: dict[str, Any]) -> list[tuple[float, float]]:
        level = next(level for level in self.order["levels"] if level["id"] == roof["over"])
        return self.outlines[level["outline"]]

    def _gable_rise(self, roof: dict[str, Any]) -> float:
        run, slope = self._span(roof)
        return run * slope if roof["kind"] in ("gable", "shed", "planes") else 0

    def _roof(self, roof: dict[str, Any]) -> list[tuple[Reason, float]]:
        slope = self._span(roof)[1]
        pitch, thick = math.atan(slope), self.roofs.thickness_nm / 25.4e6
        plumb = roof["cut"]["eave"] == "plumb" or (roof["cut"]["ridge"] == "plumb" and roof["kind"] != "shed")
        found = self._cut("roof cut reach", math.degrees(pitch), thick) if plumb else []
        if roof["kind"] == "shed":  # the wall at its high side is bevelled to it
            found += self._cut("roof cut reach", math.degrees(pitch), self.walls.thickness_nm / 25.4e6)
        overhang = roof.get("overhang", {})
        if roof["kind"] in ("gable", "shed"):
            run, _ = self._span(roof)
            level = run + sum(self.size(overhang.get(name, 0)) for name in ("eave", "low", "high"))
        elif roof["kind"] == "planes":
            level = self._span(roof)[0] - self.size(roof["planes"][0]["plan"][0][1])
            found += self._hips(roof, pitch, thick)
        else:
            eave = self.size(overhang.get("eave", 0))
            level, crossed = _inset(self._plan(roof), eave)
            found += [("eaves cross", 1.0)] if crossed else []
            found += self._hips(roof, pitch, thick)
        return found + self._slope_length(level / math.cos(pitch))

    def _slope_length(self, length: float) -> list[tuple[Reason, float]]:
        excess = length / self._limit(self.roofs) - 1
        if self.order.get("bearing_walls") and excess > 0:
            excess = 0.0  # a lap over a bearing wall may save it
        return [("roof too long", excess)]

    def _hips(self, roof: dict[str, Any], pitch: float, thick: float) -> list[tuple[Reason, float]]:
        """At each corner of the plan, the hip or valley's cut: 90 degrees less the table's mitre, bevel the table's."""
        found: list[tuple[Reason, float]] = []
        for angle in _angles(self._plan(roof)):
            half = math.radians(min(angle, 360 - angle) / 2)
            if half > math.radians(89.9):
                continue
            swing = math.degrees(math.atan(math.tan(half) / math.cos(pitch)))
            bevel = math.degrees(math.asin(math.cos(half) * math.sin(pitch)))
            found.append(("roof cut reach", (swing - self.swing) / self.swing))
            found += self._cut("roof cut reach", bevel, thick)
        return found


def _slope(text: str) -> float:
    return math.tan(math.radians(float(text[:-4]))) if text.endswith("deg") else float(text.split("/", maxsplit=1)[0]) / 12


def _angles(plan: list[tuple[float, float]]) -> list[float]:
    found = []
    for n, (x, y) in enumerate(plan):
        (ax, ay), (bx, by) = plan[n - 1], plan[(n + 1) % len(plan)]
        found.append(math.degrees(math.atan2(ay - y, ax - x) - math.atan2(by - y, bx - x)) % 360)
    return found


def _inset(plan: list[tuple[float, float]], overhang: float) -> tuple[float, bool]:
    """Level run of the longest slope over an outline with its overhang, and whether the eaves cross."""
    import numpy as np
    from shapely.geometry import Polygon

    wall = Polygon(plan)
    eave = wall.buffer(overhang, join_style="mitre", mitre_limit=20) if overhang else wall
    crossed = eave.geom_type != "Polygon" or bool(eave.interiors) or len(eave.exterior.coords) < len(plan) + 1
    low, high = 0.0, max(eave.bounds[2] - eave.bounds[0], eave.bounds[3] - eave.bounds[1])
    while high - low > 0.01:
        middle = (low + high) / 2
        with np.errstate(all="ignore"):  # an offset that vanishes within shapely divides by nothing
            gone = eave.buffer(-middle, join_style="mitre", mitre_limit=20).is_empty
        low, high = (low, middle) if gone else (middle, high)
    return low, crossed
