"""The timetable on paper: each machine's days one after the other for the clipboard, and each week drawn on one page."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from itertools import groupby

from service.drawings.timetable import machines_of, timetable_drawing
from service.printing.sheet_pages import TICK, Column, SheetPages, SheetSetting
from solver.documents.lateness_words import duration_text, step_words
from solver.documents.texts import say
from solver.documents.timetable import day_name, working_weeks
from solver.domain.document import DayLine, MachineDay
from solver.domain.timetable import Timetable
from solver.language import Language

MACHINES_A_PAGE = 14  # rows of a landscape page whose lettering is not reduced


def machine_days_pdf(sheets: Sequence[MachineDay], setting: SheetSetting) -> bytes:
    """Return the machines' days: start, end, what on what, for which order and bundle, the set-up before it, breaks.

    A machine begins a page where the one before leaves no room for all its days: pages are cut apart between machines.
    """
    pages = SheetPages(say(setting.language, "machine_days"), setting)
    for machine, some in groupby(sheets, key=lambda sheet: sheet.machine):
        days = tuple(some)
        if not pages.pages:
            pages.page("")
        pages.block(lambda machine=machine, days=days: _machine(pages, machine, days), apart=22.0)  # type: ignore[misc]
    return pages.pdf()


def _machine(pages: SheetPages, machine: str, days: Sequence[MachineDay]) -> None:
    """Set a machine's days; where they go over to another page that one says the machine too."""
    pages.subjects[-1] = machine
    pages.heading(machine, size=17, keep=100)
    rows = [_row(pages, line, sheet.day) for sheet in days for line in sheet.lines]
    for sheet in days:
        pages.heading(day_words(date.fromisoformat(sheet.day), pages.setting.language), size=13)
        pages.table(
            (
                Column(title=pages.say("from_time"), share=18, bold=True),
                Column(title=pages.say("to_time"), share=18),
                Column(title=pages.say("work"), share=22),
                Column(title=pages.say("work_on"), share=44, bold=True),
                Column(title=pages.say("order"), share=26),
                Column(title=pages.say("bundle"), share=24),
                Column(title=pages.say("set_up_before"), share=16),
                Column(title="", share=4),
            ),
            [_row(pages, line, sheet.day) for line in sheet.lines],
            like=rows,
        )


def _row(pages: SheetPages, line: DayLine, day: str) -> tuple[str, ...]:
    start, end = (_time(moment, day, pages.setting.language) for moment in (line.start, line.end))
    if not line.step:
        return start, end, pages.say("closed_time"), "", "", "", "", ""
    work = step_words(line.step, pages.setting.language)
    if line.hold_s:
        work += f", {pages.say('sets_after', span=duration_text(line.hold_s))}"
    setup = duration_text(line.setup_s) if line.setup_s else ""
    return start, end, work, line.about, line.order, ", ".join(line.bundles), setup, TICK


def _time(moment: str, day: str, language: Language) -> str:
    """A time of day, behind its day where that is another."""
    at = datetime.fromisoformat(moment)
    clock = at.strftime("%H:%M")
    return clock if at.date().isoformat() == day else f"{day_name(at, language)} {at.day} {clock}"


def day_words(day: date, language: Language) -> str:
    """Return a day as its name and date."""
    return f"{day_name(day, language)} {day.isoformat()}"


def weeks_pdf(table: Timetable, setting: SheetSetting, *, time_zone: str) -> bytes:
    """Return the timetable drawn, a landscape page a week in which there is work; more pages where machines are many."""
    pages = SheetPages(say(setting.language, "timetable_weeks"), setting, landscape=True)
    machines = machines_of(table)
    groups = [machines[n : n + MACHINES_A_PAGE] for n in range(0, len(machines), MACHINES_A_PAGE)]
    for monday, low, high in working_weeks(table, time_zone):
        for group in groups:
            pages.page(pages.say("week_of", day=day_words(monday, setting.language)))
            drawing = timetable_drawing(
                table,
                time_zone=time_zone,
                from_s=low,
                to_s=high,
                width_pt=pages.room - 30,
                language=setting.language,
                only=group,
            )
            pages.drawing(drawing)
    return pages.pdf()
