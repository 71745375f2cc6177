"""Where the joints of a wall go: the start offset that breaks the fewest soft rules, then makes the fewest pieces, then
wastes the least rip, then falls least short of the rules that give, then starts with a full panel.

A run is laid from 0 in the direction of standing. Every rule starts or ceases to hold at offsets that are known exactly, and
what a rule allows is a closed interval, so that trying those offsets alone finds the least broken weight and, of that, the
fewest pieces; where no rule breaks, the widest first panel too. Nothing is sampled. Among broken layouts that are equal so far,
the best of the offsets tried is taken.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise
from typing import Literal

from solver.domain.plant import LayoutRules, PanelFamily


@dataclass(frozen=True, slots=True, kw_only=True)
class Bay:
    """One panel's place in a run: its set extent along the run, the width it is cut to, and whether it closes the loop."""

    start_nm: int
    end_nm: int
    cut_nm: int
    closing: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class OpeningGap:
    """An opening's extent along the run, and up the wall."""

    id: str
    start_nm: int
    end_nm: int
    low_nm: int = 0
    high_nm: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class BrokenSoftRule:
    """A soft rule that a layout breaks: which panel (by number from the start) or opening, what was wanted and is."""

    rule: Literal["narrowest_rip", "leg", "joint_clearance"]
    bay: int
    gap: str
    wanted_nm: int
    got_nm: int


