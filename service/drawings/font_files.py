"""The fonts of paper, embedded: one for plain lettering, one of many scripts where a text needs it."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

REGULAR, BOLD = "SawbillSans", "SawbillSans-Bold"
_FILES = {REGULAR: "Vera.ttf", BOLD: "VeraBd.ttf"}
WIDE, WIDE_BOLD = "SawbillWide", "SawbillWide-Bold"
_WIDE_FILES = {WIDE: "DejaVuSans.ttf", WIDE_BOLD: "DejaVuSans-Bold.ttf"}


@cache
def register_fonts() -> None:
    """Register the embedded fonts once a process; reportlab carries the files (Bitstream Vera)."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    for name, file in _FILES.items():
        pdfmetrics.registerFont(TTFont(name, file))


@cache
def wide_font(bold: bool) -> Any:
    """Return the font of many scripts (DejaVu Sans, beside this file), registered once a process, where a text needs it."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    name = WIDE_BOLD if bold else WIDE
    font = TTFont(name, str(Path(__file__).parent / "fonts" / _WIDE_FILES[name]))
    pdfmetrics.registerFont(font)
    return font
