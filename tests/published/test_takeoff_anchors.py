"""Anchor bolts against the published code, IRC R403.1.6 (read; for wood plates: steel track is R603.3.1 or the engineer's)."""

from __future__ import annotations

from dataclasses import replace

import pytest

from solver.takeoff.anchors import ChannelSection, section_bolts
from solver.units import FOOT, INCH, Nm
from tests.generators.walls import box, demo_plant, walls_of

WALL = walls_of(box(9000, 9000), family="W6")[0]
COUNTS = {4: 2, 8: 2, 10: 3, 14: 3, 16: 4, 20: 4, 24: 5, 30: 6, 40: 8}  # feet: bolts, computed from the rule with ends at 12 in


@pytest.mark.parametrize(("feet", "count"), COUNTS.items())
def test_fewest_bolts_that_the_code_allows(feet: int, count: int) -> None:
    """R403.1.6: 6 ft apart at most, two a section at least; count = max(2, ceil((L - 24) / 72) + 1)."""
    rules = replace(demo_plant().anchors, spacing_nm=Nm(6 * FOOT))
    assert len(section_bolts(ChannelSection(wall=WALL, start_nm=0, end_nm=feet * FOOT), rules)) == count


@pytest.mark.parametrize(("inches", "count"), [(96, 2), (97, 3), (168, 3), (169, 4)])
def test_an_inch_over_six_feet_takes_another_bolt(inches: int, count: int) -> None:
    rules = replace(demo_plant().anchors, spacing_nm=Nm(6 * FOOT))
    assert len(section_bolts(ChannelSection(wall=WALL, start_nm=0, end_nm=inches * INCH), rules)) == count


@pytest.mark.parametrize(("sections", "count"), [((8,), 2), ((5, 3), 4), ((14,), 3), ((9, 5), 5), ((14, 4), 5)])
def test_a_door_or_splice_splits_the_plate_and_bolts_are_counted_by_section(sections: tuple[int, ...], count: int) -> None:
    rules = replace(demo_plant().anchors, spacing_nm=Nm(6 * FOOT))
    found = [len(section_bolts(ChannelSection(wall=WALL, start_nm=0, end_nm=feet * FOOT), rules)) for feet in sections]
    assert sum(found) == count
    assert min(found) >= 2


@pytest.mark.parametrize(("eighths", "least"), [(4, 3.5), (5, 4.375), (6, 5.25)])
def test_least_end_distance_is_seven_diameters(eighths: int, least: float) -> None:
    """R403.1.6: 1/2 in 3.5, 5/8 in 4.375, 3/4 in 5.25; seen on a section too short for ends of 12 in."""
    rules = replace(demo_plant().anchors, diameter_nm=Nm(eighths * INCH // 8))
    length = round((3 * least + 0.5) * INCH)
    places = [place for place, _ in section_bolts(ChannelSection(wall=WALL, start_nm=0, end_nm=length), rules)]
    assert len(places) == 2
    assert places[0] >= least * INCH and length - places[1] >= least * INCH
