"""The saw's pages: what do I pull, where do I cut next?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any, Literal
from urllib.parse import quote, unquote

from fastapi import APIRouter, Query, Request, Response

from service.contracts.floor import Bar, OneBar, PlannedCut, SawStroke
from service.dependencies import Adapters, Here, Name
from service.drawings.bar import bar_drawing
from service.drawings.shapes import Drawing
from service.errors import NotFound
from service.stations import views
from service.stations.pages import cached_page, drawing_markup, piece_name, render_page, request_language
from service.usecases.ask import floor
from solver.domain import cut_plan
from solver.domain.ids import BarId, MaterialId, PieceId, StockId, short_name
from solver.language import Language
from solver.units import Nm, Unit

router = APIRouter(prefix="/saw", include_in_schema=False)
BARS_A_PAGE = 40
Ask = Annotated[Literal["", "cut", "wrong", "drop"], Query()]
Count = Annotated[int, Query(ge=0, le=100_000)]
AT = "bar"  # the cookie of which bar a tablet is at: it lasts over a reload, and other tablets have their own
AT_S = 7 * 86400


@dataclass(frozen=True, slots=True)
class TabletPosition:
    """The bar that was tapped on this tablet, and whether it lies on the saw already."""

    plan: str
    bar: str
    pulled: bool


def read_tablet_position(request: Request) -> TabletPosition | None:
    """Return the bar that this tablet is at, as its cookie says; what is no such cookie says nothing."""
    plan, _, rest = request.cookies.get(AT, "").partition(":")
    pulled, _, bar = rest.partition(":")
    return TabletPosition(plan, unquote(bar), pulled == "1") if plan and bar else None


def remember_tablet_position(answer: Response, machine: str, at: TabletPosition | None) -> Response:
    """Return the answer with the bar that this tablet is at from now on; with None it is at none."""
    path = f"/saw/{quote(machine, safe='')}"
    if at is None:
        answer.delete_cookie(AT, path=path)
    else:
        value = f"{at.plan}:{int(at.pulled)}:{quote(at.bar, safe='')}"
        answer.set_cookie(AT, value, max_age=AT_S, path=path, httponly=True, samesite="lax")
    return answer


@router.get("")
def machines_page(request: Request, here: Here) -> Response:
    """Show the machines that have bars to cut."""
    return cached_page(request, lambda: render_page(request, "saw_machines.html", left=floor.bars_left(store=here.store)))


@router.get("/{machine}/bars")
def bars_page(request: Request, machine: Name, here: Here, at: Count = 0) -> Response:
    """Show the list of a machine's bars."""
    queue = floor.cut_queue(machine, at * BARS_A_PAGE, BARS_A_PAGE, store=here.store)
    return render_page(request, "saw_bars.html", machine=machine, queue=queue, at=at, more=queue.more, views=views)


@router.get("/{machine}")
def cut_page(
    request: Request, machine: Name, here: Here, bar: Annotated[str | None, Query(max_length=400)] = None, pulled: Count = 0,
    stroke: Count = 0, ask: Ask = "", aside: Annotated[bool, Query()] = False,
    piece: Annotated[str | None, Query(max_length=400)] = None,
) -> Response:  # fmt: skip
    """Show the one thing to do now: pull a bar, cut a piece, put a drop away.

    A bar that was tapped is the one shown on this tablet until it is done or set aside, whatever comes first in the order.
    What was asked of a `piece` that is told by now, by whomever, is not asked of the next.
    """
    at = None if aside else read_tablet_position(request)
    found = floor.read_bar(bar, store=here.store) if bar else _bar_at(machine, at, here)
    if found is None:
        answer = render_page(request, "saw_done.html", machine=machine, left=floor.bars_left(store=here.store))
        return remember_tablet_position(answer, machine, None)
    now = found.bar
    same = at is not None and (at.plan, at.bar) == (found.plan, now.id)
    on_saw = pulled == now.position or (same and at is not None and at.pulled)
    held = TabletPosition(found.plan, now.id, on_saw) if not now.done and (bar or same or on_saw) else None
    told = next((cut for cut in now.cuts if cut.piece == piece and cut.state != "waiting"), None)
    stroke, ask = (0, "") if told else (stroke, ask)
    answer = _page_of(request, machine, here, found, stroke=stroke, ask=ask, on_saw=on_saw, held=held is not None, told=told)
    return remember_tablet_position(answer, machine, held)


