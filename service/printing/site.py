"""For the site: the installation booklet, a sheet an elevation or roof plane, as PDF."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby

from service.drawings.elevation import elevation_drawing, elevation_strips, roof_plane_drawing
from service.drawings.figures import length_figure
from service.drawings.plans import roof_plan, walls_plan_drawing
from service.drawings.section import eave_section_drawing
from service.drawings.sections import base_section_drawing, corner_section_drawing, ridge_section_drawing
from service.drawings.shapes import At, Drawing
from service.printing.lists import hardware_use_columns
from service.printing.sheet_pages import TICK, Column, SheetPages, SheetSetting
from solver.documents.lift_words import lift_words
from solver.documents.notes import translate_note
from solver.documents.section_words import base_words, corner_words, ridge_words
from solver.documents.texts import say
from solver.domain.building import RoofPlane, Wall
from solver.domain.document import BeginSheet, EaveSection, InstallationSheet, StandingRow, StoreyPlan
from solver.domain.piece import Piece
from solver.domain.takeoff import BrokenRule
from solver.language import Language
from solver.units import FOOT, Grams, Unit, show_length, show_weight

BESIDE_PT = 99.0  # that an elevation takes left and right of the wall
MOST_SCALE = 66.0 / (4 * FOOT)  # points in a nanometre: a tag is read on a panel of 4 ft; larger only takes paper
EMPTY = Drawing(title="", left=0, bottom=0, right=1, top=1, scale=1.0, shapes=())  # beside a section that stands alone


def installation_pdf(
    sheets: Iterable[InstallationSheet], setting: SheetSetting, begins: Mapping[str, BeginSheet], *, one_lift_g: Grams
) -> bytes:
    """Return the installation booklet, each order's in its own unit; `one_lift_g`: what one may lift.

    `begins`: by order, where the crew begins; a house's first pages, with its cautions and sections. Then walls and roof planes
    follow each other, a drawing never parted from its heading.
    """
    pages = SheetPages(say(setting.language, "installation"), setting)
    for order, some in groupby(sheets, key=lambda sheet: sheet.order):
        house = tuple(some)
        unit = house[0].unit
        pages.page(order, unit)
        begin = begins.get(order)
        if begin is not None:
            _begin(pages, begin, unit)
        pages.caution(_cautions(pages, house, show_weight(one_lift_g, unit)))
        if begin is not None:
            _sections(pages, begin, house, unit)
        pages.need(120)
        pages.text(pages.say("tag_legend"))
        for sheet in house:
            _sheet(pages, sheet, unit)
    return pages.pdf()


def _cautions(pages: SheetPages, house: Sequence[InstallationSheet], one_lift: str) -> list[str]:
    """Return what to beware of at a house: said once, where its booklet begins."""
    cautions = [pages.say("caution_lift", limit=one_lift), pages.say("caution_stand", days=house[0].film_days)]
    if any(sheet.plane is not None for sheet in house):
        cautions.append(pages.say("caution_roof"))
    if any(sheet.wall is not None and sheet.wall.openings for sheet in house):
        cautions.append(pages.say("caution_header"))
    return cautions


def _sections(pages: SheetPages, begin: BeginSheet, house: Sequence[InstallationSheet], unit: Unit) -> None:
    """Set the sections that the house has: feet, corners, ridges, eaves, each with where it is so and its parts by number."""
    language = pages.setting.language
    cells: list[tuple[str, str, Drawing]] = [
        *(
            (
                _where(pages.say("base_section"), section.at, len(begin.bases)),
                base_words(section, unit, language),
                base_section_drawing(section, unit=unit, language=language),
            )
            for section in begin.bases
        ),
        *(
            (
                _where(pages.say("corner_section"), section.at, len(begin.corners)),
                corner_words(section, unit, language),
                corner_section_drawing(section, unit=unit, language=language),
            )
            for section in begin.corners
        ),
        *(
            (
                _where(pages.say("ridge_section"), section.at, len(begin.ridges)),
                ridge_words(section, unit, language),
                ridge_section_drawing(section, unit=unit, language=language),
            )
            for section in begin.ridges
        ),
    ]
    for n in range(0, len(cells), 2):  # two beside each other
        pages.beside([*cells[n : n + 2], *([("", "", EMPTY)] if n + 1 == len(cells) else [])], most_pt=190.0)
    eaves: dict[EaveSection, list[str]] = {}
    for sheet in house:
        if sheet.eave is not None:
            eaves.setdefault(sheet.eave, []).append(sheet.group)
    for eave, walls in eaves.items():
        drawing = eave_section_drawing(eave, unit=unit, language=language)

        def build(drawing: Drawing = drawing, walls: Sequence[str] = walls) -> None:
            pages.heading(f"{drawing.title}: {', '.join(walls)}", size=13, keep=0)
            pages.drawing(drawing, most_pt=190.0)

        pages.block(build)


def _begin(pages: SheetPages, sheet: BeginSheet, unit: Unit) -> None:
    """Set where to begin: boxes, what stands first, what closes a loop; then the walls from above."""
    pages.heading(pages.say("begin"), keep=0)
    lines = [pages.say("begin_box", bundle=box, load=load) for box, load in sheet.boxes]
    for key, row in (("begin_first", sheet.first), ("begin_panel", sheet.first_panel)):
        if row is not None:
            lines.append(pages.say(key, mark=row.mark, role=pages.say(row.role), bundle=row.bundle_name, n=row.from_top))
    if sheet.closing:
        lines.append(pages.say("begin_closing", marks=", ".join(sheet.closing)))
    for line in lines:
        pages.text(f"·  {line}")
    ground = sheet.ground_storey
    if ground is not None:
        room, title = (pages.room, 400.0), pages.say("key_plan")
        pages.gap(6)
        pages.heading(title, size=13, keep=0)
        pages.text(pages.say("key_stand", names=", ".join(ground.walls_in_order)))
        pages.drawing(_storey(pages, sheet, ground, title, unit, room), most_pt=400.0)
    _above(pages, sheet, unit)


def _above(pages: SheetPages, sheet: BeginSheet, unit: Unit) -> None:
    """Set the key plans of upper storeys and of the roof, each with its words in one piece."""
    cells: list[tuple[str, str, Drawing]] = []
    for storey in sheet.storeys:
        title = pages.say("key_storey", level=storey.level)
        words = pages.say("key_stand", names=", ".join(storey.walls_in_order))
        cells.append((title, words, _storey(pages, sheet, storey, title, unit, (pages.room, 400.0))))
    if sheet.building.roof:
        title, words = pages.say("key_roof"), pages.say("key_lay", names=", ".join(sheet.planes))
        cells.append((title, words, roof_plan(sheet.building, title=title, unit=unit, room_pt=(pages.room, 280.0))))
    for title, words, drawing in cells:

        def build(title: str = title, words: str = words, drawing: Drawing = drawing) -> None:
            pages.heading(title, size=13, keep=0)
            pages.text(words)
            pages.drawing(drawing, most_pt=400.0)

        pages.block(build, apart=10.0)


def _storey(pages: SheetPages, sheet: BeginSheet, storey: StoreyPlan, title: str, unit: Unit, room_pt: At) -> Drawing:
    return walls_plan_drawing(
        sheet.building,
        storey.runs,
        sheet.thickness_nm,
        start=storey.start,
        title=title,
        unit=unit,
        room_pt=room_pt,
        language=pages.setting.language,
    )


def _where(title: str, at: Sequence[str], kinds: int) -> str:
    """Return a section's title, with where it is so where the house has several kinds."""
    return title if kinds == 1 else f"{title}: {', '.join(at)}"


