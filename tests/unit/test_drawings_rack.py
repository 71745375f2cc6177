"""The drawing of yield against rack slots: every way a dot, numbered as the table, nothing lettered twice in one place."""

from __future__ import annotations

import re

import pytest

from service.drawings.expand_shapes import overlapping_texts
from service.drawings.rack import rack_drawing
from service.drawings.svg import to_svg
from solver.domain.rack import RackCurve, RackPoint
from tests.languages import ENGLISH, LANGUAGES, Language


def curve(*ways: tuple[float, int], slots: int | None, chosen: int = 0) -> RackCurve:
    """A curve of (cost, slots), cheapest first."""
    points = []
    for n, (cost, wait) in enumerate(ways):
        best = all(wait < other for _, other in ways[:n])
        points.append(RackPoint(id=f"by {n}", bundles=n, cost=cost, slots=wait, lower_bound=0, open=3, bars=(), best=best))
    return RackCurve(stacks=(), slots=slots, open_max=6, chosen=f"by {chosen}", points=tuple(points))


CURVES = {
    "one way": curve((100.0, 0), slots=None),
    "no slots in the rack": curve((100.0, 3), (101.0, 1), slots=0),
    "many in one place": curve(*[(100.0 + n / 1000, 4) for n in range(8)], slots=4),
    "many slots": curve((1e6, 240), (1.02e6, 120), (1.5e6, 7), slots=100, chosen=2),
    "nothing costs anything": curve((0.0, 2), (0.0, 1), slots=2, chosen=1),
}


@pytest.mark.parametrize("name", CURVES)
@pytest.mark.parametrize("language", LANGUAGES)
def test_every_way_is_a_dot_with_its_number_and_no_letters_meet(name: str, language: Language) -> None:
    drawing = rack_drawing(CURVES[name], language=language)
    assert overlapping_texts(drawing) == []
    svg = to_svg(drawing)
    assert svg.count("<circle") == len(CURVES[name].points)
    assert svg.count('class="d-solid"') == 1
    for n in range(1, len(CURVES[name].points) + 1):
        assert re.search(rf'font-size="13"[^>]*>{n}<', svg), n
    assert ("rack holds" in svg) == (language is ENGLISH and CURVES[name].slots is not None)
