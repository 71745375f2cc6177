"""What is wrong with a nesting job, all of it, before anything is searched."""

from __future__ import annotations

from collections.abc import Iterable

from solver.domain.cut_plan import NestJob, PieceKind
from solver.errors import FieldFault
from solver.units import LONGEST_NM

MOST_PIECES = 1_000_000
MOST_KINDS = 2_000


def validate(job: NestJob) -> list[FieldFault]:
    """Return every fault of a job; paths as the caller wrote them, `pieces[3].edge_a`."""
    faults: list[FieldFault] = []
    _ids(faults, "stock", [stock.id for stock in job.stock])
    _ids(faults, "pieces", [piece.id for piece in job.pieces])
    if len(job.pieces) > MOST_KINDS:
        faults.append(FieldFault("pieces", f"{len(job.pieces)} kinds are too many", f"at most {MOST_KINDS} kinds"))
    if len(job.stock) > MOST_KINDS:
        faults.append(FieldFault("stock", f"{len(job.stock)} lengths are too many", f"at most {MOST_KINDS} lengths"))
    wanted = sum(piece.count for piece in job.pieces)
    if wanted > MOST_PIECES:
        faults.append(FieldFault("pieces", f"{wanted} pieces in all are too many", f"at most {MOST_PIECES} pieces"))
    for n, piece in enumerate(job.pieces):
        faults.extend(_piece(piece, f"pieces[{n}]"))
    sloped = [piece.id for piece in job.pieces if piece.edge_a != piece.edge_b]
    if sloped and job.width_nm is None:
        faults.append(FieldFault("width", f"is missing, and an end of {sloped[0]!r} is not square", "the bar's width"))
    return faults


def _ids(faults: list[FieldFault], path: str, ids: list[str]) -> None:
    first: dict[str, int] = {}
    for n, name in enumerate(ids):
        if name in first:
            faults.append(FieldFault(f"{path}[{n}].id", f"{name!r} is also {path}[{first[name]}]", "each id once"))
        first.setdefault(name, n)


def _piece(piece: PieceKind, path: str) -> Iterable[FieldFault]:
    if piece.turns is not None and len(set(piece.turns)) < len(piece.turns):
        yield FieldFault(f"{path}.turns", "a turn is given twice", "each turn once")
    if piece.edge_a is None and piece.edge_b is None:
        if piece.length_nm is None:
            yield FieldFault(f"{path}.length", "is missing", "length, or edge_a and edge_b")
        return
    if piece.length_nm is not None:
        yield FieldFault(f"{path}.length", "is given beside edges", "length alone, or edge_a and edge_b")
    for name, edge in (("edge_a", piece.edge_a), ("edge_b", piece.edge_b)):
        if edge is None:
            yield FieldFault(f"{path}.{name}", "is missing", "both edges, or length alone")
        elif edge[1] < edge[0]:
            yield FieldFault(f"{path}.{name}", "its ends cross", "the nearer end first")
    if piece.edge_a is None or piece.edge_b is None:
        return
    if piece.edge_a[0] == piece.edge_a[1] and piece.edge_b[0] == piece.edge_b[1]:
        yield FieldFault(f"{path}.edge_a", "both edges are empty", "a piece that is longer than nothing")
    spread = max(piece.edge_a[1], piece.edge_b[1]) - min(piece.edge_a[0], piece.edge_b[0])
    if spread > LONGEST_NM:
        yield FieldFault(f"{path}.edge_b", "reaches over 10 km", "edges of one piece")
