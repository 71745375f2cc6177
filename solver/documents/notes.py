"""What the stages remark in English, said in the language and unit of a sheet.

A stage's note is an English sentence with names and figures in it. Here each sentence stands as a pattern: a note is matched,
its figures are taken out and set into what the reader's language has for the sentence. `{name}` is kept as it is, `{name:in}`
is a number of inches said as a length, `{name:len}` a length said anew, `{name:word}` a word of the trade, `{name:cuts}` a
list of cuts, `{name:note}` a note within a note. A note that no pattern knows is printed as it came.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from fractions import Fraction
from functools import cache, lru_cache

from solver.language import Language
from solver.units import INCH, LengthError, Unit, parse_length, round_half_up, show_length

NOTES: tuple[str, ...] = (
    # pieces
    "check before standing: closes the loop; lowered from above or inner lip relieved, trimmed to the gap",
    "laps over the panel below: hold it until both are fastened to the support at the joint",
    "the panel above laps over this one on the support",
    "{head:word} of {opening}: finish in the field from the delivered unit",
    "over {opening}, full width: the engineer's header carries the load",
    "mark the wall line underneath, {up:len} up from the lower edge of the eave",
    "one blank with {mark}: rip apart, then each to its own length",
    "from the drop of {opening} in {mark}, once that is routed",
    "{end:word}: {n} cuts, {cuts:cuts}",
    "{face:word} of corner {corner}",
    "{side:word} of {opening}",
    "web faces the opening",
    "relief-cut to bend; fit in the field to the delivered unit",
    "drill only after the bolts are measured: holes shown as planned",
    "goes ahead as the template of the pour",
    "header and bearing: as the engineer of record says",
    "bottom track",
    "top track",
    "jack stud",
    "cripple stud",
    # takeoff
    "{mark} is {length:in} in long: over the {limit:in} in that two forks handle, lift with a spreader",
    "{what:note}: ask the engineer of record before setting",
    "{bolt} stands under no base channel of {wall}",
    "{bolt} stands outside the middle third of the channel",
    "{mark} has {n} bolts as measured, under {least}",
    "{bolt} as measured is {gap:in} in from the end of {mark}",
    "{one} and {other} as measured are {apart:in} in apart",
    # bundles
    "skins protected between pieces; wear gloves, edges are sharp; cut no band under a lifted bundle",
    "longer than two forks handle: lift with a spreader by a qualified rigger, follow local rules",
    "box of {n} loose parts: count them against the list",
    (
        "base channel goes ahead of the pour as its template: it comes first of all, by itself; where the slab crew wants it "
        "days before the panels, name 'base' in the parts of an earlier delivery"
    ),
    "start box: off the truck first, open before the first piece stands; count it against the list",
    "{upper} stands before {lower} but can't lie on it: {why:word}",
    "{upper} stands before {lower} but can't lie on it: {name} may not carry",
    "and {n} more such pairs",
    "{n} pieces are set aside; {more} more bundles would leave {left} (at most {most} a bundle)",
    "setting aside {n} pieces (at most {most} a bundle) would make {fewer} fewer bundles",
    # loads
    "two tiers: high-friction mats or blocking between them (49 CFR 393.118), straps over the top tier",
    "tarp over a ridge pole or end boards so that water runs off and none is trapped between tarp and film",
    (
        "inspect cargo and securement within the first 50 miles, then at each change of duty, 3 hours or 150 miles, whichever "
        "comes first (49 CFR 392.9); federal and local rules and licensed people govern"
    ),
    "semi-trailer over 48 ft: check every state on the route (23 CFR 658.13 protects 48 ft everywhere)",
    "axle places of {deck} are not in the catalog: weigh the axles before the road",
    "under permit {permit}; panel bundles are divisible loads (23 CFR 658.5)",
    "local rules: {rules}",
)

WORDS = (
    "arch", "trapezoid", "round", "sill", "head", "foot", "left jamb", "right jamb", "lower half", "upper half", "inside",
    "outside", "it is too long for it", "it is too wide for it",
)  # fmt: skip
CUTS = ("from square", "bevel", "then", "square")
CONTEXT = "note"  # of the catalog's texts
_CUT = re.compile(rf"\b({'|'.join(CUTS)})\b")
_FIELD = re.compile(r"\{(?P<name>\w+)(?::(?P<kind>\w+))?\}")
_SHAPES = {"in": r"-?\d+(?:\.\d+)?", "word": "|".join(sorted(map(re.escape, WORDS), key=len, reverse=True)), None: r".+?"}


def translate_note(language: Language, text: str, unit: Unit) -> str:
    """Return a stage's English note in a language, its lengths in a unit; as it came where no pattern knows it."""
    found = _match(text)
    if found is None:
        return text
    english, values = found
    said = language.text(english, CONTEXT)
    said = _without_units(english) if said == english else said
    return _FIELD.sub(lambda field: _said(language, field["kind"], values[field["name"]], unit), said)


def is_known_note(text: str) -> bool:
    """Return whether a note, and any note within it, is one of the sentences above."""
    found = _match(text)
    if found is None:
        return False
    english, values = found
    return all(is_known_note(values[field["name"]]) for field in _FIELD.finditer(english) if field["kind"] == "note")


def _said(language: Language, kind: str | None, value: str, unit: Unit) -> str:
    ways: dict[str, Callable[[], str]] = {
        "in": lambda: show_length(round_half_up(Fraction(value) * INCH), unit),
        "len": lambda: _length(value, unit),
        "word": lambda: language.text(value, CONTEXT),
        "cuts": lambda: _cuts(language, value),
        "note": lambda: translate_note(language, value, unit),
    }
    return ways[kind]() if kind in ways else value


def _length(value: str, unit: Unit) -> str:
    try:
        return show_length(parse_length(value), unit)
    except LengthError:
        return value


def _cuts(language: Language, value: str) -> str:
    return _CUT.sub(lambda cut: language.text(cut[0], CONTEXT), value)


@lru_cache(maxsize=20_000)
def _match(text: str) -> tuple[str, dict[str, str]] | None:
    for pattern, english in _patterns():
        if match := pattern.fullmatch(text):
            return english, match.groupdict()
    return None


@cache
def _patterns() -> tuple[tuple[re.Pattern[str], str], ...]:
    return tuple((_pattern(english), english) for english in NOTES)


def _pattern(english: str) -> re.Pattern[str]:
    made, at = "", 0
    for field in _FIELD.finditer(english):
        made += re.escape(english[at : field.start()])
        made += f"(?P<{field['name']}>{_SHAPES.get(field['kind'], _SHAPES[None])})"
        at = field.end()
    return re.compile(made + re.escape(english[at:]), re.DOTALL)


def _without_units(english: str) -> str:
    """Return the sentence without the "in" after a number of inches: the length that is set there says its unit."""
    return re.sub(r"(\{\w+:in\}) in\b", r"\1", english)
