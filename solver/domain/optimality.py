"""When a value is the best there is: where it equals the bound that nothing can beat."""

TOLERANCE = 1e-6  # of a value, within which a bound is met


def meets_bound(value: float | None, bound: float | None) -> bool:
    """Return whether a value is the bound that nothing can beat, to one in a million."""
    return value is not None and bound is not None and abs(value - bound) <= TOLERANCE * abs(value)
