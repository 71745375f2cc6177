"""What a piece must be in space, from its own cut shape: the other side of the comparison."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from solver.domain.piece import EndCut, Piece
from tests.replay.table import Numbers, Truths

EPS = 60_000.0  # 0.06 mm: how far beside a face places are compared
TRIM_EPS = 500_000.0  # of trims: nesting leaves up to 0.37 mm too little room between caps of several widths


def shift(piece: Piece) -> tuple[float, float]:
    """From set coordinates to the blank's: what to add to u and to z."""
    left = min(u for u, _ in piece.outline)
    foot = min(z for _, z in piece.outline)
    wider = sum(one.amount_nm for one in piece.allowances if one.edge == "left")
    longer = sum(one.amount_nm for one in piece.allowances if one.edge == "foot")
    return piece.left.outside_nm + wider - left, longer - foot - begins(piece)


def begins(piece: Piece) -> float:
    """How far up the set shape's foot a panel's blank begins: its lowest place, on the edges of the blank."""
    if not piece.is_panel or len(piece.foot_cuts) > 1:
        return 0.0  # a foot with knees: the lowest of them
    return float(min(piece.edge_a[0], piece.edge_b[0]))


def edge_at(piece: Piece, side: str, d: Numbers) -> Numbers:
    cut = piece.left if side == "left" else piece.right
    inset = cut.outside_nm + (cut.inside_nm - cut.outside_nm) * d / max(piece.thickness_nm, 1)
    return inset if side == "left" else piece.width_nm - inset


def stretches(piece: Piece, end: str) -> list[tuple[tuple[float, float], tuple[float, float], EndCut]]:
    """The straight cuts of an end, left to right, on the face that they are told on."""
    main = piece.foot if end == "foot" else piece.head
    if piece.peak_nm is None:
        n = 0 if end == "foot" else 1
        low = begins(piece)
        return [((0.0, piece.edge_a[n] - low), (float(piece.width_nm), piece.edge_b[n] - low), main)]
    du, dz = shift(piece)
    points = [(u + du, z + dz) for u, z in piece.outline]
    lines = list(zip(points, [*points[1:], points[0]], strict=True))
    way = 1 if end == "foot" else -1
    found = sorted((min(a, b), max(a, b)) for a, b in lines if (b[0] - a[0]) * way > 0)
    cuts = (piece.foot_cuts if end == "foot" else piece.head_cuts) or (main,) * len(found)
    more = {one.name: one.amount_nm for one in piece.allowances if one.edge == "head"}
    made = []
    for (a, b), cut in zip(found, cuts, strict=True):
        on = 0.0
        if end == "head":
            on += more.get("long_face", 0) if cut.tilt_udeg else 0
            on += more.get("ridge_gap", 0) if not cut.swing_udeg else 0
        made.append(((a[0], a[1] + on), (b[0], b[1] + on), cut))
    return made


def end_at(piece: Piece, end: str, u: Numbers, d: Numbers, deep: float) -> Numbers:
    """How far along a panel's or a part's end is, at a place across and a depth from its outside (a cap: from its web)."""
    lines = stretches(piece, end)
    result = np.zeros(np.broadcast(u, d).shape)
    for n, (a, b, cut) in enumerate(lines):
        low = -math.inf if n == 0 else a[0]
        high = math.inf if n == len(lines) - 1 else b[0]
        slope = (b[1] - a[1]) / (b[0] - a[0])
        at = a[1] + slope * (u - a[0])
        if cut.tilt_udeg:
            back = math.tan(math.radians(cut.tilt_udeg / 1e6)) * math.sqrt(1 + slope**2)
            at = at + (1 if end == "foot" else -1) * back * _depth(piece, end, cut, d, deep)
        result = np.where((u >= low) & (u <= high), at, result)
    return result


def _depth(piece: Piece, end: str, cut: EndCut, d: Numbers, deep: float) -> Numbers:
    """How far from the face that figures are on; less than 0 where the piece gets longer away from it."""
    if piece.role == "top_cap":  # d is from the web; a plumb cut makes the web longer at the upper end of a slope
        (_, z0), (_, z1) = piece.outline
        web_long = (z1 > z0) == (end == "head")
        return d if web_long else -d
    return d if cut.long_face == "outside" else deep - d


