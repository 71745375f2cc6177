"""Texts that are put together from other names are put together and taken apart in one module each."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.shared import ROOT

HOMES = {"solver/domain/ids.py", "solver/domain/material.py", "solver/domain/work_ids.py"}
CUTS = {"partition", "rpartition", "split", "rsplit", "startswith", "endswith", "removeprefix", "removesuffix"}
MARKS = ("|", "#", "/")  # of a material, a bar, an operation or what an order has
JOBS = ("lot ", "season ", "slit ", "trim ", "bar ", "finish ", "bundle ", "load ", "remake ", "panel-saw ")

# text of another kind: file and mark, and what it is
OTHER = {
    ("solver/reading/pitches.py", "/"): "a roof's pitch, 4/12",
    ("service/api/documents.py", "/"): "the path of a file",
    ("service/api/redirects.py", "/"): "the path of a page",
    ("solver/documents/codes.py", "#"): "which making of a piece a label is of",
    ("solver/book/things.py", "#"): "which making of a piece a label is of",
    ("solver/units.py", "/"): "a fraction of an inch",
    ("service/store/order_life.py", "/"): "an order and its slash, as SQL compares them",
    ("service/reports/tables.py", "load "): "the head of a column",
}


def marks_in(text: str) -> Iterator[tuple[int, str]]:
    """Give the line and the mark or prefix of every place of a module that puts such a text together or takes it apart."""
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in CUTS and node.args:
            given = node.args[0]
            if isinstance(given, ast.Constant) and (given.value in MARKS or given.value in JOBS):
                yield node.lineno, str(given.value)
        elif isinstance(node, ast.JoinedStr):
            first, *rest = [part.value if isinstance(part, ast.Constant) else None for part in node.values]
            if first in JOBS and len(rest) == 1:
                yield node.lineno, str(first)
            if first is None:  # a name, and a mark behind it
                yield from ((node.lineno, str(part)) for part in rest[:1] if part in MARKS)


@pytest.mark.parametrize("room", ["solver", "service", "worker"])
def test_composed_ids_are_taken_apart_in_their_modules(room: str) -> None:
    found = {
        f"{file}:{line}: {mark!r}"
        for path in sorted((ROOT / room).rglob("*.py"))
        if (file := path.relative_to(ROOT).as_posix()) not in HOMES
        for line, mark in marks_in(path.read_text(encoding="utf-8"))
        if (file, mark) not in OTHER
    }
    assert found == set(), "these belong into solver/domain: ids, material or work_ids"


def test_what_is_of_another_kind_is_still_there() -> None:
    for file, mark in OTHER:
        assert mark in {one for _, one in marks_in(Path(ROOT, file).read_text(encoding="utf-8"))}, (file, mark)


@pytest.mark.parametrize(
    ("text", "mark"),
    [
        ('name.partition("|")', "|"),
        ('name.rsplit("/", 1)', "/"),
        ('name.startswith("lot ")', "lot "),
        ('f"{order}/{mark}"', "/"),
        ('f"{material}#{number:03d}"', "#"),
        ('f"bundle {name}"', "bundle "),
    ],
)
def test_the_marks_are_seen(text: str, mark: str) -> None:
    assert [one for _, one in marks_in(text)] == [mark]


def test_sentences_are_no_ids() -> None:
    assert list(marks_in('f"bundle {name} is on two loads"')) == []
