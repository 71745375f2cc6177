"""Faults in Spanish: every text that code raises to people is known, and comes out with the same names and figures."""

from __future__ import annotations

import ast
import re
from collections import Counter
from collections.abc import Iterator
from functools import cache
from itertools import chain, product
from pathlib import Path

import pytest

from solver.documents.faults import CONTEXT, FIELD, is_known_fault, translate_fault, translate_fault_text
from solver.errors import FieldFault
from tests.languages import ENGLISH, SPANISH
from tests.shared import ROOT

OPEN = "\0"
WORD = re.compile(r"[A-Za-z]{5}")  # without one there is little to say: "17 g", "a on b"
FILLED = ("17", "a length", "")  # a name or figure, a text of the tables, nothing
WORDS = (  # what else code puts into a sentence
    *("17", "left", "upright", "hip", "head", "collide", "stagger", "a gap", "base channel"),
    *("leaves a gap of 17 at 17", "from 17 to 17", "17 and 17", "17 from a panel joint, under the stagger of 17"),
)
SENTENCES = {english: said[0] for (context, english), said in SPANISH.texts.items() if context == CONTEXT}
LONG = re.compile(r"[^\W\d_]{4,}")
SPOKEN = {word for spanish in SENTENCES.values() for word in LONG.findall(FIELD.sub("", spanish))}
ROOMS = ("solver", "service")
NAMED = {
    "FieldFault": (1, 2),
    "_fault": (1, 2),
    "fault": (1, 2),
    "add": (1, 2),
    "add_fault": (1, 2),
    "LengthError": (0, 1),
    "NotPrinted": (0, 1),
    "InputError": (),
}


def texts(node: ast.expr) -> Iterator[str]:
    """The texts that an expression may give, OPEN in the place of what is filled in; nothing where it is made elsewhere."""
    match node:
        case ast.Constant(value=str(text)):
            yield text
        case ast.IfExp():
            yield from (*texts(node.body), *texts(node.orelse))
        case ast.JoinedStr():
            made = [""]
            for part in node.values:
                ends = list(texts(part.value)) if isinstance(part, ast.FormattedValue) else list(texts(part))
                made = [begun + end for begun in made for end in ends or [OPEN]]
            yield from made


def raised() -> Iterator[tuple[str, str]]:
    """Every problem and fix that the code of the rooms raises, with where."""
    for room in ROOMS:
        place = ROOT / room
        for path in sorted(place.rglob("*.py")) if place.is_dir() else [place]:
            yield from raised_in(path)


def raised_in(path: Path) -> Iterator[tuple[str, str]]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if not isinstance(node, ast.Call):
            continue
        name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        wanted = NAMED.get(name, ())
        if name == "add" and len(node.args) != 3:
            continue
        if name in ("FieldFault", "Fault"):
            for part in node.keywords:
                if part.arg in ("problem", "fix"):
                    yield from ((text, f"{path.relative_to(ROOT)}:{node.lineno}") for text in texts(part.value) if text)
        for n in wanted:
            if n < len(node.args):
                yield from ((text, f"{path.relative_to(ROOT)}:{node.lineno}") for text in texts(node.args[n]) if text.strip())


@cache
def said(text: str) -> str:
    """A text's Spanish, for the first of what it may be filled with for which there is one; "" where there is none."""
    parts = text.split(OPEN)
    ways = chain(product(FILLED, repeat=len(parts) - 1), product(WORDS, repeat=len(parts) - 1))
    filled = ("".join((parts[0], *chain(*zip(way, parts[1:], strict=True)))) for way in ways)
    return next((translate_fault_text(SPANISH, one) for one in filled if is_known_fault(SPANISH, one)), "")


def left_in_english(text: str, spanish: str) -> set[str]:
    """The words that code wrote and that still stand in the Spanish, where no Spanish sentence has such a word."""
    return set(LONG.findall(text)) & set(LONG.findall(spanish)) - SPOKEN


def test_every_fault_that_code_raises_to_people_has_its_spanish() -> None:
    told = list(raised())
    assert len(told) > 900
    assert sorted({(text, where) for text, where in told if WORD.search(text) and not said(text)}) == []


def test_a_fault_comes_out_whole_no_looser_sentence_takes_its_english_for_a_name() -> None:
    """ "are {a}" once took "are not the loads that left" for its own, and said "son not the loads that left"."""
    assert left_in_english("are not the loads that left", "son not the loads that left") == {"loads", "that", "left"}
    told = [(text, where, said(text)) for text, where in raised()]
    assert sum(bool(spanish) for _, _, spanish in told) > 900
    assert [(*one, words) for one in told if (words := left_in_english(one[0], one[2]))] == []


def rules() -> Iterator[tuple[str, str]]:
    """Every rule that a check says it has judged, with where."""
    for path in sorted((ROOT / "solver").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            told: list[ast.expr] = []
            match node:
                case ast.Assign(targets=[ast.Name(id=name)], value=value) if name.endswith("CHECKED") or name == "CROSS":
                    told = list(value.elts) if isinstance(value, ast.Tuple) else [value]
                case ast.Call(func=ast.Attribute(value=at, attr="append"), args=[value]) if ast.unparse(at).endswith("checked"):
                    told = [value]
            yield from ((text, f"{path.relative_to(ROOT)}:{part.lineno}") for part in told for text in texts(part))


def test_every_rule_that_a_check_has_judged_has_its_spanish() -> None:
    told = list(rules())
    assert len(told) > 80
    assert len({where.partition(":")[0] for _, where in told}) > 20
    assert sorted({(text, where) for text, where in told if text and not said(text)}) == []


@pytest.mark.parametrize("text", sorted(SENTENCES))
def test_a_fault_keeps_its_names_and_figures(text: str) -> None:
    assert Counter(FIELD.findall(text)) == Counter(FIELD.findall(SENTENCES[text]))
    filled = FIELD.sub(lambda field: "a length" if field[2] else f"{field[1]}{field[1]}7", text)
    spanish = translate_fault_text(SPANISH, filled)
    assert translate_fault_text(ENGLISH, filled) == filled
    assert all(f"{name}{name}7" in spanish for name, known in FIELD.findall(text) if not known)


def test_a_fault_within_a_fault_is_said_too_and_an_unknown_text_stays() -> None:
    told = translate_fault(SPANISH, FieldFault("cottage-7.walls[L1.S]", "L1.S-01: is missing", "a length or a list"))
    assert (told.path, told.problem, told.fix) == ("cottage-7.walls[L1.S]", "L1.S-01: falta", "un largo o una lista")
    assert translate_fault_text(SPANISH, "something quite new") == "something quite new"
    assert not is_known_fault(SPANISH, "L1.S-01: something quite new")
