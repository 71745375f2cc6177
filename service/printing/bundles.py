"""Bundle tags (one label a bundle) and bundle sheets as PDF: contents from the top, weight, forks, container code."""

from __future__ import annotations

from collections.abc import Iterable
from io import BytesIO
from itertools import groupby
from typing import Any

from service.drawings.expand_shapes import Box
from service.drawings.figures import length_figure
from service.drawings.lettering import fit_size, shorten_text, text_width
from service.drawings.paper import draw_on_canvas, draw_text_on_canvas
from service.drawings.stack import stack_end_drawing, stack_side_drawing
from service.printing.codes import QUIET_LINEAR, draw_linear, draw_qr, gs1_128_values, qr_rows, symbol_modules
from service.printing.labels import SIZES_PT, LabelStyle
from service.printing.lists import hardware_table
from service.printing.sheet_pages import TICK, Column, SheetPages, SheetSetting, open_canvas
from solver.documents.notes import translate_note
from solver.documents.texts import say
from solver.domain.document import BundleTag, TagPlace
from solver.language import Language
from solver.units import Unit, show_length, show_weight

# A logistic label's module is 0.495 to 0.940 mm (GS1 General Specifications, from memory) and its symbol with quiet zones at
# most 165.10 mm wide; 4 dots at 203 dpi and 6 at 300 dpi are 0.50 and 0.51 mm.
_DOTS = {203: 4, 300: 6}
BARS_HIGH_PT = 92.0  # over 31.75 mm
TEXT_HIGH_PT = 20.0  # over 7 mm


def tags_pdf(tags: Iterable[BundleTag], style: LabelStyle, *, title: str) -> bytes:
    """Return bundle tags, a page each, on 4 x 6 in or A6 stock (a roll's 4 x 3 in is too small for a logistic label)."""
    buffer = BytesIO()
    size = SIZES_PT["4x6" if style.size == "roll-4x3" else style.size]
    canvas = open_canvas(buffer, size, title=title)
    for tag in tags:
        _tag(canvas, tag, style, size)
        canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def _tag(canvas: Any, tag: BundleTag, style: LabelStyle, size: tuple[float, float]) -> None:
    wide, high = size
    left, right = 10.0, wide - 10.0
    dot = 72.0 / style.dpi
    head = _head(canvas, tag, style, left, right, high - 10)
    floor = _container_code(canvas, tag, style, wide)
    side = (len(qr_rows(tag.link)) + 8) * dot * max(3, int(88 / ((len(qr_rows(tag.link)) + 8) * dot)))
    module = side / (len(qr_rows(tag.link)) + 8)
    x, y = right - side + 4, floor + 2
    draw_qr(canvas, round(x / dot) * dot, round(y / dot) * dot, tag.link, module=module)
    y = _contents(canvas, tag, style, left, right, head - 15, floor + 4, notch=(x - 4, floor + side + 2))
    _picture(canvas, tag, style, (left, floor + 2, x - 4, y))


def _head(canvas: Any, tag: BundleTag, style: LabelStyle, left: float, right: float, top: float) -> float:
    """The tag shape with the bundle's name as large as it goes, its order, weight and length; return where it ends below."""
    high, corner = 62.0, 14.0
    path = canvas.beginPath()
    path.moveTo(left, top - high)
    for x, y in ((right, top - high), (right, top - corner), (right - corner, top), (left, top)):
        path.lineTo(x, y)
    path.close()
    canvas.setLineWidth(1.6)
    canvas.setStrokeGray(0)
    canvas.setDash()
    canvas.drawPath(path, stroke=1, fill=0)
    canvas.setFillGray(0)
    canvas.rect(left, top - high, 10, high, stroke=0, fill=1)
    weight = show_weight(tag.bundle.weight_g, style.unit)
    side = max(text_width(weight, bold=True) * 27, text_width(show_length(tag.bundle.length_nm, style.unit)) * 13) + 10
    room = right - left - 18 - side - 8
    size = fit_size(tag.name, room, most=46, least=14, bold=True)
    draw_text_on_canvas(canvas, left + 18, top - 42, shorten_text(tag.name, room, size, bold=True), size, bold=True)
    words = f"{say(style.language, 'bundle')}  ·  {tag.bundle.order or ''}"
    small = fit_size(words, room, most=12, least=7)
    draw_text_on_canvas(canvas, left + 18, top - 56, shorten_text(words, room, small), small)
    draw_text_on_canvas(canvas, right - 12, top - 32, weight, 27, bold=True, anchor="end")
    draw_text_on_canvas(canvas, right - 12, top - 52, show_length(tag.bundle.length_nm, style.unit), 13, anchor="end")
    line = top - high - 14
    parts = [_wanted(tag, style.language), _count(tag, style.language), *tag.deliveries]
    text = "  ·  ".join(parts)
    size = fit_size(text, right - left, most=12, least=8, bold=True)
    draw_text_on_canvas(canvas, left, line, shorten_text(text, right - left, size, bold=True), size, bold=True)
    facts = [_fork_words(tag, style.unit, style)]
    if tag.unit != style.unit:  # what the crew reads
        own = (show_weight(tag.bundle.weight_g, tag.unit), show_length(tag.bundle.length_nm, tag.unit))
        facts.append("  ·  ".join((*own, _fork_words(tag, tag.unit, style))))
    if tag.place is not None:
        facts = [*_place_words(tag.place, style.unit, style.language), *facts]
    for text in facts:
        line -= 15
        size = fit_size(text, right - left, most=11, least=7)
        draw_text_on_canvas(canvas, left, line, shorten_text(text, right - left, size), size)
    return line


