"""What leaves the timetable: calendars that another program reads back, CSV, and what each machine does in a week."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import icalendar
import openpyxl
import pytest

from service.reports.calendars import machine_calendar
from service.reports.cells import escape_formula
from service.reports.machines import machine_list
from service.reports.tables import plan_tables, write_tables
from service.reports.timetable import COLUMNS, timetable_csv, write_timetable
from solver.documents.index import PlanIndex
from solver.documents.names import ThingNames
from solver.documents.saw import saw_sheets
from solver.domain.ids import BarId, OrderId
from solver.domain.timetable import Lateness, Link, PlannedOperation, Timetable
from solver.units import Seconds
from tests.languages import SPANISH
from tests.orders import plant
from tests.samples import demo_plan, short_timetable

NAMES = ThingNames(plant())
MADE = datetime.fromisoformat("2031-05-02T16:10:00-06:00")
EPOCH = datetime.fromisoformat("2031-05-05T06:00:00-06:00")
HARD = 'señal; de "prueba", larga\\ y\nmás 窓 larga todavía, para que la línea tenga que doblarse en más de un lugar'


def table() -> Timetable:
    """The sample with one operation whose texts hold all that must be escaped, one without length, and a hold."""
    short = short_timetable()
    first, second, *others = short.operations
    first = replace(first, about=HARD, bars=(BarId("W6|birch|white#001"), BarId("W6|birch|white#002")), hold_s=Seconds(86_400))
    second = replace(second, end_s=second.start_s, setup_s=Seconds(900))
    return replace(short, operations=(first, second, *others))


def events(text: str) -> list[icalendar.Event]:
    return list(icalendar.Calendar.from_ical(text).walk("VEVENT"))


@pytest.mark.parametrize("machine", ["press", "panel-saw-1"])
def test_a_calendar_is_read_back_by_another_program(machine: str) -> None:
    """Read by the package icalendar: each operation once, times in UTC, texts as they were."""
    read = events(machine_calendar(table(), machine, plant="p1", made=MADE))
    wanted = [one for one in table().operations if one.machine == machine]
    assert len(read) == len(wanted) == 2
    for event, one in zip(read, wanted, strict=True):
        assert event.errors == []
        assert event.decoded("DTSTART") == (EPOCH + timedelta(seconds=one.start_s)).astimezone(UTC)
        assert event.decoded("DTSTART").tzinfo is not None
        assert ("DTEND" in event) == (one.end_s > one.start_s)
        if "DTEND" in event:
            assert event.decoded("DTEND") == (EPOCH + timedelta(seconds=one.end_s)).astimezone(UTC)
        assert str(event["SUMMARY"]).endswith(one.about)
        assert str(event["LOCATION"]) == machine
    calendar = icalendar.Calendar.from_ical(machine_calendar(table(), machine, plant="p1", made=MADE))
    assert (str(calendar["VERSION"]), str(calendar["CALSCALE"])) == ("2.0", "GREGORIAN") and "PRODID" in calendar


def test_what_an_event_tells_besides() -> None:
    first, second = events(machine_calendar(table(), "press", plant="p1", made=MADE))
    assert str(first["DESCRIPTION"]).split("\n") == [
        "Order cottage-7",
        "Bars W6|birch|white#001, W6|birch|white#002",
        "Sets after: 1 d, in closed hours too",
    ]
    assert "Set-up before: 15 min" in str(second["DESCRIPTION"])
    spanish = events(machine_calendar(table(), "press", plant="p1", made=MADE, language=SPANISH))
    assert str(spanish[1]["SUMMARY"]).startswith("laminar ") and "Pedido cottage-7" in str(spanish[0]["DESCRIPTION"])


def test_lines_are_folded_at_75_octets_and_end_in_carriage_return_and_line_feed() -> None:
    """RFC 5545, 3.1: no line over 75 octets without its break, no character cut in two; unfolding gives the lines back."""
    raw = machine_calendar(table(), "press", plant="p1", made=MADE).encode()
    assert raw.endswith(b"END:VCALENDAR\r\n")
    assert b"\n" not in raw.replace(b"\r\n", b"") and b"\r" not in raw.replace(b"\r\n", b"")
    lines = raw.split(b"\r\n")[:-1]
    assert max(len(line) for line in lines) <= 75
    assert sum(len(line) > 70 for line in lines) >= 2
    for line in lines:
        line.decode("utf-8")
    unfolded = raw.replace(b"\r\n ", b"").decode().split("\r\n")[:-1]
    content = re.compile(r'[A-Za-z0-9-]+(;[A-Za-z0-9-]+=("[^"]*"|[^";:,]*))*:[^\x00-\x08\x0a-\x1f\x7f]*')  # 3.1: contentline
    assert [line for line in unfolded if not content.fullmatch(line)] == []
    texts = [line.partition(":")[2] for line in unfolded if line.startswith(("SUMMARY", "DESCRIPTION", "LOCATION", "NAME"))]
    text = re.compile(r"(?:[^\\;,]|\\[\\;,n])*")  # 3.3.11: what must be escaped is
    assert texts and [value for value in texts if not text.fullmatch(value)] == []
    stamps = [line for line in unfolded if line.startswith("DT")]
    assert stamps and all(re.fullmatch(r"DT(STAMP|START|END):\d{8}T\d{6}Z", line) for line in stamps)


def test_the_same_work_keeps_its_id_in_a_later_plan_and_its_number_grows() -> None:
    """RFC 5545, 3.8.4.7 (UID: one event, one id, always), 3.8.7.4 (SEQUENCE grows with each change), 3.8.7.2 (DTSTAMP)."""
    first = events(machine_calendar(table(), "press", plant="p1", made=MADE))
    work = tuple(replace(op, start_s=Seconds(op.start_s + 3_600), end_s=Seconds(op.end_s + 3_600)) for op in table().operations)
    later = replace(table(), operations=work)
    second = events(machine_calendar(later, "press", plant="p1", made=MADE + timedelta(days=1), sequence=1))
    assert [str(event["UID"]) for event in first] == [str(event["UID"]) for event in second]
    assert len({str(event["UID"]) for event in first}) == len(first) == 2
    assert [int(event["SEQUENCE"]) for event in (*first, *second)] == [0, 0, 1, 1]
    for one, two in zip(first, second, strict=True):
        assert two.decoded("DTSTART") - one.decoded("DTSTART") == timedelta(hours=1)
        assert one.decoded("DTSTAMP") == MADE
        assert two.decoded("DTSTAMP") == MADE + timedelta(days=1)
        assert one.decoded("DTSTAMP").utcoffset() == timedelta(0)


def test_an_event_that_goes_to_another_machine_keeps_its_id() -> None:
    moved = tuple(replace(op, machine="panel-saw-1") if op.id == "o1" else op for op in table().operations)
    there = events(machine_calendar(replace(table(), operations=moved), "panel-saw-1", plant="p1", made=MADE, sequence=1))
    before = events(machine_calendar(table(), "press", plant="p1", made=MADE))
    assert str(before[0]["UID"]) in {str(event["UID"]) for event in there}


def test_work_that_nobody_does_any_more_is_cancelled_under_its_old_id() -> None:
    """RFC 5545, 3.8.1.11 (STATUS) and 3.8.7.4: the entry that was imported before is told again, with a higher number."""
    old = table().operations[0]
    before = events(machine_calendar(table(), "press", plant="p1", made=MADE))
    later = replace(table(), operations=table().operations[1:])
    after = events(machine_calendar(later, "press", plant="p1", made=MADE, sequence=1, gone=[old]))
    told = [(str(event["UID"]), str(event.get("STATUS", "")), int(event["SEQUENCE"])) for event in after]
    assert told == [(str(before[1]["UID"]), "", 1), (str(before[0]["UID"]), "CANCELLED", 1)]
    assert "CANCELLED" not in machine_calendar(later, "panel-saw-1", plant="p1", made=MADE, sequence=1, gone=[old])


def test_two_plants_and_two_calls_do_not_mix_their_ids() -> None:
    made = machine_calendar(table(), "press", plant="p1", made=MADE)
    assert machine_calendar(table(), "press", plant="p1", made=MADE) == made
    ids = {str(event["UID"]) for event in events(made)}
    assert not ids & {str(event["UID"]) for event in events(machine_calendar(table(), "press", plant="p2", made=MADE))}


def test_each_event_has_once_what_the_standard_asks_for_once() -> None:
    """RFC 5545, 3.6.1: UID and DTSTAMP are required, these properties occur at most once; without METHOD, DTSTART too."""
    long_name = "a plant with quite a long name, accents (señal) and a comma; 2031"
    for event in events(machine_calendar(table(), "press", plant=long_name, made=MADE)):
        names = [str(name) for name, _ in event.property_items(recursive=False) if name not in ("BEGIN", "END")]
        assert len(names) == len(set(names))
        assert {"UID", "DTSTAMP", "DTSTART", "SEQUENCE"} <= set(names)
        assert str(event["UID"]).isascii() and len(f"UID:{event['UID']}") <= 75


def test_the_csv_holds_every_operation_in_the_plants_own_time() -> None:
    late = Lateness(
        order="ell-12",
        delivery="D1",
        due_s=Seconds(0),
        done_s=Seconds(96_600),
        late_s=Seconds(96_600),
        chain=(Link(operation="o3", waits_for="start"),),
    )
    text = timetable_csv(replace(table(), deliveries=(late,)), NAMES)
    rows = list(csv.DictReader(io.StringIO(text.removeprefix("\ufeff"))))
    assert tuple(rows[0]) == COLUMNS
    assert len(rows) == 4
    by_about = {row["about"]: row for row in rows}
    assert by_about[HARD]["from"] == "2031-05-05T06:00:00-06:00"
    assert by_about[HARD]["to"] == "2031-05-05T06:45:00-06:00"
    assert by_about[HARD]["work min"] == "45.0" and by_about[HARD]["sets after h"] == "24.0"
    assert by_about["lot 2"]["set-up min"] == "15.0"
    assert by_about["W6 bar 1"]["makes late"] == "ell-12 D1"
    assert [row["machine"] for row in rows] == ["press", "press", "panel-saw-1", "panel-saw-1"]


def test_a_plans_folder_holds_the_csv_and_a_calendar_for_each_machine_that_works(tmp_path: Path) -> None:
    files = write_timetable(table(), NAMES, tmp_path, made=MADE)
    assert sorted(path.name for path in files["calendars"].iterdir()) == ["panel-saw-1.ics", "press.ics"]
    raw = files["timetable.csv"].read_bytes()
    assert raw.startswith(b"\xef\xbb\xbfmachine,")  # once: how a spreadsheet knows UTF-8
    assert raw.count(b"\r\n") == 5 and raw.count(b"\xef\xbb\xbf") == 1 and HARD.replace('"', '""') in raw.decode("utf-8-sig")
    assert (files["calendars"] / "press.ics").read_bytes().decode() == machine_calendar(
        NAMES.table(table()), "press", plant=plant().id, made=MADE
    )


def test_a_machines_week_counts_open_work_and_set_up_time() -> None:
    """The sample's press: open 8 h 30 min of each day, 45 min of work and one set-up on the first."""
    first = machine_list(table(), 0, 86_400).machines[0]
    assert (first.machine, first.operations, first.open_s, first.work_s, first.setup_s) == ("press", 2, 30_600, 2_700, 900)
    assert first.used == (2_700 + 900) / 30_600
    second = machine_list(table(), 86_400, 2 * 86_400).machines
    assert [(one.machine, one.operations, one.work_s) for one in second] == [("press", 0, 0), ("panel-saw-1", 2, 3_300)]
    assert (second[0].first_s, second[0].used) == (None, 0.0)