def wanted_holes(piece: Piece) -> tuple[list[tuple[float, float]], list[tuple[float, float]]]:
    """Pockets as u and d, holes as u and z, in the blank's frame."""
    du, _ = shift(piece)
    left = min(u for u, _ in piece.outline)
    pockets = [(hole.along_nm + left + du, float(hole.across_nm)) for hole in piece.holes if hole.kind == "pocket"]
    holes = [(float(hole.across_nm), float(hole.along_nm)) for hole in piece.holes if hole.kind == "hole"]
    return pockets, holes


def has(piece: Piece, u: Numbers, z: Numbers, d: Numbers, deep: float) -> Truths:
    """Whether the piece is at a place."""
    found: Truths = (z >= end_at(piece, "foot", u, d, deep)) & (z <= end_at(piece, "head", u, d, deep))
    if piece.is_panel:
        found &= (u >= edge_at(piece, "left", d)) & (u <= edge_at(piece, "right", d))
        du, dz = shift(piece)
        for cut in piece.cutouts:
            us, zs = [p + du for p, _ in cut.outline], [q + dz for _, q in cut.outline]
            found &= ~((u > min(us)) & (u < max(us)) & (z > min(zs)) & (z < max(zs)))
    else:
        found &= (u >= 0) & (u <= piece.width_nm)
    return found


def places(piece: Piece, deep: float, slack: float = 0.0) -> tuple[Numbers, Numbers, Numbers]:
    """Places beside every face of the piece, within and without, and some between."""
    eps = slack + (EPS if piece.is_panel else TRIM_EPS)
    du, dz = shift(piece)
    found: list[tuple[float, float, float]] = []
    cut_us = [u + du for cut in piece.cutouts for u, _ in cut.outline]
    cut_zs = [z + dz for cut in piece.cutouts for _, z in cut.outline]
    lines = [line for end in ("foot", "head") for line in stretches(piece, end)]
    ends_u = {end: sorted(p[0] for a, b, _ in stretches(piece, end) for p in (a, b))[1:-1] for end in ("foot", "head")}
    knees = [u for us in ends_u.values() for u in us]
    tilt = max(cut.tilt_udeg for _, _, cut in lines) if piece.peak_nm is not None else 0
    clear = EPS / 2 + 3 * deep * math.tan(
        math.radians(tilt / 1e6)
    )  # where two tilted cuts meet they cross within the thickness
    for d in (0.02 * deep, 0.37 * deep, 0.98 * deep):
        depth = np.array([d])
        sides = [0.0, float(piece.width_nm)]
        if piece.is_panel:
            sides = [float(edge_at(piece, side, depth)[0]) for side in ("left", "right")]
        low, high = sides
        us = {*_beside([low, high, *cut_us], eps), (low + high) / 2, low + 0.31 * (high - low), *_near(knees, eps)}
        for u in us:
            beside = 2 * eps if piece.is_panel else -TRIM_EPS / 2  # a trim's width is its coil's, no cut of these sheets
            if not low - beside <= u <= high + beside or any(abs(u - knee) < clear for knee in knees):
                continue
            ends = [float(end_at(piece, end, np.array([u]), depth, deep)[0]) for end in ("foot", "head")]
            middle = [ends[0] + part * (ends[1] - ends[0]) for part in (0.21, 0.5, 0.83)]
            found += [(u, z, d) for z in (*_beside([*ends, *cut_zs], eps), *middle)]
    table = np.array(found).reshape(-1, 3)
    return table[:, 0], table[:, 1], table[:, 2]


def _beside(values: list[float], eps: float) -> Iterator[float]:
    for value in values:
        yield value - eps
        yield value + eps


def _near(values: list[float], eps: float) -> Iterator[float]:
    for value in values:
        yield value - 40 * eps
        yield value + 40 * eps
