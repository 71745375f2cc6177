"""The timetable drawn: lateness by shape, set-ups, holds, a machine day by day, and no lettering over another."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import pytest

from service.drawings.expand_shapes import expand_shapes, overlapping_texts
from service.drawings.shapes import Drawing, Group, Hatch, Line, Polygon, Polyline, Shape, Text
from service.drawings.svg import to_svg
from service.drawings.timetable import machine_drawing, timetable_drawing
from solver.domain.timetable import Link, Machine, PlannedOperation, ScheduleJob
from solver.units import Seconds
from tests.languages import ENGLISH, LANGUAGES, Language
from tests.samples import LONG, short_timetable


def _styles(shapes: Iterable[Shape], style: str) -> int:
    return sum(1 for shape in shapes if isinstance(shape, Polygon) and shape.style == style)


def _of(drawing: Drawing, name: str) -> tuple[Shape, ...]:
    return next(shape.shapes for shape in drawing.shapes if isinstance(shape, Group) and shape.name == name)


def test_a_timetable_shows_lateness_by_shape() -> None:
    """The late order's last work has a heavy outline and a triangle; the legend says what they mean."""
    table = short_timetable()
    late = timetable_drawing(table, time_zone="America/Denver")
    fine = timetable_drawing(replace(table, deliveries=()), time_zone="America/Denver")
    assert [_styles(_of(late, name), "bold") for name in ("o1", "o2", "o3", "o4")] == [0, 0, 0, 1]
    assert [_styles(_of(late, name), "solid") for name in ("o3", "o4")] == [0, 1]
    assert (
        _styles(expand_shapes(fine.shapes, fine.scale), "bold") == _styles(expand_shapes(fine.shapes, fine.scale), "solid") == 0
    )
    assert "makes a delivery late" in to_svg(late) and "makes a delivery late" not in to_svg(fine)
    assert overlapping_texts(late) == overlapping_texts(fine) == []
    assert "Tue 6" in to_svg(late)


def test_the_chain_of_a_late_delivery_is_joined_from_work_to_work() -> None:
    table = short_timetable()
    chain = tuple(Link(operation=name, waits_for="job") for name in ("o1", "o2", "o4"))
    late = replace(table.deliveries[0], chain=chain)
    drawing = timetable_drawing(replace(table, deliveries=(late,)), time_zone="America/Denver")
    assert [_styles(_of(drawing, name), "bold") for name in ("o1", "o2", "o3", "o4")] == [1, 1, 0, 1]
    joins = [shape for shape in drawing.shapes if isinstance(shape, Polyline) and shape.style == "edge"]
    assert len(joins) == 2
    ends = [max(at[0] for at in _box(_of(drawing, name))) for name in ("o1", "o2")]
    assert [join.points[0][0] for join in joins] == pytest.approx(ends)
    other = timetable_drawing(
        replace(table, deliveries=(late,)), time_zone="America/Denver", late=replace(late, chain=chain[:1])
    )
    assert [_styles(_of(other, name), "bold") for name in ("o1", "o2", "o4")] == [1, 0, 0]


def test_the_chains_of_many_late_deliveries_are_marked_but_not_joined() -> None:
    """The lines of three chains would hide the work; one that is picked is joined."""
    table = short_timetable()
    chain = tuple(Link(operation=name, waits_for="job") for name in ("o1", "o2", "o4"))
    late = tuple(replace(table.deliveries[0], delivery=f"D{n}", chain=chain) for n in range(3))
    many = replace(table, deliveries=late)
    drawing = timetable_drawing(many, time_zone="America/Denver")
    assert [_styles(_of(drawing, name), "bold") for name in ("o1", "o2", "o3", "o4")] == [1, 1, 0, 1]
    assert not any(isinstance(shape, Polyline) for shape in drawing.shapes)
    picked = timetable_drawing(many, time_zone="America/Denver", late=late[1])
    assert sum(isinstance(shape, Polyline) for shape in picked.shapes) == 2


def _box(shapes: Sequence[Shape]) -> Sequence[tuple[float, float]]:
    return next(shape.points for shape in shapes if isinstance(shape, Polygon) and shape.style == "outline")


def test_set_ups_are_hatched_before_the_work_and_holds_dashed_behind_it() -> None:
    table = short_timetable()
    first, second, *others = table.operations
    changed = (replace(first, hold_s=Seconds(7_200)), replace(second, setup_s=Seconds(1_200)), *others)
    drawing = timetable_drawing(replace(table, operations=changed), time_zone="America/Denver", to_s=20_000)
    hatch = next(shape for shape in _of(drawing, "o2") if isinstance(shape, Hatch))
    assert max(x for x, _ in hatch.points) == pytest.approx(min(x for x, _ in _box(_of(drawing, "o2"))))
    hold = next(shape for shape in _of(drawing, "o1") if isinstance(shape, Line))
    assert hold.a[0] == pytest.approx(max(x for x, _ in _box(_of(drawing, "o1"))))
    assert (hold.b[0] - hold.a[0]) / (hold.a[0] - 0.0) == pytest.approx(7_200 / 2_700)
    assert "set-up" in to_svg(drawing) and "glue or core sets" in to_svg(drawing)


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_machine_is_drawn_day_by_day_over_its_hours(language: Language) -> None:
    table = short_timetable()
    drawing = machine_drawing(table, "panel-saw-1", time_zone="America/Denver", days=2, language=language)
    names = [shape.name for shape in drawing.shapes if isinstance(shape, Group)]
    assert names == ["o3", "o4"]
    svg = to_svg(drawing)
    assert (">Mon 5<" in svg and ">Tue 6<" in svg) if language is ENGLISH else (">lun 5<" in svg and ">mar 6<" in svg)
    assert ">7:00<" in svg
    assert overlapping_texts(drawing) == []


