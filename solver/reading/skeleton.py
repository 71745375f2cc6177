"""Roofs of equal pitch over any simple outline: its straight skeleton, by moving all eaves inward at one speed.

The wavefront method of Aichholzer, Aurenhammer, Alberts and Gaertner (1995), Journal of Universal Computer Science 1(12):
752-761. Where they keep a queue of events, this asks every edge and every inside corner anew at each step: O(n^3) for n
walls, little for a house, and events that fall together (symmetrical plans are full of them) are settled by looking at the
wavefront as it lies at that moment. Eighty digits keep what is one point one point. Walls that come to lie in one line share
one plane.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal, localcontext
from fractions import Fraction

from solver.domain.building import Point, RoofEdge

DIGITS = 80
_NEAR = Decimal(100)  # nanometres; corners that rounding alone keeps apart meet at once
_STEP = Decimal(10) ** -40  # an event that comes no later has come already: nearly parallel eaves meet fast
_STRAIGHT = Decimal(10) ** -8  # a turn that only the rounding of corners makes: walls of a turned plan in one line
_QUANTUM = 10**6  # vertices are given to the millionth of a nanometre

Spot = tuple[int | Fraction, int | Fraction]
Vector = tuple[Decimal, Decimal]


class SkeletonError(ValueError):
    """An outline over which no such roof can be drawn; the text says why."""


class UnsettledError(SkeletonError):
    """Eaves that meet nearly at one point, so that rounding parts what should be one corner: no fault of the overhang."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SkeletonPlane:
    """One plane: the walls (by number) at its eave, and its outline in plan, counter-clockwise, with the kind of each edge."""

    walls: tuple[int, ...]
    plan: tuple[Spot, ...]
    edges: tuple[RoofEdge, ...]


@dataclass(frozen=True, slots=True)
class _Line:
    """A wall's eave line: all points x with normal . x = at + how far it has moved."""

    direction: Vector
    normal: Vector
    at: Decimal


@dataclass(frozen=True, slots=True)
class _Corner:
    """Where the wavefront turns from one wall to the next: straight motion, place + time x speed."""

    place: Vector
    speed: Vector
    reflex: bool

    def when(self, time: Decimal) -> Vector:
        return self.place[0] + time * self.speed[0], self.place[1] + time * self.speed[1]


@dataclass(frozen=True, slots=True)
class _Node:
    """A corner of the wavefront as it lies: the wall that starts here, and the place."""

    wall: int
    place: Vector


@dataclass(frozen=True, slots=True)
class _Stretch:
    """A piece of hip, valley, ridge or eave that bounds the planes of one or two walls."""

    start: Vector
    end: Vector
    kind: RoofEdge
    walls: tuple[int, ...]


def skeleton_planes(outline: Sequence[Point], *, overhang_nm: int) -> tuple[SkeletonPlane, ...]:
    """Return the planes of a roof of one pitch over an outline (counter-clockwise), each eave `overhang_nm` outside its wall.

    Planes come in the order of their first wall. Where corners rounded to whole nanometres keep many eaves from meeting in one
    point, what lies within a micrometre, then ten, is taken for one. Raises SkeletonError where the overhang makes eaves cross,
    UnsettledError where no plane closes so either.
    """
    with localcontext() as context:
        context.prec = DIGITS
        for coarse in (1, 10):
            try:
                return _scaled(outline, overhang_nm, coarse)
            except UnsettledError:
                continue
        return _scaled(outline, overhang_nm, 100)


def _scaled(outline: Sequence[Point], overhang_nm: int, coarse: int) -> tuple[SkeletonPlane, ...]:
    """The planes with lengths reckoned in so many nanometres, so that `_NEAR` is that much more."""
    places = [(Decimal(x) / coarse, Decimal(y) / coarse) for x, y in outline]
    made = _Wavefront(places, Decimal(overhang_nm) / coarse).planes()
    if coarse == 1:
        return made
    return tuple(replace(plane, plan=tuple((x * coarse, y * coarse) for x, y in plane.plan)) for plane in made)


