"""From pieces to blanks: two rips share one where joints, widths and lengths allow it, small pieces come out of drops."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from solver.domain.cut_plan import DropUse, Joints, Remnant, Rip, SmallPiece
from solver.domain.ids import PieceId, StockId
from solver.domain.piece import Cutout, Piece
from solver.domain.plant import Plant
from solver.domain.stock import StockSnapshot
from solver.nesting.drops import cut_from_drops, piece_fits_drop
from solver.nesting.rips import pair_rips, panel_width_needed
from solver.units import Nm


@dataclass(frozen=True, slots=True)
class Blank:
    """What is cut from a bar: one piece, or two rips, first the one that keeps the left joint."""

    pieces: tuple[Piece, ...]

    @property
    def length_nm(self) -> Nm:
        """How long it must be: the longer of its pieces."""
        return Nm(max(piece.length_nm for piece in self.pieces))

    @property
    def gives_up_a_slope(self) -> bool:
        """Whether a sloped piece lies in a square blank with another: on its own it could share a cut."""
        return len(self.pieces) > 1 and any(piece.peak_nm is None and piece.edge_a != piece.edge_b for piece in self.pieces)


@dataclass(frozen=True, slots=True, kw_only=True)
class Blanks:
    """The blanks of one material, pieces from drops with where each lies, and pieces that any plan needs a blank for."""

    pieces: tuple[Piece, ...]
    blanks: tuple[Blank, ...]
    uses: tuple[DropUse, ...] = ()
    fallen_drops: Mapping[StockId, tuple[PieceId, str]]  # drops of this plan: the panel and the opening
    needed: tuple[Piece, ...]  # no two of them can share a blank, none can come from a drop
    shared: frozenset[PieceId] = frozenset()  # those of `needed` that could lie in another's blank


def blank_per_piece(pieces: Sequence[Piece]) -> Blanks:
    """Return a blank for each piece."""
    return Blanks(
        pieces=tuple(pieces), blanks=tuple(Blank((piece,)) for piece in pieces), fallen_drops={}, needed=tuple(pieces)
    )


def share_blanks(pieces: Sequence[Piece], plant: Plant, stock: StockSnapshot, *, share: bool = True) -> Blanks:
    """Return the blanks of one material's pieces: small ones from drops, then rips in pairs (with `share`).

    Drops of an opening exist once its panel is routed; those of earlier plans are the remnants in stock that no whole
    panel fits (the others are stock for the bars). A piece with openings of its own never comes from a drop.
    """
    drops, fell = _drops(pieces, plant, stock)
    small = [_small(piece) for piece in pieces if piece.is_panel and not piece.cutouts and kept_joints(piece) != "both"]
    uses, _ = cut_from_drops(small, drops, kerf_nm=plant.saw.kerf_nm) if drops else ((), ())
    from_drop = {name for use in uses for name in use.pieces}
    givable = {item.id for item in small if any(piece_fits_drop(drop, item) for drop in drops)}
    rest = [piece for piece in pieces if piece.id not in from_drop]
    by_id = {str(piece.id): piece for piece in rest}
    rips = [_rip(piece) for piece in rest if piece.is_panel and kept_joints(piece) in ("left", "right")]
    rules = _Rules(plant, rips, by_id)
    made = [Blank((by_id[a], by_id[b])) for a, b in (rules.pairs() if share else ())]
    paired = {piece.id for blank in made for piece in blank.pieces}
    blanks = [*made, *(Blank((piece,)) for piece in rest if piece.id not in paired)]
    kept, partners = rules.apart()
    dropped = {rip.id for rip in rips} - kept
    needed = tuple(piece for piece in rest if piece.id not in dropped and piece.id not in givable)
    shared = frozenset(PieceId(name) for name in kept if partners[name])
    return Blanks(pieces=tuple(pieces), blanks=tuple(blanks), uses=uses, fallen_drops=fell, needed=needed, shared=shared)


def kept_joints(piece: Piece) -> Joints:
    """Return the joints that a panel keeps."""
    left, right = piece.left.kind == "joint", piece.right.kind == "joint"
    return "both" if left and right else "left" if left else "right" if right else "none"


def _rip(piece: Piece) -> Rip:
    keeps = "left" if piece.left.kind == "joint" else "right"
    cut = piece.right if keeps == "left" else piece.left
    spans = (piece.edge_a[1] - piece.edge_a[0], piece.edge_b[1] - piece.edge_b[0])
    return Rip(
        id=str(piece.id),
        keeps="left" if keeps == "left" else "right",
        outside_nm=Nm(piece.width_nm - cut.outside_nm),
        inside_nm=Nm(piece.width_nm - cut.inside_nm),
        length_nm=piece.length_nm,
        alone_nm=piece.length_nm if piece.peak_nm is not None else Nm(sum(spans) // 2),
    )


class _Rules:
    """Which rips can share a blank: by family alike cover, thickness and the kerf of the saw."""

    def __init__(self, plant: Plant, rips: Sequence[Rip], pieces: Mapping[str, Piece]) -> None:
        self.rips, self.kerf = rips, plant.saw.kerf_nm
        sample = pieces[rips[0].id] if rips else None
        self.cover = sample.width_nm if sample else Nm(0)
        self.thick = sample.thickness_nm if sample else Nm(0)
        self.lefts = [rip for rip in rips if rip.keeps == "left"]
        self.rights = [rip for rip in rips if rip.keeps == "right"]

    def pairs(self) -> Iterable[tuple[str, str]]:
        """Yield the ids of rips that share a blank, so that most panel length is saved."""
        fit = [rip for rip in self.rips if max(rip.outside_nm, rip.inside_nm) <= self.cover]
        for pair in pair_rips(fit, cover_nm=self.cover, thickness_nm=self.thick, kerf_nm=self.kerf):
            if pair.left is not None and pair.right is not None:
                yield pair.left, pair.right

    def apart(self) -> tuple[set[str], dict[str, set[str]]]:
        """Return rips of which no two can share a blank, of many such sets the longest; and who could share with whom.

        Those that keep one joint, the widest of them, and all that keep the other and share with none of these: widths
        decide who can share, so that the sets are nested.
        """
        partners: dict[str, set[str]] = {rip.id: set() for rip in self.rips}
        for left in self.lefts:
            for right in self.rights:
                if panel_width_needed(left, right, thickness_nm=self.thick, kerf_nm=self.kerf) <= self.cover:
                    partners[left.id].add(right.id)
                    partners[right.id].add(left.id)
        length = {rip.id: rip.alone_nm or rip.length_nm for rip in self.rips}
        order = sorted(self.lefts, key=lambda rip: (len(partners[rip.id]), -length[rip.id]))
        kept = {rip.id for rip in self.rights}
        best = set(kept)
        total: int = sum(length[name] for name in kept)
        most = total
        for left in order:
            lost = kept & partners[left.id]
            kept = (kept - lost) | {left.id}
            total += length[left.id] - sum(length[name] for name in lost)
            if total > most:
                best, most = set(kept), total
        return best, partners


def _small(piece: Piece) -> SmallPiece:
    outside = piece.width_nm - piece.left.outside_nm - piece.right.outside_nm
    inside = piece.width_nm - piece.left.inside_nm - piece.right.inside_nm
    return SmallPiece(id=str(piece.id), length_nm=piece.length_nm, width_nm=Nm(max(outside, inside)), joints=kept_joints(piece))


def _drops(
    pieces: Sequence[Piece], plant: Plant, stock: StockSnapshot
) -> tuple[list[Remnant], dict[StockId, tuple[PieceId, str]]]:
    """Return what falls out of these panels and what lies on the rack that no whole panel fits, smallest use first."""
    if not pieces or not pieces[0].is_panel:
        return [], {}
    material, cover = pieces[0].material, pieces[0].width_nm
    found = [
        item
        for item in stock.remnants
        if item.material == material and (item.joints != "both" or (item.width_nm or cover) < cover)
    ]
    taken = Counter(item.id for item in found)
    fell: dict[StockId, tuple[PieceId, str]] = {}
    for piece in pieces:
        for cutout in piece.cutouts:
            name = StockId(f"{piece.id} {cutout.opening}")
            drop = _fallen(name, piece, cutout, plant)
            if drop is not None and not taken[name]:
                taken[name] += 1
                found.append(drop)
                fell[name] = (piece.id, cutout.opening)
    return found, fell


def _fallen(name: StockId, piece: Piece, cutout: Cutout, plant: Plant) -> Remnant | None:
    """Return what falls out at a cutout: less the router's cut on every side that is no joint, and less what a set shape
    is wider than the cut one. An edge that is ripped or mitred is no joint, and slants inward."""
    us, zs = [u for u, _ in cutout.outline], [z for _, z in cutout.outline]
    edges = {"left": piece.left, "right": piece.right}
    side = cutout.drop_joints if cutout.drop_joints in edges else None
    edge = None if side is None else edges[side]
    joint = edge is not None and edge.kind == "joint"
    width: int = max(us) - min(us) - (1 if joint else 2) * plant.router_bit_nm
    width -= sum(abs(item.amount_nm) for item in piece.allowances if item.edge in edges)
    width -= 0 if edge is None else abs(edge.outside_nm - edge.inside_nm)
    length = max(zs) - min(zs) - 2 * plant.router_bit_nm
    if width <= 0 or length <= 0:
        return None
    joints: Joints = "none" if not joint else "left" if side == "left" else "right"
    return Remnant(id=name, material=piece.material, length_nm=Nm(length), width_nm=Nm(width), joints=joints)


def pieces_in_openings(blanks: Blanks) -> Mapping[PieceId, list[tuple[PieceId, str]]]:
    """Return, for each panel, the pieces that come out of its openings."""
    made: dict[PieceId, list[tuple[PieceId, str]]] = defaultdict(list)
    for use in blanks.uses:
        if use.drop in blanks.fallen_drops:
            host, opening = blanks.fallen_drops[use.drop]
            made[host].extend((PieceId(name), opening) for name in use.pieces)
    return made
