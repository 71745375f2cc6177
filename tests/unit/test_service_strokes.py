"""Where the blade goes on a bar: by hand, by chance, and against the saw sheets that are made by other code."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.usecases.ask.rows import FloorRows
from service.usecases.ask.strokes import UPRIGHT, strokes_of, swing_udeg
from solver.documents.index import PlanIndex
from solver.documents.saw import saw_sheets
from solver.domain.cut_plan import CutPlan
from solver.domain.plan import Plan
from solver.domain.timetable import ScheduleJob, ScheduleResult, Timetable
from solver.nesting.assign import assign, jobs_for
from solver.nesting.nest import nest
from solver.search import Search
from solver.takeoff.take_off import take_off
from solver.units import INCH, MM, MicroDeg, Nm
from tests.orders import demo_building, plant

KERF = Nm(INCH // 8)
WIDTH = Nm(48 * INCH)


def slot(near: tuple[int, int], far: tuple[int, int]) -> tuple[tuple[Nm, Nm], tuple[Nm, Nm]]:
    return (Nm(near[0]), Nm(near[1])), (Nm(far[0]), Nm(far[1]))


def lines(slots: list[tuple[tuple[Nm, Nm], tuple[Nm, Nm]]], bar: int) -> list[list[tuple[int, int, str]]]:
    made = strokes_of(slots, bar_nm=Nm(bar), width_nm=WIDTH, kerf_nm=KERF)
    return [[(one.fence_nm, one.far_nm, one.frees) for one in strokes] for strokes in made]


def test_a_piece_that_is_the_whole_bar_needs_no_cut() -> None:
    assert lines([slot((0, 0), (100, 100))], 100) == [[]]


def test_two_square_pieces_a_kerf_apart_share_the_cut_between_them() -> None:
    far = 96 * INCH
    start = far + KERF
    assert lines([slot((0, 0), (far, far)), slot((start, start), (start + far, start + far))], 300 * INCH) == [
        [(far, far, "piece")],
        [(start + far, start + far, "piece")],
    ]


def test_two_leaning_pieces_share_a_cut_where_they_lie_a_kerf_square_to_it_apart() -> None:
    """kerf / cos(lean) along the bar (case G6): at 45 degrees a kerf of 1/8 in takes 0.17678 in."""
    along = round(KERF * math.sqrt(2))
    far = (96 * INCH, 144 * INCH)  # leans by the bar's own width: 45 degrees
    near = (far[0] + along, far[1] + along)
    made = lines([slot((0, 0), far), slot(near, (near[0] + 96 * INCH, near[1] + 48 * INCH))], 500 * INCH)
    assert [len(strokes) for strokes in made] == [1, 1]
    apart = KERF  # a plain kerf is too little for a blade at 45 degrees: not one cut
    near = (far[0] + apart, far[1] + apart)
    made = lines([slot((0, 0), far), slot(near, (near[0] + 96 * INCH, near[1] + 48 * INCH))], 500 * INCH)
    assert [len(strokes) for strokes in made] == [1, 2]


def test_the_end_is_trimmed_first_and_a_wedge_between_two_pieces_is_taken_off() -> None:
    half = INCH // 2
    first = slot((half, half), (96 * INCH, 100 * INCH))
    second = slot((101 * INCH, 101 * INCH), (150 * INCH, 150 * INCH))
    assert lines([first, second], 200 * INCH) == [
        [(half, half, "end"), (96 * INCH, 100 * INCH, "piece")],
        [(101 * INCH, 101 * INCH, "waste"), (150 * INCH, 150 * INCH, "piece")],
    ]


@pytest.mark.parametrize(("offset", "degrees"), [(0, 0.0), (WIDTH, 45.0), (-WIDTH, -45.0), (INCH, 1.193489)])
def test_the_swing_is_the_angle_from_square(offset: int, degrees: float) -> None:
    assert swing_udeg(Nm(offset), WIDTH) == round(degrees * 1_000_000)


@given(
    st.lists(
        st.tuples(
            st.integers(0, 50 * MM), st.integers(0, 50 * MM), st.integers(1, 3000 * MM), st.integers(-200 * MM, 200 * MM)
        ),
        min_size=1,
        max_size=12,
    )
)
def test_strokes_never_go_back_and_the_last_one_of_a_piece_is_its_far_end(parts: list[tuple[int, int, int, int]]) -> None:
    at, slots = 0, []
    for gap, lean, long, head in parts:
        near = (at + gap, at + gap + lean)
        far = (max(near) + 200 * MM + long, max(near) + 200 * MM + long + head)
        slots.append(slot(near, far))
        at = max(far)
    made = strokes_of(slots, bar_nm=Nm(at + 1), width_nm=WIDTH, kerf_nm=KERF)
    flat = [stroke for strokes in made for stroke in strokes]
    assert [stroke.fence_nm for stroke in flat] == sorted(stroke.fence_nm for stroke in flat)
    for (_, far), strokes in zip(slots, made, strict=True):
        assert (strokes[-1].fence_nm, strokes[-1].far_nm) == far
        assert strokes[-1].frees == "piece"


def cut_only(name: str) -> Plan:
    """A demo order taken off and nested, quickly and without the rest."""
    catalog, search = plant(), Search(seed=1, workers=1, left_s=lambda: 0.0)
    takeoff = take_off(demo_building(name), catalog)
    cuts = []
    for material, job in jobs_for(takeoff.pieces, catalog):
        mine = tuple(piece for piece in takeoff.pieces if piece.material == material)
        result = nest(replace(job, time_limit_s=0.1), search)
        cuts.append(CutPlan(material=material, job=job, result=result, bars=assign(material, job, result, mine)))
    nothing = ScheduleResult(status="optimal", objective=0, lower_bound=0, operations=(), seconds=0.0)
    table = Timetable(
        epoch="2031-05-05T06:00:00-06:00",
        job=ScheduleJob(objective="makespan", machines=(), jobs=()),
        result=nothing,
        operations=(),
        deliveries=(),
    )
    return Plan(
        status="feasible",
        id="cut-only",
        unit="in",
        plant=catalog.id,
        takeoffs=(takeoff,),
        stacks=(),
        cuts=tuple(cuts),
        sequences=(),
        slits=(),
        timetable=table,
        loads=(),
        proofs=(),
        lower_bound=0.0,
        cost=0.0,
        seconds=0.0,
    )


def test_the_saws_page_and_the_saw_sheet_say_the_same_cuts() -> None:
    """Two independent ways from a plan to its cuts must agree on every line of every bar."""
    plan, catalog = cut_only("workshop-3"), plant()
    rows = FloorRows(catalog)
    for takeoff in plan.takeoffs:
        rows.take_pieces(takeoff)
    for cut in plan.cuts:
        rows.take_bars(cut)
    page = {
        bar.id: [(one.fence_nm, one.far_nm, one.swing_udeg, one.tilt_udeg) for cut in bar.cuts for one in cut.strokes]
        for bar in rows.bars()
    }
    bars = [bar for sheet in saw_sheets(PlanIndex(plan, catalog)) for bar in sheet.bars]
    paper = {one.bar.id: [(cut.near_nm, cut.far_nm, cut.lean_udeg, cut.tilt_udeg) for cut in one.cuts] for one in bars}
    assert page == paper
    assert sum(len(cuts) for cuts in page.values()) > 50
    assert sum(1 for cuts in page.values() for cut in cuts if cut[3]) > 5


def test_a_tilted_blade_makes_two_ends_only_where_one_longer_face_is_up_and_the_other_down() -> None:
    far, tilt = 96 * INCH, MicroDeg(14_036_243)
    start = far + KERF
    slots = [slot((0, 0), (far, far)), slot((start, start), (start + far, start + far))]
    for next_up, many in ((False, [1, 1]), (True, [1, 2])):
        tilts = [(UPRIGHT, (tilt, True)), ((tilt, next_up), UPRIGHT)]
        made = strokes_of(slots, bar_nm=Nm(300 * INCH), width_nm=WIDTH, kerf_nm=KERF, tilts=tilts)
        assert [len(strokes) for strokes in made] == many
        assert made[0][0].tilt_udeg == tilt
