"""What a kit takes of screws, sealant, tape and closures: counted by the catalog's rules, rounded up to whole packs."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from itertools import pairwise

from solver.domain.building import Building, RoofPlane, Wall
from solver.domain.ids import GroupId
from solver.domain.piece import Piece, Role
from solver.domain.plant import HardwareRule, Plant
from solver.domain.takeoff import Anchor, HardwareLine
from solver.takeoff.eaves import level_eaves
from solver.takeoff.roof_supports import Support, support_lines
from solver.units import MM, Nm, isqrt_nearest

Amounts = dict[GroupId, Fraction]
LINES_OF: dict[Role, str] = {
    "base_channel": "base_line",
    "top_cap": "cap_line",
    "corner_angle": "corner_line",
    "opening_channel": "opening_line",
    "eave_trim": "trim_line",
    "rake_trim": "trim_line",
    "ridge_trim": "trim_line",
    "hip_trim": "trim_line",
    "valley_trim": "trim_line",
}
TRIMS: tuple[Role, ...] = ("eave_trim", "rake_trim", "ridge_trim", "hip_trim", "valley_trim")
METRE = 1000 * MM
METRES_OF: dict[Role, tuple[str, ...]] = {  # what rules count by the metre of a linear part
    "base_channel": ("base_channel_m",),
    **dict.fromkeys(TRIMS, ("trim_m",)),
    "ridge_trim": ("trim_m", "ridge_m"),
    "furring": ("furring_m",),
    "corner_angle": ("corner_m",),
}


def count_hardware(
    building: Building, plant: Plant, pieces: Iterable[Piece], anchors: Iterable[Anchor]
) -> tuple[HardwareLine, ...]:
    """Return how much of each item each wall and roof plane takes, traced to the rule that asked for it.

    Counts and packs are rounded up once over the building, not wall by wall: a group is charged what it adds to the whole
    number, and the packs that it opens. Screws are counted line by line as they are drawn: one at either end and on centre.
    """
    pieces = tuple(pieces)
    amounts = _amounts(building, plant, pieces, tuple(anchors))
    lengths = screw_lines(building, plant, pieces)
    order = {group: n for n, group in enumerate(_groups(building))}
    lines: list[HardwareLine] = []
    for rule in plant.hardware:
        drawn = lengths.get(rule.per, [])
        held = amounts[rule.per] if rule.spacing_nm is None else _places(drawn, rule.spacing_nm)
        lines += _lines(rule, held, order)
    return tuple(lines)


def screw_lines(building: Building, plant: Plant, pieces: Iterable[Piece]) -> dict[str, list[tuple[GroupId, int]]]:
    """Return the lines that screws are set along, by kind: the group of each and its length.

    Two a channel (a flange on either face), two an angle, a roof trim or a flashing (a leg each), the inside angle of an eave
    too; one along every sloped wall top.
    """
    found: dict[str, list[tuple[GroupId, int]]] = defaultdict(list)
    for piece in pieces:
        kind = LINES_OF.get(piece.role)
        if kind is not None:
            found[kind] += [(piece.group, edge[1] - edge[0]) for edge in (piece.edge_a, piece.edge_b)]
    for wall in building.walls:
        for (u0, z0), (u1, z1) in pairwise(wall.top) if wall.under_roof else ():
            if u0 < u1 and z0 != z1:
                found["gable_line"].append((wall.id, isqrt_nearest((u1 - u0) ** 2 + (z1 - z0) ** 2)))
    for eave in level_eaves(building, plant):
        found["eave_line"] += [(eave.wall.id, eave.length_nm)] * 2
    for plane, length in _leaning(building):
        found["wall_edge_line"] += [(plane, length)] * 2
    return found


def _leaning(building: Building) -> Iterator[tuple[GroupId, int]]:
    """Edges of roof planes that lean on a wall beside them: the plane and the edge's length."""
    for plane in building.roof:
        for n, kind in enumerate(plane.edges):
            (x0, y0), (x1, y1) = plane.outline[n], plane.outline[(n + 1) % len(plane.outline)]
            if kind == "wall":
                yield plane.id, isqrt_nearest((x1 - x0) ** 2 + (y1 - y0) ** 2)


