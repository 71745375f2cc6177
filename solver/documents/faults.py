"""Faults in the reader's language: what is wrong and what would be right, by the pattern of their English.

Code writes a fault as an English sentence with names and figures in it. The catalog has each sentence in the context "fault",
its fields in the order in which they stand: `{a}` is kept as it is, `{a:known}` is itself a sentence of the catalog. So code
stays readable, a fault that was stored is said in any language later, and a test holds code and catalog together.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from solver.errors import FieldFault
from solver.language import Language

CONTEXT = "fault"  # of the catalog's texts
FIELD = re.compile(r"\{(?P<name>[a-z])(?P<known>:known)?\}")


def translate_fault_text(language: Language, text: str) -> str:
    """Return a fault's problem or fix in a language; as it came where no sentence of its catalog fits."""
    return _said(language, text) or text


def translate_fault(language: Language, fault: FieldFault) -> FieldFault:
    """Return a fault in a language; its path stays."""
    return FieldFault(fault.path, translate_fault_text(language, fault.problem), translate_fault_text(language, fault.fix))


def is_known_fault(language: Language, text: str) -> bool:
    """Return whether a language has a sentence for a problem or fix."""
    return _said(language, text) is not None


@dataclass(frozen=True, slots=True)
class _Sentence:
    """A sentence as a pattern, the words that any text of it holds, its fields that are sentences, what is said for it."""

    pattern: re.Pattern[str]
    words: tuple[str, ...]
    nested: tuple[str, ...]
    said: str


@lru_cache(maxsize=20_000)
def _said(language: Language, text: str) -> str | None:
    for sentence in _sentences(language):
        if not all(words in text for words in sentence.words):
            continue
        match = sentence.pattern.fullmatch(text)
        if match is None:
            continue
        values = match.groupdict()
        told = {name: _said(language, values[name]) for name in sentence.nested}
        if None not in told.values():
            filled = {**values, **told}
            return FIELD.sub(lambda field, filled=filled: str(filled[field["name"]]), sentence.said)  # type: ignore[misc]
    return None


@lru_cache(maxsize=16)
def _sentences(language: Language) -> tuple[_Sentence, ...]:
    """The sentences of a language; what says most in words of its own comes first."""
    texts = [(english, said[0]) for (context, english), said in language.texts.items() if context == CONTEXT]
    texts.sort(key=lambda pair: (-len(FIELD.sub("", pair[0])), pair[0]))
    return tuple(_sentence(english, said) for english, said in texts)


def _sentence(english: str, said: str) -> _Sentence:
    made, at, words = "", 0, []
    for field in FIELD.finditer(english):
        words.append(english[at : field.start()])
        made += re.escape(words[-1]) + f"(?P<{field['name']}>.+?)"
        at = field.end()
    words.append(english[at:])
    pattern = re.compile(made + re.escape(words[-1]), re.DOTALL)
    return _Sentence(pattern, tuple(filter(None, words)), tuple(f["name"] for f in FIELD.finditer(english) if f["known"]), said)
