"""The layout search tries only offsets where a rule changes: no offset of a dense sweep may beat it."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from solver.domain.plant import LayoutRules, PanelFamily
from solver.takeoff.wall_layout import OpeningGap, WallRun, lay_out_wall
from solver.units import Nm
from tests.generators.walls import metric_plant

RULES = LayoutRules()
SMALL = replace(  # a panel of 24 units, so that a sweep over every unit is the whole truth
    metric_plant().family("M"),
    cover_nm=Nm(24),
    thickness_nm=Nm(3),
    narrowest_rip_nm=Nm(6),
    min_leg_nm=Nm(3),
    joint_clear_nm=Nm(4),
    closing_nm=Nm(2),
)

Cost = tuple[int, int, int, int]


def swept(run: WallRun, family: PanelFamily) -> Cost | None:
    """Least weight of broken rules, then pieces, then shortfall, then widest first panel, over every whole width; by hand."""
    best: Cost | None = None
    cover, growth = family.cover_nm, family.joint_growth_nm
    closing = family.closing_nm if run.closes != "no" else 0
    for first in range(1, cover + 1):
        cuts, left = [first], run.length_nm + closing - first
        while left > 0:
            left -= growth
            cuts.append(min(cover, left))
            left -= cuts[-1]
            if cuts[-1] <= 0:
                break
        trial = [cuts] if all(cut > 0 for cut in cuts) and left == 0 else []
        if trial and len(cuts) > 1 and cuts[-1] == cover and run.last_inner_nm > 0:
            trial = []
        for row in trial:
            cost = cost_of(run, family, row)
            if cost is not None and (best is None or cost < best):
                best = cost
    return best


def cost_of(run: WallRun, family: PanelFamily, cuts: list[int]) -> Cost | None:
    last = len(cuts) - 1
    inner = [0] * len(cuts)
    inner[0] += run.first_inner_nm
    inner[last] += run.last_inner_nm
    if last == 0:
        low, high = min(0, -run.first_inner_nm), max(cuts[0], cuts[0] + run.last_inner_nm)
        if high - low > family.cover_nm:
            return None
    if any(max(cut, cut + more) > family.cover_nm or cut + more <= 0 for cut, more in zip(cuts, inner, strict=True)):
        return None
    closer = {"no": -1, "before_last": last - 1, "last": last}[run.closes]
    if run.closes == "before_last" and last == 0:
        return None
    edges = [0]
    for n, cut in enumerate(cuts):
        edges.append(edges[-1] + cut + (family.joint_growth_nm if n < last else 0) - (family.closing_nm if n == closer else 0))
    if any(b <= a for a, b in pairwise(edges)):
        return None
    gave = [
        (RULES.narrowest_rip, family.narrowest_rip_nm - min(cut, cut + more))
        for cut, more in zip(cuts, inner, strict=True)
        if min(cut, cut + more) < family.narrowest_rip_nm
    ]
    for gap in run.gaps:
        for joint in edges[1:-1]:
            near = min(abs(joint - gap.start_nm), abs(joint - gap.end_nm))
            if near < family.joint_clear_nm:
                gave.append((RULES.joint_clearance, family.joint_clear_nm - near))
        for n, (a, b) in enumerate(pairwise(edges)):
            if gap.end_nm <= a or gap.start_nm >= b:
                continue
            left = gap.start_nm - a, min(0, run.first_inner_nm) if n == 0 else 0
            right = b - gap.end_nm, min(0, run.last_inner_nm) if n == last else 0
            gave += [
                (RULES.leg, family.min_leg_nm - max(0, leg + inside))
                for leg, inside in (left, right)
                if leg > 0 and leg + inside < family.min_leg_nm
            ]
    return sum(weight for weight, _ in gave), len(cuts), sum(short for _, short in gave), -cuts[0]


@settings(max_examples=300, deadline=None)
@given(
    length=st.integers(20, 200),
    first=st.sampled_from([-3, 0, 3]),
    last=st.sampled_from([-3, 0, 3]),
    growth=st.integers(0, 1),
    closes=st.sampled_from(["no", "before_last", "last"]),
    spots=st.lists(st.integers(1, 199), min_size=0, max_size=6, unique=True),
)
def test_no_offset_beats_the_layout_found(
    length: int, first: int, last: int, growth: int, closes: str, spots: list[int]
) -> None:
    family = replace(SMALL, joint_growth_nm=Nm(growth))
    inside = sorted(spot for spot in spots if spot < length)
    gaps = tuple(
        OpeningGap(id=str(n), start_nm=a, end_nm=b)
        for n, (a, b) in enumerate(zip(inside[::2], inside[1::2], strict=False))
        if b - a > 1
    )
    run = WallRun(length_nm=length, first_inner_nm=first, last_inner_nm=last, gaps=gaps, closes=closes)  # type: ignore[arg-type]
    found = lay_out_wall(run, family, RULES)
    best = swept(run, family)
    if found is None:
        assert best is None
        return
    assert best is not None
    weight = sum(getattr(RULES, item.rule) for item in found.broken)
    short = sum(item.wanted_nm - item.got_nm for item in found.broken)
    assert (weight, len(found.bays)) == best[:2]
    if not weight:  # what breaks no rule is a closed interval, so its widest first panel is among the offsets tried
        assert (short, -found.bays[0].cut_nm) == best[2:]
