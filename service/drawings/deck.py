"""A loaded deck from the left side and from above: bundles true to scale, tie-downs, axles, a scale along the edge."""

from __future__ import annotations

from collections.abc import Mapping

from service.drawings.board import RINGS_CLEAR, DrawingBoard
from service.drawings.expand_shapes import Box, boxes_meet, tag_size
from service.drawings.lettering import shorten_text
from service.drawings.outlines import box_corners
from service.drawings.shapes import At, Circle, Drawing, Ink, Line, Polygon, Shape, Style, Tag
from solver.documents.texts import say
from solver.domain.load import Deck, Load, LoadBundle, PlacedBundle
from solver.language import ENGLISH, Language
from solver.units import INCH, Unit

WHEEL_NM = 20 * INCH
BESIDE_PT = 22.0  # kept free left and right of the deck, so that both views and their figures end alike
HIGH = 0.24  # of the width: the most that a view is high, its scale's figures and tags apart
SMALLER = (1.0, 0.8, 0.65)  # sizes of a tag that are tried on what it names
NEAR = 7  # rings of 9 points: a tag is led farther only where it must, and never over another


def deck_side_drawing(
    load: Load,
    deck: Deck,
    bundles: Mapping[str, LoadBundle],
    *,
    names: Mapping[str, str],
    unit: Unit,
    room_pt: tuple[float, float] = (700.0, 170.0),
    language: Language = ENGLISH,
    size: float = 11.0,
    on: frozenset[str] | None = None,
    next_on: str | None = None,
    ruled: bool = True,
) -> Drawing:
    """Return the deck from its left side, front to the left; `ruled`: with a scale of its own.

    `names` are the short names shown on bundles; `on` are bundles on the truck already (None: all are drawn alike);
    `next_on` is the one that goes on next, drawn with the chalk line.
    """
    top, wheel = _top_nm(load, bundles), WHEEL_NM
    board = _board(f"{say(language, 'load')} {load.id}: {say(language, 'from_left')}", deck, top, room_pt[0], unit)
    board.add(Line(a=(0, 0), b=(deck.length_nm, 0), style="bold"))
    for x in _axles(deck):
        board.add(Circle(at=(x, -wheel - board.nm(2)), radius_nm=wheel, style="thin"))
    if ruled:
        board.draw_ruler(deck.length_nm, -2 * wheel - board.nm(6), size=size * 0.85)
    board.set_body((0.0, 0.0, deck.length_nm, top))
    board.leads = ((0, 1), (1, 1), (-1, 1))  # over the load, never among the wheels
    for placed in sorted(load.placed, key=lambda p: (-p.y_nm, p.z_nm)):  # the near side last, over what is behind it
        board.group(
            placed.bundle, _drawn(bundles[placed.bundle], _side_box(placed, bundles), _style(placed.bundle, on, next_on))
        )
    board.add(*_straps(load, top, board))
    for placed in load.placed:
        text = f"{names[placed.bundle]} {say(language, 'next')}" if placed.bundle == next_on else names[placed.bundle]
        ink: Ink = "chalk" if placed.bundle == next_on else "ink"
        _side_tag(board, placed, load, bundles, text, size, ink)
    return board.done()


def deck_plan_drawing(
    load: Load,
    deck: Deck,
    bundles: Mapping[str, LoadBundle],
    *,
    names: Mapping[str, str],
    unit: Unit,
    room_pt: tuple[float, float] = (700.0, 150.0),
    language: Language = ENGLISH,
    size: float = 11.0,
    on: frozenset[str] | None = None,
    next_on: str | None = None,
) -> Drawing:
    """Return the deck from above, front to the left, left side below.

    What is on top hides what it stands on; its tag names what is under it, from the top.
    """
    name = f"{say(language, 'load')} {load.id}: {say(language, 'from_above')}"
    board = _board(name, deck, _top_nm(load, bundles), room_pt[0], unit)
    board.add(Polygon(points=box_corners(0, 0, deck.length_nm, deck.width_nm), style="edge"))
    for placed in sorted(load.placed, key=lambda p: p.z_nm):
        item = bundles[placed.bundle]
        own = (placed.x_nm, placed.y_nm, placed.x_nm + item.length_nm, placed.y_nm + item.width_nm)
        board.group(placed.bundle, _drawn(item, own, _style(placed.bundle, on, next_on)))
    if load.tiedowns:
        past = board.nm(5)
        for x in load.tiedowns.positions_nm:
            board.add(Line(a=(x, -past), b=(x, deck.width_nm + past), style="hidden"))
    board.draw_ruler(deck.length_nm, -board.nm(7), size=size * 0.85)
    board.set_body((0.0, 0.0, deck.length_nm, deck.width_nm))
    for placed in load.placed:
        if any(p.z_nm > placed.z_nm and _over(p, placed, bundles) for p in load.placed):
            continue
        item = bundles[placed.bundle]
        room = (item.length_nm * board.scale - 4, item.width_nm * board.scale - 2)
        below = sorted((p for p in load.placed if p.z_nm < placed.z_nm and _over(placed, p, bundles)), key=lambda p: -p.z_nm)
        under = shorten_text("/".join(names[p.bundle] for p in below), max(room[0], 5 * size) / 0.8, size)
        middle = (placed.x_nm + item.length_nm / 2, placed.y_nm + item.width_nm / 2)
        _near(board, middle, names[placed.bundle], size, room, under)
    return board.done()


