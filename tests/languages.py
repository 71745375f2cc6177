"""The languages of the tests: English, the Spanish catalog, and all that the program speaks."""

from __future__ import annotations

from service.languages import language_by_code, language_codes
from solver.language import ENGLISH, Language

SPANISH = language_by_code("es")
LANGUAGES: tuple[Language, ...] = tuple(map(language_by_code, language_codes()))

__all__ = ["ENGLISH", "LANGUAGES", "SPANISH", "Language"]