class _Wavefront:
    """The moving eaves, and the stretches that their corners have drawn."""

    def __init__(self, outline: Sequence[Vector], overhang: Decimal) -> None:
        count = len(outline)
        self.lines = [_line(outline[n], outline[(n + 1) % count]) for n in range(count)]
        self.roots = list(range(count))  # walls whose planes have become one
        self.drawn: list[_Stretch] = []
        self.overhang = overhang
        self.outline = outline

    def planes(self) -> tuple[SkeletonPlane, ...]:
        """Run the wavefront to its end and gather each plane's boundary."""
        walls = self._join(list(range(len(self.lines))))
        start = [_Node(wall, self._corner(walls[n - 1], wall).when(-self.overhang)) for n, wall in enumerate(walls)]
        for node, after in zip(start, (*start[1:], start[0]), strict=True):
            if _dot(_minus(after.place, node.place), self.lines[node.wall].direction) <= _NEAR:
                raise SkeletonError(f"the eave of wall {node.wall} vanishes under its neighbours' overhang")
            self.drawn.append(_Stretch(node.place, after.place, "eave", (node.wall,)))
        if _crosses([node.place for node in start]):
            raise SkeletonError("the eaves cross each other")
        waiting = [(-self.overhang, start)]
        for _ in range(40 * len(self.lines) + 40):
            if not waiting:
                break
            time, nodes = waiting.pop()
            waiting += self._advance(time, nodes)
        else:
            raise UnsettledError("the eaves do not come to rest")
        return self._gather()

    def _root(self, wall: int) -> int:
        while self.roots[wall] != wall:
            wall = self.roots[wall]
        return wall

    def _join(self, walls: list[int]) -> list[int]:
        """Drop walls that run on in the line of the wall before; their planes are one."""
        kept: list[int] = []
        for wall in walls:
            before = kept[-1] if kept else walls[-1]
            if self._runs_on(before, wall):
                self._share(before, wall)
            else:
                kept.append(wall)
        return kept

    def _share(self, one: int, other: int) -> None:
        low, high = sorted((self._root(one), self._root(other)))
        self.roots[high] = low

    def _runs_on(self, one: int, other: int) -> bool:
        first, second = self.lines[one], self.lines[other]
        turn = _cross(first.direction, second.direction)
        return abs(turn) < _STRAIGHT and _dot(first.direction, second.direction) > 0

    def _corner(self, before: int, after: int) -> _Corner:
        """Where two walls' eaves meet, as they move."""
        one, other = self.lines[before], self.lines[after]
        turn = _cross(one.normal, other.normal)

        def solve(left: Decimal, right: Decimal) -> Vector:
            return (
                (left * other.normal[1] - right * one.normal[1]) / turn,
                (one.normal[0] * right - other.normal[0] * left) / turn,
            )

        return _Corner(solve(one.at, other.at), solve(Decimal(1), Decimal(1)), turn < 0)

    def _advance(self, time: Decimal, nodes: list[_Node]) -> list[tuple[Decimal, list[_Node]]]:
        """Move one loop to its next event; return the loops that go on from there."""
        corners = [self._corner(nodes[n - 1].wall, node.wall) for n, node in enumerate(nodes)]
        moment = min(self._events(time, nodes, corners), default=None)
        if moment is None:
            raise UnsettledError("the eaves do not close")
        moved = []
        for n, (node, corner) in enumerate(zip(nodes, corners, strict=True)):
            place = corner.when(moment)
            kind: RoofEdge = "valley" if corner.reflex else "hip"
            self._draw(node.place, place, kind, (nodes[n - 1].wall, node.wall))
            moved.append(_Node(node.wall, place))
        return [(moment, loop) for loop in self._settle(moved)]

    def _events(self, time: Decimal, nodes: list[_Node], corners: list[_Corner]) -> Iterator[Decimal]:
        """When an edge shrinks to nothing, or an inside corner runs into an edge."""
        count = len(nodes)
        for n, node in enumerate(nodes):
            along = self.lines[node.wall].direction
            start, end = corners[n], corners[(n + 1) % count]
            shrinks = _dot(_minus(end.speed, start.speed), along)
            if shrinks < 0:
                moment = -_dot(_minus(end.place, start.place), along) / shrinks
                if moment > time + _STEP:
                    yield moment
        for n, corner in enumerate(corners):
            if corner.reflex:
                yield from self._hits(time, nodes, corners, n)

    def _hits(self, time: Decimal, nodes: list[_Node], corners: list[_Corner], index: int) -> Iterator[Decimal]:
        corner, count = corners[index], len(nodes)
        for n, node in enumerate(nodes):
            if n in (index, (index - 1) % count):
                continue
            line = self.lines[node.wall]
            closing = 1 - _dot(line.normal, corner.speed)
            if closing <= 0:
                continue
            moment = (_dot(line.normal, corner.place) - line.at) / closing
            if moment <= time + _STEP:
                continue
            place = corner.when(moment)
            from_start = _dot(_minus(place, corners[n].when(moment)), line.direction)
            to_end = _dot(_minus(corners[(n + 1) % count].when(moment), place), line.direction)
            if from_start >= -_NEAR and to_end >= -_NEAR:
                yield moment

    def _settle(self, nodes: list[_Node]) -> Iterator[list[_Node]]:
        """Part a loop where it touches itself, and drop what has shrunk to nothing; ridges are drawn where two eaves meet."""
        nodes = [node for node, after in zip(nodes, (*nodes[1:], nodes[0]), strict=True) if not _same(node.place, after.place)]
        parts = _parts(nodes)
        if parts is not None:
            for part in parts:
                yield from self._settle(part)
            return
        if len(nodes) == 2:
            self._draw(nodes[0].place, nodes[1].place, "ridge", (nodes[0].wall, nodes[1].wall))
        elif len(nodes) > 2:
            yield self._straighten(nodes)

    def _straighten(self, nodes: list[_Node]) -> list[_Node]:
        """Drop corners that no longer turn: the walls on both sides share a plane from here on."""
        kept = []
        for n, node in enumerate(nodes):
            before = nodes[n - 1].wall
            if node.wall == before or self._runs_on(before, node.wall):
                self._share(before, node.wall)
            else:
                kept.append(node)
        return kept

    def _draw(self, start: Vector, end: Vector, kind: RoofEdge, walls: tuple[int, int]) -> None:
        if not _same(start, end):
            self.drawn.append(_Stretch(start, end, kind, walls))

    def _gather(self) -> tuple[SkeletonPlane, ...]:
        held: dict[int, list[_Stretch]] = {}
        for stretch in _pinned(self.drawn):
            roots = {self._root(wall) for wall in stretch.walls}
            if len(roots) == 1 and len(stretch.walls) == 2:
                continue  # drawn between two walls that turned out to share a plane
            for root in roots:
                held.setdefault(root, []).append(replace(stretch, walls=tuple(sorted(roots))))
        walls: dict[int, list[int]] = {}
        for wall in range(len(self.lines)):
            walls.setdefault(self._root(wall), []).append(wall)
        return tuple(_plane(tuple(walls[root]), held[root]) for root in sorted(held))


