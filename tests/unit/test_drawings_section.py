"""Sections: the wedge over a square top to scale, closed as the catalog says; foot, corners and ridge of the demo houses."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest
from shapely import Polygon as Shape

from service.drawings.expand_shapes import expand_shapes, overlapping_texts
from service.drawings.section import eave_section_drawing
from service.drawings.sections import base_section_drawing as base_drawing
from service.drawings.sections import corner_section_drawing as corner_drawing
from service.drawings.sections import ridge_section_drawing as ridge_drawing
from service.drawings.shapes import Dimension, Drawing, Polygon, Polyline, Text
from solver.documents.index import PlanIndex
from solver.documents.section_words import base_words, corner_words, ridge_words
from solver.documents.sections import base_sections, corner_sections, ridge_sections
from solver.documents.site import installation_sheets
from solver.domain.document import EaveSection
from solver.domain.plant import Plant
from solver.domain.takeoff import Takeoff
from solver.takeoff.take_off import take_off
from solver.units import INCH, MicroDeg, Nm
from tests.languages import ENGLISH, LANGUAGES, SPANISH, Language
from tests.orders import demo_building, plant
from tests.samples import demo_index

SIX_IN_TWELVE = EaveSection(
    wall_nm=Nm(6 * INCH), roof_nm=Nm(6 * INCH), rise=6, run=12, rise_nm=Nm(3 * INCH), closed_by="filler"
)


def texts(drawing: Drawing) -> list[str]:
    return [shape.text for shape in expand_shapes(drawing.shapes, drawing.scale) if isinstance(shape, Text)]


def test_the_wedge_at_6_in_12_on_a_6_in_wall_is_3_in_high_and_to_scale() -> None:
    drawing = eave_section_drawing(SIX_IN_TWELVE, unit="in")
    wedges = [shape.points for shape in drawing.shapes if isinstance(shape, Polygon) and len(shape.points) == 3]
    assert wedges == [((0.0, 0.0), (6.0 * INCH, 0.0), (6.0 * INCH, 3.0 * INCH))]
    assert {shape.text for shape in drawing.shapes if isinstance(shape, Dimension)} == {'6"', '3"'}
    assert any("filler" in text for text in texts(drawing))
    assert overlapping_texts(drawing) == []


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("by", ["filler", "closure", "bevel"])
def test_each_way_to_close_it_says_so(by: str, language: Language) -> None:
    drawing = eave_section_drawing(replace(SIX_IN_TWELVE, closed_by=by), unit="mm", language=language)  # type: ignore[arg-type]
    wedges = [shape for shape in drawing.shapes if isinstance(shape, Polygon) and len(shape.points) == 3]
    assert len(wedges) == (0 if by == "bevel" else 1)
    said = {ENGLISH: {"filler": "foam filler", "closure": "closure", "bevel": "bevelled"}}
    said[SPANISH] = {"filler": "relleno de espuma", "closure": "cierre", "bevel": "biselado"}
    assert any(said[language][by] in text for text in texts(drawing))
    assert overlapping_texts(drawing) == []


def test_installation_sheets_of_eave_walls_show_the_section_and_those_of_gables_do_not() -> None:
    """cottage-7 has a gable that runs along x at 8/12: walls N and S are eaves; 6 in at 8/12 is 4 in."""
    index = demo_index("cottage-7")
    shown = {sheet.group: sheet.eave for sheet in installation_sheets(index) if sheet.wall is not None}
    eaves = {group: eave for group, eave in shown.items() if eave is not None}
    assert set(eaves) == {"L1.N", "L1.S"}
    assert {(eave.rise_nm, eave.closed_by) for eave in eaves.values()} == {(4 * INCH, "filler")}
    closed = PlanIndex(index.plan, replace(index.plant, eave_fill="closure"))
    assert {sheet.eave.closed_by for sheet in installation_sheets(closed) if sheet.eave is not None} == {"closure"}


def house(name: str) -> tuple[Takeoff, Plant]:
    return take_off(demo_building(name), plant()), plant()


def test_a_house_has_the_sections_that_it_has() -> None:
    """cottage-7 has one kind of corner and a ridge at 8/12, ell-12 an inside corner too; workshop-3, a shed, no ridge."""
    cottage, catalog = house("cottage-7")
    (ridge,) = ridge_sections(cottage.building, catalog)
    assert {(side.rise, side.run) for side in ridge.sides} == {(2, 3)}
    assert (ridge.gap_nm, set(ridge.at)) == (INCH, {"R.S", "R.N"})
    assert [corner.at for corner in corner_sections(cottage.building, catalog)] == [("a", "b", "c", "d")]
    ell, _ = house("ell-12")
    turns = {corner.interior_udeg: corner.at for corner in corner_sections(ell.building, catalog)}
    assert turns == {90_000_000: ("a", "b", "d", "e", "f"), 270_000_000: ("c",)}
    shed, _ = house("workshop-3")
    assert ridge_sections(shed.building, catalog) == ()
    (base,) = base_sections(shed, catalog)
    assert (base.wall_nm, base.flange_nm, base.across_nm) == (4 * INCH, 2 * INCH, 2 * INCH)


def test_the_foot_is_drawn_to_scale_with_the_catalogs_parts() -> None:
    takeoff, catalog = house("cottage-7")
    (base,) = base_sections(takeoff, catalog)
    drawing = base_drawing(base, unit="in")
    channel = next(shape.points for shape in drawing.shapes if isinstance(shape, Polyline))
    assert channel[0][1] == 2 * INCH  # the flange's tip above the slab
    assert channel[2][0] - channel[1][0] == pytest.approx(6 * INCH, rel=0.02)
    assert {shape.text for shape in drawing.shapes if isinstance(shape, Dimension)} == {'6"', '3"', '2"'}
    words = base_words(base, "in", ENGLISH)
    for item in ("base channel, 18 ga", "butyl sealant", "anchor nut and washer 1/2 in", "panel screw 1/4-14 x 7 in"):
        assert item in words
    other = base_drawing(replace(base, wall_nm=Nm(8 * INCH)), unit="in")
    assert '8"' in {shape.text for shape in other.shapes if isinstance(shape, Dimension)}


@pytest.mark.parametrize("joint", ["mitred", "lapped_through", "lapped_between"])
@pytest.mark.parametrize("degrees", [60, 90, 135, 225, 270])
def test_walls_fill_their_corner_once(joint: Any, degrees: int) -> None:
    """However two walls meet, no place of the corner is in both, and the mitre halves the turn."""
    takeoff, catalog = house("cottage-7")
    (corner,) = corner_sections(takeoff.building, catalog)
    if joint != "mitred" and degrees not in (90, 270):
        return  # lapped corners are square
    drawing = corner_drawing(
        replace(corner, interior_udeg=MicroDeg(degrees * 1_000_000), joint=joint),
        unit="in",
    )
    one, other = (Shape(shape.points) for shape in drawing.shapes if isinstance(shape, Polygon))
    assert one.is_valid
    assert other.is_valid
    assert one.intersection(other).area < 1e-6 * one.area
    assert one.buffer(1).union(other.buffer(1)).geom_type == "Polygon"  # a nanometre
    assert overlapping_texts(drawing) == []
    for language in LANGUAGES:
        assert corner_words(corner, "mm", language)


@pytest.mark.parametrize("cut", ["square", "plumb"])
def test_planes_at_a_ridge_keep_the_gap_between_their_lower_faces(cut: Any) -> None:
    takeoff, catalog = house("cottage-7")
    (ridge,) = ridge_sections(takeoff.building, catalog)
    sides = tuple(replace(side, cut=cut) for side in ridge.sides)
    drawing = ridge_drawing(replace(ridge, sides=sides), unit="in")  # type: ignore[arg-type]
    foam, left, right = (shape.points for shape in drawing.shapes if isinstance(shape, Polygon))
    assert right[1][0] - left[1][0] == pytest.approx(INCH)
    wider = (right[2][0] - left[2][0]) - INCH
    assert wider == pytest.approx(0 if cut == "plumb" else 2 * 6 * INCH * 8 / math.hypot(8, 12))
    assert len(foam) == 4
    assert overlapping_texts(drawing) == []
    said = ridge_words(ridge, "in", SPANISH)
    assert "cumbrera" in said
    assert "espuma de cumbrera" in said
