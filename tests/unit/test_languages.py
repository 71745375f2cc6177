"""The catalogs: every text that code, templates and scripts say is in each, whole, with its figures; and none besides."""

from __future__ import annotations

import ast
import re
from collections import Counter
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from string import Formatter
from typing import get_args, get_type_hints

import pytest
import typer.main
from babel.messages.catalog import Catalog, Message
from babel.messages.pofile import read_po
from jinja2 import Environment, nodes

from service import help_words
from service.bound_words import SAID
from service.cli import app
from service.drawings import rack
from service.help_words import help_texts
from service.languages import CATALOG, language_codes
from service.stations import progress_words, views
from service.stations.pages import TEMPLATES
from service.usecases.ask import order_life
from solver.documents import faults, lateness_words, moves, notes, timetable
from solver.documents.names import GOODS
from solver.documents.texts import all_words
from solver.domain.takeoff import BrokenRule
from solver.language import Language
from tests.languages import ENGLISH, SPANISH
from tests.orders import plant
from tests.shared import ROOT
from tests.unit.test_documents_faults import OPEN, raised, texts

Key = tuple[str, str]
COUNTED = 2
LETTER = re.compile(r"[A-Za-z]")
TELLING = 9  # letters; a sentence with fewer of its own fits nearly anything
FIELDS_NAMED = {"from", "ordinates"}  # of a job: they stay as they are
COMPARED = {"end_for_end", "over", "over_end", "optimal", "feasible", "done", "end", " edge"}  # in templates, never shown
SAYS = re.compile(r"(.*\.)?_?language(\(context\))?\.(say|text|counted)")  # a call that hands a text to a language
OTHERS = [code for code in language_codes() if code != ENGLISH.code]


@cache
def catalog(code: str) -> Catalog:
    with (ROOT / "service" / "locale" / code / CATALOG).open("rb") as file:
        return read_po(file)


def messages(code: str) -> Iterator[tuple[Key, Message]]:
    for message in catalog(code):
        if message.id:
            yield (message.context or "", message.id if isinstance(message.id, str) else message.id[0]), message


def in_templates() -> Iterator[tuple[str, str]]:
    """Every text of the templates, with the text of many that goes with it ("" where none is counted)."""
    for path in sorted(Path(TEMPLATES).glob("*.html")):
        for call in Environment(autoescape=True).parse(path.read_text(encoding="utf-8")).find_all(nodes.Call):
            if not isinstance(call.node, nodes.Name):
                continue
            if call.node.name == "tn":
                one, many = (part.value for part in call.args[1 : 1 + COUNTED] if isinstance(part, nodes.Const))
                yield one, many
            elif call.node.name == "t":
                for part in [call.args[0], *call.args[0].find_all(nodes.Const)]:
                    if isinstance(part, nodes.Const) and isinstance(part.value, str) and part.value not in COMPARED:
                        yield part.value, ""


def in_calls() -> Iterator[str]:
    """Every text that code hands to a language to be said, where it stands in the call."""
    for top in ("service", "worker", "solver"):
        for path in sorted((ROOT / top).rglob("*.py")):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.Call) and SAYS.fullmatch(ast.unparse(node.func)):
                    yield from (text for argument in node.args[:1] for text in texts(argument) if OPEN not in text)


@cache
def wanted() -> frozenset[Key]:
    """Every text that is said, with the context in which it is asked for."""
    found = {("", one) for one, _ in in_templates()} | {("", text) for text in in_calls()}
    tables = (
        views.WORDS,
        views.STAGES,
        views.COUNTED,
        views.PLACES,
        views.ARGUMENTS,
        views.BOUND_STATES,
        views.BOUNDS,
        views.ORDER_WORDS,
    )
    found |= {("", text) for table in (*tables, views.ORDER_WORDS, progress_words.NAMES, rack.WORDS) for text in table.values()}
    found |= {("", text) for text in (*progress_words.SAID, *progress_words.BUSY, *views.DOING, *order_life.WHYS)}
    found |= {(key, text) for key, text in all_words().items()}
    found |= {("why", text) for text in lateness_words.WORDS.values()} | {("moves", text) for text in moves.WORDS.values()}
    found |= {("", text) for text in help_texts(typer.main.get_command(app))} | {("help", word) for word in help_words.WORDS}
    found |= {("day", day) for day in timetable.DAYS} | {("month", month) for month in timetable.MONTHS}
    found |= {("", text) for text in SAID.values()} | {("status", text) for text in ("optimal", "feasible")}
    found |= {("", rule.replace("_", " ")) for rule in get_args(get_type_hints(BrokenRule)["rule"])}
    found |= {(notes.CONTEXT, text) for text in (*notes.NOTES, *notes.WORDS, *notes.CUTS)}
    found |= {(GOODS, rule.item) for rule in plant().hardware}
    return frozenset(found)