def _parts(nodes: list[_Node]) -> tuple[list[_Node], list[_Node]] | None:
    """Return the two loops that a loop falls into where a corner touches another corner or an edge, or nothing."""
    count = len(nodes)
    for n, node in enumerate(nodes):
        for m, other in enumerate(nodes):
            if n == m:
                continue
            if m > n and _same(node.place, other.place):
                return nodes[n:m], nodes[m:] + nodes[:n]
            after = nodes[(m + 1) % count]
            if (m + 1) % count != n and _within(node.place, other.place, after.place):
                return _split(nodes[m:] + nodes[:m], (n - m) % count)
    return None


def _split(turned: list[_Node], place: int) -> tuple[list[_Node], list[_Node]]:
    """Part a loop where the corner at `place` lies on its first edge."""
    touching = turned[place]
    return [_Node(turned[0].wall, touching.place), *turned[1:place]], [turned[0], *turned[place:]]


def _pinned(drawn: list[_Stretch]) -> list[_Stretch]:
    """Return the stretches with ends that are one point given as one point, whichever corner drew them."""
    places: list[Vector] = []

    def pin(place: Vector) -> Vector:
        found = next((known for known in places if _same(known, place)), None)
        if found is None:
            places.append(place)
        return found or place

    pinned = (replace(stretch, start=pin(stretch.start), end=pin(stretch.end)) for stretch in drawn)
    return [stretch for stretch in pinned if stretch.start != stretch.end]


def _line(start: Vector, end: Vector) -> _Line:
    dx, dy = end[0] - start[0], end[1] - start[1]
    size = (dx * dx + dy * dy).sqrt()
    direction = dx / size, dy / size
    normal = -direction[1], direction[0]
    return _Line(direction, normal, normal[0] * start[0] + normal[1] * start[1])


