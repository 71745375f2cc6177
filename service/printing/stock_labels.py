"""The label of a stock item as PDF: its number as large as it goes, what it is, where it lies and came from, and its code."""

from __future__ import annotations

from io import BytesIO

from service.drawings.lettering import fit_size, shorten_text
from service.drawings.paper import draw_text_on_canvas
from service.printing.codes import QUIET_QR, draw_qr, qr_rows
from service.printing.labels import SIZES_PT, LabelStyle
from service.printing.sheet_pages import open_canvas
from solver.documents.names import ThingNames
from solver.documents.texts import say
from solver.domain.plant import Plant
from solver.domain.stock import StockItem
from solver.units import show_length, show_weight

MARGIN = 12.0


def stock_label_pdf(item: StockItem, plant: Plant, style: LabelStyle) -> bytes:
    """Return a label of one page, byte for byte the same when made again; lengths in the catalog's unit."""
    buffer = BytesIO()
    wide, high = SIZES_PT[style.size]
    canvas = open_canvas(buffer, (wide, high), title=f"{stock_code(item.item)}")
    room, number = wide - 2 * MARGIN, str(item.item)
    size = fit_size(number, room * 0.6, most=high * 0.28, least=40.0, bold=True)
    code = stock_code(item.item)
    modules = len(qr_rows(code)) + 2 * QUIET_QR
    dots = max(3, int(room * 0.34 / modules * style.dpi / 72.0))
    side = modules * dots * 72.0 / style.dpi
    draw_qr(canvas, wide - MARGIN - side, high - MARGIN - side, code, module=dots * 72.0 / style.dpi)
    draw_text_on_canvas(canvas, MARGIN, high - MARGIN - 14, say(style.language, "stock_item"), 14, bold=True)
    y = high - MARGIN - 20 - 0.75 * size
    draw_text_on_canvas(canvas, MARGIN, y, number, size, bold=True)
    y = min(y, high - MARGIN - side) - 8
    lines = _lines(item, plant, style)
    step = min(34.0, (y - MARGIN) / max(1, len(lines)))
    for n, text in enumerate(lines):
        fits = fit_size(text, room, most=0.72 * step, least=7.0, bold=n == 0)
        y -= step
        draw_text_on_canvas(canvas, MARGIN, y, shorten_text(text, room, fits, bold=n == 0), fits, bold=n == 0)
    canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def stock_code(item: int) -> str:
    """Return what the code on a stock item's label says."""
    return f"stock {item}"


def _lines(item: StockItem, plant: Plant, style: LabelStyle) -> list[str]:
    def words(key: str, text: str) -> str:
        return f"{say(style.language, key)}: {text}"

    lines = [ThingNames(plant, style.language).of(item.material)]
    if item.length_nm is not None:
        lines.append(words("length", show_length(item.length_nm, plant.unit)))
    if item.width_nm is not None:
        lines.append(words("width", show_length(item.width_nm, plant.unit)))
    if item.weight_g is not None:
        lines.append(words("weight", show_weight(item.weight_g, plant.unit)))
    said = (("stock_place", item.place), ("stock_from", item.source), ("stock_since", item.put_away))
    return lines + [words(key, text) for key, text in said if text is not None]
