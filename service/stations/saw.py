"""The saw's pages: what do I pull, where do I cut next?"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query, Request, Response

from service.contracts.floor import Bar, Cut, SawStroke
from service.deps import Here, Name
from service.drawings.bar import bar_drawing
from service.drawings.shapes import Drawing
from service.stations import views
from service.stations.pages import language_of, page
from service.usecases.ask import floor
from service.usecases.ask.drawings import short_name
from solver.documents.texts import Language
from solver.domain import cut_plan
from solver.domain.ids import BarId, MaterialId, PieceId, StockId
from solver.units import Nm, Unit

router = APIRouter(prefix="/saw", include_in_schema=False)
BARS_A_PAGE = 40
Ask = Annotated[Literal["", "cut", "wrong", "drop"], Query()]
Count = Annotated[int, Query(ge=0, le=100_000)]


@router.get("")
def machines(request: Request, here: Here) -> Response:
    """Show the machines that have bars to cut."""
    return page(request, "saw_machines.html", left=floor.bars_left(store=here.store))


@router.get("/{machine}/bars")
def bars(request: Request, machine: Name, here: Here, at: Count = 0) -> Response:
    """Show the list of a machine's bars."""
    queue = floor.cut_queue(machine, at * BARS_A_PAGE, BARS_A_PAGE, store=here.store)
    return page(request, "saw_bars.html", machine=machine, queue=queue, at=at, more=queue.more, views=views)


@router.get("/{machine}")
def cut_next(
    request: Request, machine: Name, here: Here, bar: Annotated[str | None, Query(max_length=400)] = None, pulled: Count = 0,
    stroke: Count = 0, ask: Ask = "",
) -> Response:  # fmt: skip
    """Show the one thing to do now: pull a bar, cut a piece, put a drop away."""
    found = floor.one_bar(bar, store=here.store) if bar else floor.next_bar(machine, store=here.store)
    if found is None:
        return page(request, "saw_done.html", machine=machine, left=floor.bars_left(store=here.store))
    now = found.bar
    cut = next((one for one in now.cuts if one.state == "waiting"), None)
    begun = any(one.state != "waiting" for one in now.cuts) or pulled == now.position
    here_now = stroke_now(cut, stroke)
    drawing = draw(now, found.unit, language_of(request), here_now)
    same = cut is not None and same_lean(now, cut, stroke)
    values: dict[str, Any] = {
        "machine": machine,
        "bar": now,
        "unit": found.unit,
        "drawing": drawing,
        "views": views,
        "short": short_name,
    }
    if cut is None:
        return page(request, "saw_drop.html", ask=ask, **values)
    if not begun:
        return page(request, "saw_pull.html", **values)
    last = stroke >= len(cut.strokes) - 1
    return page(
        request,
        "saw_cut.html",
        ask=ask,
        cut=cut,
        stroke=here_now,
        n=stroke,
        last=last,
        same=same,
        **values,
    )


def stroke_now(cut: Cut | None, n: int) -> SawStroke | None:
    """Return the stroke to make now, or None where a piece needs none."""
    if cut is None or not cut.strokes:
        return None
    return cut.strokes[min(n, len(cut.strokes) - 1)]


def same_lean(bar: Bar, cut: Cut, n: int) -> bool:
    """Return whether the blade stands already as this stroke wants it: as for the one before."""
    n = min(n, max(len(cut.strokes) - 1, 0))
    made = [stroke for one in bar.cuts if one.n < cut.n for stroke in one.strokes] + list(cut.strokes[:n])
    now = stroke_now(cut, n)
    return bool(made) and now is not None and _set(made[-1]) == _set(now)


def _set(stroke: SawStroke) -> tuple[int, int, bool]:
    """What the blade is set to for a stroke: a tilt to the other side is another setting."""
    towards = stroke.long_up == (stroke.frees == "piece")
    return stroke.swing_udeg, stroke.tilt_udeg, bool(stroke.tilt_udeg) and towards


def draw(bar: Bar, unit: Unit, language: Language, stroke: SawStroke | None) -> Drawing:
    """Return the bar as it lies on the saw: what is cut in grey, the next cut as the chalk line.

    Pieces that share a slot (two rips of one blank, one from a drop) are drawn once.
    """
    slots = {(cut.edge_a_nm, cut.edge_b_nm): cut for cut in reversed(bar.cuts)}
    real = cut_plan.Bar(
        id=BarId(bar.id),
        material=MaterialId(bar.material),
        stock=StockId(bar.stock),
        length_nm=bar.length_nm,
        drop_nm=bar.drop_nm,
        pieces=tuple(
            cut_plan.BarPiece(piece=PieceId(cut.piece), turn=cut.turn, edge_a=cut.edge_a_nm, edge_b=cut.edge_b_nm)
            for cut in bar.cuts
            if cut in slots.values()
        ),
    )
    return bar_drawing(
        real,
        width_nm=bar.width_nm,
        marks={cut.piece: cut.mark for cut in bar.cuts},
        unit=unit,
        room_pt=(1220.0, 190.0),
        language=language,
        size=15.0,
        done=frozenset(cut.piece for cut in bar.cuts if cut.state != "waiting"),
        next_cut=(float(stroke.fence_nm), float(stroke.far_nm)) if stroke is not None else (-1e9, -1e9),
        keep_from_nm=Nm(1) if bar.keep_drop else None,
    )
