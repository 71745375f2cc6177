"""Lengths as a drawing or a table says them: feet and inches with their marks, millimetres as bare figures."""

from __future__ import annotations

from solver.units import Unit, show_length


def length_figure(length_nm: float, unit: Unit) -> str:
    """Return a length for a drawing or table: millimetre sheets say their unit once, in the foot of the page."""
    text = show_length(round(length_nm), unit)
    return text.removesuffix(" mm")