def _plane(walls: tuple[int, ...], stretches: list[_Stretch]) -> SkeletonPlane:
    """Chain a plane's stretches into its outline, counter-clockwise from its first eave."""
    first = next(stretch for stretch in stretches if stretch.kind == "eave")
    left = [stretch for stretch in stretches if stretch is not first]
    chain = [first]
    while not _same(chain[-1].end, first.start):
        options = [
            turned
            for stretch in left
            for turned in (stretch, _Stretch(stretch.end, stretch.start, stretch.kind, stretch.walls))
            if _same(turned.start, chain[-1].end)
        ]
        if not options:
            raise UnsettledError(f"the plane of wall number {walls[0]} does not close")
        chosen = min(options, key=lambda item: _turn(chain[-1], item))
        left = [item for item in left if not (_same_stretch(item, chosen))]
        chain.append(chosen)
    if left:
        raise UnsettledError(f"the plane of wall number {walls[0]} has an edge too many")
    joined = _joined(chain)
    return SkeletonPlane(
        walls=walls, plan=tuple(_spot(item.start) for item in joined), edges=tuple(item.kind for item in joined)
    )


def _turn(before: _Stretch, after: _Stretch) -> float:
    """How far left one stretch turns from another, in radians from -pi: where a plane pinches, the right-hand way is taken."""
    one, other = _minus(before.end, before.start), _minus(after.end, after.start)
    return math.atan2(_cross(one, other), _dot(one, other))


def _same_stretch(one: _Stretch, other: _Stretch) -> bool:
    ends = (_same(one.start, other.start) and _same(one.end, other.end)) or (
        _same(one.start, other.end) and _same(one.end, other.start)
    )
    return ends and one.kind == other.kind


def _joined(chain: list[_Stretch]) -> list[_Stretch]:
    """Join neighbouring stretches between the same two planes that lie in one line."""
    kept: list[_Stretch] = []
    for stretch in chain:
        if kept and _in_line(kept[-1], stretch):
            kept[-1] = _Stretch(kept[-1].start, stretch.end, stretch.kind, stretch.walls)
        else:
            kept.append(stretch)
    return kept


def _in_line(one: _Stretch, other: _Stretch) -> bool:
    if one.kind != other.kind or one.walls != other.walls or one.kind == "eave":
        return False
    first, second = _minus(one.end, one.start), _minus(other.end, other.start)
    return abs(_cross(first, second)) <= _NEAR * (abs(first[0]) + abs(first[1]) + abs(second[0]) + abs(second[1]))


def _spot(place: Vector) -> Spot:
    return _exact(place[0]), _exact(place[1])


def _exact(value: Decimal) -> int | Fraction:
    """A whole number where it is one: much faster to reckon with."""
    exact = Fraction(int((value * _QUANTUM).to_integral_value()), _QUANTUM)
    return exact.numerator if exact.denominator == 1 else exact


def _crosses(ring: list[Vector]) -> bool:
    """Whether two edges of a ring that are no neighbours meet."""
    sides = list(zip(ring, (*ring[1:], ring[0]), strict=True))
    for n, (a, b) in enumerate(sides):
        for m in range(n + 2, len(sides) - (n == 0)):
            c, d = sides[m]
            if _apart(a, b, c, d) or _apart(c, d, a, b):
                continue
            return True
    return False


def _apart(a: Vector, b: Vector, c: Vector, d: Vector) -> bool:
    """Whether c and d lie strictly on one side of a to b, or all four in one line without meeting."""
    along = _minus(b, a)
    one, other = _cross(along, _minus(c, a)), _cross(along, _minus(d, a))
    if one == 0 == other:
        ahead = _dot(along, along)
        places = [_dot(along, _minus(c, a)), _dot(along, _minus(d, a))]
        return max(places) < 0 or min(places) > ahead
    return (one > 0 and other > 0) or (one < 0 and other < 0)


def _within(place: Vector, start: Vector, end: Vector) -> bool:
    """Whether a place lies on a segment, its ends apart."""
    along = _minus(end, start)
    size = _dot(along, along).sqrt()
    ahead = _dot(along, _minus(place, start)) / size
    aside = _cross(along, _minus(place, start)) / size
    return abs(aside) <= _NEAR < ahead < size - _NEAR


def _same(one: Vector, other: Vector) -> bool:
    return abs(one[0] - other[0]) <= _NEAR and abs(one[1] - other[1]) <= _NEAR


def _minus(one: Vector, other: Vector) -> Vector:
    return one[0] - other[0], one[1] - other[1]


def _dot(one: Vector, other: Vector) -> Decimal:
    return one[0] * other[0] + one[1] * other[1]


def _cross(one: Vector, other: Vector) -> Decimal:
    return one[0] * other[1] - one[1] * other[0]
