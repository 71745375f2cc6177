"""Panels: cut shapes against set shapes by named allowances, what the blank and the saw give, and the soft rules told."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations

from solver.domain.building import Opening, Wall
from solver.domain.material import Material
from solver.domain.piece import EdgeCut, Piece
from solver.domain.plant import PanelFamily
from solver.domain.takeoff import BrokenRule
from solver.takeoff.check.coverage_scan import Spot
from solver.takeoff.check.heads import check_head_cuts, head_lines
from solver.takeoff.check.plan_geometry import PanelEnd, lengths_agree, panel_ends
from solver.takeoff.check.proof import TakeoffProof
from solver.units import MM, round_half_up

SLACK_UDEG = 2_000


@dataclass(frozen=True, slots=True)
class SoftRuleBroken:
    """A soft rule that was seen to be broken, and the names under which it may be told."""

    rule: str
    wanted_nm: int
    got_nm: int
    names: tuple[str, ...]


def check_panels(proof: TakeoffProof) -> None:
    """Judge every panel's cuts, and every soft rule that they break."""
    owed: list[SoftRuleBroken] = []
    for wall in proof.building.walls:
        family = proof.family(wall.family)
        panels = proof.pieces_of(wall.id, "wall_panel")
        if family is None or not panels:
            proof.add_fault(str(wall.id), "has no panels", "panels over the whole wall")
            continue
        for piece in panels:
            _limits(proof, piece, family, wall.finish.outside, wall.finish.inside)
            _cut_lengths(proof, piece, family, grows=not _last(proof, piece, panels))
            check_head_cuts(proof, piece)
        owed += _wall_edges(proof, wall, family, panels)
    for plane in proof.building.roof:
        family = proof.family(plane.family)
        panels = proof.pieces_of(plane.id, "roof_panel")
        if family is None or not panels:
            proof.add_fault(str(plane.id), "has no panels", "panels over the whole plane")
            continue
        for piece in panels:
            _limits(proof, piece, family, plane.finish.outside, plane.finish.inside)
        owed += _roof_edges(proof, plane.id, plane.openings, family, panels)
    _compare_told(proof, owed)
    panels_count = sum(piece.is_panel for piece in proof.takeoff.pieces)
    proof.checked.append(f"{panels_count} panels within cover, lengths and the saw's reach, cut less set named as allowances")


def _limits(proof: TakeoffProof, piece: Piece, family: PanelFamily, outside: str, inside: str) -> None:
    saw = proof.plant.saw
    wanted = Material(family.id, (outside, inside)).id
    if piece.material != wanted:
        proof.add_fault(piece.mark, f"its material is {piece.material!r}", wanted)
    if piece.width_nm != family.cover_nm or piece.thickness_nm != family.thickness_nm:
        proof.add_fault(piece.mark, "its blank is not its family's", f"the cover and thickness of {family.id}")
    limits, decks = proof.plant.bundle, [deck.length_nm for deck in proof.plant.decks]
    lifted = max(min(family.handled_nm, limits.length_nm), limits.spreader_length_nm or 0)
    for most, what in ((family.longest_nm, "are made"), (lifted, "are lifted"), (max(decks), "are carried")):
        if piece.length_nm > most:
            shown = proof.shown(piece.length_nm)
            proof.add_fault(piece.mark, f"{shown} is longer than panels {what}", f"at most {proof.shown(most)}")
    for cut in (piece.foot, piece.head):
        if cut.swing_udeg > saw.swing_udeg:
            proof.add_fault(
                piece.mark, f"a swing of {cut.swing_udeg / 1e6:.1f} degrees is beyond the saw", "a cut within reach"
            )
    for tilt in (piece.foot.tilt_udeg, piece.head.tilt_udeg, piece.left.bevel_udeg, piece.right.bevel_udeg):
        depth = family.thickness_nm / max(1e-9, math.cos(math.radians(tilt / 1e6)))
        if tilt > saw.tilt_udeg + SLACK_UDEG or depth > saw.depth_nm + MM / 100:
            proof.add_fault(piece.mark, f"a tilt of {tilt / 1e6:.1f} degrees is beyond the saw", "a cut within the saw's reach")


