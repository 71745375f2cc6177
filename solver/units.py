"""Whole nanometres, grams, cents and seconds; the one place where they are read, rounded and printed."""

from __future__ import annotations

import math
import re
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from typing import Literal, NewType

Nm = NewType("Nm", int)  # length, whole nanometres: 1/64 in and 1 mm are both whole
Grams = NewType("Grams", int)
Cents = NewType("Cents", int)
Seconds = NewType("Seconds", int)
MicroDeg = NewType("MicroDeg", int)  # angle, millionths of a degree; for showing and saw settings, never for proofs

Unit = Literal["mm", "in"]

MM = 1_000_000
INCH = 25_400_000
FOOT = 12 * INCH
SIXTEENTH = INCH // 16
CUBIC_FOOT_L = Fraction(28_316_846_592, 1_000_000_000)  # exact: 0.3048 m cubed
GRAMS_PER_POUND = Fraction(45359237, 100_000)  # exact by definition (check D2)

LONGEST_NM = 2 * 10**15  # 2,000 km: strips off a coil are long; a number in inches still restores each nanometre

_UNIT_NM: dict[str, int] = {
    "mm": MM,
    "cm": 10 * MM,
    "m": 1000 * MM,
    "in": INCH,
    "inch": INCH,
    "inches": INCH,
    '"': INCH,
    "″": INCH,
    "ft": FOOT,
    "foot": FOOT,
    "feet": FOOT,
    "'": FOOT,
    "′": FOOT,
}
_NUMBER = r"(?:\d+\s*-\s*\d+\s*/\s*\d+|\d+\s+\d+\s*/\s*\d+|\d+\s*/\s*\d+|\d+(?:\.\d+)?|\.\d+)"
_TERM = re.compile(rf"\s*(?P<number>{_NUMBER})\s*(?P<unit>mm|cm|m|inches|inch|in|feet|foot|ft|\"|″|'|′)")
_FRACTION = re.compile(r"(?:(?P<whole>\d+)\s*[-\s]\s*)?(?P<top>\d+)\s*/\s*(?P<bottom>\d+)\Z")
_WHAT_IS_RIGHT = "a length such as 12' 6 1/2\", 5/8 in or 3810 mm"


class LengthError(ValueError):
    """A text or number that is no length; `problem` and `fix` say why and what would be right."""

    def __init__(self, problem: str, fix: str = _WHAT_IS_RIGHT) -> None:
        super().__init__(problem, fix)
        self.problem = problem
        self.fix = fix


def round_half_up(value: Fraction) -> int:
    """Return the nearest whole number, ties upward: the only rounding rule of lengths."""
    return math.floor(value + Fraction(1, 2))


def _number(text: str) -> Fraction:
    if match := _FRACTION.match(text.strip()):
        bottom = int(match["bottom"])
        if bottom == 0:
            raise LengthError(f"{text.strip()} divides by zero")
        return int(match["whole"] or 0) + Fraction(int(match["top"]), bottom)
    return Fraction(Decimal(text.strip()))


def _bounded(value: Fraction, shown: str) -> Nm:
    nearest = round_half_up(value)
    if abs(nearest) > LONGEST_NM:
        raise LengthError(f"{shown} is over 2,000 km", "a length that a plant can handle")
    return Nm(nearest)


def parse_length(text: str) -> Nm:
    """Return the length that a text with its own units states, to the nearest nanometre.

    Feet, inches, fractions and millimetres, each with its unit: `12' 6 1/2"`, `12'-6 1/2"`, `5/8 in`, `3810 mm`;
    a leading minus negates the whole. Raises LengthError.
    """
    shown = repr(text) if len(text) <= 40 else repr(text[:37] + "...")
    if len(text) > 100:
        raise LengthError(f"{shown} is too long for a length")
    body = text.strip()
    negative = body.startswith(("-", "−"))
    rest = body[1:].lstrip() if negative else body
    if not rest:
        raise LengthError(f"{shown} is empty")
    total, last = Fraction(0), LONGEST_NM * 10
    while rest:
        match = _TERM.match(rest)
        if match is None:
            if re.fullmatch(rf"\s*{_NUMBER}\s*", rest):
                raise LengthError(f"{shown} states no unit")
            raise LengthError(f"{shown} is not a length")
        size = _UNIT_NM[match["unit"]]
        if size >= last:
            raise LengthError(f"{shown} is not a length")
        try:
            total += _number(match["number"]) * size
        except InvalidOperation as error:
            raise LengthError(f"{shown} is not a length") from error
        last = size
        rest = rest[match.end() :]
        rest = re.sub(r"\A\s*-\s*(?=\d)", " ", rest) if rest.strip() else ""
    return _bounded(-total if negative else total, shown)


