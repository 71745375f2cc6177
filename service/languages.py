"""The languages that Sawbill speaks: English, and each that has a catalog (gettext's .po) in the folder `locale`."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from io import BytesIO

from solver.errors import FieldFault
from solver.language import ENGLISH, Language

CATALOG = "LC_MESSAGES/sawbill.po"


@cache
def language_codes() -> tuple[str, ...]:
    """Return the codes of the languages, English first: one for each folder that has a catalog."""
    found = (folder.name for folder in _folder().iterdir() if folder.joinpath(CATALOG).is_file())
    return (ENGLISH.code, *sorted(found))


@cache
def language_by_code(code: str) -> Language:
    """Return a language, its catalog read once in a process. Raises KeyError where there is none of this code."""
    if code == ENGLISH.code:
        return ENGLISH
    if code not in language_codes():
        raise KeyError(code)
    return language_from_catalog(code, _folder().joinpath(code, CATALOG).read_bytes())


def language_from_catalog(code: str, catalog: bytes) -> Language:
    """Return the language of a catalog; what is marked as fuzzy is not said."""
    from babel.messages.pofile import read_po  # read where another language than English is asked for

    read = read_po(BytesIO(catalog))
    texts: dict[tuple[str, str], tuple[str, ...]] = {}
    for message in read:
        forms = message.string if isinstance(message.string, (tuple, list)) else (message.string,)
        english = message.id if isinstance(message.id, str) else message.id[0]
        if english and not message.fuzzy and all(forms):
            texts[message.context or "", english] = tuple(map(str, forms))
    return Language(code, texts, read.plural_expr)


def choose_language(setting: str, asked: str) -> Language:
    """Return the language to speak: the setting's, else the browser's first wish that we speak, else English."""
    wishes = [setting] if setting else [part.partition(";")[0].strip() for part in asked.split(",")]
    for wish in wishes:
        code = wish.replace("_", "-").partition("-")[0].partition(".")[0].lower()
        if code in language_codes():
            return language_by_code(code)
    return ENGLISH


def unknown_language_fault(path: str, code: str) -> FieldFault:
    """Return the fault of a language that there is not."""
    return FieldFault(path, f"{code!r} is not known", f"one of {', '.join(language_codes())}")


def language_of_environment(environment: Mapping[str, str]) -> Language:
    """Return the language of a system's settings: the first that is set of ours, LC_ALL, LC_MESSAGES and LANG (POSIX)."""
    names = ("SAWBILL_LANGUAGE", "LC_ALL", "LC_MESSAGES", "LANG")
    return choose_language(next((environment[name] for name in names if environment.get(name)), ""), "")


def _folder() -> Traversable:
    return files("service").joinpath("locale")
