"""Panels: cut shapes against set shapes by named allowances, what the blank and the saw give, and the soft rules told."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations

from solver.domain.building import Opening, Wall
from solver.domain.piece import EdgeCut, Piece
from solver.domain.plant import PanelFamily
from solver.domain.takeoff import BrokenRule
from solver.takeoff.check.finding import Finding
from solver.takeoff.check.heads import check_head_cuts
from solver.takeoff.check.plan import End, ends_of, near
from solver.units import MM

SLACK_UDEG = 2_000


@dataclass(frozen=True, slots=True)
class Owed:
    """A soft rule that was seen to be broken, and the names under which it may be told."""

    rule: str
    wanted_nm: int
    got_nm: int
    names: tuple[str, ...]


def check_panels(finding: Finding) -> None:
    """Judge every panel's cuts, and every soft rule that they break."""
    owed: list[Owed] = []
    for wall in finding.building.walls:
        family = finding.family(wall.family)
        panels = finding.of(wall.id, "wall_panel")
        if family is None or not panels:
            finding.wrong(str(wall.id), "has no panels", "panels over the whole wall")
            continue
        for piece in panels:
            _limits(finding, piece, family, wall.finish.outside, wall.finish.inside)
            _cut_lengths(finding, piece)
            check_head_cuts(finding, piece)
        owed += _wall_edges(finding, wall, family, panels)
    for plane in finding.building.roof:
        family = finding.family(plane.family)
        panels = finding.of(plane.id, "roof_panel")
        if family is None or not panels:
            finding.wrong(str(plane.id), "has no panels", "panels over the whole plane")
            continue
        for piece in panels:
            _limits(finding, piece, family, plane.finish.outside, plane.finish.inside)
        owed += _roof_edges(finding, plane.id, plane.openings, family, panels)
    _compare_told(finding, owed)
    panels_count = sum(piece.is_panel for piece in finding.takeoff.pieces)
    finding.checked.append(f"{panels_count} panels within cover, lengths and the saw's reach, cut less set named as allowances")


def _limits(finding: Finding, piece: Piece, family: PanelFamily, outside: str, inside: str) -> None:
    saw = finding.plant.saw
    if piece.material != f"{family.id}|{outside}|{inside}":
        finding.wrong(piece.mark, f"its material is {piece.material!r}", f"{family.id}|{outside}|{inside}")
    if piece.width_nm != family.cover_nm or piece.thickness_nm != family.thickness_nm:
        finding.wrong(piece.mark, "its blank is not its family's", f"the cover and thickness of {family.id}")
    if piece.length_nm > family.longest_nm:
        shown = finding.show(piece.length_nm)
        finding.wrong(piece.mark, f"{shown} is longer than panels are made", f"at most {finding.show(family.longest_nm)}")
    for cut in (piece.foot, piece.head):
        if cut.swing_udeg > saw.swing_udeg:
            finding.wrong(piece.mark, f"a swing of {cut.swing_udeg / 1e6:.1f} degrees is beyond the saw", "a cut within reach")
    for tilt in (piece.foot.tilt_udeg, piece.head.tilt_udeg, piece.left.bevel_udeg, piece.right.bevel_udeg):
        depth = family.thickness_nm / max(1e-9, math.cos(math.radians(tilt / 1e6)))
        if tilt > saw.tilt_udeg + SLACK_UDEG or depth > saw.depth_nm + MM / 100:
            finding.wrong(piece.mark, f"a tilt of {tilt / 1e6:.1f} degrees is beyond the saw", "a cut within the saw's reach")


def _cut_lengths(finding: Finding, piece: Piece) -> None:
    """The cut shape of a wall panel holds its set shape: heights at both edges, or a square blank of the greatest height."""
    left, right = piece.outline[0][0], max(u for u, _ in piece.outline)
    foot = min(z for _, z in piece.outline)
    longer_by = allowance(piece, "foot", "head")
    highest = max(z for _, z in piece.outline) - foot + longer_by
    if piece.peak_nm is not None:
        if piece.peak_nm != highest:
            finding.wrong(piece.mark, f"its peak is {finding.show(piece.peak_nm)}", f"{finding.show(highest)}, as it stands")
        return
    heights = [max(z for u, z in piece.outline if u == edge) - foot for edge in (left, right)]
    cuts = [piece.edge_a[1] - piece.edge_a[0], piece.edge_b[1] - piece.edge_b[0]]
    longer = 0 if heights[0] >= heights[1] else 1
    wide, cover = right - left, piece.width_nm
    wanted = list(heights)
    if piece.left.kind != "joint" or piece.right.kind != "joint":  # the cut runs on over the part of the blank that is ripped
        if heights[0] != heights[1] and (piece.left, piece.right)[longer].kind != "joint":
            finding.wrong(piece.mark, "its longer side is ripped, so its blank is longer still", "a square blank of its peak")
        fall = abs(heights[0] - heights[1]) * cover // wide
        wanted[1 - longer] = heights[longer] - fall
    wanted = [height + longer_by for height in wanted]
    if any(abs(got - want) > 1 for got, want in zip(cuts, wanted, strict=True)):
        shown = " and ".join(finding.show(length) for length in cuts)
        should = " and ".join(finding.show(length) for length in wanted)
        finding.wrong(piece.mark, f"it is cut to {shown} on its long edges", should)


