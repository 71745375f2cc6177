"""How a piece lies: face up, edge at the fence, end at zero, against the cases worked by hand."""

from __future__ import annotations

import itertools

import pytest

from solver.codec import schema
from solver.domain.cut_plan import TURNS, Turn
from solver.domain.lay import End, Face, Lay, Side, channel_lay
from solver.domain.plant import Lays, Plant
from solver.units import MM, Nm

FACES: tuple[Face, ...] = ("outside", "inside")
SIDES: tuple[Side, ...] = ("left", "right")
ENDS: tuple[End, ...] = ("foot", "head")
GROOVE, TONGUE = Nm(2400 * MM), Nm(3000 * MM)  # case G19: heights at the left edge and at the right one


@pytest.mark.parametrize(("up", "edge", "near", "far"), [("outside", "right", 3000, 2400), ("inside", "left", 2400, 3000)])
def test_the_two_rows_of_case_g19(up: Face, edge: Side, near: int, far: int) -> None:
    lay = Lay.of(up)
    assert (lay.fence, lay.zero) == (edge, "foot")
    assert lay.near_far(GROOVE, TONGUE) == (near * MM, far * MM)


def test_outside_up_with_the_groove_at_the_fence_and_the_foot_at_zero_is_the_mirror_image() -> None:
    """Case G19, its last sentence; in all, two of three fix the third: four ways to lie, four that nobody can lay."""
    with pytest.raises(ValueError, match="mirror image"):
        Lay(up="outside", fence="left", zero="foot")
    good = 0
    for up, fence, zero in itertools.product(FACES, SIDES, ENDS):
        try:
            lay = Lay(up=up, fence=fence, zero=zero)
        except ValueError:
            continue
        good += 1
        assert lay == Lay.of(up, zero=zero) == Lay.along(up, fence=fence)
    assert good == 4


@pytest.mark.parametrize(
    ("turn", "moves"),
    [("as_is", ""), ("end_for_end", "end edge"), ("over", "face edge"), ("over_end", "face end")],
)
def test_turns_move_what_case_g19_says_that_they_move(turn: Turn, moves: str) -> None:
    for up, zero in itertools.product(FACES, ENDS):
        lay = Lay.of(up, zero=zero)
        now = lay.turned(turn)
        assert (now.up != lay.up) == ("face" in moves)
        assert (now.fence != lay.fence) == ("edge" in moves)
        assert (now.zero != lay.zero) == ("end" in moves)
        assert now.turned(turn) == lay
    assert set(TURNS) == {"as_is", "end_for_end", "over", "over_end"}


def test_a_place_goes_where_the_hand_finds_it() -> None:
    """A window corner 300 from the groove and 900 from the foot of a panel 1200 x 3000, worked by hand."""
    size = {"width_nm": 1200, "length_nm": 3000}
    assert Lay.of("inside").place(300, 900, **size) == (900, 300)
    assert Lay.of("outside").place(300, 900, **size) == (900, 900)
    assert Lay.of("inside", zero="head").place(300, 900, **size) == (2100, 900)
    assert Lay.of("outside", zero="head").place(300, 900, **size) == (2100, 300)


def test_a_channel_is_told_by_its_web() -> None:
    """Seen in plan, outside edge near, zero left: of a base channel the open side is up, of a cap the web."""
    assert channel_lay("base_channel", "open").fence == "left"  # the outside edge
    assert channel_lay("base_channel", "web").fence == "right"
    assert channel_lay("top_cap", "web").fence == "left"
    assert channel_lay("top_cap", "open").fence == "right"
    for up in ("open", "web"):
        assert channel_lay("opening_channel", up).fence == "right"  # its web


def test_the_catalog_says_what_is_up_at_each_machine_and_the_schema_publishes_it() -> None:
    published = str(schema(Plant))
    for name in ("panel_saw", "bevel_saw", "router", "trim_saw", "drill"):
        assert f"'{name}'" in published
    lays = Lays(panel_saw="outside")
    assert lays.on_saw("wall_panel") == Lay.of("outside")
    assert lays.panel("router") == Lay.of("inside")
