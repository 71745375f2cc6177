"""Who lifts a piece, in words: short for a label, a row or a screen, and what over the guideline means."""

from __future__ import annotations

from collections.abc import Sequence

from solver.documents.texts import say
from solver.domain.lift import Lift
from solver.language import Language
from solver.units import Unit, show_weight


def lift_words(lift: Lift, language: Language) -> str:
    """Return who lifts a piece, short: "2 LIFT", "OVER GUIDELINE FOR 3"; where one does, that."""
    if lift.by == "machine":
        return say(language, "lift_machine")
    if lift.by == "over":
        return say(language, "lift_over", n=lift.people)
    return say(language, "one_lifts") if lift.people == 1 else say(language, "lift_crew", n=lift.people)


def lift_advice(lift: Lift, language: Language) -> str:
    """Return what to do about a piece over the guideline, and of any other who lifts it."""
    if lift.by != "over":
        return lift_words(lift, language)
    return f"{say(language, 'lift_over_how', n=lift.people)}: {say(language, 'lift_aid')}"


def guideline_words(limits_g: Sequence[int], *, published: bool, language: Language, unit: Unit) -> str:
    """Return what one, two, ... may lift together, where that is from, and that it is a filter, no order."""
    limits = ", ".join(say(language, "lift_limit", n=n, weight=show_weight(limit, unit)) for n, limit in enumerate(limits_g, 1))
    source = say(language, "lift_published" if published else "lift_catalog")
    return say(language, "rig_crews", source=source, limits=limits)
