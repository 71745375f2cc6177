"""From the rows of the sheets to a thing: the bar's cuts, then what follows on the saw, bevel saw, router and drill."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from solver.domain.document import LyingShape, RipRow, SawBar, SawCut, SawPiece, SecondCut, ShapeRow
from solver.domain.lay import Lay, Lies, is_panel
from solver.domain.piece import Role
from tests.replay.table import Blade, Body, Lying, Numbers, Truths

Keeps = Callable[[Numbers, Numbers, Numbers], Truths]
Profile = frozenset[tuple[float, float, int]]  # through the thickness: from, to, in or out
CHANNELS = ("base_channel", "top_cap")
Laid = SawBar | RipRow | ShapeRow
LEFT_NAMES = ("groove", "left")
AT_EDGE = 60_000.0  # nearer to an edge than that, a cut runs out over it


@dataclass(frozen=True)
class Stock:
    """What is pulled: how wide and thick, which joints, where in the thickness they are, the saw's kerf."""

    wide: float
    thick: float
    joints: str
    centred: bool
    kerf: float
    colours: tuple[str, str]
    slack: float = 0.0  # of figures that were rounded for paper


@dataclass
class Made:
    """A thing in the making, in its own frame."""

    name: str
    role: Role
    body: Body
    keeps: list[Keeps] = field(default_factory=list)
    edges: dict[str, tuple[float, float]] = field(default_factory=dict)  # left and right: u on the outside, on the inside
    joints: dict[str, tuple[Profile, Profile]] = field(default_factory=dict)  # by side: the blank's, and its own
    skins: tuple[str, str] = ("", "")
    feet: list[tuple[Lying, Blade, float, float]] = field(default_factory=list)  # cuts of its foot, from y to y
    pockets: list[tuple[float, float]] = field(default_factory=list)  # u, d
    holes: list[tuple[float, float]] = field(default_factory=list)  # u, z

    def has(self, u: Numbers, z: Numbers, d: Numbers) -> Truths:
        found: Truths = np.ones(np.broadcast(u, z, d).shape, dtype=np.bool_)
        for keep in self.keeps:
            found &= keep(u, z, d)
        return found


def lying(body: Body, row: Laid, role: str, *, made: Made | None = None, origin: float = 0.0) -> Lying:
    """Lay a thing as a row says; the fence touches its edge as it is by now."""
    assert row.lies is not None
    return lying_as(body, row.lies, role, row.lies.lay, made=made, origin=origin)


def lying_as(body: Body, lies: Lies, role: str, lay: Lay, *, made: Made | None = None, origin: float = 0.0) -> Lying:
    near_left = lay.fence == "left"
    up_outside = lay.up == "outside"
    if role in CHANNELS:  # the words are of the web: it is d = 0
        web = "outside" if role == "base_channel" else "inside"
        up_outside = lay.up == web
    name = lies.edges[0 if near_left else 1]
    assert (name in LEFT_NAMES) == near_left, "an edge's name and its side differ"
    edge = 0.0 if near_left else body.wide
    if made is not None and made.edges:
        edge = min(made.edges["left"]) if near_left else max(made.edges["right"])
    foot = lay.zero == "foot"
    return Lying(body, near_left, up_outside, foot, fence_at=edge, origin=origin)


def profile(stock: Stock, side: str) -> Profile:
    """What a blank's edge is like through its thickness: from, to (from the outside), in or out."""
    third, middle = stock.thick / 3, stock.thick * (0.5 if stock.centred else 0.4)
    slot = (round(middle - third / 2, 3), round(middle + third / 2, 3))
    if stock.joints == "tongue_groove":
        return frozenset({(*slot, -1 if side == "left" else 1)})
    if stock.joints == "half_lap":
        half = (0.0, stock.thick / 2) if side == "left" else (stock.thick / 2, stock.thick)
        return frozenset({(*half, 1)})
    return frozenset({(*slot, -1)}) if stock.joints == "spline" else frozenset()


