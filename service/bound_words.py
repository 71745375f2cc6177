"""How far bounds were verified, in lines for who reads a check."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from solver.documents.faults import translate_fault_text
from solver.domain.certificate import BoundReport, State
from solver.language import ENGLISH, Language

SAID: dict[State, str] = {
    "confirmed": "confirmed exactly",
    "again": "confirmed by another solver",
    "unconfirmed": "not confirmed",
    "out_of_time": "not confirmed in the time",
    "refuted": "refuted",
}


def bound_lines(bounds: Sequence[BoundReport], language: Language = ENGLISH) -> Iterator[str]:
    """Yield a line for each bound, and one that counts them."""
    for one in bounds:
        exact = ""
        if one.state != "confirmed" and one.proved is not None:
            exact = language.say("; exact arithmetic carries {value}", value=f"{one.proved:.9g}")
        why = f" ({translate_fault_text(language, one.by)})" if one.by else ""
        state = language.say(SAID[one.state])
        yield (
            language.say("bound: {name} {value}: {state}", name=one.about, value=f"{one.claimed:.9g}", state=state)
            + why
            + exact
        )
    if bounds:
        counts = Counter(one.state for one in bounds)
        said = ", ".join(f"{counts[state]} {language.say(words)}" for state, words in SAID.items() if counts[state])
        yield language.say("bounds: {counts}", counts=said)
