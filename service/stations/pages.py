"""How pages are made: templates, words in the reader's language, lengths as real fractions."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any, Literal, cast
from urllib.parse import quote

from fastapi import Request
from jinja2 import Environment, FileSystemLoader, StrictUndefined, pass_context
from jinja2.runtime import Context
from markupsafe import Markup
from starlette.responses import HTMLResponse, Response

from service.dependencies import adapters_of_request
from service.drawings.lay import lay_drawing
from service.drawings.shapes import Drawing
from service.drawings.svg import STYLE, to_svg
from service.languages import choose_language
from service.stations.views import instant_text, is_proved_best
from solver.documents.faults import translate_fault_text
from solver.documents.lay_words import lay_words, second_words
from solver.documents.lift_words import lift_advice, lift_words
from solver.documents.names import ThingNames, stock_source_words
from solver.documents.notes import translate_note
from solver.domain.document import SecondCut
from solver.domain.ids import piece_id
from solver.domain.lay import Lies, is_panel
from solver.domain.lift import Lift
from solver.language import Language
from solver.units import Unit, feet_inch_parts, show_angle, show_length, show_weight

TEMPLATES = Path(__file__).parent / "templates"
NO_PAGE = ("/api", "/static", "/healthz", "/livez", "/metrics")


def wants_page(request: Request) -> bool:
    """Return whether an answer should be a page rather than JSON."""
    return not request.url.path.startswith(NO_PAGE)


def request_language(request: Request) -> Language:
    """Return the language of the settings, else the first one that the browser asks for and we speak."""
    return choose_language(adapters_of_request(request).settings.language, request.headers.get("accept-language", ""))


def render_page(request: Request, template: str, *, status: int = 200, **values: Any) -> Response:
    """Return a page."""
    language = request_language(request)
    values.setdefault(
        "called", ThingNames(adapters_of_request(request).plant, language).of
    )  # a page of a plan has the names of its catalog
    values.setdefault("zone", adapters_of_request(request).plant.time_zone)  # a page of a plan has the zone of its catalog
    text = _environment().get_template(template).render(language=language, request_path=request.url.path, **values)
    return HTMLResponse(text, status)


def cached_page(request: Request, make: Callable[[], Response]) -> Response:
    """Return a page that nothing but the store, the address and the language decides: made once for each of their states.

    The state is asked for first: a page that saw more than it is made again, never shown for less.
    """
    here = adapters_of_request(request)
    key = request.url.path, request.url.query, request_language(request), here.store.change_stamp()
    return HTMLResponse(here.pages.get(key, lambda: bytes(make().body)))


def error_page(request: Request, status: int, *, what: str, name: str) -> Response:
    """Return the page that says that something is not there, and where to go instead."""
    return render_page(request, "wrong.html", status=status, what=what, name=name)


def length_markup(length_nm: int, unit: Unit) -> Markup:
    """Return a length for reading: feet, inches and a real fraction, or millimetres."""
    if unit == "mm":
        return Markup('<span class="frac">{}</span>').format(show_length(length_nm, "mm"))
    sign, size = ("−", -length_nm) if length_nm < 0 else ("", length_nm)
    whole_feet, inches, top, bottom = feet_inch_parts(size)
    fraction = Markup(" <i>{}</i>⁄<u>{}</u>").format(top, bottom) if top else Markup("")
    shown = Markup("{}′ ").format(whole_feet) if whole_feet else Markup("")
    number = inches if inches or not top or whole_feet else ""
    if not whole_feet and not number and top:
        fraction = Markup("<i>{}</i>⁄<u>{}</u>").format(top, bottom)
    return Markup('<span class="frac">{}{}{}{}″</span>').format(sign, shown, number, fraction)


def drawing_markup(drawing: Drawing) -> Markup:
    """Return a drawing to lay in a page; every text in it was escaped by the renderer."""
    return Markup(to_svg(drawing))


@pass_context
def _say(context: Context, text: str, **values: Any) -> str:
    return _language(context).say(text, **values)


def piece_name(order: str, mark: str, many: bool = True) -> str:
    """Return a piece's name: its mark, with its order where several may be meant."""
    return piece_id(order, mark) if many else mark


def _language(context: Context) -> Language:
    return cast(Language, context["language"])


@pass_context
def _lay(context: Context, lies: Lies) -> str:
    """How a thing lies, in words: up, fence, zero."""
    return lay_words(lies, _language(context))


@pass_context
def _lay_drawn(context: Context, lies: Lies) -> Markup:
    """How a thing lies, as a small drawing."""
    return drawing_markup(lay_drawing(lies, language=_language(context), size=11.0))


@pass_context
def _labels_at(context: Context, lies: Lies) -> str:
    """Where a panel's two labels go on it as it lies."""
    foot = "Foot-end label at zero" if lies.lay.zero == "foot" else "Foot-end label at the far end"
    inside = "inside-face label on top" if lies.lay.is_up("inside") else "inside-face label underneath"
    language = _language(context)
    return f"{language.say(foot)}, {language.say(inside)}."


@pass_context
def _wrong(context: Context, text: str) -> str:
    """What is wrong or would be right, in the reader's language."""
    return translate_fault_text(_language(context), text)


@pass_context
def _scrolls(context: Context) -> Markup:
    """The attributes of what may be wider than its screen: the keyboard reaches it too, and a reader is told why."""
    return Markup(' tabindex="0" role="group" aria-label="{}"').format(_language(context).say("scrolls sideways"))


@pass_context
def _second(context: Context, cut: SecondCut, unit: Unit) -> str:
    """A second cut in words."""
    return second_words(cut, _language(context), unit)


@pass_context
def _noted(context: Context, text: str, unit: Unit) -> str:
    """A stage's note in the reader's language, its lengths in the plant's unit."""
    return translate_note(_language(context), text, unit)


@pass_context
def _stock(context: Context, bar: Any, unit: Unit) -> str:
    """Where a bar comes from."""
    return stock_source_words(bar.stock, bar.length_nm, unit, _language(context))


@pass_context
def _lift(context: Context, lift: Lift) -> str:
    """Who lifts a piece, short."""
    return lift_words(lift, _language(context))


@pass_context
def _advice(context: Context, lift: Lift) -> str:
    """What to do about a piece that is over the guideline."""
    return lift_advice(lift, _language(context))


@pass_context
def _count(context: Context, n: int, one: str, many: str, **values: Any) -> str:
    return _language(context).counted(n, one, many).format(n=n, **values)


@pass_context
def _shown_at(context: Context, text: str | None) -> str:
    return instant_text(text, context["zone"])


@cache
def _environment() -> Environment:
    made = Environment(loader=FileSystemLoader(TEMPLATES), autoescape=True, undefined=StrictUndefined, trim_blocks=True)
    made.globals.update(
        t=_say,
        tn=_count,
        shown_at=_shown_at,
        feet=length_markup,
        weight=show_weight,
        angle=show_angle,
        drawn=drawing_markup,
        lay=_lay,
        lay_drawn=_lay_drawn,
        labels_at=_labels_at,
        scrolls=_scrolls,
        wrong=_wrong,
        second=_second,
        noted=_noted,
        stock=_stock,
        lift=_lift,
        advice=_advice,
        name=piece_name,
        is_panel=is_panel,
        drawing_style=Markup(STYLE),
        length=lambda value, unit: show_length(value, cast(Literal["mm", "in"], unit)),
    )
    made.tests["proved_best"] = is_proved_best
    made.filters["path"] = lambda text: quote(str(text), safe="")
    return made