def from_below(shape: Profile, thick: float, *, outside_up: bool) -> Profile:
    """The same through the height of the table."""
    if not outside_up:
        return frozenset((round(a, 2), round(b, 2), out) for a, b, out in shape)
    return frozenset((round(thick - b, 2), round(thick - a, 2), out) for a, b, out in shape)


def blade_of(cut: SawCut, wide: float, thick: float, *, panel: bool, slack: float) -> Blade:
    """Set the stop on the edge at the fence and the swing; of a panel the place on its far edge must agree."""
    near, slope = float(cut.near_nm), math.tan(math.radians(cut.lean_udeg / 1e6))
    if panel:
        assert abs(near + slope * wide - cut.far_nm) < 2_000 + slack, f"{cut.mark}: far edge and swing say two things"
    return Blade(
        near=(0.0, near),
        far=(wide, near + slope * wide),
        height=thick if cut.on_upper else 0.0,
        tilt=math.radians(cut.tilt_udeg / 1e6),
        long_up=cut.long_up,
        piece_before=cut.kind == "part",
    )


def cut_bar(row: SawBar, stock: Stock, wide: Mapping[str, float]) -> Iterator[Made]:
    """Pull a bar, lay it as the sheet says, make its cuts in order, and take the pieces off.

    `wide`: how wide each piece of a trim's bar is; that is its coil's width, no cut of these sheets.
    """
    role, length = row.lies.role, float(row.bar.length_nm)
    body = Body(float(row.width_nm), stock.thick, as_panel=role != "top_cap")
    if not row.lies.square:
        bar = lying(body, row, role)
        assert bar.foot_at_zero
    start: Blade | None = None
    blanks = [piece for piece in row.pieces if not piece.way.startswith("from the drop of")]
    last: tuple[Blade | None, Blade | None] = (None, None)
    for n, piece in enumerate(blanks):
        body = replace(body, wide=wide.get(piece.piece, body.wide))
        mine = [cut for cut in row.cuts if cut.piece == piece.piece]
        shares = piece.way.startswith("one blank with") and n > 0 and not mine and _mates(blanks[n - 1], piece)
        if not shares:
            for cut in mine:
                if cut.kind != "part":
                    start = blade_of(cut, body.wide, stock.thick, panel=row.panel, slack=stock.slack)
            end = next(
                (
                    blade_of(cut, body.wide, stock.thick, panel=row.panel, slack=stock.slack)
                    for cut in mine
                    if cut.kind == "part"
                ),
                None,
            )
            last = start, end
            start = end.moved(stock.kerf) if end is not None else None
        yield _freed(row, piece, body, stock, last, length)
    for piece in row.pieces:
        if piece.way.startswith("from the drop of"):
            yield _from_drop(row, piece, body, stock)


def _mates(one: SawPiece, other: SawPiece) -> bool:
    return other.mark in one.way and one.mark in other.way


def _freed(
    row: SawBar, piece: SawPiece, body: Body, stock: Stock, ends: tuple[Blade | None, Blade | None], length: float
) -> Made:
    made = Made(piece.piece, row.lies.role, body)
    first, second = ends
    foot_at_zero = piece.lies.lay.zero == "foot" or row.lies.square
    edge = first if foot_at_zero else second
    plain = 0.0 if foot_at_zero else length
    ys = np.array([0.0, body.wide])
    if edge is None:
        origin = plain
    else:
        heights = [edge.height] if row.lies.role == "top_cap" else [0.0, stock.thick]
        places = np.concatenate([edge.at(ys, np.full(2, h)) for h in heights])
        origin = float(places.min() if foot_at_zero else places.max())
    if row.lies.square and not row.panel:
        lay = Lying(Body(body.wide, body.thick), True, False, True, origin=origin)  # either way: nothing to mistake
    else:
        lay = lying_as(body, piece.lies, row.lies.role, piece.lies.lay, origin=origin)

    begins = (
        -stock.thick if row.lies.role == "top_cap" and first is not None else 0.0
    )  # nesting leaves no room for flanges longer than the web

    def keep(u: Numbers, z: Numbers, d: Numbers) -> Truths:
        x, y, h = lay.x(z), lay.y(u), lay.h(d)
        inside: Truths = (x >= begins) & (x <= length) & (y >= 0) & (y <= body.wide) & (h >= 0) & (h <= stock.thick)
        for blade in (first, second):
            if blade is not None:
                inside &= blade.keeps(x, y, h)
        return inside

    made.keeps.append(keep)
    made.edges = {"left": (0.0, 0.0), "right": (body.wide, body.wide)}
    if edge is not None:
        made.feet.append((lay, edge, -math.inf, math.inf))
    if row.panel:
        _mark(made, row, lay, stock)
        if not piece.way:
            _again(made, row, piece)
    return made