def _cut_lengths(proof: TakeoffProof, piece: Piece, family: PanelFamily, *, grows: bool) -> None:
    """The cut shape of a wall panel follows from its set shape: wider or narrower by the named amounts of the catalog.

    Its head keeps its pitch over what it is cut wider or narrower. `grows`: a panel of its wall stands after it.
    """
    left, right = int(min(u for u, _ in piece.outline)), int(max(u for u, _ in piece.outline))
    foot = min(z for _, z in piece.outline)
    more = (family.closing_nm if piece.closing else 0) - (family.joint_growth_nm if grows else 0)
    left, right = (left, right + more) if proof.building.direction == "ccw" else (left - more, right)
    lines = head_lines(piece)
    ends = [_at(lines[0], left), _at(lines[-1], right)]
    bends = [Fraction(z) for u, z in piece.outline if left < u < right]
    low, high = Fraction(foot), max(*ends, *bends)
    longer_by = total_allowance(piece, "foot", "head")
    got = [piece.edge_a[1] - piece.edge_a[0], piece.edge_b[1] - piece.edge_b[0]]
    blank = [left, right]
    if piece.left.kind != "joint":
        blank[0] = right - piece.width_nm
    if piece.right.kind != "joint":
        blank[1] = left + piece.width_nm
    whole = [_at(lines[0], place) for place in blank]
    longer = (piece.left, piece.right)[0 if ends[0] >= ends[1] else 1]
    square = len(lines) > 1 or (ends[0] != ends[1] and (longer.kind != "joint" or min(whole) - low < Fraction(1, 2)))
    wanted = ends if square or ends[0] == ends[1] else whole
    heights = [max(low, height) - low + longer_by for height in wanted]
    if (piece.peak_nm is not None) != square or any(abs(a - b) > 1 for a, b in zip(got, heights, strict=True)):
        shown = " and ".join(proof.shown(length) for length in got)
        should = " and ".join(proof.shown(round(length)) for length in heights)
        kind = "a square blank, " if square else ""
        proof.add_fault(piece.mark, f"it is cut to {shown} on its long edges", f"{kind}{should}: its slope at its own pitch")
    if piece.peak_nm is not None and abs(piece.peak_nm - (high - low + longer_by)) > 1:
        shown, should = proof.shown(piece.peak_nm), proof.shown(round(high - low + longer_by))
        proof.add_fault(piece.mark, f"its peak is {shown}", f"{should}, as it is cut")


def _at(line: tuple[Spot, Spot], u: int) -> Fraction:
    """Height at a place of the line through both ends of a stretch."""
    (u0, z0), (u1, z1) = line
    return z0 + Fraction((z1 - z0) * (u - u0), u1 - u0)


def total_allowance(piece: Piece, *edges: str) -> int:
    """Return the sum of a piece's allowances on some edges."""
    return sum(item.amount_nm for item in piece.allowances if item.edge in edges)


def _wall_edges(proof: TakeoffProof, wall: Wall, family: PanelFamily, panels: Sequence[Piece]) -> list[SoftRuleBroken]:
    left_end, right_end = panel_ends(proof.building, proof.plant, wall)
    first, last = min(p.outline[0][0] for p in panels), max(max(u for u, _ in p.outline) for p in panels)
    owed: list[SoftRuleBroken] = []
    joints = set()
    for piece in panels:
        u0, u1 = min(u for u, _ in piece.outline), max(u for u, _ in piece.outline)
        inner = [0, 0]
        for side, edge, here, end, sign in (
            (0, piece.left, u0 == first, left_end, -1),
            (1, piece.right, u1 == last, right_end, 1),
        ):
            inner[side] = _edge(proof, piece, edge, end, sign, here=here)
            if not here:
                joints.add((u0, u1)[side])
        width, inside = _width(proof, piece, family, u1 - u0, inner)
        shortest = min(width, inside)
        if shortest < family.narrowest_rip_nm:
            owed.append(SoftRuleBroken("narrowest_rip", family.narrowest_rip_nm, shortest, (piece.mark,)))
    owed += _legs(family, wall, panels, left_end, right_end, first, last)
    face = [(0, 0), (int(wall.length_nm), 0), *reversed(wall.top)]
    owed += _low_strips(family, face, wall.openings, lambda opening: opening.id)
    owed += _clear(family, wall.openings, sorted(joints), lambda opening: (opening.id,))
    _growth(proof, family, panels)
    _lapped(proof, family, panels)
    return owed


