"""Random building orders, each from a seed: what plants are asked for, and some of what they must refuse.

Distribution (shares of orders, drawn anew for each seed):
- outlines: 40 % rectangles; 46 % rectilinear, L plans (6 corners) or with bays and notches (8 to 20); 8 % rectangles with
  corners cut off at 45 degrees (5 to 8); 6 % crooked polygons of 5 to 9 corners; 16 to 60 ft across; 15 % with a lapped corner
- one order in twenty is careless: it asks for pitches, angles, lengths and plumb cuts beyond the plant's limits; the others
  keep to what a salesman knows (no panel over 23 1/2 ft, hips under 6/12 in 8 in panels), and may still ask too much
- levels: one 60 %, two 30 %, three 10 %, 8 to 10 ft each; the topmost of some rectangles is set back at one end
- roofs: rectangles gable 30 %, shed 12 %, hip 30 %; rectilinear outlines skeleton 75 %, but L plans with a narrow wing rather
  two crossing gables as explicit planes; the others none: level, stepped or peaked tops; pitches 2/12 to 12/12, sometimes to
  18/12, or whole degrees; a third with plumb eaves, a tenth with plumb ridges; overhangs 0 to 24 in; one in three on 8 in
  panels; a porch of its own plane beside one in ten
- openings: none to three a wall, anywhere clear of its corners, so over joints; a window round one corner in one of six
  orders; skylights in a third of gable and shed roofs; arched, sloped and round heads on windows of one order in eight
- an interior bearing wall, often with a door, in one of four rectangles; both directions, any start corner, both units
"""

from __future__ import annotations

import math
import random
from typing import Any

Plan = list[tuple[float, float]]
HEADS = 1 / 8


def random_order(seed: int) -> dict[str, Any]:
    """Return the order document of a seed; the same seed gives the same order."""
    return _Maker(random.Random(seed * 7919 + 11), seed).order()


def rectilinear(rng: random.Random, corners: int) -> Plan:
    """Return a rectilinear outline: a rectangle, with bays and notches until it has so many corners; in feet."""
    width, depth = rng.randint(24, 56), rng.randint(20, 36)
    plan: Plan = [(0, 0), (width, 0), (width, depth), (0, depth)]
    if corners % 4 == 2:
        cut_y = rng.randint(6, depth - 12)
        wing = min(depth - cut_y - 2, width - 12) if rng.random() < 0.5 else width  # narrower than the main part is deep
        cut_x = rng.randint(max(6, width - wing), width - 8)
        plan = [(0, 0), (width, 0), (width, depth - cut_y), (width - cut_x, depth - cut_y), (width - cut_x, depth), (0, depth)]
    for _ in range(200):
        if len(plan) >= corners:
            break
        n = rng.randrange(len(plan))
        (ax, ay), (bx, by) = plan[n], plan[(n + 1) % len(plan)]
        length = round(abs(bx - ax) + abs(by - ay))
        if length < 14:
            continue
        start = rng.randint(4, length - 10)
        end = rng.randint(start + 6, length - 4)
        dx, dy = (bx - ax) / length, (by - ay) / length
        out = rng.choice((-1, 1, 1)) * rng.randint(4, 8)
        bay = [
            (ax + dx * s + dy * out * t, ay + dy * s - dx * out * t) for s, t in ((start, 0), (start, 1), (end, 1), (end, 0))
        ]
        trial = [*plan[: n + 1], *bay, *plan[n + 1 :]]
        if roomy(trial, 2.0):
            plan = trial
    return plan


def roomy(plan: Plan, feet: float) -> bool:
    """Return whether an outline stays simple and in one piece when it shrinks or grows by so many feet."""
    from shapely.geometry import Polygon

    shape = Polygon(plan)
    if not shape.is_valid:
        return False
    smaller, larger = shape.buffer(-feet, join_style="mitre"), shape.buffer(feet, join_style="mitre")
    return smaller.geom_type == "Polygon" and larger.geom_type == "Polygon" and not larger.interiors


def inside_angles(plan: Plan) -> list[float]:
    """Return the inside angle at each corner, in degrees."""
    found = []
    for n, (x, y) in enumerate(plan):
        (ax, ay), (bx, by) = plan[n - 1], plan[(n + 1) % len(plan)]
        back, ahead = math.atan2(ay - y, ax - x), math.atan2(by - y, bx - x)
        found.append(math.degrees(back - ahead) % 360)
    return found


