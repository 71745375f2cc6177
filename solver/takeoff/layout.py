"""Where the joints of a wall go: the start offset that breaks the fewest soft rules, then makes the fewest pieces, then
wastes the least rip, then falls least short of the rules that give, then starts with a full panel.

A run is laid from 0 in the direction of standing. Every rule starts or ceases to hold at offsets that are known exactly, and
what a rule allows is a closed interval, so that trying those offsets alone finds the least broken weight and, of that, the
fewest pieces; where no rule breaks, the widest first panel too. Nothing is sampled. Among broken layouts that are equal so far,
the best of the offsets tried is taken.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations
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
class Gap:
    """An opening's extent along the run, and up the wall."""

    id: str
    start_nm: int
    end_nm: int
    low_nm: int = 0
    high_nm: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Break:
    """A soft rule that a layout breaks: which panel (by number from the start) or opening, what was wanted and is."""

    rule: Literal["narrowest_rip", "leg", "joint_clearance"]
    bay: int
    gap: str
    wanted_nm: int
    got_nm: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """The bays of a run in order, and the soft rules they break."""

    bays: tuple[Bay, ...]
    broken: tuple[Break, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """A run to lay: its length on the outside face, how far the inside face reaches past either end, its openings.

    `closes`: the panel before the last, or the last, is the one that closes a loop and is cut wider by the closing allowance.
    """

    length_nm: int
    first_inner_nm: int
    last_inner_nm: int
    gaps: tuple[Gap, ...] = ()
    closes: Literal["no", "before_last", "last"] = "no"


def lay_out(
    run: Run, family: PanelFamily, rules: LayoutRules, measure: Callable[[Bay], tuple[int, int]] = lambda _: (1, 0)
) -> Layout | None:
    """Return the best layout of a run, or None if no row of full panels with two cut ends fits it.

    `measure` tells of a bay how many pieces it makes and how much area of blank its rip wastes.
    """
    best: tuple[tuple[int, ...], Layout] | None = None
    for offset in _offsets(run, family):
        bays = _bays(run, family, offset)
        if bays is None:
            continue
        broken = tuple(breaks(run, family, bays))
        weight = sum(int(getattr(rules, item.rule)) for item in broken)
        if best is not None and weight > best[0][0]:
            continue  # measuring pieces is the dear part
        told = [measure(bay) for bay in bays]
        short = sum(item.wanted_nm - item.got_nm for item in broken)
        score = (weight, sum(count for count, _ in told), sum(waste for _, waste in told), short, -offset)
        if best is None or score < best[0]:
            best = (score, Layout(bays=tuple(bays), broken=broken))
    return best[1] if best else None


def widest(family: PanelFamily, inner_nm: int) -> int:
    """Return the widest outside face that a blank gives beside one cut end."""
    return family.cover_nm - max(0, inner_nm)


def _offsets(run: Run, family: PanelFamily) -> list[int]:
    """Every cut width of the first panel at which some rule starts or ceases to hold, widest first."""
    most = widest(family, run.first_inner_nm)
    growth, closing = family.joint_growth_nm, family.closing_nm if run.closes != "no" else 0
    module = family.cover_nm + growth
    rip, length = family.narrowest_rip_nm, run.length_nm + closing
    least = 1 - min(0, run.last_inner_nm)  # of the last panel: something is left on both faces
    joints = [length - size for size in (widest(family, run.last_inner_nm), max(least, rip + least - 1), least)]
    for gap in run.gaps:
        for edge in (gap.start_nm, gap.end_nm):
            for reach in {0, family.joint_clear_nm, family.min_leg_nm}:
                joints += [edge - reach, edge + reach]
    found = {most, min(most, max(1, rip - min(0, run.first_inner_nm))), min(most, length)}
    for place in joints:
        for shift in {0, closing}:
            found.add((place + shift - growth) % module)
    return sorted((offset for offset in found if 0 < offset <= most), reverse=True)


def _bays(run: Run, family: PanelFamily, offset: int) -> list[Bay] | None:
    """The bays that follow from the first panel's cut width, or None if full panels leave a last one that can't be cut."""
    cover, growth = family.cover_nm, family.joint_growth_nm
    closing = family.closing_nm if run.closes != "no" else 0
    length = run.length_nm + closing
    if offset >= length:
        only = Bay(start_nm=0, end_nm=run.length_nm, cut_nm=length, closing=run.closes == "last")
        return [only] if run.closes != "before_last" and _only_fits(run, family, length) else None
    module = cover + growth
    cuts, place = [offset], offset + growth
    last_most = widest(family, run.last_inner_nm)
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


def _only_fits(run: Run, family: PanelFamily, length: int) -> bool:
    first, last = run.first_inner_nm, run.last_inner_nm
    inside = (-first, length + last)
    return max(length, inside[1]) - min(0, inside[0]) <= family.cover_nm and inside[1] > inside[0]


def breaks(run: Run, family: PanelFamily, bays: Sequence[Bay]) -> list[Break]:
    """Return the soft rules that a row of bays breaks: narrowest rip on the shortest face, joint clearance, leg."""
    found = []
    for n, bay in enumerate(bays):
        inner = (run.first_inner_nm if n == 0 else 0) + (run.last_inner_nm if n == len(bays) - 1 else 0)
        shortest = bay.cut_nm + min(0, inner)
        if shortest < family.narrowest_rip_nm:
            found.append(_break("narrowest_rip", n, "", family.narrowest_rip_nm, shortest))
        found += _leg_breaks(run, family, bay, n)
    for n, bay in enumerate(bays[:-1]):
        for gap in run.gaps:
            near = min(abs(bay.end_nm - gap.start_nm), abs(bay.end_nm - gap.end_nm))
            if near < family.joint_clear_nm:
                found.append(_break("joint_clearance", n, gap.id, family.joint_clear_nm, near))
    return found


def _leg_breaks(run: Run, family: PanelFamily, bay: Bay, n: int) -> list[Break]:
    """Legs too narrow, on their shortest face, beside the cutouts of one panel, and strips between two of them."""
    found = []
    for gap in run.gaps:
        if gap.end_nm <= bay.start_nm or gap.start_nm >= bay.end_nm:
            continue
        first = min(0, run.first_inner_nm) if bay.start_nm == 0 else 0
        last = min(0, run.last_inner_nm) if bay.end_nm == run.length_nm else 0
        for leg, inner in ((gap.start_nm - bay.start_nm, first), (bay.end_nm - gap.end_nm, last)):
            if leg > 0 and leg + inner < family.min_leg_nm:
                found.append(_break("leg", n, gap.id, family.min_leg_nm, max(0, leg + inner)))
    for one, other in combinations(run.gaps, 2):
        strip = strip_between(one, other, bay.start_nm, bay.end_nm)
        if strip is not None and strip < family.min_leg_nm:
            found.append(_break("leg", n, other.id, family.min_leg_nm, strip))
    return found


def strip_between(one: Gap, other: Gap, start: int, end: int) -> int | None:
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


def _break(rule: Literal["narrowest_rip", "leg", "joint_clearance"], bay: int, gap: str, wanted: int, got: int) -> Break:
    return Break(rule=rule, bay=bay, gap=gap, wanted_nm=wanted, got_nm=got)