def _edge(proof: TakeoffProof, piece: Piece, edge: EdgeCut, end: PanelEnd, sign: int, *, here: bool) -> int:
    """Judge one long edge; return how much farther out its inside face must reach than the outside one."""
    if not here:
        if edge.kind != "joint" or edge.outside_nm or edge.inside_nm:
            proof.add_fault(piece.mark, "an edge in the run of its wall is cut", "a joint kept on both sides")
        return 0
    if edge.kind == "joint":
        proof.add_fault(piece.mark, "an edge at its wall's end keeps a joint", "a rip or a mitre")
        return 0
    inner = (end.inside - end.outside) * sign
    if not lengths_agree(Fraction(edge.outside_nm - edge.inside_nm), inner):
        got, want = edge.outside_nm - edge.inside_nm, round(inner)
        proof.add_fault(
            piece.mark,
            f"its faces differ by {proof.shown(got)} at the corner, so the mitre does not meet",
            f"inside less outside {proof.shown(want)}: t tan(bevel), the longer face outside at an outside corner",
        )
    bevel = math.degrees(math.atan2(abs(float(inner)), piece.thickness_nm)) * 1e6
    if abs(edge.bevel_udeg - bevel) > SLACK_UDEG:
        proof.add_fault(piece.mark, f"its bevel is {edge.bevel_udeg / 1e6:.2f} degrees", f"{bevel / 1e6:.2f}: half the turn")
    return round(inner)


def _width(proof: TakeoffProof, piece: Piece, family: PanelFamily, set_width: int, inner: Sequence[int]) -> tuple[int, int]:
    """Judge a panel's width on both faces; return both as cut."""
    cut = family.cover_nm - piece.left.outside_nm - piece.right.outside_nm
    inside = family.cover_nm - piece.left.inside_nm - piece.right.inside_nm
    named = total_allowance(piece, "left", "right")
    if cut - set_width != named:
        proof.add_fault(
            piece.mark,
            f"it is cut {proof.shown(cut - set_width)} wider than it stands, its allowances say {proof.shown(named)}",
            "cut less set as the sum of named allowances",
        )
    lips = [piece.left.outside_nm, piece.left.inside_nm, piece.right.outside_nm, piece.right.inside_nm]
    if min(lips) < 0 or max(cut, inside) > family.cover_nm or min(cut, inside) <= 0:
        proof.add_fault(
            piece.mark, "a face is wider than the blank's cover, or nothing is left of it", "both faces within cover"
        )
    return set_width + named, set_width + named + sum(inner)


def _last(proof: TakeoffProof, piece: Piece, panels: Sequence[Piece]) -> bool:
    """Whether a panel is the last of its wall, in the direction of standing."""
    if proof.building.direction == "ccw":
        return max(u for u, _ in piece.outline) == max(u for panel in panels for u, _ in panel.outline)
    return min(u for u, _ in piece.outline) == min(u for panel in panels for u, _ in panel.outline)


def _growth(proof: TakeoffProof, family: PanelFamily, panels: Sequence[Piece]) -> None:
    """Every joint grows once: the panel set before it, in the direction of standing, is cut narrower by it."""
    for piece in panels:
        end = _last(proof, piece, panels)
        got = [item.amount_nm for item in piece.allowances if item.name == "joint_growth"]
        want = [] if end or not family.joint_growth_nm else [-family.joint_growth_nm]
        if got != want:
            proof.add_fault(
                piece.mark, "the growth of its joint is not allowed for once", "joint growth on all panels but the last"
            )
        for item in piece.allowances:
            known = {
                "joint_growth": -family.joint_growth_nm,
                "closing": family.closing_nm,
                "end_lap": family.end_lap_nm if _on_another(piece, panels) else None,
                "long_face": _bevelled_by(proof, piece, family),
            }.get(item.name)
            if known is None or abs(item.amount_nm - known) > (item.name == "long_face"):
                proof.add_fault(
                    piece.mark, f"an allowance {item.name} of {proof.shown(item.amount_nm)}", "the catalog's amounts"
                )