def _mark(made: Made, row: SawBar, lay: Lying, stock: Stock) -> None:
    """What joints and skins the thing has, from how the bar lies and how the thing lies in it."""
    bar = lying(made.body, row, made.role)
    for side in ("left", "right"):
        at_fence = (side == "left") == lay.near_is_left
        blank_side = "left" if at_fence == bar.near_is_left else "right"
        made.joints[side] = (
            from_below(profile(stock, blank_side), stock.thick, outside_up=bar.outside_up),
            from_below(profile(stock, side), stock.thick, outside_up=lay.outside_up),
        )
    outside, inside = stock.colours
    made.skins = (outside, inside) if bar.outside_up == lay.outside_up else (inside, outside)


def _from_drop(row: SawBar, piece: SawPiece, body: Body, stock: Stock) -> Made:
    made = Made(piece.piece, row.lies.role, body)
    made.edges = {"left": (0.0, 0.0), "right": (body.wide, body.wide)}
    made.skins = stock.colours
    made.keeps.append(lambda u, z, d: (u >= 0) & (u <= body.wide) & (z >= 0) & (d >= 0) & (d <= stock.thick))
    return made


def _again(made: Made, row: SawBar, piece: SawPiece) -> None:
    """The second cuts of a panel, laid as its bar is, its foot at zero."""
    lay = lying_as(made.body, row.lies, made.role, row.lies.lay, made=made)
    for end in ("foot", "head"):
        cuts = [cut for cut in piece.seconds if cut.end == end and cut.near_in_nm < cut.far_in_nm]  # else: along a step
        if cuts:
            reach = max(made.edges["right"]) - min(made.edges["left"])
            made.keeps.append(_bands(lay, cuts, end, reach))
            if end == "foot" and not _covers(cuts, reach):
                continue  # part of it is still the blank's own end, at zero
            if end == "foot":
                made.feet = [(lay, _again_blade(lay, cut, end), cut.near_in_nm, cut.far_in_nm) for cut in cuts]


def lowest(made: Made) -> float:
    """How far up its blank the lowest point of a thing's foot is by now: what touches a stop at zero."""
    edges = [*made.edges["left"], *made.edges["right"]]
    found = [math.inf]
    for lay, blade, low, high in made.feet:
        for d in (0.0, made.body.thick):
            ys = np.array([y for y in (lay.y(np.array([u]))[0] for u in (min(edges), max(edges))) if low <= y <= high])
            ys = np.concatenate([ys, [y for y in (low, high) if abs(y) < math.inf]])
            xs = blade.at(ys, np.full(len(ys), lay.h(np.array([d]))[0]))
            found += [float(x - lay.origin) if lay.foot_at_zero else float(lay.origin - x) for x in xs]
    return 0.0 if min(found) == math.inf else max(0.0, min(found))


def _covers(cuts: Sequence[SecondCut], reach: float) -> bool:
    return sum(cut.far_in_nm - cut.near_in_nm for cut in cuts) > reach - AT_EDGE


def _again_blade(lay: Lying, cut: SecondCut, end: str) -> Blade:
    return Blade(
        near=(float(cut.near_in_nm), float(cut.near_nm)),
        far=(float(cut.far_in_nm), float(cut.far_nm)),
        height=lay.body.thick if cut.long_up or not cut.tilt_udeg else 0.0,
        tilt=math.radians(cut.tilt_udeg / 1e6),
        long_up=cut.long_up,
        piece_before=end == "head",
    )


