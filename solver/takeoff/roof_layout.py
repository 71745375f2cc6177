"""Where the joints of a roof plane lie: modules along the eave, the last panel ripped so that both rakes overhang alike.

A rip under the narrowest is shared by both ends. Where skylights would break soft rules, other starts are tried: fewest
broken rules by their weights, then fewest pieces, then least rip waste; a tie keeps the full panel at the first rake.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations, pairwise

from solver.domain.building import RoofPlane
from solver.domain.plant import LayoutRules, PanelFamily
from solver.domain.takeoff import BrokenRule
from solver.takeoff.wall_layout import OpeningGap, strip_between
from solver.units import Nm


@dataclass(frozen=True, slots=True)
class RoofLayout:
    """Joints from the first rake to the last, both rakes included, and the soft rules that they break."""

    joints: tuple[Nm, ...]
    broken: tuple[BrokenRule, ...]


def lay_out_roof(plane: RoofPlane, family: PanelFamily, rules: LayoutRules) -> RoofLayout:
    """Return the layout of a plane's panels: of the possible starts, the one that breaks and wastes least (case G11)."""
    choices = [RoofLayout(joints, tuple(_broken(joints, plane, family))) for joints in _choices(plane, family)]
    weights = {"narrowest_rip": rules.narrowest_rip, "leg": rules.leg, "joint_clearance": rules.joint_clearance}

    def cost(item: tuple[int, RoofLayout]) -> tuple[int, int, int]:
        order, layout = item
        return sum(weights.get(rule.rule, 0) for rule in layout.broken), len(layout.joints), order

    return min(enumerate(choices), key=cost)[1]


def cut_widths(joints: tuple[Nm, ...], family: PanelFamily) -> tuple[Nm, ...]:
    """Return the width of each panel as cut: its set width less the joint growth on its right, none at the last rake."""
    widths = [right - left for left, right in pairwise(joints)]
    return (*(Nm(width - family.joint_growth_nm) for width in widths[:-1]), Nm(widths[-1]))


def _choices(plane: RoofPlane, family: PanelFamily) -> Iterator[tuple[Nm, ...]]:
    first, last = min(x for x, _ in plane.outline), max(x for x, _ in plane.outline)
    yield from filter(None, (_from(first, last, family, family.cover_nm), _both_ends(first, last, family)))
    if plane.openings:
        yield from filter(None, (_from(first, last, family, start) for start in _starts(plane, family, first, last)))


def _starts(plane: RoofPlane, family: PanelFamily, first: int, last: int) -> Iterator[int]:
    """Widths of a first panel at which a soft rule starts or ceases to hold: narrowest ends, joints just clear of openings."""
    module = family.cover_nm + family.joint_growth_nm
    joints = [first + family.narrowest_rip_nm + family.joint_growth_nm, last - family.narrowest_rip_nm]
    for opening in plane.openings:
        clear = max(family.joint_clear_nm, family.min_leg_nm)
        joints += [opening.u0_nm - clear, opening.u1_nm + clear]
        joints += [opening.u0_nm + family.joint_clear_nm, opening.u1_nm - family.joint_clear_nm]
    for joint in joints:
        start = (joint - first - family.joint_growth_nm) % module
        if 0 < start <= family.cover_nm:
            yield start


def _from(first: int, last: int, family: PanelFamily, start: int) -> tuple[Nm, ...] | None:
    """Joints when the first panel is cut to `start`, or nothing where less than a joint would be left at the end."""
    joints, width = [first], start
    while last - joints[-1] > width:
        joints.append(joints[-1] + width + family.joint_growth_nm)
        width = family.cover_nm
    return tuple(Nm(x) for x in (*joints, last)) if joints[-1] < last else None


def _both_ends(first: int, last: int, family: PanelFamily) -> tuple[Nm, ...] | None:
    """Joints when both ends are ripped alike; the odd nanometre goes to the last."""
    module = family.cover_nm + family.joint_growth_nm
    whole = max(0, (last - first - family.joint_growth_nm) // module - 1)
    for full in range(max(0, whole - 1), whole + 2):
        left = last - first - family.joint_growth_nm - full * module
        if 0 < left <= 2 * family.cover_nm:
            joints = [first, *(first + left // 2 + family.joint_growth_nm + n * module for n in range(full + 1)), last]
            return tuple(Nm(x) for x in joints)
    return None


def _broken(joints: tuple[Nm, ...], plane: RoofPlane, family: PanelFamily) -> Iterator[BrokenRule]:
    for n, width in enumerate(cut_widths(joints, family), start=1):
        if width < family.narrowest_rip_nm:
            yield BrokenRule(
                rule="narrowest_rip", where=f"{plane.id} panel {n}", wanted_nm=family.narrowest_rip_nm, got_nm=width
            )
    for opening in plane.openings:
        for joint in joints[1:-1]:
            clear = min(abs(joint - opening.u0_nm), abs(joint - opening.u1_nm))
            where = f"{plane.id} {opening.id}"
            if clear < family.joint_clear_nm:
                yield BrokenRule(rule="joint_clearance", where=where, wanted_nm=family.joint_clear_nm, got_nm=Nm(clear))
        for left, right in pairwise(joints):
            if right <= opening.u0_nm or left >= opening.u1_nm:
                continue
            for leg in (opening.u0_nm - left, right - opening.u1_nm):
                if 0 < leg < family.min_leg_nm:
                    yield BrokenRule(rule="leg", where=f"{plane.id} {opening.id}", wanted_nm=family.min_leg_nm, got_nm=Nm(leg))
    gaps = [OpeningGap(id=o.id, start_nm=o.u0_nm, end_nm=o.u1_nm, low_nm=o.z0_nm, high_nm=o.z1_nm) for o in plane.openings]
    for one, other in combinations(gaps, 2):
        for left, right in pairwise(joints):
            strip = strip_between(one, other, left, right)
            if strip is not None and strip < family.min_leg_nm:
                yield BrokenRule(rule="leg", where=f"{plane.id} {other.id}", wanted_nm=family.min_leg_nm, got_nm=Nm(strip))
