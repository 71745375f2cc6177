"""Hardware: quantities by the catalog's rates, packs whole over the building, each line traced to its rule."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from solver.domain.ids import GroupId
from solver.domain.plant import HardwareRule
from solver.domain.takeoff import Anchor, HardwareLine
from solver.takeoff.hardware import count_hardware
from solver.takeoff.roof_trims import roof_trims
from solver.takeoff.roofs import roof_pieces
from solver.units import Nm
from tests.generators.roof_planes import building_of, demo_plant, gable_plane


def lines_for(rule: HardwareRule) -> tuple[HardwareLine, ...]:
    shape = {"length": 12_000, "run_mm": 5000, "eave": 500, "rake": 500}
    south = gable_plane(plane_id="R.S", a=(0, 0), b=(12_000, 0), **shape)
    north = gable_plane(plane_id="R.N", a=(12_000, 10_000), b=(0, 10_000), **shape)
    building = building_of(south, north)
    plant = replace(demo_plant(), hardware=(rule,))
    pieces = [piece for slope in building.roof for piece in roof_pieces(slope, building, plant)]
    anchors = [Anchor(id=f"a{n}", wall=GroupId("L1.S"), along_nm=Nm(n), across_nm=Nm(0), why="spacing") for n in range(11)]
    return count_hardware(building, plant, [*pieces, *roof_trims(building, plant)], anchors)


def rule(per: str, rate: float, pack: int) -> HardwareRule:
    return HardwareRule(item="screw", per=per, rate=rate, pack=pack, why="four a panel end")  # type: ignore[arg-type]


def test_roof_screws_count_both_ends_of_every_panel() -> None:
    """13,000 mm of ridge is 13 panels of 42 in on each slope; two ends each, four screws an end."""
    lines = lines_for(rule("roof_panel_end", 4, 250))
    assert [(line.group, line.quantity) for line in lines] == [("R.S", 104), ("R.N", 104)]
    assert [line.packs for line in lines] == [1, 0]
    assert {line.why for line in lines} == {"four a panel end"}


def test_packs_add_up_to_the_total_rounded_up_once() -> None:
    lines = lines_for(rule("roof_panel_end", 4, 100))
    assert [line.packs for line in lines] == [2, 1]


def test_ridge_closures_follow_the_ridge_once() -> None:
    lines = lines_for(rule("ridge_m", 1.9, 20))
    assert [line.quantity for line in lines] == [-(-Fraction(13) * Fraction("1.9") // 1)]


def test_sealant_follows_every_joint_between_panels_once() -> None:
    """12 joints of 6.3509 m on each slope, a tube a metre here: 152.42 m, rounded up once."""
    lines = lines_for(rule("panel_joint_m", 1, 1))
    assert [line.quantity for line in lines] == [77, 76]


def test_anchor_nuts_match_the_anchors() -> None:
    lines = lines_for(rule("anchor", 1, 50))
    assert [(line.quantity, line.packs, line.group) for line in lines] == [(11, 1, "L1.S")]
