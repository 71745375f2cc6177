"""What the codes on paper say: a label's short number, a bundle's serial shipping container code as a GS1 Digital Link."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import Literal

LONGEST_BYTES = 150  # of a name in a QR code: more would take more room than a small label has
BODY = 10  # digits of a label's short code before its two check digits
RESOLVER = "https://id.gs1.org"  # the standard's own; any domain may stand here


def check_digit(digits: str) -> str:
    """Return the GS1 modulo-10 check digit for the digits before it: weights 3, 1, 3 from the right.

    Source: GS1 General Specifications, as in the GS1 syntax dictionary. Raises ValueError on anything but digits.
    """
    if not (digits.isascii() and digits.isdigit()):
        raise ValueError(f"{digits!r} is not all digits")
    return str(-sum(int(digit) * (1 if n % 2 else 3) for n, digit in enumerate(reversed(digits))) % 10)


def has_valid_check_digit(code: str) -> bool:
    """Return whether a code is all digits and ends in its check digit."""
    return len(code) > 1 and code.isascii() and code.isdigit() and check_digit(code[:-1]) == code[-1]


def sscc_for_name(company_prefix: str, name: str) -> str:
    """Return an SSCC for a thing by its name: extension 0, the company prefix, digits of the name's digest, check digit."""
    room = 16 - len(company_prefix)
    reference = int.from_bytes(hashlib.sha256(name.encode()).digest()[:12], "big") % 10**room
    body = f"0{company_prefix}{reference:0{room}d}"
    return body + check_digit(body)


def gs1_digital_link(serial: str) -> str:
    """Return an SSCC as a GS1 Digital Link: application identifier 00 is the key and takes no qualifiers.

    Raises ValueError when the serial is no SSCC.
    """
    if len(serial) != 18 or not has_valid_check_digit(serial):
        raise ValueError(f"{serial!r} is not a serial shipping container code")
    return f"{RESOLVER}/00/{serial}"


def label_code(name: str) -> str:
    """Return what a label's two-dimensional code says: the name itself, or its short code where it is over 150 bytes."""
    return name if len(name.encode()) <= LONGEST_BYTES else short_code(name)


def short_code(name: str) -> str:
    """Return twelve digits that stand for a name in a bar code and under it: ten from its digest, two that check them.

    Stations look the ten up among open pieces.
    """
    body = f"{int.from_bytes(hashlib.sha256(name.encode()).digest()[:8], 'big') % 10**BODY:0{BODY}d}"
    return body + check_pair(body)


def check_pair(digits: str) -> str:
    """Return the two check digits of ISO/IEC 7064 MOD 97-10 for the digits before them.

    With them the whole number leaves 1 when divided by 97. A digit that is wrong, or two neighbours that changed places,
    are noticed: 97 is prime and divides neither a difference of digits nor nine times it, whatever their place.
    """
    return f"{98 - int(digits) * 100 % 97:02d}"


def has_valid_check_pair(code: str) -> bool:
    """Return whether a code is all digits and its last two check the others (ISO/IEC 7064 MOD 97-10)."""
    return len(code) > 2 and code.isascii() and code.isdigit() and check_pair(code[:-2]) == code[-2:]


def making_name(piece: str, making: int) -> str:
    """Return what the labels of one making of a piece say: the piece's id, and from the second making on its number."""
    return piece if making == 1 else f"{piece}#{making}"


def parse_making_name(name: str) -> tuple[str, int]:
    """Return the piece and the making that a label's text names."""
    piece, mark, number = name.rpartition("#")
    return (piece, int(number)) if mark and number.isascii() and number.isdigit() and len(number) < 5 else (name, 1)


@dataclass(frozen=True, slots=True)
class ScannedCode:
    """What a reader or a keyboard gave: a container's serial, a label's twelve digits, or a name as it stands."""

    kind: Literal["serial", "short", "name"]
    text: str
    sound: bool = True  # its check digits hold


def read_code(text: str) -> ScannedCode:
    """Return what a scanned or typed text is, whichever of our codes it came from.

    Taken off: the reader's symbology identifier (ISO/IEC 15424: "]C1", "]C0", "]Q1" ...) and the group separator that
    stands for FNC1. An SSCC comes as an element string "00..." or "(00) ...", as its 18 digits, or as a GS1 Digital Link
    with "/00/" in its path (GS1 General Specifications; GS1 Digital Link: URI syntax). Any other number of digits is
    a label's, mistyped: no name of ours is all digits.
    """
    plain = text.strip().strip("\x1d")
    if len(plain) > 3 and plain[0] == "]" and plain[1].isalpha() and plain[2].isalnum():
        plain = plain[3:].strip("\x1d")
    if plain.lower().startswith(("http://", "https://")) and "/00/" in plain:
        plain = "00" + plain.partition("/00/")[2][:18]
    digits = plain.replace("(00)", "00", 1).replace(" ", "")
    if digits.isascii() and digits.isdigit():
        if len(digits) == 20 and digits.startswith("00"):
            return ScannedCode("serial", digits[2:], has_valid_check_digit(digits[2:]))
        if len(digits) == 18:
            return ScannedCode("serial", digits, has_valid_check_digit(digits))
        return ScannedCode("short", digits, len(digits) == BODY + 2 and has_valid_check_pair(digits))
    return ScannedCode("name", plain)
