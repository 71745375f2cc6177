"""What is wrong with a nesting job, all of it, before anything is searched."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, TypeVar

from solver.codec import decode
from solver.domain.cut_plan import NestJob, PieceKind, StockLength
from solver.errors import FieldFault, InputError
from solver.nesting.renest import half_cut_faults
from solver.units import LONGEST_NM, Unit

T = TypeVar("T")

MOST_PIECES = 1_000_000
MOST_KINDS = 2_000


def validate(job: NestJob) -> list[FieldFault]:
    """Return every fault of a job; paths as the caller wrote them, `pieces[3].edge_a`."""
    faults = _judge(dict(enumerate(job.stock)), dict(enumerate(job.pieces)), has_width=job.width_nm is not None)
    return [*faults, *half_cut_faults(job)]


def faults_of_readable_parts(data: Any) -> list[FieldFault]:
    """Return what else is wrong with a job that can't be read: the faults of those of its pieces and stock that can be."""
    if not isinstance(data, dict):
        return []
    unit: Unit = "in" if data.get("unit") == "in" else "mm"
    stock = _readable(StockLength, data.get("stock"), unit)
    return _judge(stock, _readable(PieceKind, data.get("pieces"), unit), has_width=data.get("width") is not None)


def _readable(kind: type[T], items: Any, unit: Unit) -> dict[int, T]:
    """Return those items that read as they should, by their place."""
    found: dict[int, T] = {}
    for n, item in enumerate(items if isinstance(items, list) else ()):
        try:
            found[n] = decode(kind, item, name="item", unit=unit)
        except InputError:
            continue  # what is wrong with it was said already
    return found


def _judge(stock: Mapping[int, StockLength], pieces: Mapping[int, PieceKind], *, has_width: bool) -> list[FieldFault]:
    faults: list[FieldFault] = []
    _ids(faults, "stock", {n: item.id for n, item in stock.items()})
    _ids(faults, "pieces", {n: item.id for n, item in pieces.items()})
    if len(pieces) > MOST_KINDS:
        faults.append(FieldFault("pieces", f"{len(pieces)} kinds are too many", f"at most {MOST_KINDS} kinds"))
    if len(stock) > MOST_KINDS:
        faults.append(FieldFault("stock", f"{len(stock)} lengths are too many", f"at most {MOST_KINDS} lengths"))
    wanted = sum(piece.count for piece in pieces.values())
    if wanted > MOST_PIECES:
        faults.append(FieldFault("pieces", f"{wanted} pieces in all are too many", f"at most {MOST_PIECES} pieces"))
    for n, piece in pieces.items():
        faults.extend(_piece(piece, f"pieces[{n}]"))
    sloped = [piece.id for piece in pieces.values() if piece.edge_a != piece.edge_b]
    if sloped and not has_width:
        faults.append(FieldFault("width", f"is missing, and an end of {sloped[0]!r} is not square", "the bar's width"))
    return faults


def _ids(faults: list[FieldFault], path: str, ids: Mapping[int, str]) -> None:
    first: dict[str, int] = {}
    for n, name in ids.items():
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
