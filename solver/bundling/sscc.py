"""Serial shipping container codes (SSCC): 18 digits with a GS1 check digit."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable

from solver.domain.bundle import Bundle


def check_digit(digits: str) -> str:
    """Return the GS1 modulo-10 check digit of the digits before it.

    Weights 3, 1, 3 ... from the digit left of the check digit (GS1 General Specifications; check N1).
    """
    total = sum(int(digit) * (1 if place % 2 else 3) for place, digit in enumerate(reversed(digits)))
    return str(-total % 10)


def is_valid_sscc(code: str) -> bool:
    """Return whether a text is all digits, at least two, and ends in its own check digit."""
    return len(code) > 1 and code.isascii() and code.isdigit() and check_digit(code[:-1]) == code[-1]


def make_sscc(company_prefix: str, reference: int, *, extension: int = 0) -> str:
    """Return the 18-digit code of a serial reference under a company prefix. Raises ValueError when it does not fit."""
    room = 16 - len(company_prefix)
    if not 0 <= reference < 10**room or not 0 <= extension <= 9:
        raise ValueError(f"serial reference {reference} does not fit {room} digits")
    body = f"{extension}{company_prefix}{reference:0{room}d}"
    return body + check_digit(body)


def bundle_contents_name(bundle: Bundle) -> str:
    """Return what a bundle's code is made from: its name and what lies in it, in order.

    A bundle of the same name with other contents is another logistic unit, and gets another code: GS1 gives no number to
    two within a year (General Specifications, allocation of SSCC).
    """
    return "\n".join(
        [bundle.id, *(lay.piece for lay in bundle.pieces), *(f"{item.item} {item.quantity}" for item in bundle.items)]
    )


def assign_ssccs(company_prefix: str, names: Iterable[str]) -> list[str]:
    """Return a code for each name, the same name always the same code, no code twice in the list.

    The reference is a digest of the name, so that a bundle keeps its code when it is planned again as it was. Two names of
    one list never share a code; across lists a clash is as unlikely as the digits left by the prefix make it.
    """
    room = 10 ** (16 - len(company_prefix))
    used: set[int] = set()
    made = []
    for name in names:
        reference = int.from_bytes(hashlib.sha256(name.encode()).digest()[:12], "big") % room
        while reference in used and len(used) < room:
            reference = (reference + 1) % room
        used.add(reference)
        made.append(make_sscc(company_prefix, reference))
    return made
