"""A piece of a kit: its set shape as it stands, its cut shape as it leaves the saw, and all that labels and machines need.

The set shape is a polygon in the plane of its group (wall `u`, `z` on the outside face; roof plane `x`, `y`), exact. The set
shapes of a wall's panels tile its outside face once, openings cut out (`cutouts` lie inside the outline); where a wall is
lapped they start or stop by the other wall's thickness (an outside corner's between wall starts late, an inside corner's
through wall runs on). Joint growth belongs to the panel set before the joint: its set shape is that much wider than its cut.

The cut shape lies along the bar: `edge_a` is the piece's extent on the long edge that is left when it stands and is seen from
outside (roof: seen from above, eave down), `edge_b` on the right one, from the foot (wall: base; roof: eave). An allowance
on a long edge lies beyond (below nothing: short of) that edge of the set shape, and the lines of head and foot keep their
pitch over it: heights are those of the set shape's lines at the edges of the cut shape, and of the blank where a ripped
piece's longer side is a joint. Otherwise, and where the head is no single line, `peak_nm` is the square blank to nest. Cut
minus set equals the named allowances, signed.

A linear part's `width_nm` is the distance between `edge_a` and `edge_b`: base channel and top cap lie with the outside edge
as `edge_a` and the inside edge as `edge_b`; an opening channel has its tips as `edge_a` and its web as `edge_b`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from solver.domain.building import Point
from solver.domain.cut_plan import Turn
from solver.domain.ids import GroupId, MaterialId, OrderId, PieceId
from solver.units import Grams, MicroDeg, Nm

Role = Literal[
    "wall_panel",
    "roof_panel",
    "base_channel",
    "top_cap",
    "corner_angle",
    "opening_channel",
    "eave_trim",
    "rake_trim",
    "ridge_trim",
    "hip_trim",
    "valley_trim",
    "furring",
    "stud",
    "track",
    "header",
]
PANEL_ROLES: tuple[Role, ...] = ("wall_panel", "roof_panel")


@dataclass(frozen=True, slots=True, kw_only=True)
class Allowance:
    """A named difference between cut and set shape."""

    name: Literal["joint_growth", "closing", "ridge_gap", "field_head", "lap", "end_lap", "long_face"]
    edge: Literal["left", "right", "foot", "head"]
    amount_nm: Nm


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeCut:
    """What was done to one long edge: the joint kept, or a rip, square or bevelled.

    `outside_nm` and `inside_nm` are how far the cut lies inside the blank's edge on either face.
    """

    kind: Literal["joint", "rip", "mitre"]
    bevel_udeg: MicroDeg = MicroDeg(0)
    outside_nm: Nm = Nm(0)
    inside_nm: Nm = Nm(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class EndCut:
    """How the foot or the head is cut: swing from square in the panel's plane, tilt of the blade through its thickness."""

    swing_udeg: MicroDeg = MicroDeg(0)
    tilt_udeg: MicroDeg = MicroDeg(0)
    long_face: Literal["outside", "inside", "both"] = "both"


@dataclass(frozen=True, slots=True, kw_only=True)
class Cutout:
    """A hole or notch cut from the panel, in set coordinates of the group; no saw over-run past a corner."""

    opening: str
    outline: tuple[Point, ...]
    field_head: bool = False  # cut square to the spring line; the head is finished in the field
    drop_joints: Literal["both", "left", "right", "none"] = "none"  # joints on what falls out


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """A drilled hole (channel) or a pocket (panel foot), centred `along_nm` and `across_nm`, `across_size_nm` wide.

    `along_nm` counts from a channel's zero end (the left one; at an inside mitre, of its inside edge), or along a panel's foot
    from the left edge of its set shape; a pocket astride a joint is in both panels, so its centre may lie outside one.
    `across_nm` counts from the outside.
    """

    kind: Literal["hole", "pocket"]
    anchor: str
    along_nm: Nm
    across_nm: Nm
    across_size_nm: Nm


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One thing to make, label, bundle and stand."""

    id: PieceId
    order: OrderId
    revision: int
    mark: str  # "L1.S-03": the group's id and a number within the group; never used again once obsolete
    part: str  # the level or roof that deliveries name
    group: GroupId
    role: Role
    stands: int  # order of standing within the order, from 1, over all roles
    material: MaterialId
    width_nm: Nm  # between edge_a and edge_b: cover of a panel, plan width of a channel, flange of an opening channel
    thickness_nm: Nm
    edge_a: tuple[Nm, Nm]
    edge_b: tuple[Nm, Nm]
    turns: tuple[Turn, ...]
    outline: tuple[Point, ...]  # set shape, counter-clockwise; of a linear part: its run as two points
    weight_g: Grams
    peak_nm: Nm | None = None  # a peaked piece is nested square at this height; its slopes are second cuts
    left: EdgeCut = EdgeCut(kind="joint")
    right: EdgeCut = EdgeCut(kind="joint")
    foot: EndCut = EndCut()
    head: EndCut = EndCut()
    foot_cuts: tuple[
        EndCut, ...
    ] = ()  # of an end that is no single line: every cut, left to right; `foot`, `head`: the steepest
    head_cuts: tuple[EndCut, ...] = ()
    cutouts: tuple[Cutout, ...] = ()
    holes: tuple[Hole, ...] = ()
    allowances: tuple[Allowance, ...] = ()
    closing: bool = False  # the panel that closes a loop: check before standing
    lip_nm: Nm = Nm(0)  # of a closing panel: how far in from its closing edge the inside lip is relieved
    hand: Literal["left", "right", "none"] = "none"
    notes: tuple[str, ...] = ()

    @property
    def is_panel(self) -> bool:
        """Whether the piece is an insulated panel, not a linear part."""
        return self.role in PANEL_ROLES

    @property
    def zero_nm(self) -> Nm:
        """How far up its foot as it stands the blank begins: at its lowest cut, which lies within where the foot has knees."""
        return Nm(0) if len(self.foot_cuts) > 1 else min(self.edge_a[0], self.edge_b[0])

    @property
    def length_nm(self) -> Nm:
        """The longest extent along the bar: the blank it needs."""
        return Nm(max(self.edge_a[1], self.edge_b[1], self.peak_nm or 0) - self.zero_nm)