def _places(lines: Iterable[tuple[GroupId, int]], spacing_nm: int) -> Amounts:
    """Screws of lines by group: one at the start, then on centre, the last at the end."""
    found: Amounts = defaultdict(Fraction)
    for group, length in lines:
        found[group] += -(-length // spacing_nm) + 1
    return found


def _groups(building: Building) -> list[GroupId]:
    walls = [wall.id for wall in building.walls]
    return [*walls, *(wall.id for wall in building.bearing), *(plane.id for plane in building.roof)]


def _lines(rule: HardwareRule, amounts: Amounts, order: dict[GroupId, int]) -> list[HardwareLine]:
    lines, exact, total = [], Fraction(0), 0
    for group in sorted(amounts, key=lambda name: order.get(name, len(order))):
        exact += amounts[group] * Fraction(str(rule.rate))
        quantity = int(-(-exact // 1)) - total
        if quantity <= 0:
            continue
        before = -(-total // rule.pack)
        total += quantity
        packs = -(-total // rule.pack) - before
        lines.append(HardwareLine(item=rule.item, quantity=quantity, pack=rule.pack, packs=packs, why=rule.why, group=group))
    return lines


def _amounts(building: Building, plant: Plant, pieces: tuple[Piece, ...], anchors: tuple[Anchor, ...]) -> dict[str, Amounts]:
    """How much there is of what rules count by: metres, pieces, openings, by group."""
    found: dict[str, Amounts] = defaultdict(lambda: defaultdict(Fraction))
    supports = {plane.id: support_lines(plane, building) for plane in building.roof}
    for piece in pieces:
        metres = Fraction(_run_nm(piece), METRE)
        if piece.is_panel:
            found["panel"][piece.group] += 1
        if piece.role == "roof_panel":
            found["roof_panel_end"][piece.group] += 2 + _crossed(piece, supports[piece.group])
        for kind in METRES_OF.get(piece.role, ()):
            found[kind][piece.group] += metres
    found["panel_joint_m"] = _joints(pieces)
    holders: list[Wall | RoofPlane] = [*building.walls, *building.roof]
    for holder in holders:
        if holder.openings:
            found["opening"][holder.id] += len(holder.openings)
    for eave in level_eaves(building, plant):
        found["eave_wall_m"][eave.wall.id] += Fraction(eave.length_nm, METRE)
        if eave.rise_nm > 0:
            found["eave_wedge_m"][eave.wall.id] += Fraction(eave.length_nm, METRE)
    for leaning, length in _leaning(building):
        found["wall_edge_m"][leaning] += Fraction(length, METRE)
    for anchor in anchors:
        found["anchor"][anchor.wall] += 1
    return found


def _crossed(piece: Piece, supports: Iterable[Support]) -> int:
    """How many bearing lines a roof panel crosses between its ends."""
    low, high = min(y for _, y in piece.outline), max(y for _, y in piece.outline)
    left, right = Nm(min(x for x, _ in piece.outline)), Nm(max(x for x, _ in piece.outline))
    return sum(1 for line in supports if low < line.y_nm < high and line.carries(left, right))


def _run_nm(piece: Piece) -> int:
    """Length of a linear part's run as it stands, laps not counted twice; nothing for a panel."""
    if piece.is_panel:
        return 0
    (x0, y0), (x1, y1) = piece.outline[0], piece.outline[-1]
    return isqrt_nearest((x1 - x0) ** 2 + (y1 - y0) ** 2)


def _joints(pieces: Sequence[Piece]) -> Amounts:
    """Length of the joints between panels, by group: where the right edge of one and the left edge of the next touch."""
    left: dict[tuple[GroupId, int], list[tuple[int, int]]] = defaultdict(list)
    for piece in pieces:
        if piece.is_panel and piece.left.kind == "joint":
            left[piece.group, min(x for x, _ in piece.outline)] += _upright(piece, min(x for x, _ in piece.outline))
    found: Amounts = defaultdict(Fraction)
    for piece in pieces:
        if piece.is_panel and piece.right.kind == "joint":
            right = max(x for x, _ in piece.outline)
            shared = (
                min(high, top) - max(low, foot)
                for low, high in _upright(piece, right)
                for foot, top in left.get((piece.group, right), ())
            )
            found[piece.group] += Fraction(sum(max(0, size) for size in shared), METRE)
    return found


def _upright(piece: Piece, place: int) -> list[tuple[int, int]]:
    """The stretches of a panel's outline that run straight up at a place."""
    sides = zip(piece.outline, (*piece.outline[1:], piece.outline[0]), strict=True)
    return [(min(a[1], b[1]), max(a[1], b[1])) for a, b in sides if a[0] == place == b[0]]
