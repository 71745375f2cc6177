"""Cells of tables that spreadsheets open: what would be taken for a formula is made plain text."""

from __future__ import annotations

FORMULA = ("=", "+", "-", "@", "\t", "\r")  # what spreadsheets take for the start of a formula, or drop before looking for one


def escape_formula(value: object) -> object:
    """Return a cell's value; a text that a spreadsheet would run as a formula gets an apostrophe before it.

    Names come from customers, and a formula in one could fetch or send what the reader may see. Numbers stay numbers, and a
    text that is a number with its sign stays as it is. The rule is that of the OWASP Foundation's page "CSV Injection".
    """
    if not isinstance(value, str) or not value.lstrip(" ").startswith(FORMULA) or _is_number(value):
        return value
    return f"'{value}"


def _is_number(text: str) -> bool:
    digits = text.strip(" ").lstrip("+-")
    return len(text.strip(" ")) - len(digits) <= 1 and digits.replace(".", "", 1).isdecimal() and digits.isascii()
