"""A change of the timetable drawn: what stays is grey, what moved has a sign by shape and its old place dashed."""

from __future__ import annotations

import itertools
import random
from collections.abc import Iterable
from dataclasses import replace

import pytest

from service.drawings.expand_shapes import expand_shapes, overlapping_texts
from service.drawings.moves import moves_drawing, newly_closed_times
from service.drawings.shapes import Drawing, Group, Hatch, Line, Polygon, Shape
from service.drawings.svg import to_svg
from solver.domain.timetable import Machine, PlannedOperation, ScheduleJob, Timetable
from solver.units import Seconds
from tests.languages import ENGLISH, LANGUAGES, Language
from tests.samples import LONG, short_timetable

ZONE = "America/Denver"


def _drawn(old: Timetable, new: Timetable, to_s: int = 2 * 86_400, language: Language = ENGLISH) -> Drawing:
    return moves_drawing(old, new, time_zone=ZONE, from_s=0, to_s=to_s, language=language)


def _changed(table: Timetable, name: str, **fields: object) -> Timetable:
    made = tuple(replace(op, **fields) if op.id == name else op for op in table.operations)  # type: ignore[arg-type]
    return replace(table, operations=made)


def _groups(drawing: Drawing) -> dict[str, tuple[Shape, ...]]:
    return {shape.name: shape.shapes for shape in drawing.shapes if isinstance(shape, Group)}


def _styles(shapes: Iterable[Shape]) -> set[str]:
    return {shape.style for shape in shapes if isinstance(shape, Polygon)}


def _signs(drawing: Drawing) -> list[tuple[tuple[float, float], ...]]:
    """Solid triangles above the legend."""
    return [
        s.points for s in drawing.shapes if isinstance(s, Polygon) and s.style == "solid" and min(y for _, y in s.points) > 0
    ]


def test_what_stays_is_grey_and_has_no_old_place() -> None:
    table = short_timetable()
    drawing = _drawn(table, table)
    groups = _groups(drawing)
    assert set(groups) == {"o1", "o2", "o3", "o4"}
    assert {style for shapes in groups.values() for style in _styles(shapes)} == {"quiet"}
    assert _signs(drawing) == []
    assert "earlier" not in to_svg(drawing)


def test_what_moved_is_outlined_and_its_old_place_dashed_where_it_was() -> None:
    table = short_timetable()
    new = _changed(table, "o1", start_s=Seconds(14_400), end_s=Seconds(17_100))
    drawing = _drawn(table, new, to_s=28_800)
    groups = _groups(drawing)
    assert _styles(groups["o1"]) == {"outline"}
    assert _styles(groups["was o1"]) == {"hidden"}
    assert _styles(groups["o2"]) == {"quiet"}
    now, was = (min(x for s in groups[name] if isinstance(s, Polygon) for x, _ in s.points) for name in ("o1", "was o1"))
    end = max(x for s in groups["was o1"] if isinstance(s, Polygon) for x, _ in s.points)
    assert was == 0
    assert now == pytest.approx(end / 2_700 * 14_400)
    lanes = [{y for s in groups[name] if isinstance(s, Polygon) for _, y in s.points} for name in ("o1", "was o1")]
    assert min(lanes[0]) > max(lanes[1])


@pytest.mark.parametrize(("start", "points_right"), [(14_400, True), (-0, False)])
def test_earlier_and_later_are_told_apart_by_the_way_the_sign_points(start: int, points_right: bool) -> None:
    table = _changed(short_timetable(), "o1", start_s=Seconds(7_200), end_s=Seconds(9_900))
    drawing = _drawn(table, _changed(table, "o1", start_s=Seconds(start), end_s=Seconds(start + 2_700)), to_s=28_800)
    (sign,) = _signs(drawing)
    xs = [x for x, _ in sign]
    tip = next(x for x in xs if xs.count(x) == 1)
    assert (tip == max(xs)) is points_right
    assert (">later<" in to_svg(drawing)) is points_right
    assert (">earlier<" in to_svg(drawing)) is not points_right


def test_another_machine_new_and_gone_have_signs_and_words_of_their_own() -> None:
    table = short_timetable()
    new = _changed(table, "o1", machine="panel-saw-1")
    new = replace(new, operations=(*(op for op in new.operations if op.id != "o2"), replace(table.operations[1], id="o7")))
    drawing, quiet = _drawn(table, new, to_s=28_800), _drawn(table, table, to_s=28_800)
    assert len(_signs(drawing)) == 2  # up and down: one sign
    crosses = [s for s in drawing.shapes if isinstance(s, Line) and s.style == "bold" and min(s.a[1], s.b[1]) > 0]
    assert len(crosses) == 4  # a plus and a cross
    for word in ("other machine", "new", "no longer there", "where it was"):
        assert f">{word}<" in to_svg(drawing), word
        assert f">{word}<" not in to_svg(quiet) or word == "where it was"
    assert "was o2" in _groups(drawing)
    assert "o2" not in _groups(drawing)