def _sheet(pages: SheetPages, sheet: InstallationSheet, unit: Unit) -> None:
    """Set a wall or roof plane: its drawing with what to mind there in one piece, then its pieces and hardware."""
    language = pages.setting.language
    long = sheet.wall.length_nm if sheet.wall is not None else _level_nm(sheet.plane) if sheet.plane is not None else 0
    room = (min(pages.room, BESIDE_PT + long * MOST_SCALE), 330.0)
    drawing: Drawing | None = None
    if sheet.wall is not None and (parts := elevation_strips(sheet.wall, sheet.pieces)):
        _strips(pages, sheet.wall, sheet.pieces, parts, unit)
    elif sheet.wall is not None:
        drawing = elevation_drawing(sheet.wall, sheet.pieces, unit=unit, room_pt=room, language=language)
    elif sheet.plane is not None:
        drawing = roof_plane_drawing(sheet.plane, sheet.pieces, unit=unit, room_pt=room, language=language)

    def build() -> None:
        pages.heading(sheet.group if drawing is None else drawing.title, keep=0)
        if drawing is not None:
            pages.drawing(drawing, most_pt=330.0)
        _mind(pages, sheet, unit)

    pages.block(build, apart=12.0)
    pages.heading(f"{pages.say('order_of_standing')}: {sheet.group}", size=13)
    pages.table(
        (
            Column(title=pages.say("stands_title"), share=10, anchor="end", bold=True),
            Column(title=pages.say("mark"), share=18, bold=True),
            Column(title="", share=46),
            Column(title=pages.say("bundle"), share=11),
            Column(title=pages.say("from_top"), share=9, anchor="end"),
            Column(title=pages.say("length"), share=18, anchor="end"),
            Column(title=pages.say("weight"), share=11, anchor="end", bold=True),
            Column(title="", share=4),
        ),
        [
            (
                str(row.stands),
                row.mark,
                "; ".join(filter(None, (pages.say(row.role), _words(pages, row, unit)))),
                row.bundle_name,
                str(row.from_top) if row.from_top else "",
                length_figure(row.length_nm, unit),
                show_weight(row.weight_g, unit),
                TICK,
            )
            for row in sheet.rows
        ],
    )
    if sheet.hardware:
        pages.block(lambda: _hardware(pages, sheet))


