"""What takeoff gives: the pieces of a building, its anchors and hardware, and every soft rule that had to give."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from solver.domain.building import Building
from solver.domain.ids import GroupId, MaterialId, PieceId
from solver.domain.piece import Piece
from solver.units import Nm


@dataclass(frozen=True, slots=True, kw_only=True)
class Anchor:
    """A bolt in the slab: along its wall from the left end seen from outside, across from the outside face."""

    id: str
    wall: GroupId
    along_nm: Nm
    across_nm: Nm
    why: str  # the rule that asked for it: corner, door, splice, spacing


@dataclass(frozen=True, slots=True, kw_only=True)
class HardwareLine:
    """Something to count into a box: how many, in whole packs, and the rule that asked for it."""

    item: str
    quantity: int
    pack: int
    packs: int
    why: str
    group: GroupId | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BrokenRule:
    """A soft rule that this layout breaks, listed so that nobody is surprised.

    `where`: the mark of the piece that is too narrow; of the opening whose leg or joint is too near, or that leaves too low a
    strip below or above it, its id; of an anchor or splice, the wall's id.
    """

    rule: Literal["narrowest_rip", "leg", "strip", "joint_clearance", "spacing", "stagger"]
    where: str
    wanted_nm: Nm
    got_nm: Nm


@dataclass(frozen=True, slots=True, kw_only=True)
class Drop:
    """What falls out of a panel at an opening, squared: material that may be used again, and the joints that it has."""

    piece: PieceId
    opening: str
    material: MaterialId
    width_nm: Nm
    length_nm: Nm
    joints: Literal["both", "left", "right", "none"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Revision:
    """What a new takeoff of an order does to the pieces of the one before.

    `since`: the order's revision then. `kept`: made alike, under their old ids, so that what is cut is used; `changed`: new
    pieces, under new ids, where an obsolete one stood; `new`: all other new pieces; `obsolete`: ids of the takeoff before that
    nothing needs any more.
    """

    since: int
    kept: tuple[PieceId, ...] = ()
    changed: tuple[PieceId, ...] = ()
    new: tuple[PieceId, ...] = ()
    obsolete: tuple[PieceId, ...] = ()

    @property
    def changes_nothing(self) -> bool:
        """Whether every piece is made as it was and none fell away."""
        return not (self.changed or self.new or self.obsolete)


@dataclass(frozen=True, slots=True, kw_only=True)
class Takeoff:
    """All pieces of one building in order of standing, with what else the kit needs."""

    status: Literal["done"] = field(default="done", metadata={"always": True})
    building: Building
    pieces: tuple[Piece, ...]
    anchors: tuple[Anchor, ...] = ()
    hardware: tuple[HardwareLine, ...] = ()
    broken: tuple[BrokenRule, ...] = ()
    warnings: tuple[str, ...] = ()
    drops: tuple[Drop, ...] = ()
    retired: tuple[str, ...] = ()  # marks of earlier revisions that are never used again
    revised: Revision | None = None  # against an earlier takeoff of the order, where there was one
