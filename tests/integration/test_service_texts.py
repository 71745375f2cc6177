"""Words of states have their Spanish, the reader's wish is heard, and lengths read as a shop writes them."""

from __future__ import annotations

import re

import pytest

from service.languages import choose_language
from service.stations import views
from service.stations.pages import length_markup
from service.stations.stock import KINDS
from service.usecases.ask.events import SAYS
from solver.units import FOOT, INCH, MM
from tests.languages import ENGLISH, SPANISH


def test_words_of_states_and_stages_have_their_spanish() -> None:
    tables = (
        views.WORDS,
        views.STAGES,
        views.COUNTED,
        views.PLACES,
        views.ARGUMENTS,
        views.BOUND_STATES,
        views.BOUNDS,
        KINDS,
        SAYS,
    )
    assert {text for table in tables for text in table.values()} - {text for _, text in SPANISH.texts} == set()


def test_the_reader_is_spoken_to_in_the_language_that_was_set_or_asked_for() -> None:
    assert choose_language("", "es-MX,es;q=0.9,en;q=0.8") is SPANISH
    assert choose_language("", "fr,en;q=0.5") is ENGLISH
    assert choose_language("", "") is ENGLISH
    assert choose_language("es", "en") is SPANISH
    assert SPANISH.say("Bar {n} of {m}", n=9, m=23) == "Barra 9 de 23"
    assert SPANISH.say("a text without one") == "a text without one"


@pytest.mark.parametrize(
    ("length_nm", "shown"),
    [
        (12 * FOOT + 6 * INCH + INCH // 2, "12′ 6 1⁄2″"),
        (INCH * 5 // 8, "5⁄8″"),
        (0, "0″"),
        (3 * INCH, "3″"),
        (FOOT, "1′ 0″"),
        (FOOT + INCH // 16, "1′ 0 1⁄16″"),
        (-6 * INCH, "−6″"),
    ],
)
def test_lengths_read_as_feet_inches_and_a_real_fraction(length_nm: int, shown: str) -> None:
    assert re.sub(r"<[^>]*>", "", length_markup(length_nm, "in")) == shown


def test_a_millimetre_plant_sees_millimetres_only() -> None:
    assert re.sub(r"<[^>]*>", "", length_markup(3742 * MM, "mm")) == "3742 mm"
