"""Every piece on one bar of its material, within it and clear of its neighbours by the saw's kerf."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping
from itertools import pairwise

from solver.domain.cut_plan import Bar, BarPiece
from solver.domain.piece import Piece
from solver.domain.plan import Plan
from solver.domain.plant import Plant, Saw
from solver.units import Nm

Point = tuple[float, float]
Segment = tuple[Point, Point]
ROUNDING_NM = 2  # of roots taken in floating point


def faults_of_bars(plan: Plan, plant: Plant) -> Iterator[str]:
    """Give every fault of the plan's bars."""
    pieces: dict[str, Piece] = {piece.id: piece for takeoff in plan.takeoffs for piece in takeoff.pieces}
    bars = [bar for cut in plan.cuts for bar in cut.bars]
    found: Counter[str] = Counter(item.piece for bar in bars for item in bar.pieces)
    yield from (f"{name} is on {found[name]} bars" for name in pieces if found[name] != 1)
    yield from (f"{name} is cut and no order has it" for name in found if name not in pieces)
    yield from (f"two bars are called {name}" for name, count in Counter(bar.id for bar in bars).items() if count > 1)
    yield from _stock(bars, plant, pieces)
    for bar in bars:
        if all(item.piece in pieces for item in bar.pieces):
            yield from _one(bar, plant, pieces)


def _stock(bars: list[Bar], plant: Plant, pieces: Mapping[str, Piece]) -> Iterator[str]:
    """Bars are of lengths that the catalog has, and no more from the rack than lie there."""
    remnants = {item.id: item for item in plant.stated_stock.remnants}
    from_rack: Counter[tuple[str, int]] = Counter()
    for bar in bars:
        if bar.stock in remnants:
            if remnants[bar.stock].length_nm != bar.length_nm or remnants[bar.stock].material != bar.material:
                yield f"{bar.id} is not the remnant {bar.stock}"
        elif bar.stock.startswith("rack "):
            from_rack[bar.material, bar.length_nm] += 1
        elif bar.length_nm not in _lengths(bar, plant):
            yield f"{bar.id} is {bar.length_nm} nm long, which nobody sells or makes"
    used = Counter(bar.stock for bar in bars if bar.stock in remnants)
    yield from (f"remnant {name} is used {count} times" for name, count in used.items() if count > 1)
    held: Counter[tuple[str, int]] = Counter()
    for item in plant.stated_stock.bars:
        held[item.material, item.length_nm] += item.count
    yield from (f"{n} bars {name} of {held[name]} on the rack" for name, n in from_rack.items() if n > held[name])


def _lengths(bar: Bar, plant: Plant) -> set[int]:
    name = bar.material.split("|")[0]
    family = next((one for one in plant.families if one.id == name), None)
    if family is None:
        return {item.length_nm for one in plant.profiles if one.id == name for item in one.stock}
    step = family.made_step_nm
    made = range(step, family.longest_nm + 1, step) if family.made_cents_per_m else ()
    return {item.length_nm for item in family.stock} | set(made)


def _one(bar: Bar, plant: Plant, pieces: Mapping[str, Piece]) -> Iterator[str]:
    members = [pieces[item.piece] for item in bar.pieces]
    yield from (f"{piece.id} is on {bar.id}, of another material" for piece in members if piece.material != bar.material)
    saw = plant.saw if any(piece.is_panel for piece in members) else plant.trim_saw
    near, far = _ends(bar, plant, saw)
    slots = [item for item in bar.pieces if item.way in ("whole", "left_rip")]
    for item in slots:
        if min(item.edge_a[0], item.edge_b[0]) < near or max(item.edge_a[1], item.edge_b[1]) > far:
            yield f"{item.piece} lies past the end of {bar.id}"
    for left, right in pairwise(slots):
        width = max(pieces[left.piece].width_nm, pieces[right.piece].width_nm)
        if _apart(left, right, width) < saw.kerf_nm - ROUNDING_NM:
            yield f"{left.piece} and {right.piece} are less than the kerf apart on {bar.id}"
    for n, item in enumerate(bar.pieces):
        yield from _lies(item, pieces[item.piece], bar)
        if item.way == "right_rip":
            yield from _shares(bar.pieces[n - 1] if n else None, item, pieces, saw)
        if item.way == "drop":
            yield from _falls(item, bar, pieces)


