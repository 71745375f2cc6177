"""Which letters paper can set: those of the embedded font, DejaVu Sans, that need no more than joining and turning.

Arabic letters are there where the font has the forms that join; marks that stand on a letter only where Unicode has both as
one (normal form C); scripts that put letters together in other ways are not.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from functools import cache
from typing import Any

from solver.errors import FieldFault

# Code points, hexadecimal, up to U+FFFF; a test works them out of the font's files.
RANGES = (
    "20-7e a0-ac ae-2e9 2ec-2ee 2f3 2f7 370-373 375-377 37a-37d 37f 384-386 388-38a 38c 38e-3a1 3a3-482 48a-525 531-556 "
    "559-55f 561-587 589-58a 5be 5c0 5c3 5c6 5d0-5ea 5f0-5f4 606-607 609-60a 60c 61b 61f 621-63a 640-64a 660-66d 679-67b "
    "67e-680 683-684 686-688 68c-68e 691 698 6a4 6a6 6a9 6ad 6af 6b1 6b3 6ba-6bb 6be 6c6-6c8 6cb-6cc 6d0 6f0-6f9 7f8-7f9 "
    "e3f e81-e82 e84 e87-e88 e8a e8d e94-e97 e99-e9f ea1-ea3 ea5 ea7 eaa-eab ead-eb0 eb2-eb3 ebd ec0-ec4 ec6 ed0-ed9 edc- "
    "edd 10a0-10c5 10d0-10fc 1401-1407 1409-141b 141d-1435 1437-144a 144c-1452 1454-14bd 14c0-14ea 14ec-1507 1510-153e "
    "1540-1550 1552-156a 1574-1585 158a-1596 15a0-15af 15de 15e1 1646-1647 166e-1676 1680-169c 1d00-1d14 1d16-1d23 "
    "1d26-1d2e 1d30-1d5b 1d5d-1d6a 1d77-1d78 1d7b 1d7d 1d85 1d9b-1dbf 1e00-1efb 1f00-1f15 1f18-1f1d 1f20-1f45 1f48-1f4d "
    "1f50-1f57 1f59 1f5b 1f5d 1f5f-1f70 1f72 1f74 1f76 1f78 1f7a 1f7c 1f80-1fb4 1fb6-1fba 1fbc-1fbd 1fbf-1fc4 1fc6-1fc8 "
    "1fca 1fcc-1fd2 1fd6-1fda 1fdd-1fe2 1fe4-1fea 1fec-1fed 1ff2-1ff4 1ff6-1ff8 1ffa 1ffc 1ffe 2002-200a 200c 2010-2027 "
    "202f-205f 2070-2071 2074-208e 2090-209c 20a0-20b5 20b8-20ba 20bd 2100-2109 210b-2125 2127-2129 212c-2149 214b 214e "
    "2150-2185 2189 2190-2311 2318-2319 231c-2321 2324-2328 232b-232c 2373-2375 237a 237d 2387 2394 239b-23ae 23ce-23cf "
    "23e3 23e5 23e8 2422-2423 2460-2469 2500-269c 269e-26b8 26c0-26c3 26e2 2701-2704 2706-2709 270c-2727 2729-274b 274d "
    "274f-2752 2756 2758-275e 2761-2794 2798-27af 27b1-27be 27c5-27c6 27e0 27e6-27eb 27f0-28ff 2906-2907 290a-290b "
    "2940-2941 2983-2984 29ce-29d5 29eb 29fa-29fb 2a00-2a02 2a0c-2a1c 2a2f 2a6a-2a6b 2a7d-2aa0 2aae-2aba 2af9-2afa "
    "2b00-2b1a 2b1f-2b24 2b53-2b54 2c60-2c77 2c79-2c7f 2d00-2d25 2d30-2d65 2d6f 2e18 2e1f 2e22-2e25 2e2e 4dc0-4dff "
    "a4d0-a4ff a644-a647 a64c-a64d a650-a651 a654-a657 a662-a66e a68a-a68d a694-a695 a698-a699 a708-a716 a71b-a71f "
    "a722-a72b a730-a741 a746-a74b a74e-a753 a756-a757 a764-a767 a780-a783 a789-a78e a790-a791 a7a0-a7aa a7f8-a7ff "
    "fb00-fb06 fb13-fb17 fffc-fffd"
)


@cache
def printable_code_points() -> frozenset[int]:
    """Return the code points of all letters that paper can set."""
    found: set[int] = set()
    for part in RANGES.split():
        first, _, last = part.partition("-")
        found.update(range(int(first, 16), int(last or first, 16) + 1))
    return frozenset(found)


def first_unprintable_letter(text: str) -> str | None:
    """Return the first letter of a text that paper cannot set, composed where Unicode composes it; None where it can all."""
    if text.isascii() and text.isprintable():
        return None
    return next((letter for letter in unicodedata.normalize("NFC", text) if ord(letter) not in printable_code_points()), None)


def unprintable_letter_fault(path: str, text: str) -> FieldFault | None:
    """Return the fault of a text with a letter that paper cannot set, or None."""
    letter = first_unprintable_letter(text)
    if letter is None:
        return None
    name = f"{letter!r} (U+{ord(letter):04X} {unicodedata.name(letter, 'without a name')})"
    fix = "Latin, Greek, Cyrillic, Armenian, Georgian, Hebrew or Arabic letters, without loose marks"
    return FieldFault(path, f"the letter {name} cannot be printed: no label or sheet has it", fix)


def unprintable_letter_faults(data: Any, path: str) -> Iterator[FieldFault]:
    """Give the faults of all texts in JSON data, names of fields aside."""
    if isinstance(data, str):
        fault = unprintable_letter_fault(path, data)
        if fault is not None:
            yield fault
    elif isinstance(data, dict):
        for name, value in data.items():
            yield from unprintable_letter_faults(value, f"{path}.{name}" if path else str(name))
    elif isinstance(data, list):
        for n, value in enumerate(data):
            yield from unprintable_letter_faults(value, f"{path}[{n}]")
