"""Lettering: texts as runs that both renderers set alike, real fractions and true foot and inch marks, and their widths."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from service.drawings.scripts import runs_leftward, usual_font_suffices, visual_order

RunKind = Literal["plain", "top", "slash", "bottom", "foot", "inch"]

FRACTION = 0.6  # size of a fraction's digits, of the text's
RAISE = 0.34  # how far the numerator stands above the baseline
THIN = 0.12  # the space before a fraction
_FIXED: dict[RunKind, float] = {"slash": 0.26, "foot": 0.2, "inch": 0.36}

# Advance widths of ASCII 32 to 126 in thousandths of the size: Bitstream Vera Sans, which is embedded on paper and is
# wider than the fonts that screens usually set, so that what fits on paper fits on screen. A test compares them.
_REGULAR = (
    "318,401,460,838,636,950,780,275,390,390,500,838,318,361,318,337,636,636,636,636,636,636,636,636,636,636,337,337,838,838,"
    "838,531,1000,684,686,698,770,632,575,775,752,295,295,656,557,863,748,787,603,787,695,635,611,732,684,989,685,611,685,390,"
    "337,390,838,500,500,613,635,550,635,615,352,635,634,278,278,579,278,974,634,612,635,635,411,521,392,634,592,818,592,592,"
    "525,636,337,636,838"
)
_BOLD = (
    "348,456,521,838,696,1002,872,306,457,457,523,838,380,415,380,365,696,696,696,696,696,696,696,696,696,696,400,400,838,838,"
    "838,580,1000,774,762,734,830,683,683,821,837,372,372,775,637,995,837,850,733,850,770,720,682,812,774,1103,771,724,725,457,"
    "365,457,838,500,500,675,716,593,716,678,435,716,712,343,343,665,343,1042,712,687,716,716,493,595,478,712,652,924,645,652,"
    "582,712,365,712,838"
)
_OTHERS = "·–—×°¿¡ßÆæØøºª«»’“”…€"
_OTHER_REGULAR = "318,500,1000,838,500,531,401,630,974,982,787,612,471,471,612,612,318,518,518,1000,636"
_OTHER_BOLD = "380,500,1000,838,500,580,456,719,1085,1048,850,687,564,564,646,646,380,657,657,1000,696"
_WIDTHS: dict[bool, dict[str, float]] = {
    bold: {chr(32 + n): int(value) / 1000 for n, value in enumerate(table.split(","))}
    for bold, table in ((False, _REGULAR), (True, _BOLD))
}
for _bold, _table in ((False, _OTHER_REGULAR), (True, _OTHER_BOLD)):
    _WIDTHS[_bold].update({letter: int(value) / 1000 for letter, value in zip(_OTHERS, _table.split(","), strict=True)})
_MARKS = re.compile(r"(?P<gap> ?)(?P<top>\d+)/(?P<bottom>\d+)(?=\s?\")|(?<=\d)(?P<foot>')|(?<=\d)\s?(?P<inch>\")")


@dataclass(frozen=True, slots=True)
class TextRun:
    """Part of a text that is set in one size and height; `foot` and `inch` are the marks, drawn slanted."""

    text: str
    kind: RunKind = "plain"
    gap: float = 0.0  # before it, in sizes


@lru_cache(maxsize=20_000)
def split_text_runs(text: str) -> tuple[TextRun, ...]:
    """Return the text in runs: `12' 6 1/2"` gives its numbers, the foot mark, a raised 1, a lowered 2, the inch mark.

    A text with letters that run from right to left is one run: its order of drawing is not the order of its letters.
    """
    if runs_leftward(text):
        return (TextRun(text),)
    made: list[TextRun] = []
    at = 0
    for match in _MARKS.finditer(text):
        if match.start() > at:
            made.append(TextRun(text[at : match.start()]))
        if match["top"]:
            gap = THIN if match["gap"] and match.start() > 0 else 0.0
            made += [TextRun(match["top"], "top", gap), TextRun("⁄", "slash"), TextRun(match["bottom"], "bottom")]
        elif match["foot"]:
            made.append(TextRun("′", "foot"))
        else:
            made.append(TextRun("″", "inch"))
        at = match.end()
    if at < len(text):
        made.append(TextRun(text[at:]))
    return tuple(made)


@lru_cache(maxsize=4_000)
def _letter(letter: str, bold: bool) -> float:
    table = _WIDTHS[bold]
    if letter in table:
        return table[letter]
    base = unicodedata.normalize("NFD", letter)[0]
    return table.get(base, 1.0)


def _wide_width(text: str, bold: bool) -> float:
    """The width of a text in the font of many scripts, asked of its file: such texts are few."""
    from service.drawings.font_files import wide_font

    return float(wide_font(bold).stringWidth(visual_order(text), 1.0))


@lru_cache(maxsize=50_000)
def plain_width(text: str, bold: bool = False) -> float:
    """Return the width of a text without marks, in sizes."""
    if not usual_font_suffices(text):
        return _wide_width(text, bold)
    return sum(_letter(letter, bold) for letter in text)


def run_width(run: TextRun, bold: bool = False) -> float:
    """Return the width of a run with its gap, in sizes."""
    if run.kind in _FIXED:
        return _FIXED[run.kind] + run.gap
    scale = 1.0 if run.kind == "plain" else FRACTION
    return plain_width(run.text, bold) * scale + run.gap


@lru_cache(maxsize=50_000)
def text_width(text: str, *, bold: bool = False) -> float:
    """Return the width of a text as it is set, in sizes: multiply by the size."""
    return sum(run_width(run, bold) for run in split_text_runs(text))


def fit_size(text: str, room: float, *, most: float, least: float, bold: bool = False) -> float:
    """Return the largest size from `least` to `most` at which the text is no wider than `room`; `least` if none is."""
    wide = text_width(text, bold=bold)
    return max(least, min(most, room / wide)) if wide else most


def wrap_text(text: str, room: float, size: float, *, bold: bool = False) -> tuple[str, ...]:
    """Return the text in lines no wider than `room`; words break only where one alone is too wide."""
    lines: list[str] = []
    for paragraph in text.split("\n"):
        line = ""
        for word in paragraph.split(" "):
            longer = f"{line} {word}" if line else word
            if text_width(longer, bold=bold) * size <= room:
                line = longer
                continue
            if line:
                lines.append(line)
            line = word
            while text_width(line, bold=bold) * size > room and len(line) > 1:
                keep = _that_fits(line, room / size, bold)
                lines.append(line[:keep])
                line = line[keep:]
        lines.append(line)
    return tuple(lines)


def shorten_text(text: str, room: float, size: float, *, bold: bool = False) -> str:
    """Return the text, shortened in its middle to be no wider than `room`: both ends of a name tell it apart."""
    if text_width(text, bold=bold) * size <= room:
        return text
    for keep in range(len(text) - 1, 1, -1):
        head = (keep + 1) // 2
        short = f"{text[:head]}...{text[len(text) - (keep - head) :]}"
        if text_width(short, bold=bold) * size <= room:
            return short
    return text[:1]


def _that_fits(word: str, room: float, bold: bool) -> int:
    """Return how many letters of the word fit; breaks after a hyphen, dot, slash or bar where one is in reach."""
    count = next((n for n in range(len(word), 1, -1) if text_width(word[:n], bold=bold) <= room), 1)
    for n in range(count, count // 2, -1):
        if word[n - 1] in "-./|_,":
            return n
    return count
