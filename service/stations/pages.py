"""How pages are made: templates, words in the reader's language, lengths as real fractions."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any, Literal, cast
from urllib.parse import quote

from fastapi import Request
from jinja2 import Environment, FileSystemLoader, StrictUndefined, pass_context
from jinja2.runtime import Context
from markupsafe import Markup
from starlette.responses import HTMLResponse, Response

from service.deps import wired
from service.drawings.shapes import Drawing
from service.drawings.svg import STYLE, to_svg
from service.stations.words import Language, say, spoken
from solver.units import Unit, feet_inch_parts, show_angle, show_length, show_weight

TEMPLATES = Path(__file__).parent / "templates"
NO_PAGE = ("/api", "/static", "/healthz", "/metrics")


def wants_page(request: Request) -> bool:
    """Return whether an answer should be a page rather than JSON."""
    return not request.url.path.startswith(NO_PAGE)


def language_of(request: Request) -> Language:
    """Return the language of the settings, else the first one that the browser asks for and we speak."""
    return spoken(wired(request).settings.language, request.headers.get("accept-language", ""))


def page(request: Request, template: str, *, status: int = 200, **values: Any) -> Response:
    """Return a page."""
    language = language_of(request)
    text = _environment().get_template(template).render(language=language, request_path=request.url.path, **values)
    return HTMLResponse(text, status)


def wrong_page(request: Request, status: int, *, what: str, name: str) -> Response:
    """Return the page that says that something is not there, and where to go instead."""
    return page(request, "wrong.html", status=status, what=what, name=name)


def feet(length_nm: int, unit: Unit) -> Markup:
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


def drawn(drawing: Drawing) -> Markup:
    """Return a drawing to lay in a page; every text in it was escaped by the renderer."""
    return Markup(to_svg(drawing))


@pass_context
def _say(context: Context, text: str, **values: Any) -> str:
    return say(cast(Language, context["language"]), text, **values)


@pass_context
def _count(context: Context, n: int, one: str, many: str, **values: Any) -> str:
    return say(cast(Language, context["language"]), one if n == 1 else many, n=n, **values)


@cache
def _environment() -> Environment:
    made = Environment(loader=FileSystemLoader(TEMPLATES), autoescape=True, undefined=StrictUndefined, trim_blocks=True)
    made.globals.update(
        t=_say,
        tn=_count,
        feet=feet,
        weight=show_weight,
        angle=show_angle,
        drawn=drawn,
        drawing_style=Markup(STYLE),
        length=lambda value, unit: show_length(value, cast(Literal["mm", "in"], unit)),
    )
    made.filters["path"] = lambda text: quote(str(text), safe="")
    return made
