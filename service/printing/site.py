"""For the site: the installation booklet, a sheet an elevation or roof plane, as PDF."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from service.drawings.elevation import elevation, roof_plane, strips
from service.drawings.figures import figure
from service.printing.lists import hardware_table
from service.printing.page import TICK, Column, Setting, Sheets
from solver.documents.notes import note
from solver.documents.texts import Language, say
from solver.domain.building import Wall
from solver.domain.document import InstallationSheet, StandingRow
from solver.domain.piece import Piece
from solver.domain.takeoff import BrokenRule
from solver.units import Unit, show_length, show_weight


def installation_pdf(sheets: Iterable[InstallationSheet], setting: Setting, *, unit: Unit, two_lift: str) -> bytes:
    """Return the installation booklet, landscape; `two_lift`: the weight that one may lift, in words."""
    pages = Sheets(say(setting.language, "installation"), setting, landscape=True)
    for sheet in sheets:
        pages.page(f"{sheet.order}  ·  {sheet.group}")
        _sheet(pages, sheet, unit, two_lift)
    return pages.pdf()


def _sheet(pages: Sheets, sheet: InstallationSheet, unit: Unit, two_lift: str) -> None:
    language, room = pages.setting.language, (pages.room, 400.0)
    drawing = None
    if sheet.wall is not None and (parts := strips(sheet.wall, sheet.pieces)):
        _strips(pages, sheet.wall, sheet.pieces, parts, unit)
    elif sheet.wall is not None:
        drawing = elevation(sheet.wall, sheet.pieces, unit=unit, room_pt=room, language=language)
    elif sheet.plane is not None:
        drawing = roof_plane(sheet.plane, sheet.pieces, unit=unit, room_pt=room, language=language)
    if drawing is not None:
        pages.heading(drawing.title, keep=0)
        pages.text(pages.say("tag_legend"))
        pages.gap(4)
        pages.drawing(drawing, most_pt=430.0)
    cautions = [pages.say("caution_lift", limit=two_lift), pages.say("caution_stand", days=sheet.film_days)]
    if sheet.plane is not None:
        cautions.append(pages.say("caution_roof"))
    if sheet.wall is not None and sheet.wall.openings:
        cautions.append(pages.say("caution_header"))
    pages.caution(cautions)
    _mind(pages, sheet, unit)
    pages.heading(pages.say("order_of_standing"))
    pages.table(
        (
            Column(title=pages.say("stands"), share=12, anchor="end", bold=True),
            Column(title=pages.say("mark"), share=18, bold=True),
            Column(title="", share=23),
            Column(title=pages.say("bundle"), share=10),
            Column(title=pages.say("from_top"), share=10, anchor="end"),
            Column(title=pages.say("length"), share=16, anchor="end"),
            Column(title=pages.say("weight"), share=12, anchor="end"),
            Column(title="", share=32),
            Column(title="", share=4),
        ),
        [
            (
                str(row.stands),
                row.mark,
                pages.say(row.role),
                row.bundle_name,
                str(row.from_top) if row.from_top else "",
                figure(row.length_nm, unit),
                show_weight(row.weight_g, unit),
                _words(pages, row, unit),
                TICK,
            )
            for row in sheet.rows
        ],
    )
    if sheet.hardware:
        pages.heading(pages.say("hardware"))
        hardware_table(pages, [(line.item, line.quantity, line.packs, line.pack) for line in sheet.hardware])


def _strips(pages: Sheets, wall: Wall, pieces: Sequence[Piece], parts: Sequence[tuple[float, float]], unit: Unit) -> None:
    """Set a long wall in strips, each with its title, from its left corner on."""
    pages.text(pages.say("tag_legend"))
    for part in parts:
        drawing = elevation(wall, pieces, unit=unit, room_pt=(pages.room, 300.0), language=pages.setting.language, between=part)
        pages.need(min(drawing.height_pt, 300.0) + 30)
        pages.heading(drawing.title, size=13, keep=0)
        pages.drawing(drawing, most_pt=300.0)


def _mind(pages: Sheets, sheet: InstallationSheet, unit: Unit) -> None:
    """Set what concerns several pieces, what the takeoff warns of, and the soft rules that had to give here."""
    language = pages.setting.language
    lines = [
        f"{', '.join(remark.marks) or pages.say(remark.role)}: {note(language, remark.note, unit)}" for remark in sheet.remarks
    ]
    lines += [note(language, text, unit) for text in sheet.warnings]
    lines += broken_words(sheet.broken, language, unit)
    if lines:
        pages.heading(pages.say("mind"), keep=20.0)
        for line in lines:
            pages.text(f"·  {line}")
        pages.gap()


def broken_words(rules: Iterable[BrokenRule], language: Language, unit: Unit) -> list[str]:
    """Return soft rules that had to give as people read them."""
    return [
        say(
            language,
            f"rule_{rule.rule}",
            where=rule.where,
            got=show_length(rule.got_nm, unit),
            wanted=show_length(rule.wanted_nm, unit),
        )
        for rule in rules
    ]


def _words(pages: Sheets, row: StandingRow, unit: Unit) -> str:
    words = []
    if row.closing:
        words.append(pages.say("closing"))
    if row.field_head:
        words.append(pages.say("field_head"))
    if row.crew != 1:
        words.append(pages.say("lift_machine") if row.crew == 0 else pages.say("lift_crew", n=row.crew))
    words += [note(pages.setting.language, text, unit) for text in row.notes]
    return "; ".join(words)