def test_work_that_pauses_overnight_counts_in_the_days_in_which_it_runs() -> None:
    short = short_timetable()
    long = PlannedOperation(
        id="o9", step="cut", about="b", machine="press", start_s=Seconds(28_800), end_s=Seconds(86_400 + 3_600)
    )
    paused = replace(short, operations=(long,))
    work = [machine_list(paused, day * 86_400, (day + 1) * 86_400).machines[0].work_s for day in range(2)]
    assert work == [1_800, 3_600]


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", " ="])
def test_a_name_that_looks_like_a_formula_is_text_in_the_csv(start: str) -> None:
    """The rule of the OWASP Foundation's page "CSV Injection": an apostrophe before = + - @ tab and carriage return."""
    name = f"{start}HYPERLINK(1)"
    first, *others = short_timetable().operations
    text = timetable_csv(replace(short_timetable(), operations=(replace(first, about=name, order=name), *others)), NAMES)
    row = next(csv.DictReader(io.StringIO(text.removeprefix("\ufeff"))))
    assert (row["about"], row["order"]) == (f"'{name}", f"'{name}")
    assert row["machine"] == "press" and row["work min"] == "45.0"


@pytest.mark.parametrize("value", [-7, -1.5, 0, None, "", "-3", "+4.50", "W6-1", "3-4", "a=b", "12' 6 1/2\""])
def test_numbers_and_plain_names_stay_as_they_are_in_a_table(value: object) -> None:
    assert escape_formula(value) == value


