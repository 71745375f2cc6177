"""Judge the bound of skins by lengths alone: pieces, and what one coil loses at its end, at the cheapest coil's cost."""

from __future__ import annotations

from fractions import Fraction

from solver.domain.certificate import BoundReport, State
from solver.domain.skin_plan import SkinJob, SkinResult
from solver.units import INCH, MM

NEAR = Fraction(1, 1_000_000)


def verify_bounds(job: SkinJob, result: SkinResult) -> tuple[BoundReport, ...]:
    """Return how far the bound of the cost is carried by lengths; beyond that it rests on a search over fillings of coils."""
    run = sum(piece.length_nm * piece.count for face in job.faces for piece in face.pieces)
    cheapest = min((Fraction(repr(coil.cost)) for coil in job.coils), default=Fraction(0))
    proved = cheapest * Fraction(run + job.change_nm if run else 0, INCH if job.unit == "in" else MM)
    claimed = Fraction(result.lower_bound)
    state: State = "confirmed" if claimed <= proved * (1 + NEAR) else "unconfirmed"
    said = "the pieces' own length at the cheapest coil's cost"
    said += "" if state == "confirmed" else "; beyond that a search over how coils are filled"
    return (
        BoundReport(
            about="lower_bound",
            state=state,
            claimed=float(claimed),
            proved=float(proved),
            kind="lengths" if state == "confirmed" else "search",
            by=said,
        ),
    )