def _ends(bar: Bar, plant: Plant, saw: Saw) -> tuple[int, int]:
    """Where the sound part of a bar begins and ends: bars laminated to length and remnants have no trim."""
    whole = bar.stock.startswith("made ") or bar.stock in {item.id for item in plant.stated_stock.remnants}
    trim = 0 if whole else saw.end_trim_nm
    return trim, bar.length_nm - trim


def _lies(item: BarPiece, piece: Piece, bar: Bar) -> Iterator[str]:
    """A piece cut whole lies in its own shape, turned as it may be; another finds its length in its slot."""
    long = max(item.edge_a[1], item.edge_b[1]) - min(item.edge_a[0], item.edge_b[0])
    if item.way != "whole":
        if item.way != "drop" and piece.length_nm > long:
            yield f"{piece.id} is longer than its blank on {bar.id}"
        return
    edge_a, edge_b = piece.edge_a, piece.edge_b
    if piece.peak_nm is not None:
        low = Nm(0) if len(piece.foot_cuts) > 1 else min(edge_a[0], edge_b[0])  # a foot with knees is lowest within
        edge_a = edge_b = (low, piece.peak_nm)
    if item.turn in ("over", "end_for_end"):
        edge_a, edge_b = edge_b, edge_a
    wanted: tuple[int, ...] = (*edge_a, *edge_b)
    if item.turn in ("over_end", "end_for_end"):
        wanted = (-edge_a[1], -edge_a[0], -edge_b[1], -edge_b[0])
    got = (*item.edge_a, *item.edge_b)
    if len({one - two for one, two in zip(got, wanted, strict=True)}) != 1:
        yield f"{piece.id} does not lie in its own shape on {bar.id}"
    if item.turn != "as_is" and item.turn not in piece.turns:
        yield f"{piece.id} may not be turned {item.turn}"


def _shares(left: BarPiece | None, right: BarPiece, pieces: Mapping[str, Piece], saw: Saw) -> Iterator[str]:
    if left is None or left.way != "left_rip" or (left.edge_a, left.edge_b) != (right.edge_a, right.edge_b):
        yield f"{right.piece} shares no blank with the piece before it"
        return
    one, two = pieces[left.piece], pieces[right.piece]
    for face in ("outside_nm", "inside_nm"):
        kept = sum(piece.width_nm - getattr(piece.left, face) - getattr(piece.right, face) for piece in (one, two))
        if kept + saw.kerf_nm > one.width_nm:
            yield f"{one.id} and {two.id} are too wide for one blank"


def _falls(item: BarPiece, bar: Bar, pieces: Mapping[str, Piece]) -> Iterator[str]:
    """What comes from an opening's drop is no longer and no wider than the opening of a panel on the same bar."""
    if item.host is None and len({one.way for one in bar.pieces}) == 1:
        return  # a remnant: judged by its length
    host = pieces.get(item.host or "")
    if host is None or host.id not in {one.piece for one in bar.pieces}:
        yield f"{item.piece} falls out of a panel that is not on {bar.id}"
        return
    holes = [hole.outline for hole in host.cutouts if hole.opening == item.opening]
    piece = pieces[item.piece]
    wide = max(
        piece.width_nm - piece.left.outside_nm - piece.right.outside_nm,
        piece.width_nm - piece.left.inside_nm - piece.right.inside_nm,
    )
    for outline in holes:
        high = max(z for _, z in outline) - min(z for _, z in outline)
        across = max(u for u, _ in outline) - min(u for u, _ in outline)
        if wide <= across and piece.length_nm <= high:
            return
    yield f"{item.piece} does not come out of {item.opening} of {host.id}"


def _apart(left: BarPiece, right: BarPiece, width: int) -> float:
    """How near two neighbours come, in the plane: their facing ends as segments; below zero where they overlap."""
    end: Segment = ((left.edge_a[1], 0.0), (left.edge_b[1], float(width)))
    start: Segment = ((right.edge_a[0], 0.0), (right.edge_b[0], float(width)))
    if right.edge_a[0] < left.edge_a[1] or right.edge_b[0] < left.edge_b[1]:
        return -1.0
    return min(
        *(_to_segment(point, start) for point in end),
        *(_to_segment(point, end) for point in start),
    )


def _to_segment(point: Point, segment: Segment) -> float:
    (px, py), ((ax, ay), (bx, by)) = point, segment
    dx, dy = bx - ax, by - ay
    part = min(1.0, max(0.0, ((px - ax) * dx + (py - ay) * dy) / (dx * dx + dy * dy)))
    return math.hypot(px - ax - part * dx, py - ay - part * dy)