def _bands(lay: Lying, cuts: Sequence[SecondCut], end: str, reach: float) -> Keeps:
    blades = [_again_blade(lay, cut, end) for cut in cuts]

    def keep(u: Numbers, z: Numbers, d: Numbers) -> Truths:
        x, y, h = lay.x(z), lay.y(u), lay.h(d)
        found: Truths = np.ones(np.broadcast(x, y, h).shape, dtype=np.bool_)
        for blade in blades:
            low = -math.inf if blade.near[0] < AT_EDGE else blade.near[0]
            high = math.inf if blade.far[0] > reach - AT_EDGE else blade.far[0]
            found &= ~((y > low) & (y < high)) | blade.keeps(x, y, h)
        return found

    return keep


def rip(made: Made, row: RipRow, slack: float = 0.0) -> None:
    """One long edge on the bevel saw: the other one at the fence, the cut so far from it on either face."""
    lay = lying(made.body, row, made.role, made=made)
    assert lay.near_is_left == (row.side == "right")
    upper, lower = lay.u_of(float(row.upper_nm)), lay.u_of(float(row.lower_nm))
    thick, near_left = made.body.thick, lay.near_is_left
    outside, inside = (upper, lower) if lay.outside_up else (lower, upper)
    made.edges[row.side] = outside, inside

    def keep(u: Numbers, z: Numbers, d: Numbers) -> Truths:
        edge = outside + (inside - outside) * d / thick
        found: Truths = u <= edge if near_left else u >= edge
        return found & np.ones(z.shape, dtype=np.bool_)

    made.keeps.append(keep)
    bevel = math.degrees(math.atan2(abs(outside - inside), thick))
    assert abs(bevel - row.bevel_udeg / 1e6) < 1e-3 + 2 * slack / thick * 57.3, (
        f"{row.mark}: tilt {row.bevel_udeg} and figures differ"
    )


def rout(made: Made, row: ShapeRow) -> None:
    """Openings and pockets on the router, or holes on the drill, from zero and from the fence."""
    assert row.lies is not None and row.shape is not None
    lay = lying(made.body, row, made.role, made=made)
    if is_panel(made.role):
        lay = replace(lay, origin=-lowest(made))
    shape: LyingShape = row.shape
    for _, points in shape.cutouts:
        xs, ys = [float(x) for x, _ in points], [float(y) for _, y in points]
        made.keeps.append(_beside(lay, (min(xs), max(xs)), (min(ys), max(ys))))
    for hole in shape.holes:
        u = lay.u_of(float(hole.y_nm))
        if hole.kind == "pocket":
            assert lay.foot_at_zero == (abs(hole.x_nm) < 1000), "a pocket is at the foot"
            made.pockets.append((u, lay.d_of(made.body.thick - float(hole.down_nm))))
        else:
            assert lay.foot_at_zero
            made.holes.append((u, float(hole.x_nm)))


def _beside(lay: Lying, xs: tuple[float, float], ys: tuple[float, float]) -> Keeps:
    def keep(u: Numbers, z: Numbers, d: Numbers) -> Truths:
        x, y = lay.x(z), lay.y(u)
        found: Truths = ~((x > xs[0]) & (x < xs[1]) & (y > ys[0]) & (y < ys[1]))
        return found & np.ones(d.shape, dtype=np.bool_)

    return keep


def make(
    row: SawBar,
    stock: Stock,
    rips: Mapping[str, Sequence[RipRow]],
    shapes: Mapping[str, Sequence[ShapeRow]],
    wide: Mapping[str, float],
) -> Iterator[Made]:
    """Make all things of a bar, from the saw to the drill."""
    by_id = {str(piece.piece): piece for piece in row.pieces}
    for made in cut_bar(row, stock, wide):
        for one in sorted(rips.get(made.name, ()), key=lambda one: one.at):
            rip(made, one, stock.slack)
        piece = by_id[made.name]
        if piece.way and row.panel:
            _again(made, row, piece)
        for shape in shapes.get(made.name, ()):
            rout(made, shape)
        yield made