def allowance(piece: Piece, *edges: str) -> int:
    """Return the sum of a piece's allowances on some edges."""
    return sum(item.amount_nm for item in piece.allowances if item.edge in edges)


def _wall_edges(finding: Finding, wall: Wall, family: PanelFamily, panels: Sequence[Piece]) -> list[Owed]:
    left_end, right_end = ends_of(finding.building, finding.plant, wall)
    first, last = min(p.outline[0][0] for p in panels), max(max(u for u, _ in p.outline) for p in panels)
    owed: list[Owed] = []
    joints = set()
    for piece in panels:
        u0, u1 = min(u for u, _ in piece.outline), max(u for u, _ in piece.outline)
        inner = [0, 0]
        for side, edge, here, end, sign in (
            (0, piece.left, u0 == first, left_end, -1),
            (1, piece.right, u1 == last, right_end, 1),
        ):
            inner[side] = _edge(finding, piece, edge, end, sign, here=here)
            if not here:
                joints.add((u0, u1)[side])
        width, inside = _width(finding, piece, family, u1 - u0, inner)
        shortest = min(width, inside)
        if shortest < family.narrowest_rip_nm:
            owed.append(Owed("narrowest_rip", family.narrowest_rip_nm, shortest, (piece.mark,)))
    owed += _legs(family, wall, panels, left_end, right_end, first, last)
    owed += _clear(family, wall.openings, sorted(joints), lambda opening: (opening.id,))
    _growth(finding, family, panels, first, last)
    _lapped(finding, family, panels)
    return owed


def _edge(finding: Finding, piece: Piece, edge: EdgeCut, end: End, sign: int, *, here: bool) -> int:
    """Judge one long edge; return how much farther out its inside face must reach than the outside one."""
    if not here:
        if edge.kind != "joint" or edge.outside_nm or edge.inside_nm:
            finding.wrong(piece.mark, "an edge in the run of its wall is cut", "a joint kept on both sides")
        return 0
    if edge.kind == "joint":
        finding.wrong(piece.mark, "an edge at its wall's end keeps a joint", "a rip or a mitre")
        return 0
    inner = (end.inside - end.outside) * sign
    if not near(Fraction(edge.outside_nm - edge.inside_nm), inner):
        got, want = edge.outside_nm - edge.inside_nm, round(inner)
        finding.wrong(
            piece.mark,
            f"its faces differ by {finding.show(got)} at the corner, so the mitre does not meet",
            f"inside less outside {finding.show(want)}: t tan(bevel), the longer face outside at an outside corner",
        )
    bevel = math.degrees(math.atan2(abs(float(inner)), piece.thickness_nm)) * 1e6
    if abs(edge.bevel_udeg - bevel) > SLACK_UDEG:
        finding.wrong(piece.mark, f"its bevel is {edge.bevel_udeg / 1e6:.2f} degrees", f"{bevel / 1e6:.2f}: half the turn")
    return round(inner)


def _width(finding: Finding, piece: Piece, family: PanelFamily, set_width: int, inner: Sequence[int]) -> tuple[int, int]:
    """Judge a panel's width on both faces; return both as cut."""
    cut = family.cover_nm - piece.left.outside_nm - piece.right.outside_nm
    inside = family.cover_nm - piece.left.inside_nm - piece.right.inside_nm
    named = allowance(piece, "left", "right")
    if cut - set_width != named:
        finding.wrong(
            piece.mark,
            f"it is cut {finding.show(cut - set_width)} wider than it stands, its allowances say {finding.show(named)}",
            "cut less set as the sum of named allowances",
        )
    lips = [piece.left.outside_nm, piece.left.inside_nm, piece.right.outside_nm, piece.right.inside_nm]
    if min(lips) < 0 or max(cut, inside) > family.cover_nm or min(cut, inside) <= 0:
        finding.wrong(piece.mark, "a face is wider than the blank's cover, or nothing is left of it", "both faces within cover")
    return set_width + named, set_width + named + sum(inner)


