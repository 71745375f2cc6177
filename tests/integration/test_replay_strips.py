"""Slitting and brake sheets of the demo plan, replayed: strips laid across the coil, blanks cut from them, parts formed."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from dataclasses import replace

import pytest

from service.printing.sheets import PlanSheets
from solver.documents.index import PlanIndex
from solver.documents.machines import brake_rows, drill_shapes, rip_rows, router_shapes, slit_sheets
from solver.documents.saw import saw_sheets
from solver.domain.document import BrakeRow, SlitSheet
from solver.domain.ids import PieceId
from tests.paper import page_count, page_text
from tests.plans import demo_plan, demo_plant
from tests.replay.compare import Paper, differences


def index() -> PlanIndex:
    return PlanIndex(demo_plan(), demo_plant())


def faults(sheets: tuple[SlitSheet, ...], rows: tuple[BrakeRow, ...], of: PlanIndex) -> list[str]:
    """What the coils do not give, and parts that are formed not once."""
    found = []
    runs: dict[int, int] = defaultdict(int)  # by width of the strip: how much there is of it
    for sheet in sheets:
        wide = {strip.id: strip.width_nm for strip in sheet.job.strips}
        for pattern in sheet.result.patterns:
            at = int(sheet.job.edge_trim_nm)  # from the left edge, one strip beside another
            for strip, count in pattern.strips.items():
                at += count * wide[strip]
                runs[wide[strip]] += count * pattern.length_nm
            if at + sheet.job.edge_trim_nm > sheet.job.coil_width_nm:
                found.append(f"{sheet.what}: a pattern reaches to {at} of {sheet.job.coil_width_nm}")
    takes: dict[int, int] = defaultdict(int)
    for row in rows:
        takes[row.blank_nm] += row.length_nm * len(row.marks)
    found += [f"strips {width} wide: {runs[width]} for {needs}" for width, needs in takes.items() if runs[width] < needs]
    formed = Counter(mark for row in rows for mark in row.marks)
    bent = {profile.id for profile in of.plant.profiles if profile.bends}
    wanted = Counter(of.name_of(one) for one in of.pieces.values() if one.material.partition("|")[0] in bent)
    return found + [f"{name} is formed {formed[name]} times" for name in {*formed, *wanted} if formed[name] != wanted[name]]


def test_the_coils_give_every_blank_and_every_bent_part_is_formed_once() -> None:
    of = index()
    sheets, rows = slit_sheets(of), brake_rows(of)
    assert len(rows) > 10
    assert len(sheets) > 1
    assert faults(sheets, rows, of) == []
    assert all(sheet.paint_up for sheet in sheets) and all(row.paint_up for row in rows)
    fewer = (replace(rows[0], marks=rows[0].marks[1:]), *rows[1:])
    assert faults(sheets, fewer, of)
    narrow = replace(sheets[0], job=replace(sheets[0].job, coil_width_nm=sheets[0].job.edge_trim_nm))
    assert faults((narrow, *sheets[1:]), rows, of)
    assert faults(sheets[1:], rows, of)


def test_the_whole_demo_plan_comes_out_of_its_paper() -> None:
    """Three orders in one plan, in cut order: each part once, on the right hand, by names that tell the orders apart."""
    of = index()
    bars = tuple(bar for sheet in saw_sheets(of) for bar in sheet.bars)
    paper = Paper(bars, rip_rows(of), (*router_shapes(of), *drill_shapes(of)))
    assert list(differences(paper, tuple(of.pieces.values()), of.plant)) == []
    names = [piece.name for bar in bars for piece in bar.pieces]
    assert len(set(names)) == len(names) == len(of.pieces)
    assert {row.name for row in paper.rips} <= set(names)
    assert all(PieceId(name) in of.pieces for name in names)


def test_bars_are_numbered_as_they_are_cut_and_sheets_name_their_machine() -> None:
    of = index()
    for sheet in saw_sheets(of):
        assert [bar.at for bar in sheet.bars] == list(range(1, len(sheet.bars) + 1))
        assert {bar.of for bar in sheet.bars} == {len(sheet.bars)}
        assert sheet.machine in {place.id for place in of.plant.workplaces}
    for part in of.plan.sequences:
        on = [of.numbers[name] for name in part.result.order]
        by_machine: dict[str, list[int]] = defaultdict(list)
        for number in on:
            by_machine[number.machine].append(number.at)
        assert all(places == sorted(places) for places in by_machine.values())


@pytest.mark.parametrize("name", ["saw", "bevel", "router", "drill", "brake"])
def test_no_sheet_of_several_orders_says_a_mark_without_its_order(name: str) -> None:
    """One bevel sheet showed L1.S-01 three times with different lengths, all "B02"."""
    pdf = PlanSheets(demo_plan(), demo_plant(), made="2031-04-28 06:00").all()[name]()
    text = " ".join(page_text(pdf, n) for n in range(page_count(pdf)))
    text = re.sub(r"\s+", "", text)
    told = {one.mark for one in index().pieces.values() if f"/{one.mark}" in text}
    assert len(told) > 3
    for mark in told:
        bare = re.findall(rf"(?<![/\w.]){re.escape(mark)}(?!\d)", text)
        assert bare == [], mark
    assert not re.findall(r"(?<![/\w])B\d\d(?!\d)", text)