def _level_nm(plane: RoofPlane) -> float:
    """Return how long a plane is along its eave."""
    xs = [x for x, _ in plane.outline]
    return float(max(xs) - min(xs))


def _hardware(pages: SheetPages, sheet: InstallationSheet) -> None:
    pages.heading(f"{pages.say('hardware')}: {sheet.group}", size=13, keep=0)
    hardware_use_columns(pages, [(line.item, line.quantity) for line in sheet.hardware])


def _strips(pages: SheetPages, wall: Wall, pieces: Sequence[Piece], parts: Sequence[tuple[float, float]], unit: Unit) -> None:
    """Set a long wall in strips, each with its title, from its left corner on."""
    for part in parts:
        drawing = elevation_drawing(
            wall, pieces, unit=unit, room_pt=(pages.room, 300.0), language=pages.setting.language, between=part
        )
        pages.need(min(drawing.height_pt, 300.0) + 30)
        pages.heading(drawing.title, size=13, keep=0)
        pages.drawing(drawing, most_pt=300.0)


def _mind(pages: SheetPages, sheet: InstallationSheet, unit: Unit) -> None:
    """Set what concerns several pieces, what the takeoff warns of, and the soft rules that had to give here."""
    language = pages.setting.language
    lines = [
        f"{', '.join(remark.marks) or pages.say(remark.role)}: {translate_note(language, remark.note, unit)}"
        for remark in sheet.remarks
    ]
    lines += [translate_note(language, text, unit) for text in sheet.warnings]
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


def _words(pages: SheetPages, row: StandingRow, unit: Unit) -> str:
    words = []
    if row.closing:
        words.append(pages.say("closing"))
    if row.field_head:
        words.append(pages.say("field_head"))
    if not row.lift.alone:
        words.append(lift_words(row.lift, pages.setting.language))
    words += [translate_note(pages.setting.language, text, unit) for text in row.notes]
    return "; ".join(words)