def _near(
    board: DrawingBoard, at: At, name: str, size: float, room: tuple[float, float], under: str = "", ink: Ink = "ink"
) -> None:
    """Set a tag on what it names: smaller where need be, then without what is under; else close by, on a short leader."""
    for second in dict.fromkeys((under, "")):
        for share in SMALLER:
            tag = Tag(at=at, mark=name, size=size * share, second=second)
            wide, high = tag_size(tag)
            for angle, inside in ((0, (wide, high)), (90, (high, wide))):
                fits = inside[0] <= room[0] and inside[1] <= room[1]
                if fits and board.tag_at(at, name, second=second, size=size * share, angle=angle, ink=ink):
                    return
    for share, rings in ((1.0, NEAR), (SMALLER[-1], NEAR), (SMALLER[-1], RINGS_CLEAR - 1)):
        if board.tag(at, name, size=size * share, within=(0, 0), ink=ink, rings=rings):
            return


def _top_nm(load: Load, bundles: Mapping[str, LoadBundle]) -> float:
    return float(max((p.z_nm + bundles[p.bundle].height_nm for p in load.placed), default=INCH))


def _board(title: str, deck: Deck, top_nm: float, wide_pt: float, unit: Unit) -> DrawingBoard:
    """Return a board on which both views of a deck have one scale and stand one under the other."""
    scale = min(
        (wide_pt - 2 * BESIDE_PT) / deck.length_nm,
        HIGH * wide_pt / (top_nm + 2.4 * WHEEL_NM),
        HIGH * wide_pt / deck.width_nm,
    )
    board = DrawingBoard(title, room_pt=(scale * deck.length_nm, 1e9), size_nm=(deck.length_nm, 1), unit=unit)
    beside = (wide_pt / scale - deck.length_nm) / 2
    board.sides = (-beside, deck.length_nm + beside)
    return board


def _drawn(item: LoadBundle, own: Box, style: Style) -> list[Shape]:
    """Return a bundle's outline; a box is crossed from corner to corner."""
    left, low, right, high = own
    made: list[Shape] = [Polygon(points=box_corners(*own), style=style)]
    if item.kind == "box":
        made += [Line(a=(left, low), b=(right, high)), Line(a=(left, high), b=(right, low))]
    return made


def _style(bundle: str, on: frozenset[str] | None, next_on: str | None) -> Style:
    if bundle == next_on:
        return "cut"
    if on is None:
        return "outline"
    return "gone" if bundle in on else "hidden"


def _straps(load: Load, top: float, board: DrawingBoard) -> list[Shape]:
    positions = load.tiedowns.positions_nm if load.tiedowns else ()
    return [Line(a=(x, 0), b=(x, top + board.nm(4)), style="hidden") for x in positions]


def _axles(deck: Deck) -> list[float]:
    """Return where the deck's own axles are; a deck whose axle group is not stated shows two near its rear."""
    centre = float(deck.axle_group_nm) if deck.axle_group_nm is not None else deck.length_nm * 0.75
    spread = float(deck.axle_spread_nm) or 49.0 * INCH
    return [centre + (n - (deck.axles - 1) / 2) * spread for n in range(deck.axles)]


def _over(upper: PlacedBundle, lower: PlacedBundle, bundles: Mapping[str, LoadBundle]) -> bool:
    a, b = bundles[upper.bundle], bundles[lower.bundle]
    return (
        upper.x_nm < lower.x_nm + b.length_nm
        and lower.x_nm < upper.x_nm + a.length_nm
        and upper.y_nm < lower.y_nm + b.width_nm
        and lower.y_nm < upper.y_nm + a.width_nm
    )


def _side_box(placed: PlacedBundle, bundles: Mapping[str, LoadBundle]) -> Box:
    item = bundles[placed.bundle]
    return placed.x_nm, placed.z_nm, placed.x_nm + item.length_nm, placed.z_nm + item.height_nm


def _side_tag(
    board: DrawingBoard, placed: PlacedBundle, load: Load, bundles: Mapping[str, LoadBundle], text: str, size: float, ink: Ink
) -> None:
    """Set a bundle's tag where nothing nearer hides it; one hidden too far for that is named in the view from above.

    The one that goes on next is always named, and so is one that the view from above may have no room to name below another.
    """
    left, low, right, high = _side_box(placed, bundles)
    nearer = [_side_box(p, bundles) for p in load.placed if p.y_nm < placed.y_nm]
    for share in SMALLER:
        wide, tall = (board.nm(side / 2 + 1) for side in tag_size(Tag(at=(0, 0), mark=text, size=size * share)))
        for across in (0.5, 0.3, 0.7, 0.15, 0.85):
            for up in (0.5, 0.75, 0.25):
                x, y = left + (right - left) * across, low + (high - low) * up
                place = (x - wide, y - tall, x + wide, y + tall)
                inside = place[0] >= left and place[2] <= right and place[1] >= low and place[3] <= high
                seen = inside and not any(boxes_meet(place, other, 0.0) for other in nearer)
                if seen and board.tag_at((x, y), text, second="", size=size * share, angle=0, ink=ink):
                    return
    hidden = any(boxes_meet((left, low, right, high), other, 0.0) for other in nearer)
    covered = any(p.z_nm > placed.z_nm and _over(p, placed, bundles) for p in load.placed)
    if ink == "chalk" or covered or not hidden:
        room = (0.0, 0.0) if hidden else ((right - left) * board.scale - 2, (high - low) * board.scale - 2)
        _near(board, ((left + right) / 2, (low + high) / 2), text, size, room, ink=ink)