def _place_words(place: TagPlace, unit: Unit, language: Language) -> tuple[str, str]:
    """Return a bundle's truck with its turn to go on, and its place on the deck."""
    front, left, up = (show_length(at, unit) for at in (place.x_nm, place.y_nm, place.z_nm))
    return (
        say(language, "tag_place", load=place.load, n=place.at, m=place.of),
        say(language, "tag_on_deck", front=front, left=left, up=up),
    )


def _count(tag: BundleTag, language: Language) -> str:
    if tag.bundle.items:
        return say(language, "item_count", n=len(tag.bundle.items))
    return say(language, "one_piece") if len(tag.rows) == 1 else say(language, "piece_count", n=len(tag.rows))


def _wanted(tag: BundleTag, language: Language) -> str:
    return say(language, "start_box") if tag.bundle.items else say(language, "wanted_from", n=tag.bundle.first_stands)


def _fork_words(tag: BundleTag, unit: Unit, style: LabelStyle) -> str:
    centre = say(style.language, "centre_of_mass", at=show_length(tag.bundle.centre_nm, unit))
    if tag.forks_nm is None:
        return centre
    a, b = (show_length(at, unit) for at in tag.forks_nm)
    return f"{say(style.language, 'lift_points', a=a, b=b)}"


def _container_code(canvas: Any, tag: BundleTag, style: LabelStyle, wide: float) -> float:
    """Draw the GS1-128 symbol lowest, with its text, and return where it ends above."""
    dot = 72.0 / style.dpi
    values = gs1_128_values("00" + tag.serial)
    dots = _DOTS[style.dpi]
    while symbol_modules(values) * dots * dot > wide and dots > 3:
        dots -= 1
    module = dots * dot
    body = (symbol_modules(values) - 2 * QUIET_LINEAR) * module
    x = round((wide - body) / 2 / dot) * dot
    bottom = 8.0 + TEXT_HIGH_PT + 4
    draw_linear(canvas, x, round(bottom / dot) * dot, values, module=module, height=BARS_HIGH_PT)
    text = f"(00) {tag.serial}"
    size = fit_size(text, wide - 12, most=TEXT_HIGH_PT, least=12)
    draw_text_on_canvas(canvas, wide / 2, 9.0, text, size, anchor="middle")
    return bottom + BARS_HIGH_PT + 2


def _contents(
    canvas: Any,
    tag: BundleTag,
    style: LabelStyle,
    left: float,
    right: float,
    top: float,
    floor: float,
    *,
    notch: tuple[float, float],
) -> float:
    """List the pieces from the top, clear of the QR code whose left and top are `notch`; return where the list ends."""
    draw_text_on_canvas(canvas, left, top, say(style.language, "contents"), 11, bold=True)
    wide = right
    step = 14.0 if len(tag.rows) <= int((top - 5 - notch[1]) / 14.0) else 12.5
    fits = int((top - 5 - floor) / step)
    rows = tag.rows if len(tag.rows) <= fits else tag.rows[: max(fits - 1, 0)]
    y = top - step - 2
    for row in rows:
        right = wide if y - 3 > notch[1] else notch[0]
        length = length_figure(row.length_nm, style.unit)
        text = f"{row.at}. {row.mark}"
        room = right - left - text_width(length) * 10 - 8
        size = fit_size(text, room, most=step - 2, least=7, bold=True)
        draw_text_on_canvas(canvas, left, y, shorten_text(text, room, size, bold=True), size, bold=True)
        draw_text_on_canvas(canvas, right, y, length, 10, anchor="end")
        y -= step
    right = min(right, notch[0])
    if len(rows) < len(tag.rows):
        more = say(style.language, "more_rows", n=len(tag.rows) - len(rows))
        size = fit_size(more, right - left, most=10, least=7)
        draw_text_on_canvas(canvas, left, y, shorten_text(more, right - left, size), size)
    return y


