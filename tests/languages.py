"""The languages of the tests: English, the Spanish catalog, and all that the program speaks."""

from __future__ import annotations

from service.languages import codes, language
from solver.language import ENGLISH, Language

SPANISH = language("es")
LANGUAGES: tuple[Language, ...] = tuple(map(language, codes()))

__all__ = ["ENGLISH", "LANGUAGES", "SPANISH", "Language"]