def _on_another(piece: Piece, panels: Sequence[Piece]) -> bool:
    """Whether a panel stands on the head of another one: a planned joint."""
    foot, bay = min(z for _, z in piece.outline), _bay(piece, panels)
    heads = [max(z for _, z in other.outline) for other in panels if other is not piece and _bay(other, panels) == bay]
    return foot > 0 and foot in heads


def _lapped(proof: TakeoffProof, family: PanelFamily, panels: Sequence[Piece]) -> None:
    """A panel that stands on another one laps over it, where its family may be lapped at all."""
    for piece in panels:
        laps = [item.amount_nm for item in piece.allowances if item.name == "end_lap"]
        want = [family.end_lap_nm] if _on_another(piece, panels) else []
        if laps != want or (want and not family.end_lap_nm):
            proof.add_fault(piece.mark, "its end lap is not that of a planned joint", "the catalog's lap over the panel below")


def _bevelled_by(proof: TakeoffProof, piece: Piece, family: PanelFamily) -> int | None:
    """How much higher the inside face of a top bevelled to the roof over its wall is: t tan(pitch)."""
    wall = next(wall for wall in proof.building.walls if wall.id == piece.group)
    pitches = {Fraction(plane.rise, plane.run) for plane in proof.building.roof if plane.id in wall.under_roof}
    if not family.bevel_top or len(pitches) != 1 or len({z for _, z in wall.top}) != 1:
        return None
    slope = pitches.pop()
    tilt = math.degrees(math.atan(slope)) * 1e6
    tilted = piece.head.long_face == "inside" and abs(piece.head.tilt_udeg - tilt) <= SLACK_UDEG
    return round(slope * family.thickness_nm) if tilted and max(z for _, z in piece.outline) == wall.top[0][1] else None


def _legs(
    family: PanelFamily, wall: Wall, panels: Sequence[Piece], left: PanelEnd, right: PanelEnd, first: int, last: int
) -> list[SoftRuleBroken]:
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
                    owed.append(SoftRuleBroken("leg", family.min_leg_nm, max(0, leg + inner), (opening.id,)))
    return [*owed, *_strips(family, wall.openings, bays, lambda opening: opening.id)]


def _strips(
    family: PanelFamily, openings: Sequence[Opening], bays: Sequence[tuple[int, int]], name: Callable[[Opening], str]
) -> Iterator[SoftRuleBroken]:
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
                yield SoftRuleBroken("leg", family.min_leg_nm, strip, (name(one), name(other)))


def _low_strips(
    family: PanelFamily, face: Sequence[Spot], openings: Sequence[Opening], name: Callable[[Opening], str]
) -> Iterator[SoftRuleBroken]:
    """Strips too low between an opening and the edges of its face right below and above it; none below a door."""
    sides = list(zip(face, [*face[1:], face[0]], strict=True))
    for opening in openings:
        places = {int(opening.u0_nm), int(opening.u1_nm), *(u for u, _ in face if opening.u0_nm < u < opening.u1_nm)}
        under: list[Fraction] = []
        over: list[Fraction] = []
        for u in places:
            at = [z for a, b in sides if min(a[0], b[0]) <= u <= max(a[0], b[0]) for z in _crossed(a, b, u)]
            over += [z - opening.z1_nm for z in at if z >= opening.z1_nm]
            under += [opening.z0_nm - z for z in at if z <= opening.z0_nm]
        for strip in (min(under, default=None), min(over, default=None)):
            size = 0 if strip is None else round_half_up(strip)
            if 0 < size < family.min_leg_nm:
                yield SoftRuleBroken("strip", family.min_leg_nm, size, (name(opening),))


def _crossed(a: Spot, b: Spot, u: int) -> list[Fraction]:
    """Heights at which a side of a face crosses a place: both its ends where it is upright there."""
    if a[0] == b[0]:
        return [Fraction(a[1]), Fraction(b[1])]
    return [a[1] + Fraction((b[1] - a[1]) * (u - a[0]), b[0] - a[0])]


def _clear(family: PanelFamily, openings: Sequence[Opening], joints: Sequence[int], names: object) -> list[SoftRuleBroken]:
    owed = []
    for joint in joints:
        for opening in openings:
            gap = min(abs(joint - opening.u0_nm), abs(joint - opening.u1_nm))
            if gap < family.joint_clear_nm:
                said = names(opening) if callable(names) else (opening.id,)
                owed.append(SoftRuleBroken("joint_clearance", family.joint_clear_nm, gap, said))
    return owed


