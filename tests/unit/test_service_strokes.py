"""Where the blade goes on a bar: by hand, by chance, and the page against the saw sheets."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.contracts.floor import SawStroke
from service.usecases.ask.rows import FloorRows
from service.usecases.ask.strokes import saw_strokes_by_piece
from solver.documents.index import PlanIndex
from solver.documents.saw import bar_cuts, saw_sheets
from solver.domain.cut_plan import Bar, BarPiece, CutPlan
from solver.domain.ids import BarId, MaterialId, StockId
from solver.domain.piece import EdgeCut, Piece
from solver.domain.plan import Plan
from solver.domain.timetable import ScheduleJob, ScheduleResult, Timetable
from solver.nesting.assign import assign_pieces, nesting_jobs
from solver.nesting.nest import nest
from solver.search import Search
from solver.takeoff.take_off import take_off
from solver.units import INCH, MM, Nm
from tests.orders import demo_building, plant
from tests.samples import panel

KERF = Nm(INCH // 8)
WIDTH = Nm(48 * INCH)
Slot = tuple[tuple[int, int], tuple[int, int]]  # where a piece's near and far end cross the fence edge and the far edge


def strokes(slots: list[Slot], bar: int) -> list[list[SawStroke]]:
    """The strokes of panels alike in these slots, as the plant lays them."""
    pieces: dict[str, Piece] = {}
    placed = []
    for n, ((near_a, near_b), (far_a, far_b)) in enumerate(slots):
        piece = replace(panel(mark=f"p-{n:02}"), left=EdgeCut(kind="joint"))
        pieces[piece.id] = piece
        edges = {"edge_a": (Nm(near_a), Nm(far_a)), "edge_b": (Nm(near_b), Nm(far_b))}
        placed.append(BarPiece(piece=piece.id, turn="as_is", **edges))  # type: ignore[arg-type]
    whole = Bar(
        id=BarId("b"), material=MaterialId("W6"), stock=StockId("s"), length_nm=Nm(bar), drop_nm=Nm(0), pieces=tuple(placed)
    )
    cuts = bar_cuts(plant(), whole, pieces, kerf_nm=KERF)
    made = saw_strokes_by_piece(cuts, {slot.piece: slot.edge_a[0] for slot in placed})
    return [list(made.get(slot.piece, ())) for slot in placed]


def lines(slots: list[Slot], bar: int) -> list[list[tuple[int, int, str]]]:
    return [[(one.fence_nm, one.far_nm, one.frees) for one in mine] for mine in strokes(slots, bar)]


def test_a_piece_that_is_the_whole_bar_needs_no_cut() -> None:
    assert lines([((0, 0), (100, 100))], 100) == [[]]


def test_two_square_pieces_a_kerf_apart_share_the_cut_between_them() -> None:
    far = 96 * INCH
    start = far + KERF
    assert lines([((0, 0), (far, far)), ((start, start), (start + far, start + far))], 300 * INCH) == [
        [(far, far, "piece")],
        [(start + far, start + far, "piece")],
    ]


def test_two_leaning_pieces_share_a_cut_where_they_lie_a_kerf_square_to_it_apart() -> None:
    """kerf / cos(lean) along the bar (case G6): at 45 degrees a kerf of 1/8 in takes 0.17678 in."""
    along = round(KERF * math.sqrt(2))
    far = (96 * INCH, 144 * INCH)  # leans by the bar's own width: 45 degrees
    near = (far[0] + along, far[1] + along)
    made = lines([((0, 0), far), (near, (near[0] + 96 * INCH, near[1] + 48 * INCH))], 500 * INCH)
    assert [len(mine) for mine in made] == [1, 1]
    apart = 2 * along  # more than the blade takes: a wedge stays, and takes a cut of its own
    near = (far[0] + apart, far[1] + apart)
    made = lines([((0, 0), far), (near, (near[0] + 96 * INCH, near[1] + 48 * INCH))], 500 * INCH)
    assert [len(mine) for mine in made] == [1, 2]


def test_the_end_is_trimmed_first_and_a_wedge_between_two_pieces_is_taken_off() -> None:
    half = INCH // 2
    first = ((half, half), (96 * INCH, 100 * INCH))
    second = ((101 * INCH, 101 * INCH), (150 * INCH, 150 * INCH))
    assert lines([first, second], 200 * INCH) == [
        [(half, half, "end"), (96 * INCH, 100 * INCH, "piece")],
        [(101 * INCH, 101 * INCH, "waste"), (150 * INCH, 150 * INCH, "piece")],
    ]


@pytest.mark.parametrize(("offset", "degrees"), [(0, 0.0), (WIDTH, 45.0), (-WIDTH, -45.0), (INCH, 1.193489)])
def test_the_swing_is_the_angle_from_square(offset: int, degrees: float) -> None:
    (mine,) = strokes([((0, 0), (96 * INCH, 96 * INCH + offset))], 500 * INCH)
    assert mine[0].swing_udeg == round(degrees * 1_000_000)


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
        slots.append((near, far))
        at = max(far)
    made = strokes(slots, at + 1_000_000)
    flat = [stroke for mine in made for stroke in mine]
    assert [stroke.fence_nm for stroke in flat] == sorted(stroke.fence_nm for stroke in flat)
    assert sum(stroke.from_last_nm for stroke in flat) <= flat[-1].fence_nm
    for (_, far), mine in zip(slots, made, strict=True):
        assert (mine[-1].fence_nm, mine[-1].far_nm) == far
        assert mine[-1].frees == "piece"


def cut_only(name: str) -> Plan:
    """A demo order taken off and nested, quickly and without the rest."""
    catalog, search = plant(), Search(seed=1, workers=1, left_s=lambda: 0.0)
    takeoff = take_off(demo_building(name), catalog)
    cuts = []
    for material, job in nesting_jobs(takeoff.pieces, catalog, catalog.stated_stock):
        mine = tuple(piece for piece in takeoff.pieces if piece.material == material)
        result = nest(replace(job, time_limit_s=0.1), search)
        cuts.append(CutPlan(material=material, job=job, result=result, bars=assign_pieces(material, job, result, mine)))
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
    """The page's rows come by way of the store's contract, the sheet's from the plan: every line of every bar agrees."""
    plan, catalog = cut_only("workshop-3"), plant()
    rows = FloorRows(plan, catalog)
    page = {
        bar.id: [(one.fence_nm, one.far_nm, one.swing_udeg, one.tilt_udeg) for cut in bar.cuts for one in cut.strokes]
        for bar in rows.bars()
    }
    bars = [bar for sheet in saw_sheets(PlanIndex(plan, catalog)) for bar in sheet.bars]
    paper = {one.bar.id: [(cut.near_nm, cut.far_nm, cut.lean_udeg, cut.tilt_udeg) for cut in one.cuts] for one in bars}
    assert page == paper
    assert sum(len(cuts) for cuts in page.values()) > 50
    assert sum(1 for cuts in page.values() for cut in cuts if cut[3]) > 5