class _Maker:
    """One order in the making; lengths in feet until they are written in the order's unit."""

    def __init__(self, rng: random.Random, seed: int) -> None:
        self.rng = rng
        self.unit = rng.choice(("in", "mm"))
        self.family = rng.choice(("W6", "W6", "W4"))
        self.roof_family = rng.choice(("R6", "R6", "R8"))
        self.careless = rng.random() < 0.05  # asks for what it likes, limits or not
        self.plan, self.shape = self._outline()
        self.names = [f"w{n}" for n in range(len(self.plan))]
        self.openings: list[dict[str, Any]] = []
        self.document: dict[str, Any] = {"format": 1, "id": f"random-{seed}", "unit": self.unit}

    def size(self, feet: float) -> float | int | str:
        """A length in the order's unit: to 1/16 in or 0.1 mm, sometimes as a text with its unit."""
        if self.unit == "mm":
            return round(feet * 304.8, 1)
        sixteenths = round(feet * 192)
        if self.rng.random() < 0.1 and sixteenths % 16 == 0 and sixteenths >= 0:
            return f"{sixteenths // 192}' {sixteenths % 192 // 16}\""
        return sixteenths / 16

    def at(self, point: tuple[float, float]) -> list[float | int | str]:
        return [self.size(point[0]), self.size(point[1])]

    def chance(self, share: float) -> bool:
        return self.rng.random() < share

    def _outline(self) -> tuple[Plan, str]:
        draw = self.rng.random()
        if draw < 0.40:
            width, depth = self.rng.uniform(16, 60), self.rng.uniform(14, 36)
            return [(0, 0), (width, 0), (width, depth), (0, depth)], "rectangle"
        if draw < 0.86:
            return rectilinear(self.rng, self.rng.choice((6, 6, 8, 8, 10, 12, 14, 16, 20))), "rectilinear"
        if draw < 0.94:
            return self._chamfered(), "chamfered"
        return self._crooked(), "crooked"

    def _chamfered(self) -> Plan:
        width, depth = self.rng.randint(24, 50), self.rng.randint(20, 34)
        plan: Plan = []
        cut = [self.chance(0.4) for _ in range(4)]
        if not any(cut):
            cut[self.rng.randrange(4)] = True
        corners = [(0, 0), (width, 0), (width, depth), (0, depth)]
        for n, (x, y) in enumerate(corners):
            if not cut[n]:
                plan.append((x, y))
                continue
            size = self.rng.randint(4, 7)
            before, after = corners[n - 1], corners[(n + 1) % 4]
            for to in (before, after):
                length = math.dist((x, y), to)
                plan.append((x + (to[0] - x) / length * size, y + (to[1] - y) / length * size))
        return plan

    def _crooked(self) -> Plan:
        """Five to nine corners at any angles; unless careless, none that a mitre of 45 degrees cannot make."""
        plan: Plan = []
        for _ in range(60):
            count = self.rng.randint(5, 9)
            angles = [(n + self.rng.uniform(-0.25, 0.25)) * 2 * math.pi / count for n in range(count)]
            across = self.rng.uniform(12, 24)
            sizes = [across * self.rng.uniform(0.8, 1.1) for _ in angles]
            plan = [(size * math.cos(angle), size * math.sin(angle)) for size, angle in zip(sizes, angles, strict=True)]
            if self.careless or all(91 < angle < 269 for angle in inside_angles(plan)):
                break
        return plan

    def order(self) -> dict[str, Any]:
        """The whole document."""
        self._levels()
        self._roof()
        if self.shape == "rectangle" and self.chance(0.25) and self.setback is None:
            self._bearing()
        if self.chance(0.1):
            self._porch()
        corners: list[dict[str, Any]] = [{"id": f"c{n}", "at": self.at(point)} for n, point in enumerate(self.plan)]
        if self.chance(0.15):
            n = self.rng.randrange(len(corners))
            corners[n]["joint"] = {"kind": "lapped", "through": self.names[n - self.rng.randrange(2)]}
        self.document["outlines"] = {"main": {"corners": corners, "walls": self.names}}
        if self.setback is not None:
            upper = [{"id": f"u{n}", "at": self.at(point)} for n, point in enumerate(self.setback)]
            self.document["outlines"]["upper"] = {"corners": upper, "walls": [f"u{name}" for name in self.names]}
        self._all_openings()
        parts = [level["id"] for level in self.document["levels"]] + [roof["id"] for roof in self.document.get("roofs", [])]
        self.document |= {
            "families": {"wall": self.family, "roof": self.roof_family},
            "openings": self.openings,
            "start": {"corner": self.rng.choice(corners)["id"], "direction": self.rng.choice(("ccw", "cw"))},
            "anchors": {"holes": "template"},
            "site": {"ship_to": {"name": "Plot"}, "time_zone": "America/Denver", "transit_minutes": 120},
            "deliveries": [{"id": "D1", "need_by": "2031-05-12T07:00", "parts": parts}],
        }
        return self.document

    def _levels(self) -> None:
        count = self.rng.choices((1, 2, 3), (60, 30, 10))[0]
        self.heights = [self.rng.randint(16, 20) / 2 for _ in range(count)]
        self.setback: Plan | None = None
        if self.shape == "rectangle" and count > 1 and self.chance(0.2):
            width, depth = self.plan[2]
            back = self.rng.uniform(0.55, 0.8) * width
            self.setback = [(0, 0), (back, 0), (back, depth), (0, depth)]
        levels = []
        for n, height in enumerate(self.heights):
            base = sum(self.heights[:n])
            outline = "upper" if self.setback is not None and n == count - 1 else "main"
            levels.append({"id": f"L{n + 1}", "outline": outline, "base": self.size(base), "top": self.size(height)})
        self.document["levels"] = levels

    @property
    def top_plan(self) -> Plan:
        return self.setback if self.setback is not None else self.plan

    def _wall_name(self, n: int, level: int) -> str:
        upper = self.setback is not None and level == len(self.heights) - 1
        return ("u" if upper else "") + self.names[n]

    def _roof(self) -> None:
        """A roof over the topmost level, or tops of its walls' own."""
        draw = self.rng.random()
        self.eave = self.rng.choice((0.0, 0.5, 1.0, 1.5, 2.0))
        self.kind = "none"
        if self.shape == "rectangle":
            self.kind = "gable" if draw < 0.30 else "shed" if draw < 0.42 else "hip" if draw < 0.72 else "none"
        elif draw < 0.75 and (self.shape == "rectilinear" or self.careless):
            self.kind = "skeleton"
        if self.kind == "skeleton" and len(self.plan) == 6 and draw < 0.65 and self._wing_is_narrower():
            self.kind = "planes"
        text = self._pitch()
        if self.kind == "none":
            self._own_tops()
            return
        level = self.document["levels"][-1]
        level["top"] = "roof"
        eave_z = sum(self.heights)
        roof: dict[str, Any] = {"id": "R", "kind": self.kind, "over": level["id"], "pitch": text, "eave_z": self.size(eave_z)}
        reach = self.careless or self.slope <= (0.35 if self.roof_family == "R8" else 0.98)
        roof["cut"] = {
            "eave": "plumb" if self.chance(0.33) and reach else "square",
            "ridge": "plumb" if self.chance(0.1) and reach else "square",
        }
        rake = self.rng.choice((0.0, 1.0, 1.5))
        if self.kind == "planes":
            del roof["pitch"], roof["eave_z"]
            roof["planes"] = self._two_gables(text, eave_z)
        elif self.kind == "gable":
            self.ridge = self.rng.choice(("x", "y"))
            roof |= {"ridge": self.ridge, "overhang": {"eave": self.size(self.eave), "rake": self.size(rake)}}
        elif self.kind == "shed":
            self.low = self.rng.randrange(4)
            roof["low"] = self._wall_name(self.low, len(self.heights) - 1)
            roof["overhang"] = {"low": self.size(self.eave), "high": self.size(rake), "rake": self.size(rake)}
        else:
            roof["overhang"] = {"eave": self.size(self.eave)}
        self.document["roofs"] = [roof]

    def _wing_is_narrower(self) -> bool:
        """Whether an L plan's wing, on its left, is narrower than the main part is deep: its ridge dies into the main slope."""
        inner = self.plan[3]
        return self.shape == "rectilinear" and inner[0] < inner[1] - 1

    def _two_gables(self, pitch: str, eave_z: float) -> list[dict[str, Any]]:
        """Explicit planes over an L plan: the main gable's slopes, and a wing's, which meet the main one in two valleys."""
        (width, _), (across, depth), (_, end), over = self.plan[1], self.plan[3], self.plan[4], self.eave
        top = across / 2, depth - across / 2
        low, right, far = -over, width + over, end + over
        outlines: dict[str, tuple[Plan, Plan]] = {
            "S": ([(0, 0), (width, 0)], [(low, low), (right, low), (right, depth / 2), (low, depth / 2)]),
            "N": (
                [(width, depth), (across, depth)],
                [
                    *((right, depth + over), (across + over, depth + over), top, (low, depth + over)),
                    *((low, depth / 2), (right, depth / 2)),
                ],
            ),
            "E": (
                [(across, depth), (across, end)],
                [(across + over, depth + over), (across + over, far), (top[0], far), top],
            ),
            "W": ([(0, end), (0, depth)], [(low, far), (low, depth + over), top, (top[0], far)]),
        }
        return [
            {
                "id": name,
                "line": [self.at(point) for point in line],
                "z": self.size(eave_z),
                "pitch": pitch,
                "plan": [self.at(point) for point in plan],
            }
            for name, (line, plan) in outlines.items()
        ]

    def _pitch(self) -> str:
        """A pitch; unless careless, one whose panels and walls come in one length and whose bevels the saw reaches."""
        xs, ys = zip(*self.top_plan, strict=True)
        across = max(xs) - min(xs), max(ys) - min(ys)
        run = max(across) if self.kind == "shed" else max(across) / 2 if self.kind in ("gable", "planes") else min(across) / 2
        for _ in range(50):
            degrees = self.rng.randint(8, 45) if self.chance(0.25) else None
            pitch = self.rng.randint(2, 12) if self.chance(0.9) else self.rng.randint(13, 18)
            self.slope = pitch / 12 if degrees is None else math.tan(math.radians(degrees))
            text = f"{pitch}/12" if degrees is None else f"{degrees} deg"
            longest = (run + self.eave + 1.5) * math.hypot(1, self.slope)
            tallest = self.heights[-1] + (run * self.slope if self.kind in ("gable", "shed", "planes") else 0)
            bevelled = self.kind in ("hip", "skeleton", "planes") and self.roof_family == "R8"
            if self.careless or (longest < 23.5 and tallest < 23.5 and not (bevelled and self.slope > 0.5)):
                return text
        self.kind = "none"
        return text

    def _own_tops(self) -> None:
        """Now and then a stepped or peaked top for a wall of the topmost level."""
        plan, last = self.top_plan, len(self.heights) - 1
        tops = {}
        for n, point in enumerate(plan):
            length = math.dist(point, plan[(n + 1) % len(plan)])
            if length < 10 or not self.chance(0.15) or self.shape in ("crooked", "chamfered"):
                continue
            low, high = self.heights[last], self.heights[last] + self.rng.randint(2, 8) / 2
            middle = round(length / 2)
            span: list[tuple[float, float]] = [(0, low), (middle, high), (length, low)]
            if self.chance(0.5):
                span = [(0, low), (middle, low), (middle, high), (length, high)]
            tops[self._wall_name(n, last)] = {"top": {"outline": [self.at(spot) for spot in span]}}
        if tops:
            self.document["levels"][-1]["walls"] = tops

    def _bearing(self) -> None:
        width, depth = self.plan[2]
        height = self.heights[0]
        wall: dict[str, Any] = {
            "id": "B1",
            "level": "L1",
            "line": [self.at((1, depth / 2)), self.at((width - 1, depth / 2))],
            "top": self.size(height),
        }
        if self.chance(0.6):
            wall["openings"] = [
                {"id": "bd", "from": self.size(self.rng.uniform(1, width - 7)), "width": self.size(3), "height": self.size(6.5)}
            ]
        self.document["bearing_walls"] = [wall]

    def _porch(self) -> None:
        """A plane that leans on the first wall, where that runs along x."""
        (ax, ay), (bx, by) = self.plan[0], self.plan[1]
        if ay != by or bx - ax < 12:
            return
        left, right = ax + 2, ax + self.rng.uniform(8, bx - ax - 2)
        out = self.rng.uniform(5, 10)
        plan = [(left, ay - out), (right, ay - out), (right, ay), (left, ay)]
        plane = {"id": "P1", "line": [self.at(plan[0]), self.at(plan[1])], "z": self.size(7), "pitch": "2/12"}
        plane["plan"] = [self.at(point) for point in plan]
        self.document.setdefault("roofs", []).append({"id": "P", "kind": "planes", "planes": [plane]})

    def _all_openings(self) -> None:
        turned = self._corner_window() if self.chance(1 / 6) else frozenset()
        heads = self.chance(HEADS)
        for level in range(len(self.heights)):
            plan = self.top_plan if level == len(self.heights) - 1 else self.plan
            for n, point in enumerate(plan):
                if (level, n) not in turned:
                    self._wall_openings(level, n, math.dist(point, plan[(n + 1) % len(plan)]), heads=heads)
        if self.kind in ("gable", "shed") and self.chance(0.33):
            self._skylight()

    def _wall_openings(self, level: int, n: int, length: float, *, heads: bool) -> None:
        place = self.rng.uniform(1.2, 6)
        for _ in range(self.rng.randint(0, 3)):
            width, sill, height = self.rng.uniform(1.5, 6), self.rng.uniform(2, 3.5), self.rng.uniform(2, 4)
            if place + width > length - 1.2:
                return
            door = level == 0 and self.chance(0.25)
            opening: dict[str, Any] = {
                "id": f"o{len(self.openings)}",
                "on": f"L{level + 1}.{self._wall_name(n, level)}",
                "kind": "door" if door else "window",
                "from_left": self.size(place),
                "width": self.size(width),
                "height": self.size(6.75 if door else height),
            }
            if not door:
                opening["sill"] = self.size(sill)
            if heads and not door and self.chance(0.4):
                opening["head"] = self._head(opening, width, height)
            self.openings.append(opening)
            place += width + self.rng.uniform(0.7, 8)

    def _head(self, opening: dict[str, Any], width: float, height: float) -> dict[str, Any]:
        kind = self.rng.choice(("arch", "trapezoid", "round"))
        if kind == "arch":
            return {"kind": kind, "rise": self.size(min(width / 2, height / 2) * 0.9)}
        if kind == "trapezoid":
            low, high = self.size(height * self.rng.uniform(0.5, 0.9)), opening["height"]
            return {"kind": kind} | dict(zip(("left", "right"), self.rng.sample((low, high), 2), strict=True))
        opening["height"] = opening["width"] = self.size(min(width, height))
        return {"kind": kind}

    def _corner_window(self) -> frozenset[tuple[int, int]]:
        """A window round a square outside corner of the lowest level; those two walls have no other opening."""
        n = self.rng.randrange(len(self.plan))
        before, corner, after = self.plan[n - 1], self.plan[n], self.plan[(n + 1) % len(self.plan)]
        one = corner[0] - before[0], corner[1] - before[1]
        other = after[0] - corner[0], after[1] - corner[1]
        lengths = math.hypot(*one), math.hypot(*other)
        square = abs(one[0] * other[0] + one[1] * other[1]) < 1e-6 and one[0] * other[1] - one[1] * other[0] > 0
        if not square or min(lengths) < 8 or self.shape != "rectilinear":
            return frozenset()
        walls = (n - 1) % len(self.plan), n
        width = self.rng.randint(2, 4)
        for name, wall, start in (("cw1", walls[0], lengths[0] - width), ("cw2", walls[1], 0.0)):
            self.openings.append(
                {
                    "id": name,
                    "on": f"L1.{self.names[wall]}",
                    "kind": "window",
                    "from_left": self.size(start),
                    "width": self.size(width),
                    "sill": self.size(3),
                    "height": self.size(4),
                    "corner_with": "cw2" if name == "cw1" else "cw1",
                }
            )
        return frozenset((0, wall) for wall in walls)

    def _skylight(self) -> None:
        plan = self.top_plan
        side = self.low if self.kind == "shed" else (0 if self.ridge == "x" else 1)
        length = math.dist(plan[side], plan[(side + 1) % 4])
        depth = math.dist(plan[side], plan[side - 1]) / (1 if self.kind == "shed" else 2)
        if length < 9 or depth < 7:
            return
        self.openings.append(
            {
                "id": "sky",
                "on": f"R.{self._wall_name(side, len(self.heights) - 1)}",
                "kind": "skylight",
                "from_left": self.size(self.rng.uniform(1, length - 7)),
                "up": self.size(self.rng.uniform(1, depth - 5.5)),
                "width": self.size(self.rng.uniform(1.5, 5)),
                "height": self.size(self.rng.uniform(2, 4)),
            }
        )