def _roof_edges(
    proof: TakeoffProof, plane: str, openings: Sequence[Opening], family: PanelFamily, panels: Sequence[Piece]
) -> list[SoftRuleBroken]:
    first, last = min(min(x for x, _ in p.outline) for p in panels), max(max(x for x, _ in p.outline) for p in panels)
    owed: list[SoftRuleBroken] = []
    spans = sorted({(p.left.outside_nm, p.right.outside_nm, *_bay(p, panels)) for p in panels}, key=lambda span: span[2])
    joints = sorted({span[2] for span in spans} | {span[3] for span in spans})
    for piece in panels:
        u0, u1 = _bay(piece, panels)
        for edge, here in ((piece.left, u0 == first), (piece.right, u1 == last)):
            if not here and (edge.kind != "joint" or edge.outside_nm):
                proof.add_fault(piece.mark, "an edge in the run of its plane is cut", "a joint kept on both sides")
        cut = family.cover_nm - piece.left.outside_nm - piece.right.outside_nm
        named = total_allowance(piece, "left", "right")
        if cut - (u1 - u0) != named or cut <= 0:
            proof.add_fault(
                piece.mark,
                f"it is cut {proof.shown(cut - (u1 - u0))} wider than it stands, its allowances say {proof.shown(named)}",
                "cut less set as the sum of named allowances",
            )
        grown = [item.amount_nm for item in piece.allowances if item.name == "joint_growth"]
        if grown != ([-family.joint_growth_nm] if u1 != last and family.joint_growth_nm else []):
            proof.add_fault(
                piece.mark, "the growth of its joint is not allowed for once", "joint growth on all panels but the last"
            )
    widths = {(span[2], span[3]): family.cover_nm - span[0] - span[1] for span in spans}
    for n, (_, width) in enumerate(sorted(widths.items()), start=1):
        if width < family.narrowest_rip_nm:
            owed.append(SoftRuleBroken("narrowest_rip", family.narrowest_rip_nm, width, (f"{plane} panel {n}",)))
    inner = [joint for joint in joints if first < joint < last]
    owed += _clear(family, openings, inner, lambda opening: (f"{plane} {opening.id}",))
    for u0, u1 in sorted(widths):
        for opening in openings:
            if opening.u1_nm <= u0 or opening.u0_nm >= u1:
                continue
            for leg in (opening.u0_nm - u0, u1 - opening.u1_nm):
                if 0 < leg < family.min_leg_nm:
                    owed.append(SoftRuleBroken("leg", family.min_leg_nm, leg, (f"{plane} {opening.id}",)))
    outline = next(one.outline for one in proof.building.roof if one.id == plane)
    owed += _low_strips(family, outline, openings, lambda opening: f"{plane} {opening.id}")
    return [*owed, *_strips(family, openings, sorted(widths), lambda opening: f"{plane} {opening.id}")]


def _bay(piece: Piece, _: Sequence[Piece]) -> tuple[int, int]:
    return min(x for x, _ in piece.outline), max(x for x, _ in piece.outline)


def _compare_told(proof: TakeoffProof, owed: Sequence[SoftRuleBroken]) -> None:
    """Every soft rule seen broken is told, and nothing is told that is not so."""
    told = [item for item in proof.takeoff.broken if item.rule in ("narrowest_rip", "leg", "strip", "joint_clearance")]
    counted = Counter((item.rule, item.wanted_nm, item.got_nm, _where(item)) for item in told)
    for item in owed:
        found = next(
            (key for key in counted if key[:3] == (item.rule, item.wanted_nm, item.got_nm) and key[3] in item.names), None
        )
        if found is None:
            shown = f"{proof.shown(item.got_nm)} is under {proof.shown(item.wanted_nm)}"
            name = item.rule.replace("_", " ")
            proof.add_fault(item.names[0], f"the soft rule {name} is broken and not told: {shown}", "every broken rule listed")
            continue
        counted[found] -= 1
        if counted[found] == 0:
            del counted[found]
    for rule, _, got, where in counted:
        name = rule.replace("_", " ")
        proof.add_fault(where, f"{name} of {proof.shown(got)} is told as broken, and is not", "broken rules as they are")


def _where(item: BrokenRule) -> str:
    return item.where