def _growth(finding: Finding, family: PanelFamily, panels: Sequence[Piece], first: int, last: int) -> None:
    """Every joint grows once: the panel set before it, in the direction of standing, is cut narrower by it."""
    ccw = finding.building.direction == "ccw"
    for piece in panels:
        u0, u1 = min(u for u, _ in piece.outline), max(u for u, _ in piece.outline)
        end = u1 == last if ccw else u0 == first
        got = [item.amount_nm for item in piece.allowances if item.name == "joint_growth"]
        want = [] if end or not family.joint_growth_nm else [-family.joint_growth_nm]
        if got != want:
            finding.wrong(
                piece.mark, "the growth of its joint is not allowed for once", "joint growth on all panels but the last"
            )
        for item in piece.allowances:
            known = {
                "joint_growth": -family.joint_growth_nm,
                "closing": family.closing_nm,
                "end_lap": family.end_lap_nm if _on_another(piece, panels) else None,
                "long_face": _bevelled_by(finding, piece, family),
            }.get(item.name)
            if known is None or abs(item.amount_nm - known) > (item.name == "long_face"):
                finding.wrong(
                    piece.mark, f"an allowance {item.name} of {finding.show(item.amount_nm)}", "the catalog's amounts"
                )


def _on_another(piece: Piece, panels: Sequence[Piece]) -> bool:
    """Whether a panel stands on the head of another one: a planned joint."""
    foot, bay = min(z for _, z in piece.outline), _bay(piece, panels)
    heads = [max(z for _, z in other.outline) for other in panels if other is not piece and _bay(other, panels) == bay]
    return foot > 0 and foot in heads


def _lapped(finding: Finding, family: PanelFamily, panels: Sequence[Piece]) -> None:
    """A panel that stands on another one laps over it, where its family may be lapped at all."""
    for piece in panels:
        laps = [item.amount_nm for item in piece.allowances if item.name == "end_lap"]
        want = [family.end_lap_nm] if _on_another(piece, panels) else []
        if laps != want or (want and not family.end_lap_nm):
            finding.wrong(piece.mark, "its end lap is not that of a planned joint", "the catalog's lap over the panel below")


def _bevelled_by(finding: Finding, piece: Piece, family: PanelFamily) -> int | None:
    """How much higher the inside face of a top bevelled to the roof over its wall is: t tan(pitch)."""
    wall = next(wall for wall in finding.building.walls if wall.id == piece.group)
    pitches = {Fraction(plane.rise, plane.run) for plane in finding.building.roof if plane.id in wall.under_roof}
    if not family.bevel_top or len(pitches) != 1 or len({z for _, z in wall.top}) != 1:
        return None
    slope = pitches.pop()
    tilt = math.degrees(math.atan(slope)) * 1e6
    tilted = piece.head.long_face == "inside" and abs(piece.head.tilt_udeg - tilt) <= SLACK_UDEG
    return round(slope * family.thickness_nm) if tilted and max(z for _, z in piece.outline) == wall.top[0][1] else None


def _legs(family: PanelFamily, wall: Wall, panels: Sequence[Piece], left: End, right: End, first: int, last: int) -> list[Owed]:
    """Legs too narrow beside openings, on the shorter face, for each bay of the wall."""
    owed = []
    bays = sorted({(min(u for u, _ in p.outline), max(u for u, _ in p.outline)) for p in panels})
    for u0, u1 in bays:
        for opening in wall.openings:
            if opening.u1_nm <= u0 or opening.u0_nm >= u1:
                continue
            less = [
                min(0, round(left.outside - left.inside)) if u0 == first else 0,
                min(0, round(right.inside - right.outside)) if u1 == last else 0,
            ]
            for leg, inner in ((opening.u0_nm - u0, less[0]), (u1 - opening.u1_nm, less[1])):
                if leg > 0 and leg + inner < family.min_leg_nm:
                    owed.append(Owed("leg", family.min_leg_nm, max(0, leg + inner), (opening.id,)))
    return [*owed, *_strips(family, wall.openings, bays, lambda opening: opening.id)]


