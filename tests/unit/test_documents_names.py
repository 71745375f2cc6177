"""Names that people read, from the catalog, and no id of a program on any paper, in a summary or a picture."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from service.contracts.plans import ProofLine
from service.printing.sheets import OF_TIMES, PlanSheets
from service.reports.summary import plan_summary
from service.reports.tables import plan_tables
from service.stations.views import is_proved_best
from solver.documents.index import PlanIndex
from solver.documents.names import ThingNames, stock_source_words
from solver.documents.numbering import BarNumber
from solver.domain.ids import BarId
from solver.domain.plan import SequencePart
from solver.domain.sequence import SequenceJob, SequenceResult
from solver.plan_parts import part_claim
from solver.units import INCH
from tests.languages import ENGLISH, LANGUAGES, SPANISH, Language
from tests.orders import plant
from tests.paper import page_count, page_text
from tests.samples import demo_plan

BAR = BarId("W4|barn|white#003")
IDS = re.compile(r"\w\|\w|#\d{3}")


@pytest.mark.parametrize(
    ("about", "english", "spanish"),
    [
        ("W6|birch|white", "6 in wall, birch outside", "muro de 6 in, birch por fuera"),
        ("W4|barn|white", "4 in wall, barn outside", "muro de 4 in, barn por fuera"),
        ("W4|barn|slate", "4 in wall, barn outside, slate inside", "muro de 4 in, barn por fuera, slate por dentro"),
        ("W4|white|white", "4 in wall, white both faces", "muro de 4 in, white por ambas caras"),
        ("R6|slate|white|window 2", "6 in roof, slate outside, due window 2", "techo de 6 in, slate por fuera, plazo 2"),
        ("lot 3 W6|birch|white", "lot 3, 6 in wall, birch outside", "lote 3, muro de 6 in, birch por fuera"),
        ("base-6", "base channel for 6 in", "canal de base para 6 in"),
        ("angle-2|slate", "corner angle, slate", "ángulo de esquina, slate"),
        ("panel-saw 152400000 window 2", "6 in panels, due window 2", "paneles de 6 in, plazo 2"),
        ("panel-saw 101600000", "4 in panels", "paneles de 4 in"),
        ("26 ga|slate", "26 ga coil, slate", "bobina 26 ga, slate"),
        (BAR, "bar 53, 4 in wall, barn outside", "barra 53, muro de 4 in, barn por fuera"),
        ("cottage-7/B03", "cottage-7/B03", "cottage-7/B03"),
        ("gone|birch|white", "gone, birch, white", "gone, birch, white"),
    ],
)
def test_things_are_called_as_the_catalog_calls_them(about: str, english: str, spanish: str) -> None:
    numbers = {str(BAR): BarNumber("panel-saw-1", 53, 60)}
    assert ThingNames(plant(), ENGLISH, numbers).of(about) == english
    assert ThingNames(plant(), SPANISH, numbers).of(about) == spanish


def test_a_bar_is_numbered_as_the_saw_counts_or_not_at_all() -> None:
    assert ThingNames(plant()).of(BAR) == "4 in wall, barn outside"


def test_a_plant_s_own_name_and_its_unit_count_and_two_are_never_called_alike() -> None:
    families = tuple(replace(one, name="cold store wall") if one.id == "W6" else one for one in plant().families)
    assert ThingNames(replace(plant(), families=families)).of("W6|birch|white") == "cold store wall, birch outside"
    assert ThingNames(plant("mm")).of("W6|birch|white") == "152.4 mm wall, birch outside"
    twin = replace(plant().family("W6"), id="W6X")
    two = ThingNames(replace(plant(), families=(*plant().families, twin)))
    assert (two.of("W6|birch|white"), two.of("W6X|birch|white")) == (
        "6 in wall (W6), birch outside",
        "6 in wall (W6X), birch outside",
    )


def test_no_two_materials_of_a_catalog_share_a_name() -> None:
    colours = plant().colours
    panels = [f"{one.id}|{a}|{b}" for one in plant().families for a in colours for b in colours]
    trims = [f"{one.id}|{a}" if one.coloured else one.id for one in plant().profiles for a in colours]
    every = set(panels) | set(trims)
    assert len({ThingNames(plant()).of(one) for one in every}) == len(every)


def test_stock_is_said_in_the_shop_s_lengths() -> None:
    assert stock_source_words("made 27 ft", 324 * INCH, "in", ENGLISH) == "made to 27' 0\""
    assert stock_source_words("rack 12 ft (2)", 144 * INCH, "mm", SPANISH) == "del estante, 3657.6 mm"
    assert stock_source_words("R-17", 144 * INCH, "in", ENGLISH) == "R-17"


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_sheet_prints_an_id_or_a_decimal_foot(language: Language) -> None:
    plan = demo_plan("cottage-7")
    bar = plan.cuts[0].bars[0]
    work = [replace(one, about=bar.id, bars=(bar.id,)) if one.step == "cut" else one for one in plan.timetable.operations]
    plan = replace(plan, timetable=replace(plan.timetable, operations=tuple(work)))
    made = PlanSheets(plan, plant(), made="now", language=language).all()
    for name in ("saw", "bevel", "router", "brake", "purchase", "labels", *OF_TIMES):
        pdf = made[name]()
        text = "\n".join(page_text(pdf, page) for page in range(page_count(pdf)))
        assert IDS.findall(text) == [], name
        assert re.findall(r"\d\.\d\d in\b|\d\.\d{3,}", text.replace("1910.178", "")) == [], name
    words = "6 in wall, birch outside" if language is ENGLISH else "muro de 6 in, birch por fuera"
    pdf = made["saw"]()
    assert any(words in page_text(pdf, page) for page in range(page_count(pdf)))


def test_the_summary_and_the_tables_say_names() -> None:
    plan = demo_plan("cottage-7")
    warning = "L1.S-02 is 354.00 in long: over the 288.00 in that two forks handle, lift with a spreader"
    warned = replace(plan, takeoffs=tuple(replace(one, warnings=(warning,)) for one in plan.takeoffs))
    assert "L1.S-02 is 29' 6\" long: over the 24' 0\" that two forks handle" in plan_summary(warned, plant())
    said = plan_summary(plan, plant())
    assert IDS.findall(said) == []
    assert "6 in wall, birch outside" in said
    frames = plan_tables(plan, plant())
    assert set(frames["pieces"]["material name"]) == {ThingNames(plant()).of(one) for one in frames["pieces"]["material"]}
    assert all(IDS.findall(name) == [] for name in frames["bars"]["bar name"])
    numbers = PlanIndex(plan, plant()).numbers
    for row in frames["bars"].to_dict("records"):
        assert row["bar name"].startswith(f"bar {numbers[row['bar']].at}, ")


def test_cannot_be_better_is_said_only_where_value_and_bound_are_one() -> None:
    """A cut order whose value is 5 and whose bound is 4 was called the best."""
    result = SequenceResult(status="optimal", order=(), open=5, lower_bound=4, seconds=0.0)
    part = SequencePart(machine="panel-saw", job=SequenceJob(bars=()), result=result)
    claim = part_claim(part)
    assert (claim.status, claim.value, claim.bound) == ("feasible", 5.0, 4.0)
    assert part_claim(replace(part, result=replace(result, lower_bound=5))).status == "optimal"
    line = ProofLine(stage="sequence", about="panel-saw", status="optimal", value=5.0, lower_bound=4.0, checked=True)
    assert not is_proved_best(line)
    assert is_proved_best(replace(line, lower_bound=5.0))
