"""Paper as others see it: pages rendered and read back by programs that are not ours."""

from __future__ import annotations

import ctypes
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pypdfium2
import zxingcpp

Box = tuple[float, float, float, float]


@dataclass(frozen=True, kw_only=True)
class Path:
    """A path on a page: points in millimetres from the page's lower left corner."""

    points: tuple[tuple[float, ...], ...]
    pen_pt: float
    dashed: bool
    curved: bool


def rendered(pdf: bytes, dpi: int) -> Iterator[Any]:
    """Yield each page as a grey picture at a printer's resolution."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        for page in document:
            yield page.render(scale=dpi / 72, grayscale=True).to_pil()
    finally:
        document.close()


def codes_on(picture: Any) -> dict[str, str]:
    """Return what an independent reader reads: text by the name of the symbology."""
    return {str(found.format).rpartition(".")[2].replace(" ", ""): found.text for found in zxingcpp.read_barcodes(picture)}


def text_boxes(pdf: bytes, page: int = 0) -> list[tuple[Box, str]]:
    """Return the boxes of a page's texts in points, each with its text."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        text = document[page].get_textpage()
        boxes = [text.get_rect(n) for n in range(text.count_rects())]
        return [(box, text.get_text_bounded(*box)) for box in boxes]
    finally:
        document.close()


def page_count(pdf: bytes) -> int:
    """Return how many pages there are; none where nothing was printed."""
    if not pdf:
        return 0
    document = pypdfium2.PdfDocument(pdf)
    try:
        return len(document)
    finally:
        document.close()


def page_size(pdf: bytes, page: int = 0) -> tuple[float, float]:
    """Return a page's width and height in points."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        width, height = document[page].get_size()
        return float(width), float(height)
    finally:
        document.close()


def page_text(pdf: bytes, page: int = 0) -> str:
    """Return all text of a page, spaces as set."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        return str(document[page].get_textpage().get_text_range())
    finally:
        document.close()


def spoiled_places(pdf: bytes, page: int = 0, *, slack: float = 0.8) -> list[str]:
    """Return what is wrong with a page's lettering: texts off the page, texts on one another."""
    wide, high = page_size(pdf, page)
    boxes = [(box, text) for box, text in text_boxes(pdf, page) if text.strip()]
    wrong = [f"off the page: {text}" for (x0, y0, x1, y1), text in boxes if x0 < 2 or y0 < 2 or x1 > wide - 2 or y1 > high - 2]
    for n, (a, first) in enumerate(boxes):
        for b, second in boxes[n + 1 :]:
            if min(a[2], b[2]) - max(a[0], b[0]) > slack and min(a[3], b[3]) - max(a[1], b[1]) > slack:
                wrong.append(f"on one another: {first!r} and {second!r}")
    return wrong


def stroked_paths(pdf: bytes, page: int = 0) -> list[Path]:
    """Return every stroked path of a page: its points in millimetres of paper, its pen, whether it is a curve."""
    raw = pypdfium2.raw
    document = pypdfium2.PdfDocument(pdf)
    try:
        found = []
        for thing in document[page].get_objects(filter=[raw.FPDF_PAGEOBJ_PATH]):
            wide, matrix = ctypes.c_float(), thing.get_matrix()
            raw.FPDFPageObj_GetStrokeWidth(thing.raw, ctypes.byref(wide))
            points, curved = [], False
            for n in range(raw.FPDFPath_CountSegments(thing.raw)):
                segment, x, y = raw.FPDFPath_GetPathSegment(thing.raw, n), ctypes.c_float(), ctypes.c_float()
                raw.FPDFPathSegment_GetPoint(segment, ctypes.byref(x), ctypes.byref(y))
                curved |= raw.FPDFPathSegment_GetType(segment) == raw.FPDF_SEGMENT_BEZIERTO
                points.append(tuple(side / 72 * 25.4 for side in matrix.on_point(x.value, y.value)))
            dashed = raw.FPDFPageObj_GetDashCount(thing.raw) > 0
            found.append(Path(points=tuple(points), pen_pt=wide.value, dashed=dashed, curved=curved))
        return found
    finally:
        document.close()