def _picture(canvas: Any, tag: BundleTag, style: LabelStyle, room: Box) -> None:
    """Draw the stack from its side where the contents leave room for it."""
    left, low, right, high = room
    if tag.bundle.kind != "panels" or high - low < 48 or right - left < 90:
        return
    drawing = stack_side_drawing(
        tag.bundle,
        {str(piece.id): piece for piece in tag.stack},
        marks={},
        dunnage=tag.dunnage_nm,
        unit=style.unit,
        room_pt=(right - left, min(high - low, 130.0)),
        language=style.language,
        size=8.0,
    )
    factor = min(1.0, (right - left) / drawing.width_pt, (high - low) / drawing.height_pt)
    draw_on_canvas(canvas, drawing, left, low, factor=factor)


def bundles_pdf(tags: Iterable[BundleTag], setting: SheetSetting, *, unit: Unit, handled: str) -> bytes:
    """Return bundle sheets: each bundle from its side and its foot end, contents top to bottom, forks, cautions.

    `handled`: the longest that two forks handle, in words.
    """
    pages = SheetPages(say(setting.language, "bundle_sheet"), setting)
    for order, some in groupby(tags, key=lambda tag: tag.bundle.order):
        pages.page(f"{pages.say('order')} {order or ''}")
        pages.caution([pages.say("caution_forks", handled=handled)])
        for tag in some:
            pages.block(lambda tag=tag: _sheet(pages, tag, unit), apart=16.0)  # type: ignore[misc]
    return pages.pdf()


def _sheet(pages: SheetPages, tag: BundleTag, unit: Unit) -> None:
    bundle, language = tag.bundle, pages.setting.language
    facts = [
        f"{pages.say('bundle')} {tag.name}",
        show_weight(bundle.weight_g, unit),
        f"{show_length(bundle.length_nm, unit)} × {show_length(bundle.width_nm, unit)} × {show_length(bundle.height_nm, unit)}",
        _count(tag, language),
    ]
    pages.heading("  ·  ".join(facts), size=15)
    pages.text("  ·  ".join([_wanted(tag, language), *tag.deliveries, f"SSCC {tag.serial}"]))
    if tag.place is not None:
        pages.text("  ·  ".join(_place_words(tag.place, unit, language)))
    if tag.forks_nm is not None:
        a, b = (show_length(at, unit) for at in tag.forks_nm)
        pages.text(pages.say("lift_points", a=a, b=b), bold=True)
    pages.text(pages.say("centre_of_mass", at=show_length(bundle.centre_nm, unit)))
    pages.gap(6)
    if bundle.kind != "box" and bundle.pieces:
        stack = {str(piece.id): piece for piece in tag.stack}
        marks = {str(row.piece): row.mark for row in tag.rows}
        end_room = 120.0
        pages.text(f"{pages.say('side_view')}; {pages.say('end_view')}")
        side = stack_side_drawing(
            bundle,
            stack,
            marks=marks,
            dunnage=tag.dunnage_nm,
            unit=unit,
            room_pt=(pages.room - end_room - 16, 150.0),
            language=language,
        )
        end = stack_end_drawing(bundle, stack, dunnage=tag.dunnage_nm, unit=unit, room_pt=(end_room, 150.0), language=language)
        high = max(side.height_pt, end.height_pt)
        pages.need(high + 8)
        pages.drawing(end, most_pt=high, indent=pages.room - end_room, keep=True)
        pages.drawing(side, most_pt=high)
        pages.gap(max(0.0, high - side.height_pt) + 4)
    if bundle.items:
        pages.heading(pages.say("hardware"))
        hardware_table(pages, [(item.item, item.quantity, item.packs, item.pack) for item in bundle.items])
    else:
        _pieces(pages, tag, unit)
    for text in bundle.notes:
        pages.text(translate_note(language, text, unit))


def _pieces(pages: SheetPages, tag: BundleTag, unit: Unit) -> None:
    pages.heading(pages.say("contents"))
    pages.table(
        (
            Column(title="", share=6, anchor="end"),
            Column(title=pages.say("mark"), share=22, bold=True),
            Column(title="", share=24),
            Column(title=pages.say("stands"), share=12, anchor="end"),
            Column(title=pages.say("length"), share=20, anchor="end"),
            Column(title=pages.say("weight"), share=14, anchor="end"),
            Column(title="", share=5),
        ),
        [
            (
                str(row.at),
                row.mark,
                pages.say(row.role),
                str(row.stands),
                length_figure(row.length_nm, unit),
                show_weight(row.weight_g, unit),
                TICK,
            )
            for row in tag.rows
        ],
    )
    aside = [row.mark for row in tag.rows if row.set_aside]
    if aside:
        pages.text(pages.say("set_aside", marks=", ".join(aside)), bold=True)
        pages.gap()
