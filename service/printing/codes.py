"""Bar codes as modules: Code 128 and GS1-128 by their standard, QR by segno; each drawn as one path.

Code 128: ISO/IEC 15417; a symbol is start, data, check and stop; each character has three bars and three spaces in 11
modules. GS1-128 begins with start C and FNC1 (GS1 General Specifications). The start set is the caller's, never guessed.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import groupby
from typing import Any, Literal

import segno

StartSet = Literal["A", "B", "C"]

_START: dict[StartSet, int] = {"A": 103, "B": 104, "C": 105}
FNC1 = 102
_STOP = "2331112"
_TABLE = (  # bars and spaces of the characters 0 to 105, six widths each
    "212222222122222221121223121322131222122213122312132212221213221312231212112232122132122231113222"
    "123122123221223211221132221231213212223112312131311222321122321221312212322112322211212123212321"
    "232121111323131123131321112313132113132311211313231113231311112133112331132131113123113321133121"
    "313121211331231131213113213311213131311123311321331121312113312311332111314111221411431111111224"
    "111422121124121421141122141221112214112412122114122411142112142211241211221114413111241112134111"
    "111242121142121241114212124112124211411212421112421211212141214121412121111143111341131141114113"
    "114311411113411311113141114131311141411131211412211214211232"
)
_PATTERNS = tuple(_TABLE[n : n + 6] for n in range(0, len(_TABLE), 6))
QUIET_LINEAR = 10  # modules on either side
QUIET_QR = 4


def code128_values(text: str, start: StartSet) -> tuple[int, ...]:
    """Return start character, data and check character of a text in one code set.

    Check character: (start + sum of place x value) mod 103. Raises ValueError for text that the set cannot say.
    """
    return _checked([_START[start], *_data(text, start)])


def gs1_128_values(digits: str) -> tuple[int, ...]:
    """Return the characters of a GS1-128 symbol of an even number of digits (application identifiers included).

    Start C and FNC1, which counts as data in the check character.
    """
    return _checked([_START["C"], FNC1, *_data(digits, "C")])


def _data(text: str, start: StartSet) -> list[int]:
    if start == "C":
        if len(text) % 2 or not (text.isascii() and text.isdigit()):
            raise ValueError(f"{text!r} is not an even number of digits")
        return [int(text[n : n + 2]) for n in range(0, len(text), 2)]
    low, high = (32, 127) if start == "B" else (0, 95)
    if not all(low <= ord(letter) <= high for letter in text):
        raise ValueError(f"{text!r} has letters that code set {start} lacks")
    return [ord(letter) - 32 if ord(letter) >= 32 else ord(letter) + 64 for letter in text]


def _checked(values: list[int]) -> tuple[int, ...]:
    check = (values[0] + sum(n * value for n, value in enumerate(values[1:], 1))) % 103
    return (*values, check)


@lru_cache(maxsize=4_000)
def bar_widths(values: tuple[int, ...]) -> tuple[int, ...]:
    """Return the widths of bars and spaces in turn, in modules, stop included, without quiet zones."""
    return tuple(int(digit) for value in values for digit in _PATTERNS[value]) + tuple(int(digit) for digit in _STOP)


def symbol_modules(values: tuple[int, ...]) -> int:
    """Return how many modules a symbol takes with its quiet zones: 11 a character, 13 for stop, 10 on either side."""
    return 11 * len(values) + 13 + 2 * QUIET_LINEAR


def draw_linear(canvas: Any, x: float, y: float, values: tuple[int, ...], *, module: float, height: float) -> None:
    """Draw a linear symbol as one path, its first bar at x (quiet zone to the left of it), from y upward; points."""
    path = canvas.beginPath()
    bar = True
    for wide in bar_widths(values):
        if bar:
            path.rect(x, y, wide * module, height)
        x += wide * module
        bar = not bar
    canvas.setFillGray(0)
    canvas.drawPath(path, stroke=0, fill=1)


@lru_cache(maxsize=4_000)
def qr_rows(text: str) -> tuple[bytes, ...]:
    """Return a QR code's rows of modules without quiet zone: ISO/IEC 18004, level M, smallest version that holds the text."""
    return tuple(bytes(row) for row in segno.make(text, error="m", micro=False, boost_error=False).matrix)


@lru_cache(maxsize=4_000)
def qr_path(text: str) -> str:
    """Return the dark modules of a QR code as rectangles of a PDF path: whole modules, lower left corner at 0, 0."""
    rows = qr_rows(text)
    made = []
    for n, row in enumerate(rows):
        column = 0
        for dark, same in groupby(row):
            wide = len(tuple(same))
            if dark:
                made.append(f"{column} {len(rows) - 1 - n} {wide} 1 re")
            column += wide
    return " ".join(made)


def draw_qr(canvas: Any, x: float, y: float, text: str, *, module: float) -> float:
    """Draw a QR code as one path with its quiet zone, lower left corner at x, y; return its whole side in points."""
    canvas.saveState()
    canvas.transform(module, 0, 0, module, x + QUIET_QR * module, y + QUIET_QR * module)
    canvas.setFillGray(0)
    canvas.addLiteral(f"{qr_path(text)} f")
    canvas.restoreState()
    return (len(qr_rows(text)) + 2 * QUIET_QR) * module