def _strips(
    family: PanelFamily, openings: Sequence[Opening], bays: Sequence[tuple[int, int]], name: Callable[[Opening], str]
) -> Iterator[Owed]:
    """Strips too narrow between two openings of one panel: what is left of the panel between them, across and up."""
    for u0, u1 in bays:
        cut = [(max(u0, o.u0_nm), min(u1, o.u1_nm), o) for o in openings if o.u0_nm < u1 and o.u1_nm > u0]
        for (a0, a1, one), (b0, b1, other) in combinations(cut, 2):
            side_by_side = one.z0_nm < other.z1_nm and other.z0_nm < one.z1_nm
            stacked = a0 < b1 and b0 < a1
            if side_by_side == stacked:
                continue
            strip = max(a0, b0) - min(a1, b1) if side_by_side else max(one.z0_nm, other.z0_nm) - min(one.z1_nm, other.z1_nm)
            if strip < family.min_leg_nm:
                yield Owed("leg", family.min_leg_nm, strip, (name(one), name(other)))


def _clear(family: PanelFamily, openings: Sequence[Opening], joints: Sequence[int], names: object) -> list[Owed]:
    owed = []
    for joint in joints:
        for opening in openings:
            gap = min(abs(joint - opening.u0_nm), abs(joint - opening.u1_nm))
            if gap < family.joint_clear_nm:
                said = names(opening) if callable(names) else (opening.id,)
                owed.append(Owed("joint_clearance", family.joint_clear_nm, gap, said))
    return owed


def _roof_edges(
    finding: Finding, plane: str, openings: Sequence[Opening], family: PanelFamily, panels: Sequence[Piece]
) -> list[Owed]:
    first, last = min(min(x for x, _ in p.outline) for p in panels), max(max(x for x, _ in p.outline) for p in panels)
    owed: list[Owed] = []
    spans = sorted({(p.left.outside_nm, p.right.outside_nm, *_bay(p, panels)) for p in panels}, key=lambda span: span[2])
    joints = sorted({span[2] for span in spans} | {span[3] for span in spans})
    for piece in panels:
        u0, u1 = _bay(piece, panels)
        for edge, here in ((piece.left, u0 == first), (piece.right, u1 == last)):
            if not here and (edge.kind != "joint" or edge.outside_nm):
                finding.wrong(piece.mark, "an edge in the run of its plane is cut", "a joint kept on both sides")
        cut = family.cover_nm - piece.left.outside_nm - piece.right.outside_nm
        named = allowance(piece, "left", "right")
        if cut - (u1 - u0) != named or cut <= 0:
            finding.wrong(
                piece.mark,
                f"it is cut {finding.show(cut - (u1 - u0))} wider than it stands, its allowances say {finding.show(named)}",
                "cut less set as the sum of named allowances",
            )
    widths = {(span[2], span[3]): family.cover_nm - span[0] - span[1] for span in spans}
    for n, (_, width) in enumerate(sorted(widths.items()), start=1):
        if width < family.narrowest_rip_nm:
            owed.append(Owed("narrowest_rip", family.narrowest_rip_nm, width, (f"{plane} panel {n}",)))
    inner = [joint for joint in joints if first < joint < last]
    owed += _clear(family, openings, inner, lambda opening: (f"{plane} {opening.id}",))
    for u0, u1 in sorted(widths):
        for opening in openings:
            if opening.u1_nm <= u0 or opening.u0_nm >= u1:
                continue
            for leg in (opening.u0_nm - u0, u1 - opening.u1_nm):
                if 0 < leg < family.min_leg_nm:
                    owed.append(Owed("leg", family.min_leg_nm, leg, (f"{plane} {opening.id}",)))
    return [*owed, *_strips(family, openings, sorted(widths), lambda opening: f"{plane} {opening.id}")]


def _bay(piece: Piece, _: Sequence[Piece]) -> tuple[int, int]:
    return min(x for x, _ in piece.outline), max(x for x, _ in piece.outline)


def _compare_told(finding: Finding, owed: Sequence[Owed]) -> None:
    """Every soft rule seen broken is told, and nothing is told that is not so."""
    told = [item for item in finding.takeoff.broken if item.rule in ("narrowest_rip", "leg", "joint_clearance")]
    counted = Counter((item.rule, item.wanted_nm, item.got_nm, _where(item)) for item in told)
    for item in owed:
        found = next(
            (key for key in counted if key[:3] == (item.rule, item.wanted_nm, item.got_nm) and key[3] in item.names), None
        )
        if found is None:
            shown = f"{finding.show(item.got_nm)} is under {finding.show(item.wanted_nm)}"
            name = item.rule.replace("_", " ")
            finding.wrong(item.names[0], f"the soft rule {name} is broken and not told: {shown}", "every broken rule listed")
            continue
        counted[found] -= 1
        if counted[found] == 0:
            del counted[found]
    for rule, _, got, where in counted:
        name = rule.replace("_", " ")
        finding.wrong(where, f"{name} of {finding.show(got)} is told as broken, and is not", "broken rules as they are")


def _where(item: BrokenRule) -> str:
    return item.where