def test_work_that_pauses_overnight_is_framed_there_and_boxed_where_it_runs() -> None:
    """From 13:30 to 15:30 of work, an hour before closing and an hour the next morning."""
    long = PlannedOperation(
        id="o9", step="cut", about="b", machine="press", start_s=Seconds(27_000), end_s=Seconds(86_400 + 3_600)
    )
    table = replace(short_timetable(), operations=(long,), deliveries=())
    shapes = _of(timetable_drawing(table, time_zone="America/Denver", from_s=0, to_s=2 * 86_400), "o9")
    boxes = [sorted(x for x, _ in shape.points) for shape in shapes if isinstance(shape, Polygon) and shape.style == "outline"]
    frame = next(shape for shape in shapes if isinstance(shape, Polygon) and shape.style == "thin")
    assert len(boxes) == 2
    assert boxes[0][-1] - boxes[0][0] == pytest.approx(boxes[1][-1] - boxes[1][0])
    assert (min(x for x, _ in frame.points), max(x for x, _ in frame.points)) == pytest.approx((boxes[0][0], boxes[1][-1]))
    day = _of(machine_drawing(table, "press", time_zone="America/Denver", days=2), "o9")
    assert _styles(day, "outline") == 1


@pytest.mark.parametrize("hours", [1, 24, 24 * 7, 24 * 60])
@pytest.mark.parametrize("language", LANGUAGES)
def test_no_lettering_of_a_crowded_timetable_overlaps(hours: int, language: Language) -> None:
    """A thousand operations on fifteen machines with the longest names, seen for an hour, a day, a week and two months."""
    name = "a-machine-with-quite-a-long-name"
    machines = tuple(Machine(id=f"{name}-{n}", closed=((30_600, 86_400),)) for n in range(15))
    work = tuple(
        PlannedOperation(
            id=f"j{n}/0",
            step="clean and check",
            about=f"W6|birch|white#{n:03} {LONG}"[: 8 + n % 60],
            machine=f"{name}-{n % 15}",
            start_s=Seconds(n // 15 * 900),
            end_s=Seconds(n // 15 * 900 + 60 * (n % 14)),
            setup_s=Seconds(120),
            hold_s=Seconds(3_600 * (n % 3)),
        )
        for n in range(1_000)
    )
    table = replace(
        short_timetable(), operations=work, job=ScheduleJob(objective="makespan", machines=machines, jobs=()), deliveries=()
    )
    drawing = timetable_drawing(table, time_zone="America/Denver", from_s=0, to_s=hours * 3_600, language=language, now_s=1_800)
    assert overlapping_texts(drawing) == []
    above = {shape.at[1] for shape in drawing.shapes if isinstance(shape, Text) and shape.text.endswith(":00")}
    assert len(above) <= 1  # hours stand in one line: those without room are left out


def test_closed_hours_are_shaded() -> None:
    drawing = timetable_drawing(short_timetable(), time_zone="America/Denver")
    shaded = [shape for shape in drawing.shapes if isinstance(shape, Polygon) and shape.style == "shade"]
    assert len(shaded) == 2  # the first night, on both machines; the second begins after all work


def test_work_too_narrow_to_be_told_apart_is_one_box_and_none_is_lost() -> None:
    """A week of 6,000 operations: a few hundred boxes, which tell how many operations each stands for."""
    table = short_timetable()
    work = tuple(
        PlannedOperation(
            id=f"n{n}",
            order="o",
            step="cut",
            about=f"bar {n}",
            machine="press",
            start_s=Seconds(n * 100),
            end_s=Seconds(n * 100 + 80),
        )
        for n in range(6_000)
    )
    crowded = replace(table, operations=work, deliveries=())
    drawing = timetable_drawing(crowded, time_zone="America/Denver", from_s=0, to_s=7 * 86_400)
    told = [shape.title or "" for shape in drawing.shapes if isinstance(shape, Group) and shape.name.startswith("n")]
    assert 0 < len(told) < 300
    assert sum(int(text.partition(":")[0]) if ": " in text else 1 for text in told) == len(work)
    wide = replace(table, operations=work[:3], deliveries=())
    fine = timetable_drawing(wide, time_zone="America/Denver", from_s=0, to_s=3_600)
    assert sum(isinstance(shape, Group) and shape.name.startswith("n") for shape in fine.shapes) == 3
