"""What the stations say: the English text is the key; other languages are tables, and a text without one stays English."""

from __future__ import annotations

from typing import Any, Literal

from service.stations.spanish import SPANISH

Language = Literal["en", "es"]


def spoken(setting: str, asked: str) -> Language:
    """Return the language to speak: the plant's setting, else the browser's first wish that we speak, else English."""
    wishes = [setting] if setting else [part.partition(";")[0].strip().lower() for part in asked.split(",")]
    for wish in wishes:
        if wish.startswith("es"):
            return "es"
        if wish.startswith("en"):
            return "en"
    return "en"


def say(language: Language, text: str, **values: Any) -> str:
    """Return a text in a language, its {names} filled in."""
    found = SPANISH.get(text, text) if language == "es" else text
    return found.format(**values) if values else found