@cache
def constants() -> frozenset[str]:
    """Every text that stands anywhere in code, templates and scripts: whatever is said is one of these."""
    found = {text for pair in in_templates() for text in pair}
    for top in ("service", "worker", "solver"):
        for path in sorted((ROOT / top).rglob("*.py")):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, (ast.Constant, ast.JoinedStr)):
                    found |= set(texts(node))
    for path in sorted(Path(TEMPLATES).glob("*.html")):
        tree = Environment(autoescape=True).parse(path.read_text(encoding="utf-8"))
        found |= {part.value for part in tree.find_all(nodes.Const) if isinstance(part.value, str)}
    return frozenset(found)


def forms(message: Message) -> list[str]:
    """What a message says: a text, or one for each plural form."""
    return [str(message.string or "")] if isinstance(message.string, (str, type(None))) else list(map(str, message.string))


def figures(context: str, text: str) -> Counter[str]:
    if context == faults.CONTEXT:
        return Counter(field[0] for field in faults.FIELD.finditer(text))
    return Counter(f"{name}:{spec}" if spec else name for _, name, spec, _ in Formatter().parse(text) if name is not None)


@pytest.mark.parametrize("code", OTHERS)
def test_every_text_that_is_said_is_in_the_catalog(code: str) -> None:
    there = {key for key, _ in messages(code)}
    missing = {key for key in wanted() if key[1].strip() and key not in there and ("", key[1]) not in there}
    assert len(wanted()) > 900
    assert missing == set()


@pytest.mark.parametrize("code", OTHERS)
def test_no_text_of_the_catalog_is_empty_unsure_or_left_over(code: str) -> None:
    left = []
    for (context, english), message in messages(code):
        assert all(form.strip() for form in forms(message)), english
        assert not message.fuzzy, english
        words = [word for word in re.findall(r"[a-z]{3,}", re.sub(r"\{[^}]*\}", "", english)) if word not in FIELDS_NAMED]
        assert len(words) < COUNTED + 1 or english not in forms(message), f"{english!r} is left in English"
        if context == faults.CONTEXT:
            continue  # held to what code raises below
        if (context, english) not in wanted() and (context or english not in constants()):
            left.append((context, english))
    assert left == []


@pytest.mark.parametrize("code", OTHERS)
def test_translations_fill_in_the_same_names_and_figures(code: str) -> None:
    for (context, english), message in messages(code):
        for form in forms(message):
            assert figures(context, form) == figures(context, english), english


@pytest.mark.parametrize("code", OTHERS)
def test_what_is_counted_has_every_plural_form_of_its_language(code: str) -> None:
    pairs = {(one, many) for one, many in in_templates() if many}
    assert len(pairs) > 20
    there = {message.id: len(forms(message)) for _, message in messages(code) if not isinstance(message.id, str)}
    assert pairs - set(there) == set()
    assert {pair for pair, count in there.items() if count != catalog(code).num_plurals} == set()


def sentences(code: str) -> list[Key]:
    return [key for key, _ in messages(code) if key[0] == faults.CONTEXT]


def skeleton(text: str) -> str:
    return faults.FIELD.sub(OPEN, text)


@pytest.mark.parametrize("code", OTHERS)
def test_no_sentence_of_a_fault_is_left_over(code: str) -> None:
    """Each is a text that code writes somewhere, or, with what it is filled with, one that code raises."""
    patterns = [
        re.compile(".+".join(map(re.escape, text.split(OPEN)))) for text, _ in raised() if len(LETTER.findall(text)) >= TELLING
    ]
    written = constants() | {text for text, _ in raised()}
    whole = "\n".join(sorted(written))
    parts = {
        english: [part.strip(" ;:,") for part in re.split(f"{OPEN}|; ", skeleton(english))] for _, english in sentences(code)
    }
    left = [english for english, some in parts.items() if not all(part in whole for part in some)]
    assert [english for english in left if not any(pattern.fullmatch(english) for pattern in patterns)] == []


def test_a_text_is_said_as_its_context_wants_it_else_as_anywhere_else_in_english() -> None:
    spoken = Language("xx", {("", "left"): ("gone",), ("side", "left"): ("port",)})
    assert [spoken.text("left", "side"), spoken.text("left", "other"), spoken.text("right")] == ["port", "gone", "right"]
    assert ENGLISH.say("{n} of {m}", n=1, m=2) == "1 of 2"


@pytest.mark.parametrize(
    ("rule", "forms", "said"),
    [
        ("n != 1", ("una", "muchas"), ["muchas", "una", "muchas", "muchas"]),
        ("n == 1 ? 0 : n % 10 >= 2 && n % 10 <= 4 && (n % 100 < 12 || n % 100 > 14) ? 1 : 2", ("a", "b", "c"), list("cabc")),
        ("0", ("x",), ["x"] * 4),
    ],
)
def test_a_number_takes_the_form_that_its_language_s_rule_names(rule: str, forms: tuple[str, ...], said: list[str]) -> None:
    """The second rule is gettext's own example for Polish (GNU gettext manual, "Plural forms")."""
    language = Language("xx", {("", "{n} piece"): forms}, rule)
    assert [language.counted(n, "{n} piece", "{n} pieces") for n in (0, 1, 2, 5)] == said
    assert [ENGLISH.counted(n, "one", "many") for n in (0, 1, 2)] == ["many", "one", "many"]
    assert SPANISH.counted(2, "{n} piece", "{n} pieces").format(n=2) == "2 piezas"