def _bar_at(machine: str, at: TabletPosition | None, here: Adapters) -> OneBar | None:
    """The bar that this tablet is at while there is something to do on it, else the next in cut order."""
    if at is not None:
        try:
            found = floor.read_bar(at.bar, store=here.store)
        except NotFound:  # of a plan that is not the floor's any more
            found = None
        if found is not None and found.plan == at.plan and found.bar.machine == machine and not found.bar.done:
            return found
    return floor.next_bar(machine, store=here.store)


def _page_of(
    request: Request,
    machine: str,
    here: Adapters,
    found: OneBar,
    *,
    stroke: int,
    ask: str,
    on_saw: bool,
    held: bool,
    told: PlannedCut | None,
) -> Response:
    """The page of one bar: pull it, make this stroke, or put its drop away."""
    now = found.bar
    cut = next((one for one in now.cuts if one.state == "waiting"), None)
    here_now = next_stroke(cut, stroke)
    language = request_language(request)
    picture = now, found.unit, language, here_now
    drawing = here.kept.get(("bar", *picture), lambda: drawing_markup(draw_bar_on_saw(*picture)))
    values: dict[str, Any] = {
        "machine": machine,
        "bar": now,
        "unit": found.unit,
        "drawing": drawing,
        "views": views,
        "short": short_name,
        "held": held,
        "told_already": told,
    }
    if cut is None:
        return render_page(request, "saw_drop.html", ask=ask, **values)
    if not on_saw and all(one.state == "waiting" for one in now.cuts):
        return render_page(request, "saw_pull.html", **values)
    last = stroke >= len(cut.strokes) - 1
    same = is_blade_set(now, cut, stroke)
    return render_page(request, "saw_cut.html", ask=ask, cut=cut, stroke=here_now, n=stroke, last=last, same=same, **values)


def next_stroke(cut: PlannedCut | None, n: int) -> SawStroke | None:
    """Return the stroke to make now, or None where a piece needs none."""
    if cut is None or not cut.strokes:
        return None
    return cut.strokes[min(n, len(cut.strokes) - 1)]


def is_blade_set(bar: Bar, cut: PlannedCut, n: int) -> bool:
    """Return whether the blade stands already as this stroke wants it: as for the one before."""
    n = min(n, max(len(cut.strokes) - 1, 0))
    made = [stroke for one in bar.cuts if one.n < cut.n for stroke in one.strokes] + list(cut.strokes[:n])
    now = next_stroke(cut, n)
    return bool(made) and now is not None and _set(made[-1]) == _set(now)


def _set(stroke: SawStroke) -> tuple[int, int, bool]:
    """What the blade is set to for a stroke: a tilt to the other side is another setting."""
    towards = stroke.long_up == (stroke.frees == "piece")
    return stroke.swing_udeg, stroke.tilt_udeg, bool(stroke.tilt_udeg) and towards


def draw_bar_on_saw(bar: Bar, unit: Unit, language: Language, stroke: SawStroke | None) -> Drawing:
    """Return the bar as it lies on the saw: what is cut in grey, the next cut as the chalk line.

    Pieces that share a slot (two rips of one blank, one from a drop) are drawn once.
    """
    many = len({cut.order for cut in bar.cuts}) > 1
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
        marks={cut.piece: piece_name(cut.order, cut.mark, many) for cut in bar.cuts},
        unit=unit,
        room_pt=(1220.0, 190.0),
        language=language,
        title=f"{bar.machine} {bar.position}",
        size=15.0,
        done=frozenset(cut.piece for cut in bar.cuts if cut.state != "waiting"),
        next_cut=(float(stroke.fence_nm), float(stroke.far_nm)) if stroke is not None else (-1e9, -1e9),
        keep_from_nm=Nm(1) if bar.keep_drop else None,
    )
