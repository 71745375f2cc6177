"""What yield costs in rack slots: one dot a way to cut, slots along the foot, price above the cheapest up the side."""

from __future__ import annotations

from service.drawings.board import DrawingBoard
from service.drawings.shapes import Circle, Drawing, Line, Polyline, Style, Text
from solver.domain.rack import RackCurve, RackPoint
from solver.language import ENGLISH, Language

WORDS = {"slots": "pieces waiting in the rack at one time", "price": "price above the cheapest", "rack": "rack holds {n}"}
STEPS = (0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0)


def rack_drawing(curve: RackCurve, *, language: Language = ENGLISH, room_pt: tuple[float, float] = (720.0, 130.0)) -> Drawing:
    """Return the curve: dots numbered as in the table, those that no other beats joined, the chosen one full.

    Both sides carry a scale; the rack's own slots are a dashed line.
    """
    words = {key: language.text(text) for key, text in WORDS.items()}
    board = DrawingBoard(words["slots"], room_pt=room_pt, size_nm=room_pt, unit="mm")
    wide, high = room_pt
    cheapest = min((point.cost for point in curve.points), default=0.0)
    most = max([1, curve.slots or 0, *(point.slots for point in curve.points)])
    dearest = max([0.0, *(_above(point, cheapest) for point in curve.points)])
    step = next((one for one in STEPS if dearest / one <= 4), STEPS[-1])
    top = max(step, step * -(-dearest // step))

    def at(point: RackPoint) -> tuple[float, float]:
        return wide * point.slots / most, high * _above(point, cheapest) / top

    _scales(board, room_pt, most, step, top, words)
    if curve.slots is not None:
        x = wide * min(curve.slots, most) / most
        board.add(Line(a=(x, 0.0), b=(x, high + board.nm(28)), style="hidden"))
        board.add(Text(at=(x, high + board.nm(31)), text=words["rack"].format(n=curve.slots), size=11.0, ink="soft"))
    best = sorted((point for point in curve.points if point.best), key=lambda point: point.slots)
    if len(best) > 1:
        board.add(Polyline(points=tuple(at(point) for point in best), style="thin"))
    for n, point in enumerate(curve.points, start=1):
        chosen = point.id == curve.chosen
        style: Style = "solid" if chosen else "outline" if point.best else "gone"
        board.add(Circle(at=at(point), radius_pt=6.0 if point.best else 4.0, style=style))
        x, y = at(point)
        label = Text(at=(x + board.nm(12), y + board.nm(6)), text=str(n), size=13.0, bold=chosen, anchor="start")
        board.add_clear(label, along=(0.0, 1.0))
    return board.done(margin_pt=8.0)


def _above(point: RackPoint, cheapest: float) -> float:
    """How much dearer than the cheapest, in hundredths of it."""
    return 100 * (point.cost - cheapest) / cheapest if cheapest else 0.0


def _scales(
    board: DrawingBoard, room_pt: tuple[float, float], most: int, step: float, top: float, words: dict[str, str]
) -> None:
    wide, high = room_pt
    tick = board.nm(6)
    board.add(Line(a=(0.0, 0.0), b=(wide, 0.0), style="edge"), Line(a=(0.0, 0.0), b=(0.0, high), style="edge"))
    apart = max(1, -(-most // 15))
    for slots in range(0, most + 1, apart):
        x = wide * slots / most
        board.add(Line(a=(x, 0.0), b=(x, -tick)), Text(at=(x, -tick - board.nm(13)), text=str(slots), size=12.0))
    for n in range(round(top / step) + 1):
        y, share = high * n * step / top, n * step
        board.add(Line(a=(0.0, y), b=(-tick, y)))
        board.add(Text(at=(-tick - board.nm(4), y), text=f"{share:g} %", size=12.0, anchor="end", dy_pt=-4.0))
    board.add(Text(at=(wide, -tick - board.nm(30)), text=words["slots"], size=12.0, ink="soft", anchor="end"))
    board.add(Text(at=(0.0, high + board.nm(15)), text=words["price"], size=12.0, ink="soft", anchor="start"))
