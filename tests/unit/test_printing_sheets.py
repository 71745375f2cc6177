"""Sheets of whole orders: nothing off the page, nothing on other lettering, each page numbered and dated, cautions said."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from service.printing.sheet_pages import BODY, PAPERS_PT, TICK, Column, SheetPages, SheetSetting
from service.printing.sheets import PlanSheets, write_sheets
from solver.documents.texts import say
from solver.domain.ids import MaterialId, OrderId
from solver.domain.plan import Plan, SlitPart
from solver.domain.slit_plan import SlitJob, SlitPattern, SlitResult, StripWanted
from solver.units import MM, Nm, Unit
from tests.languages import ENGLISH, LANGUAGES, SPANISH, Language
from tests.orders import DEMOS, plant
from tests.paper import page_count, page_size, page_text, spoiled_places
from tests.samples import demo_plan

MADE = "2031-05-05 06:00"
OTHERS = ("labels", "bundle-tags")  # are not set on sheets


def papers(name: str, language: Language = ENGLISH, unit: Unit = "in") -> PlanSheets:
    return PlanSheets(demo_plan(name, unit), plant(unit), made=MADE, language=language)


def slit_part() -> SlitPart:
    strips = (
        StripWanted(id="base-6", width_nm=Nm(203 * MM), length_nm=Nm(480_000 * MM)),
        StripWanted(id="angle-2", width_nm=Nm(51 * MM), length_nm=Nm(96_000 * MM)),
    )
    return SlitPart(
        material=MaterialId("coil|18 ga"),
        job=SlitJob(unit="mm", coil_width_nm=Nm(1250 * MM), edge_trim_nm=Nm(5 * MM), strips=strips),
        result=SlitResult(
            status="optimal",
            patterns=(SlitPattern(strips={"base-6": 5, "angle-2": 4}, length_nm=Nm(96_000 * MM)),),
            steel_nm=Nm(96_000 * MM),
            lower_bound_nm=Nm(96_000 * MM),
            overrun={},
            setups=1,
            setups_lower_bound=1,
            seconds=0.0,
        ),
    )


@pytest.mark.parametrize(("name", "language", "unit"), [("cottage-7", ENGLISH, "in"), ("workshop-3", SPANISH, "mm")])
def test_no_lettering_of_any_sheet_is_spoiled(name: str, language: Language, unit: Unit) -> None:
    makers = papers(name, language, unit).all()
    for sheet in (name for name in makers if name not in OTHERS):
        pdf = makers[sheet]()
        for page in range(page_count(pdf)):
            assert spoiled_places(pdf, page) == [], (sheet, page + 1)


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_page_is_numbered_and_says_when_and_from_which_plan(language: Language) -> None:
    makers = papers("workshop-3", language).all()
    for sheet in (name for name in makers if name not in OTHERS):
        pdf = makers[sheet]()
        count = page_count(pdf)
        for page in range(count):
            text = page_text(pdf, page)
            assert say(language, "page", n=page + 1, count=count) in text
            assert MADE in text
            assert "sample-workshop-3" in text


def test_metric_orders_print_on_a4_and_inch_orders_on_letter() -> None:
    wide, high = page_size(papers("workshop-3", ENGLISH, "mm").packing())
    assert (wide, high) == pytest.approx(PAPERS_PT["A4"], abs=0.1)
    assert page_size(papers("workshop-3").packing()) == pytest.approx(PAPERS_PT["letter"], abs=0.1)
    high, wide = page_size(papers("workshop-3").weeks())
    assert (wide, high) == pytest.approx(PAPERS_PT["letter"], abs=0.1)


CAUTIONS = {
    "loads": ("49 CFR 393", "first 50 miles", "392.9", "Edge protectors"),
    "anchors": ("IRC R403.1.6", "R603.3.1", "engineer of record", "before the pour"),
    "installation-cottage-7": ("NIOSH", "Gloves", "20 mph", "engineer of record"),
    "bundles": ("29 CFR 1910.178", "spreader", "never under a band"),
    "saw": ("Guard down", "Lock out", "swarf"),
    "router": ("no over-run", "Lock out"),
    "drill": ("no gloves at a turning spindle",),
    "brake": ("Hands out of the tools",),
}


@pytest.mark.parametrize("sheet", sorted(CAUTIONS))
def test_sheets_of_dangerous_work_carry_their_caution_and_defer_to_local_code(sheet: str) -> None:
    pdf = papers("cottage-7").all()[sheet]()
    text = " ".join("".join(page_text(pdf, page) for page in range(page_count(pdf))).split())
    for words in (*CAUTIONS[sheet], "Local code, the engineer of record and licensed people decide"):
        assert words in text


def test_a_slitting_sheet_shows_each_pattern_and_its_run() -> None:
    plan = replace(demo_plan("workshop-3", "mm"), slits=(slit_part(),))
    pdf = PlanSheets(plan, plant("mm"), made=MADE).slit()
    text = page_text(pdf)
    for words in (
        "run 96000 mm",
        "5 × base channel for 152.4 mm",
        "4 × corner angle",
        "coil, 18 ga",
        "1 set-ups",
        "heat number",
    ):
        assert words in text
    assert spoiled_places(pdf) == []


def test_a_sheet_that_has_nothing_to_say_is_not_printed_and_an_old_one_goes(tmp_path: Path) -> None:
    """ "Templates: none" was a page: the workshop has no odd head, and a plan of nothing needs no paper at all."""
    (tmp_path / "templates.pdf").write_bytes(b"%PDF of the plan before")
    paths = write_sheets(
        demo_plan("workshop-3"), plant(), tmp_path, made=MADE, tell=lambda _what, _far: None, only={"templates", "saw"}
    )
    assert set(paths) == {"saw"}
    assert sorted(one.name for one in tmp_path.iterdir()) == ["saw.pdf"]


def test_a_plan_of_nothing_prints_nothing() -> None:
    plan = demo_plan("workshop-3")
    nothing = replace(plan.timetable, operations=(), deliveries=())
    empty: Plan = replace(plan, takeoffs=(), stacks=(), cuts=(), loads=(), timetable=nothing)
    made = PlanSheets(empty, plant(), made=MADE).all()
    for sheet in (name for name in made if name not in OTHERS):
        assert made[sheet]() == b"", sheet


def test_one_label_one_bundle_one_load_can_be_printed_again() -> None:
    one = papers("cottage-7")
    assert page_count(one.labels("cottage-7/L1.S-03")) == 2
    assert page_count(one.bundle_tags("cottage-7/B02")) == 1
    assert page_count(one.bundles("cottage-7/B02")) == 1
    load = one.index.plan.loads[0].result.loads[0].id
    assert load in page_text(one.loads(load))
    for make in (one.labels, one.bundle_tags, one.bundles, one.loads):
        with pytest.raises(KeyError):
            make("no-such")


def test_all_files_are_written_with_progress(tmp_path: Path) -> None:
    heard: list[tuple[str, float]] = []
    paths = write_sheets(
        demo_plan("workshop-3"), plant(), tmp_path / "new", made=MADE, tell=lambda what, far: heard.append((what, far))
    )
    assert {
        "labels",
        "bundle-tags",
        "saw",
        "bundles",
        "loads",
        "packing",
        "installation-workshop-3",
        "anchors",
        "purchase",
    } <= set(paths)
    for name, path in paths.items():
        assert path == tmp_path / "new" / f"{name}.pdf"
        assert path.read_bytes().startswith(b"%PDF")
    assert [far for _, far in heard] == sorted(far for _, far in heard)
    assert heard[-1][1] == 1.0


def test_the_longest_names_fit_every_sheet() -> None:
    plan = demo_plan("workshop-3")
    long = OrderId("an-order-with-the-longest-name-anyone-would-ever-type-2031-and-then-some")
    takeoff = plan.takeoffs[0]
    ship = replace(takeoff.building.ship_to, name="The longest name of a building site " * 3)
    marks = {piece.id: f"basement.northwest-courtyard-wall-{piece.mark}" for piece in takeoff.pieces}
    pieces = tuple(replace(piece, order=long, mark=marks[piece.id]) for piece in takeoff.pieces)
    building = replace(takeoff.building, order=long, ship_to=ship)
    stack = plan.stacks[0]
    bundles = tuple(replace(bundle, order=long) for bundle in stack.result.bundles)
    plan = replace(
        plan,
        id="f" * 64,
        takeoffs=(replace(takeoff, building=building, pieces=pieces),),
        stacks=(replace(stack, order=long, result=replace(stack.result, bundles=bundles)),),
        loads=tuple(replace(part, order=long) for part in plan.loads),
    )
    makers = PlanSheets(plan, plant(), made=MADE).all()
    for sheet in (name for name in makers if name not in OTHERS):
        pdf = makers[sheet]()
        for page in range(page_count(pdf)):
            assert spoiled_places(pdf, page) == [], (sheet, page + 1)


def test_a_table_repeats_its_titles_on_each_page_and_parts_no_row() -> None:
    sheets = SheetPages("t", SheetSetting(plan="p", made="m"))
    sheets.page("s")
    words = "one two three four five six seven eight nine ten"
    sheets.table((Column(title="Heading", share=1), Column(title="", share=1)), [(f"row {n} {words}", TICK) for n in range(90)])
    pdf = sheets.pdf()
    count = page_count(pdf)
    assert count > 2
    seen = 0
    for page in range(count):
        text = page_text(pdf, page)
        assert "Heading" in text
        assert text.count("row ") == text.count("ten")
        seen += text.count("row ")
        assert spoiled_places(pdf, page) == []
    assert seen == 90


def test_narrow_columns_are_widened_so_that_no_word_breaks() -> None:
    sheets = SheetPages("t", SheetSetting(plan="p", made="m"))
    sheets.page("s")
    sheets.table((Column(title="how-many", share=1), Column(title="rest", share=99)), [("1234567", "x " * 60)])
    text = page_text(sheets.pdf())
    assert "how-many" in text
    assert "1234567" in text


def test_sheets_are_set_in_eleven_points_and_up() -> None:
    assert BODY >= 11


@pytest.mark.parametrize("name", DEMOS)
def test_a_booklet_begins_with_where_to_begin_and_the_walls_from_above(name: str) -> None:
    """A crew with paper only had to look through all sheets for what stands first and which wall is which."""
    made = papers(name).index
    pieces = sorted(made.pieces.values(), key=lambda piece: piece.stands)
    panel = next(piece for piece in pieces if piece.is_panel)
    closing = [piece.mark for piece in pieces if piece.closing]
    on_slab = [wall.id for wall in made.plan.takeoffs[0].building.walls if wall.on_slab]
    pdf = papers(name).installation()
    text = " ".join(page_text(pdf, 0).split())
    for key, piece in (("First to stand", pieces[0]), ("First panel", panel)):
        bundle = next(
            one for part in made.plan.stacks for one in part.result.bundles for lay in one.pieces if lay.piece == piece.id
        )
        n = [lay.piece for lay in reversed(bundle.pieces)].index(piece.id) + 1
        told = f"{key}: {piece.mark}, {say(ENGLISH, piece.role)}, in bundle {bundle.id.split('/')[1]}, {n} from the top"
        assert told in text
    assert closing and f"it closes a loop: {', '.join(closing)}" in text
    for wall in on_slab:
        assert wall in text
    boxes = [one for part in made.plan.stacks for one in part.result.bundles if one.items]
    on = {placed.bundle: load.id for part in made.plan.loads for load in part.result.loads for placed in load.placed}
    assert text.count("Start box") == sum(box.id in on for box in boxes)
    for box in boxes:
        if box.id in on:
            assert f"Start box {box.id.split('/')[1]}, on truck {on[box.id].split('/')[1]}: off first" in text
    assert "Por dónde empezar" in page_text(papers(name, SPANISH).installation(), 0)
    assert text.count("start: corner") == 1