def length_from_json(value: object, unit: Unit | None) -> Nm:
    """Return the length of a JSON number (in `unit`) or text (with its own units). Raises LengthError."""
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise LengthError(f"{value!r} is not a length"[:120])
    if isinstance(value, str):
        return parse_length(value)
    if isinstance(value, float) and not math.isfinite(value):
        raise LengthError(f"{value} is not a finite number")
    if unit is None:
        raise LengthError(f"{value} states no unit", 'a "unit" of "mm" or "in" in the document, or a text with its unit')
    exact = Fraction(value) if isinstance(value, int) else Fraction(repr(value))
    return _bounded(exact * _UNIT_NM[unit], str(value))


def length_as_number(length_nm: int, unit: Unit) -> int | float:
    """Return the length as a number in `unit`, to 1e-6 mm or 1e-9 in, so that reading it restores it exactly."""
    whole, left = divmod(length_nm, _UNIT_NM[unit])
    if left == 0:
        return whole
    return round(length_nm / MM, 6) if unit == "mm" else round(length_nm / INCH, 9)


def rounded_shop_number(length_nm: int, unit: Unit) -> float:
    """Return a length as a number in `unit`, rounded to what the shop reads: 1/16 in or 0.1 mm, as `show_length` does."""
    if unit == "mm":
        return round_half_up(Fraction(length_nm * 10, MM)) / 10
    return round_half_up(Fraction(length_nm, SIXTEENTH)) / 16


def show_length(length_nm: int, unit: Unit) -> str:
    """Return the length as people read it: `12' 6 1/2"` to the nearest 1/16 (check D1), or `3810 mm` to 0.1."""
    sign, size = ("-", -length_nm) if length_nm < 0 else ("", length_nm)
    if unit == "mm":
        tenths = round_half_up(Fraction(size * 10, MM))
        whole, tenth = divmod(tenths, 10)
        return f"{sign if tenths else ''}{whole}{f'.{tenth}' if tenth else ''} mm"
    feet, inches, top, bottom = feet_inch_parts(size)
    fraction = f" {top}/{bottom}" if top else ""
    if feet == 0:
        body = f'{inches}{fraction}"' if inches or not top else f'{top}/{bottom}"'
    else:
        body = f"{feet}' {inches}{fraction}\""
    return f"{sign if (feet or inches or top) else ''}{body}"


def feet_inch_parts(length_nm: int) -> tuple[int, int, int, int]:
    """Return feet, inches and the fraction's numerator and denominator, to the nearest 1/16; length at least 0."""
    sixteenths = round_half_up(Fraction(length_nm, SIXTEENTH))
    feet, rest = divmod(sixteenths, 192)
    inches, top = divmod(rest, 16)
    common = math.gcd(top, 16)
    return feet, inches, top // common, 16 // common


def exact_length_text(length_nm: int, unit: Unit) -> str:
    """Return the length as text that parses back to the same nanometre."""
    return f"{Decimal(repr(length_as_number(length_nm, unit))):f} {unit}"


def isqrt_nearest(value: int) -> int:
    """Return the whole number nearest to the square root of a whole number (no float: values exceed 2^53)."""
    root = math.isqrt(value)
    return root + 1 if value - root * root > root else root


def grams_from_pounds(pounds: float | int | Fraction) -> Grams:
    """Return pounds as whole grams, nearest."""
    return Grams(round_half_up(Fraction(pounds) * GRAMS_PER_POUND))


def pounds_from_grams(weight_g: int) -> float:
    """Return grams as pounds, for showing."""
    return float(Fraction(weight_g) / GRAMS_PER_POUND)


def show_weight(weight_g: int, unit: Unit) -> str:
    """Return the weight as people read it: whole pounds, or kilograms to 0.1."""
    if unit == "in":
        return f"{round_half_up(Fraction(weight_g) / GRAMS_PER_POUND):,} lb"
    tenths = round_half_up(Fraction(weight_g, 100))
    return f"{tenths / 10:,.1f} kg"


def show_volume(litres: int, unit: Unit) -> str:
    """Return a volume as people read it: whole cubic feet, rounded up, or cubic metres to 0.01."""
    if unit == "in":
        return f"{math.ceil(litres / CUBIC_FOOT_L):,} ft³"
    return f"{litres / 1000:,.2f} m³"


def show_angle(angle_udeg: int) -> str:
    """Return an angle in degrees to one tenth, as a saw's scale is read."""
    return f"{round_half_up(Fraction(angle_udeg, 100_000)) / 10:.1f}°"