def test_a_breakdown_is_hatched_where_the_machine_was_open_before() -> None:
    table = short_timetable()
    press = table.job.machines[0]
    down = replace(press, closed=((7_200, 14_400), *press.closed))
    new = replace(table, job=replace(table.job, machines=(down, *table.job.machines[1:])))
    assert list(newly_closed_times(table, new, "press")) == [(7_200, 14_400)]
    assert list(newly_closed_times(table, new, "panel-saw-1")) == []
    assert sum(isinstance(s, Hatch) for s in _drawn(table, new).shapes) == 2  # on the press, and in the legend
    assert sum(isinstance(s, Hatch) for s in _drawn(table, table).shapes) == 0


def test_a_breakdown_into_closed_hours_is_hatched_only_in_what_was_open() -> None:
    """Down from half past one to the next noon, where the night from half past two to six was closed already."""
    table = short_timetable()
    down = Machine(id="press", closed=((27_000, 108_000),))
    new = replace(table, job=replace(table.job, machines=(down,)))
    assert list(newly_closed_times(table, new, "press")) == [(27_000, 30_600), (86_400, 108_000)]


def test_a_pause_is_a_line_between_the_boxes_not_through_them() -> None:
    """Work over the night, an hour on either side; its lettering stays free."""
    long = replace(short_timetable().operations[0], start_s=Seconds(27_000), end_s=Seconds(90_000))
    table = replace(short_timetable(), operations=(long,), deliveries=())
    shapes = _groups(_drawn(table, _changed(table, "o1", start_s=Seconds(28_800))))
    for name in ("o1", "was o1"):
        boxes = sorted([x for x, _ in shape.points] for shape in shapes[name] if isinstance(shape, Polygon))
        (line,) = [shape for shape in shapes[name] if isinstance(shape, Line)]
        assert (line.a[0], line.b[0]) == (max(boxes[0]), min(boxes[1]))


def test_a_later_plan_is_drawn_on_its_own_clock() -> None:
    """The same instants under another epoch stay grey."""
    old = short_timetable()
    moved = tuple(
        replace(op, start_s=Seconds(op.start_s - 86_400), end_s=Seconds(op.end_s - 86_400)) for op in old.operations[2:]
    )
    new = replace(old, epoch="2031-05-06T06:00:00-06:00", operations=moved)
    groups = _groups(_drawn(old, new, to_s=86_400))
    assert {name: _styles(shapes) for name, shapes in groups.items()} == {"o3": {"quiet"}, "o4": {"quiet"}}


@pytest.mark.parametrize("hours", [1, 24, 24 * 7, 24 * 30])
@pytest.mark.parametrize("language", LANGUAGES)
def test_no_lettering_or_sign_of_a_crowded_change_overlaps(hours: int, language: Language) -> None:
    """A thousand operations with the longest names, half of them moved to another time or machine, some new, some gone."""
    dice, name = random.Random(7), "a-machine-with-quite-a-long-name"
    machines = tuple(Machine(id=f"{name}-{n}", closed=((30_600, 86_400),)) for n in range(15))
    old = [
        PlannedOperation(
            id=f"j{n}/0",
            step="clean and check",
            about=f"W6|birch|white#{n:03} {LONG}"[: 8 + n % 60],
            machine=f"{name}-{n % 15}",
            start_s=Seconds(n // 15 * 900),
            end_s=Seconds(n // 15 * 900 + 60 * (1 + n % 14)),
        )
        for n in range(1_000)
    ]
    new = []
    for op in old[50:]:
        by = dice.choice((0, 0, 0, 3_600, 10_800, -900)) if op.start_s >= 900 else 0
        machine = f"{name}-{dice.randrange(15)}" if dice.random() < 0.1 else op.machine
        new.append(replace(op, start_s=Seconds(op.start_s + by), end_s=Seconds(op.end_s + by), machine=machine))
    new += [replace(op, id=f"n{op.id}") for op in old[:20]]
    job = ScheduleJob(objective="makespan", machines=machines, jobs=())
    before = replace(short_timetable(), operations=tuple(old), job=job, deliveries=())
    drawing = _drawn(before, replace(before, operations=tuple(new)), to_s=hours * 3_600, language=language)
    assert overlapping_texts(drawing) == []
    boxes = [(min(x for x, _ in sign), max(x for x, _ in sign), min(y for _, y in sign)) for sign in _signs_alone(drawing)]
    by_line: dict[float, list[tuple[float, float]]] = {}
    for left, right, bottom in boxes:
        by_line.setdefault(round(bottom, 2), []).append((left, right))
    assert any(len(line) > 3 for line in by_line.values()) or hours == 1
    for line in by_line.values():
        spans = sorted(line)
        assert all(one[1] <= two[0] + 1e-6 for one, two in itertools.pairwise(spans))


def _signs_alone(drawing: Drawing) -> list[tuple[tuple[float, float], ...]]:
    """Signs of earlier and later: solid triangles with an upright side, in no group."""
    return [points for points in _signs(drawing) if len({x for x, _ in points}) == 2]


def test_a_change_without_any_work_is_an_empty_frame() -> None:
    empty = replace(short_timetable(), operations=(), deliveries=())
    drawing = _drawn(empty, empty)
    assert _groups(drawing) == {}
    assert all(
        not isinstance(shape, Polygon) or shape.style != "outline" for shape in expand_shapes(drawing.shapes, drawing.scale)
    )