@dataclass(frozen=True, slots=True, kw_only=True)
class WallLayout:
    """The bays of a run in order, and the soft rules they break."""

    bays: tuple[Bay, ...]
    broken: tuple[BrokenSoftRule, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WallRun:
    """A run to lay: its length on the outside face, how far the inside face reaches past either end, its openings.

    `closes`: the panel before the last, or the last, is the one that closes a loop and is cut wider by the closing allowance.
    """

    length_nm: int
    first_inner_nm: int
    last_inner_nm: int
    gaps: tuple[OpeningGap, ...] = ()
    closes: Literal["no", "before_last", "last"] = "no"


def lay_out_wall(
    run: WallRun, family: PanelFamily, rules: LayoutRules, measure: Callable[[Bay], tuple[int, int]] = lambda _: (1, 0)
) -> WallLayout | None:
    """Return the best layout of a run, or None if no row of full panels with two cut ends fits it.

    `measure` tells of a bay how many pieces it makes and how much area of blank its rip wastes.
    """
    best: tuple[tuple[int, ...], WallLayout] | None = None
    for least, offset in sorted(zip(*_least_weights(run, family, rules), strict=True)):
        if best is not None and least > best[0][0]:
            break  # all that are left break more
        bays = _bays(run, family, offset)
        if bays is None:
            continue
        broken = tuple(broken_soft_rules(run, family, bays))
        weight = sum(int(getattr(rules, item.rule)) for item in broken)
        if best is not None and weight > best[0][0]:
            continue  # measuring pieces is the dear part
        told = [measure(bay) for bay in bays]
        short = sum(item.wanted_nm - item.got_nm for item in broken)
        score = (weight, sum(count for count, _ in told), sum(waste for _, waste in told), short, -offset)
        if best is None or score < best[0]:
            best = (score, WallLayout(bays=tuple(bays), broken=broken))
    return best[1] if best else None


def _least_weights(run: WallRun, family: PanelFamily, rules: LayoutRules) -> tuple[list[int], list[int]]:
    """For every offset to try, in rising order, a weight that its layout breaks at the least; and the offsets.

    Joints lie a module apart, so that one comes too near an edge, or leaves too narrow a leg beside it, at offsets within a
    stretch that repeats with the module; all offsets are swept once over the ends of those stretches. What only the first and
    the last panel do (mitres, the joint that a closing panel moves) is left out: the weight stays a bound, nearly always met.
    """
    offsets = sorted(_offsets(run, family))
    clear, leg, growth = family.joint_clear_nm, family.min_leg_nm, family.joint_growth_nm
    module, closing = family.cover_nm + growth, family.closing_nm if run.closes != "no" else 0
    reach = max(clear, leg)
    high = (
        run.length_nm
        + closing
        - widest_face_nm(family, run.last_inner_nm)
        - reach
        + (0 if run.closes == "before_last" else module)
    )
    steps: list[tuple[int, int]] = []

    def between(first: int, last: int, weight: int) -> None:
        """Joints strictly between two places break a rule of that weight; the first joint has none before it."""
        if first <= growth:
            steps.extend(((first - growth + 1, weight), (max(first + 1, last) - growth, -weight)))
            return
        start, width = (first - growth) % module, min(last - first, module)
        for shift in (0, -module):
            steps.extend(((start + shift + 1, weight), (start + shift + width, -weight)))

    for gap in run.gaps:
        if gap.end_nm <= high:
            narrow = gap.end_nm - gap.start_nm < 2 * clear
            between(gap.start_nm - clear, (gap.end_nm if narrow else gap.start_nm) + clear, rules.joint_clearance)
            if not narrow:
                between(gap.end_nm - clear, gap.end_nm + clear, rules.joint_clearance)
            between(gap.start_nm - leg, gap.start_nm, rules.leg)
            between(gap.end_nm, gap.end_nm + leg, rules.leg)
    always = 0
    for one, other in pairwise(sorted(run.gaps, key=lambda gap: gap.start_nm)):
        level = one.low_nm < other.high_nm and other.low_nm < one.high_nm
        if level and 0 <= other.start_nm - one.end_nm < leg and (other.start_nm <= high or run.closes != "before_last"):
            always += rules.leg  # a strip too narrow between two openings, but where a joint parts them
            between(one.end_nm - 1, other.start_nm + 1, -rules.leg)
    steps.sort()
    weights, weight, at = [], always, 0
    for offset in offsets:
        while at < len(steps) and steps[at][0] <= offset:
            weight += steps[at][1]
            at += 1
        weights.append(weight)
    return weights, offsets


def widest_face_nm(family: PanelFamily, inner_nm: int) -> int:
    """Return the widest outside face that a blank gives beside one cut end."""
    return family.cover_nm - max(0, inner_nm)


def _offsets(run: WallRun, family: PanelFamily) -> list[int]:
    """Every cut width of the first panel at which some rule starts or ceases to hold, widest first."""
    most = widest_face_nm(family, run.first_inner_nm)
    growth, closing = family.joint_growth_nm, family.closing_nm if run.closes != "no" else 0
    module = family.cover_nm + growth
    rip, length = family.narrowest_rip_nm, run.length_nm + closing
    least = 1 - min(0, run.last_inner_nm)  # of the last panel: something is left on both faces
    joints = [length - size for size in (widest_face_nm(family, run.last_inner_nm), max(least, rip + least - 1), least)]
    for gap in run.gaps:
        for edge in (gap.start_nm, gap.end_nm):
            for reach in {0, family.joint_clear_nm, family.min_leg_nm}:
                joints += [edge - reach, edge + reach]
    found = {most, min(most, max(1, rip - min(0, run.first_inner_nm))), min(most, length)}
    for place in joints:
        for shift in {0, closing}:
            found.add((place + shift - growth) % module)
    return sorted((offset for offset in found if 0 < offset <= most), reverse=True)


def _bays(run: WallRun, family: PanelFamily, offset: int) -> list[Bay] | None:
    """The bays that follow from the first panel's cut width, or None if full panels leave a last one that can't be cut."""
    cover, growth = family.cover_nm, family.joint_growth_nm
    closing = family.closing_nm if run.closes != "no" else 0
    length = run.length_nm + closing
    if offset >= length:
        only = Bay(start_nm=0, end_nm=run.length_nm, cut_nm=length, closing=run.closes == "last")
        return [only] if run.closes != "before_last" and _only_fits(run, family, length) else None
    module = cover + growth
    cuts, place = [offset], offset + growth
    last_most = widest_face_nm(family, run.last_inner_nm)
    while length - place > last_most:
        cuts.append(cover)
        place += module
    if length - place <= 0 or length - place + min(0, run.last_inner_nm) <= 0:
        return None
    if offset + min(0, run.first_inner_nm) <= 0:
        return None
    cuts.append(length - place)
    closer = len(cuts) - (2 if run.closes == "before_last" else 1) if run.closes != "no" else -1
    bays, start = [], 0
    for n, cut in enumerate(cuts):
        grown = growth if n < len(cuts) - 1 else 0
        end = start + cut + grown - (closing if n == closer else 0)
        if end <= start:
            return None
        bays.append(Bay(start_nm=start, end_nm=end, cut_nm=cut, closing=n == closer))
        start = end
    return bays


def _only_fits(run: WallRun, family: PanelFamily, length: int) -> bool:
    first, last = run.first_inner_nm, run.last_inner_nm
    inside = (-first, length + last)
    return max(length, inside[1]) - min(0, inside[0]) <= family.cover_nm and inside[1] > inside[0]


def broken_soft_rules(run: WallRun, family: PanelFamily, bays: Sequence[Bay]) -> list[BrokenSoftRule]:
    """Return the soft rules that a row of bays breaks: narrowest rip on the shortest face, joint clearance, leg."""
    found = []
    held = _held(run.gaps, bays)
    for n, bay in enumerate(bays):
        inner = (run.first_inner_nm if n == 0 else 0) + (run.last_inner_nm if n == len(bays) - 1 else 0)
        shortest = bay.cut_nm + min(0, inner)
        if shortest < family.narrowest_rip_nm:
            found.append(_break("narrowest_rip", n, "", family.narrowest_rip_nm, shortest))
        found += _leg_breaks(run, family, bay, n, held[n])
    edges = sorted((edge, m) for m, gap in enumerate(run.gaps) for edge in {gap.start_nm, gap.end_nm})
    for n, bay in enumerate(bays[:-1]):
        first = bisect_left(edges, (bay.end_nm - family.joint_clear_nm, -1))
        last = bisect_right(edges, (bay.end_nm + family.joint_clear_nm, len(run.gaps)))
        for m in sorted({m for _, m in edges[first:last]}):
            gap = run.gaps[m]
            near = min(abs(bay.end_nm - gap.start_nm), abs(bay.end_nm - gap.end_nm))
            if near < family.joint_clear_nm:
                found.append(_break("joint_clearance", n, gap.id, family.joint_clear_nm, near))
    return found


def _held(gaps: Sequence[OpeningGap], bays: Sequence[Bay]) -> list[list[OpeningGap]]:
    """The openings that touch each bay, in the order given."""
    starts = [bay.start_nm for bay in bays]
    held: list[list[OpeningGap]] = [[] for _ in bays]
    for gap in gaps:
        first = max(0, bisect_right(starts, gap.start_nm) - 1)
        for n in range(first, bisect_left(starts, gap.end_nm)):
            if bays[n].end_nm > gap.start_nm:
                held[n].append(gap)
    return held


def _leg_breaks(run: WallRun, family: PanelFamily, bay: Bay, n: int, gaps: Sequence[OpeningGap]) -> list[BrokenSoftRule]:
    """Legs too narrow, on their shortest face, beside the cutouts of one panel, and strips between two of them."""
    found = []
    for gap in gaps:
        first = min(0, run.first_inner_nm) if bay.start_nm == 0 else 0
        last = min(0, run.last_inner_nm) if bay.end_nm == run.length_nm else 0
        for leg, inner in ((gap.start_nm - bay.start_nm, first), (bay.end_nm - gap.end_nm, last)):
            if leg > 0 and leg + inner < family.min_leg_nm:
                found.append(_break("leg", n, gap.id, family.min_leg_nm, max(0, leg + inner)))
    for one, other in combinations(gaps, 2):
        strip = strip_between(one, other, bay.start_nm, bay.end_nm)
        if strip is not None and strip < family.min_leg_nm:
            found.append(_break("leg", n, other.id, family.min_leg_nm, strip))
    return found


def strip_between(one: OpeningGap, other: OpeningGap, start: int, end: int) -> int | None:
    """Return how wide the strip is that two openings leave between them within one panel, or None where they leave none.

    Side by side it is upright, one above the other level; openings that are apart both ways leave no strip.
    """
    if min(one.end_nm, other.end_nm) <= start or max(one.start_nm, other.start_nm) >= end:
        return None
    aside = max(one.start_nm, other.start_nm) - min(one.end_nm, other.end_nm)
    above = max(one.low_nm, other.low_nm) - min(one.high_nm, other.high_nm)
    if aside >= 0 > above:
        return aside
    shared = min(one.end_nm, other.end_nm, end) > max(one.start_nm, other.start_nm, start)
    return above if above >= 0 and shared else None


def _break(
    rule: Literal["narrowest_rip", "leg", "joint_clearance"], bay: int, gap: str, wanted: int, got: int
) -> BrokenSoftRule:
    return BrokenSoftRule(rule=rule, bay=bay, gap=gap, wanted_nm=wanted, got_nm=got)