def test_a_number_with_more_behind_it_is_no_number() -> None:
    assert [escape_formula(text) for text in ("-3+cmd", "--3", "-", "+1.2.3")] == ["'-3+cmd", "'--3", "'-", "'+1.2.3"]


def test_the_tables_of_a_plan_hold_no_formula(tmp_path: Path) -> None:
    """A customer calls the order a formula: neither the CSV nor the workbook has a cell that is run."""
    plan = demo_plan("workshop-3")
    (takeoff,) = plan.takeoffs
    pieces = tuple(replace(piece, order=OrderId("=1+1")) for piece in takeoff.pieces)
    paths = write_tables(replace(plan, takeoffs=(replace(takeoff, pieces=pieces),)), tmp_path, plant())
    with paths["pieces"].open(newline="", encoding="utf-8") as file:
        assert {row["order"] for row in csv.DictReader(file)} == {"'=1+1"}
    sheet = openpyxl.load_workbook(paths["workbook"])["pieces"]
    assert {cell.data_type for cell in sheet["A"]} == {"s"}


def test_lengths_in_tables_are_as_the_shop_reads_them_with_the_exact_one_beside() -> None:
    plan = demo_plan("workshop-3")
    pieces = plan_tables(plan, plant())["pieces"]
    exact = {piece.mark: piece.length_nm for piece in plan.takeoffs[0].pieces}
    for row in pieces.to_dict("records"):
        assert row["length nm"] == exact[row["mark"]]
        assert row["length in"] * 16 == int(row["length in"] * 16)
        assert abs(row["length in"] * 25_400_000 - row["length nm"]) <= 25_400_000 / 32
    bars = plan_tables(plan, plant())["bars"]
    index = PlanIndex(plan, plant())
    paper = [(sheet.machine, bar.at, bar.bar.id) for sheet in saw_sheets(index) for bar in sheet.bars]
    assert sorted(zip(bars["machine"], bars["cut order"], bars["bar"], strict=True)) == sorted(paper)
