"""The language that people are spoken to: English sentences are the keys, what another language says for each is given.

Nothing is read here: who starts a process reads the catalogs (`service/languages.py`) and passes a language on.
"""

from __future__ import annotations

import gettext
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache

Key = tuple[str, str]  # the context in which a text stands ("" where it needs none), and the text in English


@dataclass(frozen=True, slots=True, eq=False)
class Language:
    """A language: its code (ISO 639), and its texts; one without a text says it in English."""

    code: str
    texts: Mapping[Key, tuple[str, ...]] = field(default_factory=dict, repr=False)  # a text's plural forms; one form else
    plural: str = "n != 1"  # which form a number takes, as gettext writes it

    def __str__(self) -> str:
        return self.code

    def text(self, english: str, context: str = "") -> str:
        """Return a text in this language: as its context wants it, else as it is said anywhere, else in English."""
        found = self.texts.get((context, english)) or self.texts.get(("", english))
        return found[0] if found else english

    def say(self, english: str, /, **values: object) -> str:
        """Return a text in this language, its {names} filled in."""
        said = self.text(english)
        return said.format(**values) if values else said

    def counted(self, n: int, one: str, many: str) -> str:
        """Return the form of a text that a number takes; its key is the English of one."""
        found = self.texts.get(("", one))
        if not found:
            return one if n == 1 else many
        form = _plural(self.plural)(n)
        return found[form if form < len(found) else -1]


ENGLISH = Language("en")


@lru_cache(maxsize=64)
def _plural(rule: str) -> Callable[[int], int]:
    return gettext.c2py(rule)
