"""Piece drawings show the shape that is cut and the one that stands, each named, and the closing panel's trim."""

from __future__ import annotations

import pytest

from service.drawings.expand_shapes import expand_shapes, overlapping_texts
from service.drawings.piece import piece_drawing
from service.drawings.shapes import Dimension, Drawing, Line, Polygon, Text
from solver.domain.cut_shape import cut_outline
from solver.domain.piece import Piece
from solver.reading.read_order import read_order
from solver.takeoff.take_off import take_off
from solver.units import INCH
from tests.languages import LANGUAGES, SPANISH, Language
from tests.orders import box, plant, with_gable


def closing(direction: str) -> Piece:
    """The closing panel of a box under a gable of 45 degrees along x; begun so that a gable wall comes last."""
    order = with_gable(box(), pitch="45 deg")
    order["start"] = {"corner": "a" if direction == "ccw" else "b", "direction": direction}
    takeoff = take_off(read_order(order, plant()), plant())
    return next(piece for piece in takeoff.pieces if piece.closing)


def texts(drawing: Drawing) -> list[str]:
    return [shape.text for shape in expand_shapes(drawing.shapes, drawing.scale) if isinstance(shape, Text)]


@pytest.mark.parametrize(("direction", "side"), [("ccw", 1), ("cw", -1)])
def test_the_closing_panels_strip_and_lip_are_drawn_to_scale_on_the_side_away_from_the_start(direction: str, side: int) -> None:
    """48 in of blank: 1 in to trim less 1/32 in of joint; the lip is as deep as the tongue, 1 in, from where it stands."""
    piece = closing(direction)
    drawing = piece_drawing(piece, unit="in")
    stands = max(u for u, _ in piece.outline) - min(u for u, _ in piece.outline)
    assert stands == 48 * INCH + INCH // 32 - INCH
    strip = next(shape.points for shape in drawing.shapes if isinstance(shape, Polygon) and shape.style == "shade")
    edge, outer = (stands, stands + INCH - INCH // 32) if side == 1 else (0, -INCH + INCH // 32)
    assert {x for x, _ in strip} == {edge, outer}
    lips = [shape for shape in drawing.shapes if isinstance(shape, Line) and shape.style == "hidden"]
    assert [shape.a[0] for shape in lips] == [edge - side * INCH]
    assert overlapping_texts(drawing) == []
    widths = [shape.text for shape in drawing.shapes if isinstance(shape, Dimension) and shape.a[1] == shape.b[1]]
    assert "4' 0\"" in widths  # what the saw makes, not what stands
    said = " | ".join(texts(drawing))
    assert "cut 4' 0\" wide, stands 3' 11 1/16\"" in said
    assert 'closing +1"' in said and '\u22121/32"' in said
    assert "trimmed on site" in said and 'inside lip relieved 1"' in said


@pytest.mark.parametrize("language", LANGUAGES)
def test_long_words_are_parted_so_that_the_drawing_keeps_its_lettering(language: Language) -> None:
    """Half a page is 255 points wide; what is wider is set smaller, and 11 points became 7."""
    drawing = piece_drawing(closing("ccw"), unit="in", room_pt=(255.0, 250.0), language=language)
    assert drawing.width_pt <= 255.0
    assert overlapping_texts(drawing) == []


def test_the_slope_goes_on_at_its_pitch_over_the_strip() -> None:
    piece = closing("ccw")
    head = [(u, z) for u, z in cut_outline(piece) if z > 0]
    (u0, z0), (u1, z1) = min(head), max(head)
    assert u1 - u0 == 48 * INCH
    assert abs(abs(z1 - z0) - 48 * INCH) <= 1


def test_every_other_panel_names_both_widths_too() -> None:
    takeoff = take_off(read_order(box(), plant()), plant())
    plain = next(p for p in takeoff.pieces if p.role == "wall_panel" and not p.closing and p.allowances)
    said = " | ".join(texts(piece_drawing(plain, unit="mm", language=SPANISH)))
    assert "montado" in said and "holgura de junta" in said
