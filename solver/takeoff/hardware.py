"""What a kit takes of screws, sealant, tape and closures: counted by the catalog's rules, rounded up to whole packs."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from fractions import Fraction

from solver.domain.building import Building, Point, RoofPlane, Wall
from solver.domain.ids import GroupId
from solver.domain.piece import Piece
from solver.domain.plant import HardwareRule, Plant
from solver.domain.takeoff import Anchor, HardwareLine
from solver.units import MM, isqrt_nearest

Amounts = dict[GroupId, Fraction]
TRIMS = ("eave_trim", "rake_trim", "ridge_trim", "hip_trim", "valley_trim")
METRE = 1000 * MM


def hardware(building: Building, plant: Plant, pieces: Iterable[Piece], anchors: Iterable[Anchor]) -> tuple[HardwareLine, ...]:
    """Return how much of each item each wall and roof plane takes, traced to the rule that asked for it.

    Packs are whole over the building: a group is charged the packs that it opens, so that they add up to the total rounded
    up once.
    """
    amounts = _amounts(building, tuple(pieces), tuple(anchors))
    order = {group: n for n, group in enumerate(_groups(building))}
    lines: list[HardwareLine] = []
    for rule in plant.hardware:
        lines += _lines(rule, amounts[rule.per], order)
    return tuple(lines)


def _groups(building: Building) -> list[GroupId]:
    walls = [wall.id for wall in building.walls]
    return [*walls, *(wall.id for wall in building.bearing), *(plane.id for plane in building.roof)]


def _lines(rule: HardwareRule, amounts: Amounts, order: dict[GroupId, int]) -> list[HardwareLine]:
    lines, total = [], 0
    for group in sorted(amounts, key=lambda name: order.get(name, len(order))):
        quantity = -(-amounts[group] * Fraction(str(rule.rate)) // 1)
        if quantity <= 0:
            continue
        before = -(-total // rule.pack)
        total += int(quantity)
        lines.append(
            HardwareLine(
                item=rule.item,
                quantity=int(quantity),
                pack=rule.pack,
                packs=-(-total // rule.pack) - before,
                why=rule.why,
                group=group,
            )
        )
    return lines


def _amounts(building: Building, pieces: tuple[Piece, ...], anchors: tuple[Anchor, ...]) -> dict[str, Amounts]:
    """How much there is of what rules count by: metres, pieces, openings, by group."""
    found: dict[str, Amounts] = defaultdict(lambda: defaultdict(Fraction))
    for piece in pieces:
        metres = Fraction(_run_nm(piece), METRE)
        if piece.is_panel:
            found["panel"][piece.group] += 1
            found["panel_joint_m"][piece.group] += Fraction(_right_joint_nm(piece), METRE)
        if piece.role == "roof_panel":
            found["roof_panel_end"][piece.group] += 2
        if piece.role == "base_channel":
            found["base_channel_m"][piece.group] += metres
        if piece.role in TRIMS:
            found["trim_m"][piece.group] += metres
        if piece.role == "ridge_trim":
            found["ridge_m"][piece.group] += metres
        if piece.role == "furring":
            found["furring_m"][piece.group] += metres
        if piece.role == "corner_angle":
            found["corner_m"][piece.group] += metres
    holders: list[Wall | RoofPlane] = [*building.walls, *building.roof]
    for holder in holders:
        if holder.openings:
            found["opening"][holder.id] += len(holder.openings)
    for anchor in anchors:
        found["anchor"][anchor.wall] += 1
    return found


def _run_nm(piece: Piece) -> int:
    """Length of a linear part's run as it stands, laps not counted twice; nothing for a panel."""
    if piece.is_panel:
        return 0
    (x0, y0), (x1, y1) = piece.outline[0], piece.outline[-1]
    return isqrt_nearest((x1 - x0) ** 2 + (y1 - y0) ** 2)


def _right_joint_nm(piece: Piece) -> int:
    """Length of the joint on a panel's right: its straight right edge, where that is a joint; each joint counts once."""
    if piece.right.kind != "joint":
        return 0
    right = max(x for x, _ in piece.outline)
    return sum(abs(b[1] - a[1]) for a, b in _sides(piece.outline) if a[0] == right == b[0])


def _sides(outline: tuple[Point, ...]) -> Iterable[tuple[Point, Point]]:
    return zip(outline, (*outline[1:], outline[0]), strict=True)
