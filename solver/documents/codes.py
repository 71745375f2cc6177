"""What the codes on paper say: a label's short number, a bundle's serial shipping container code as a GS1 Digital Link."""

from __future__ import annotations

import hashlib

LONGEST_BYTES = 150  # of a name in a QR code: more would take more room than a small label has
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


def container_code(company_prefix: str, name: str) -> str:
    """Return an SSCC for a thing by its name: extension 0, the company prefix, digits of the name's digest, check digit."""
    room = 16 - len(company_prefix)
    reference = int.from_bytes(hashlib.sha256(name.encode()).digest()[:12], "big") % 10**room
    body = f"0{company_prefix}{reference:0{room}d}"
    return body + check_digit(body)


def container_link(serial: str) -> str:
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
    """Return ten digits that stand for a long name in a bar code; stations look them up among open pieces."""
    return f"{int.from_bytes(hashlib.sha256(name.encode()).digest()[:8], 'big') % 10**10:010d}"
