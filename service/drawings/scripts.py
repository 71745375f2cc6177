"""Texts in the order in which their letters are drawn: joined where the script joins them, from left to right.

By the Unicode Bidirectional Algorithm (UAX 9) and Arabic cursive joining (The Unicode Standard, chapter 9).
"""

from __future__ import annotations

import unicodedata
from functools import cache, lru_cache
from typing import Any

LATIN_1 = range(0xC0, 0x100)
PLAIN = frozenset("·–—×°¿¡«»’“”…€ªº")
NON_JOINER = "\u200c"


def usual_font_suffices(text: str) -> bool:
    """Return whether a text is of letters that the usual font has: it is set as it stands."""
    return text.isascii() or all(ord(letter) < 0x80 or ord(letter) in LATIN_1 or letter in PLAIN for letter in text)


@lru_cache(maxsize=20_000)
def runs_leftward(text: str) -> bool:
    """Return whether a text has letters that are written from right to left."""
    return not text.isascii() and any(unicodedata.bidirectional(letter) in ("R", "AL", "AN") for letter in text)


@lru_cache(maxsize=20_000)
def visual_order(text: str) -> str:
    """Return the letters to draw from left to right, composed, joined and turned."""
    text = unicodedata.normalize("NFC", text)
    if not runs_leftward(text):
        return text.replace(NON_JOINER, "")
    from bidi import get_display

    turned = get_display(_joiner().reshape(text))
    return str(turned).replace(NON_JOINER, "")


@cache
def _joiner() -> Any:
    from arabic_reshaper import ArabicReshaper

    # of the ligatures only lam with alef, which the script demands and the font has
    return ArabicReshaper(configuration={"support_ligatures": True, "ARABIC LIGATURE ALLAH": False, "delete_harakat": False})
