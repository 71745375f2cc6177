"""How a piece lies before the operator, and the one transformation from the piece as it stands to the table it lies on.

A piece stands with its foot down and is seen from outside: `left` and `right` are its long edges then (`edge_a`, `edge_b`),
`outside` is the face that is seen. It lies on a table seen from above: the fence along the side of the operator, zero at his
left. Which face is up, which edge is at the fence and which end is at zero go together: two of them fix the third, and the
other third is the piece's mirror image (case G19).

A linear part is read the same way: its zero end is the foot, `edge_a` the left edge, and `outside` the side that is seen then.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from solver.domain.cut_plan import Bar, Turn
from solver.domain.piece import PANEL_ROLES, Role
from solver.units import Nm

Face = Literal["outside", "inside"]
Side = Literal["left", "right"]
End = Literal["foot", "head"]
ChannelUp = Literal["open", "web"]
EdgeName = Literal["groove", "tongue", "left", "right"]
Point = tuple[int, int]  # from zero, from the fence

OTHER_FACE: dict[Face, Face] = {"outside": "inside", "inside": "outside"}
OTHER_SIDE: dict[Side, Side] = {"left": "right", "right": "left"}
OTHER_END: dict[End, End] = {"foot": "head", "head": "foot"}
WEB: dict[Role, Face] = {"base_channel": "outside", "top_cap": "inside"}
"""The side of a channel that is its web. Seen in plan the outside edge is `edge_a` and lies near, zero at the left: of a base
channel the open side is up then, of a top cap the web."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lay:
    """One of the four ways in which a piece lies: face up, edge at the fence, end at zero.

    Raises ValueError for the other four: the mirror image of the piece.
    """

    up: Face
    fence: Side
    zero: End

    def __post_init__(self) -> None:
        if ((self.up == "inside") + (self.fence == "left") + (self.zero == "head")) % 2:
            raise ValueError(f"{self.up} face up, {self.fence} edge at the fence, {self.zero} at zero is the mirror image")

    @staticmethod
    def of(up: Face, *, zero: End = "foot") -> Lay:
        """Return how a piece lies with a face up and an end at zero."""
        return Lay(up=up, zero=zero, fence="left" if (up == "inside") == (zero == "foot") else "right")

    @staticmethod
    def along(up: Face, *, fence: Side) -> Lay:
        """Return how a piece lies with a face up and an edge at the fence."""
        return Lay(up=up, fence=fence, zero="foot" if (up == "inside") == (fence == "left") else "head")

    def turned(self, turn: Turn) -> Lay:
        """Return how a piece lies in a blank that lies so, when it is turned in it (case G4)."""
        if turn == "as_is":
            return self
        up = self.up if turn == "end_for_end" else OTHER_FACE[self.up]
        fence = self.fence if turn == "over_end" else OTHER_SIDE[self.fence]
        return Lay(up=up, fence=fence, zero=self.zero if turn == "over" else OTHER_END[self.zero])

    def is_up(self, face: str) -> bool:
        """Return whether a face lies up."""
        return face == self.up

    def near_far(self, edge_a: int, edge_b: int) -> tuple[Nm, Nm]:
        """Return what is said of the two long edges in the order fence, far edge."""
        return (Nm(edge_a), Nm(edge_b)) if self.fence == "left" else (Nm(edge_b), Nm(edge_a))

    def place(self, across: int, along: int, *, width_nm: int, length_nm: int) -> Point:
        """Return where a place lies, from zero and from the fence; `across` from its left edge, `along` from its foot."""
        x = along if self.zero == "foot" else length_nm - along
        return x, across if self.fence == "left" else width_nm - across

    def bar(self, bar: Bar) -> Bar:
        """Return a bar as it lies: `edge_a` at the fence, `edge_b` the far edge."""
        if self.fence == "left":
            return bar
        return replace(bar, pieces=tuple(replace(slot, edge_a=slot.edge_b, edge_b=slot.edge_a) for slot in bar.pieces))


@dataclass(frozen=True, slots=True, kw_only=True)
class Lies:
    """How a thing lies, with what words and drawings need to name its faces and edges.

    `edges`: its left and its right edge, a panel's by the joints that it has there.
    """

    lay: Lay
    role: Role
    edges: tuple[EdgeName, EdgeName] = ("left", "right")
    colours: tuple[str, str] = ("", "")  # outside, inside
    square: bool = False  # ends square and nothing else to mistake: it may lie either way

    @property
    def up_colour(self) -> str:
        """The colour of the face that lies up, where the two differ."""
        outside, inside = self.colours
        return "" if outside == inside else outside if self.lay.is_up("outside") else inside

    @property
    def at_fence(self) -> EdgeName:
        """The edge at the fence."""
        return self.edges[0 if self.lay.fence == "left" else 1]

    @property
    def far_edge(self) -> EdgeName:
        """The edge away from the fence."""
        return self.edges[1 if self.lay.fence == "left" else 0]

    @property
    def web_up(self) -> bool | None:
        """Whether a channel's web lies up; None for what is no channel, or lies on its flange."""
        web = WEB.get(self.role)
        return None if web is None else self.lay.is_up(web)


def channel_lay(role: Role, up: ChannelUp) -> Lay:
    """Return how a linear part lies, its zero end at zero, where the plant wants the open side or the web of channels up.

    An opening channel lies on a flange, its web at the fence: its flanges are alike, so either is up.
    """
    if role == "opening_channel":
        return Lay.of("outside")
    web = WEB.get(role, "outside")
    return Lay.of(web if up == "web" else OTHER_FACE[web])


def is_panel(role: Role) -> bool:
    """Return whether a role is a panel's."""
    return role in PANEL_ROLES
