"""What `--help` says, in the reader's language: texts of commands and options, and the words that stand around them."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import partial
from typing import Any

from solver.language import Language

# around the texts of ours: typer's own words, as it sets them
WORDS = (
    "Usage:", "Options:", "Commands:", "Arguments:", "[OPTIONS]", "COMMAND [ARGS]...", "[default:", "[required]",
    "Show this message and exit.", "ORDER", "FILE",
)  # fmt: skip
_AROUND = re.compile("|".join(map(re.escape, WORDS)))


def help_texts(command: Any) -> Iterable[str]:
    """Give the texts of a command, its options and its subcommands, in English, each paragraph in one line."""
    yield from filter(
        None, [unwrap_paragraphs(command.help), *(unwrap_paragraphs(getattr(part, "help", None)) for part in command.params)]
    )
    for below in getattr(command, "commands", {}).values():
        yield from help_texts(below)


def translate_help(command: Any, language: Language) -> None:
    """Have a command, and those below it, say their help in a language."""
    command.help = language.text(unwrap_paragraphs(command.help))
    if command.short_help:
        command.short_help = language.text(unwrap_paragraphs(command.short_help))
    for part in command.params:
        if getattr(part, "help", None):
            part.help = language.text(unwrap_paragraphs(part.help))
    command.get_help = partial(_whole, command.get_help, language)
    for below in getattr(command, "commands", {}).values():
        translate_help(below, language)


def unwrap_paragraphs(text: str | None) -> str:
    """Return a text with each of its paragraphs in one line."""
    return "\n\n".join(" ".join(part.split()) for part in (text or "").split("\n\n"))


def _whole(plain: Any, language: Language, context: Any) -> str:
    return _AROUND.sub(lambda word: language.text(word[0], "help"), plain(context))
