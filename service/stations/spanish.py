"""The stations' texts in Spanish, by their English text."""

SPANISH: dict[str, str] = {}
