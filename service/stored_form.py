"""The form in which the store keeps what we worked out ourselves: written and read in a fraction of the codec's time.

It is apart from the public form. The codec stays at the doors (HTTP, the command line, files), where units are read and
every fault is told with its path; inside, the same frozen dataclasses are written field by field, lengths in nanometres,
after the number of their form. A later version reads every earlier form: what a form misses of today's classes is added by
the upcasters, each from one form to the next. Form 0 is what was stored before there was a number: the public JSON in mm.

To change a stored class otherwise than by a new field with a default, add one to `FORM`, write the upcaster from the last
form, and keep a store of the last version beside those of `tests/golden/stored`.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Hashable, Mapping, Sequence
from functools import cache
from typing import Any, TypeVar, cast

import msgspec

from solver.codec import decode, encode
from solver.errors import InputError

T = TypeVar("T")
FORM = 1
Upcaster = Callable[[Any], Any]
UPCASTERS: Mapping[tuple[int, str], Upcaster] = {}  # by form and class name: its data as the next form has it


class UnreadableStored(ValueError):
    """What we wrote ourselves does not read back: a fault of ours, not of who asks for it."""


def to_stored_text(value: Any) -> str:
    """Return a dataclass as the store keeps it."""
    return f"{FORM}{msgspec.json.encode(value).decode()}"


def stored_text_digest(text: str) -> str:
    """Return the SHA-256 of a stored text, by which it is fetched."""
    return hashlib.sha256(text.encode()).hexdigest()


def from_stored_text(
    kind: type[T], text: str, *, upcasters: Mapping[tuple[int, str], Upcaster] = UPCASTERS, now: int = FORM
) -> T:
    """Return what was stored, whatever form it has. Raises Unreadable."""
    form, body = _parted(text)
    try:
        if form == 0:
            data = json.loads(body)
            upcast = upcasters.get((0, kind.__name__))  # to today's public form, which the codec reads
            return decode(kind, data if upcast is None else upcast(data), name="stored", unit="mm")
        if form == now:
            return cast(T, _reader(cast(Hashable, kind)).decode(body))
        data = msgspec.json.decode(body)
        for old in range(form, now):
            upcast = upcasters.get((old, kind.__name__))
            data = data if upcast is None else upcast(data)
        return msgspec.convert(data, kind)
    except (InputError, msgspec.MsgspecError, ValueError) as error:
        raise UnreadableStored(f"a stored {kind.__name__} of form {form} does not read back: {error}"[:1000]) from error


def rows_from_stored_texts(kind: type[T], texts: Sequence[str]) -> list[T]:
    """Return what was stored row by row; rows of today's form are read together, in half the time. Raises Unreadable."""
    number = str(FORM)
    if not all(text.startswith(number) and text[len(number) : len(number) + 1] == "{" for text in texts):
        return [from_stored_text(kind, text) for text in texts]
    try:
        body = ",".join(text[len(number) :] for text in texts)
        return cast("list[T]", _reader(cast(Hashable, list[kind])).decode(f"[{body}]"))  # type: ignore[valid-type]
    except msgspec.MsgspecError as error:
        raise UnreadableStored(f"stored rows of {kind.__name__} do not read back: {error}"[:1000]) from error


def stored_to_public_json(kind: type[Any], text: str) -> str:
    """Return what was stored as the codec tells it over HTTP: lengths in mm, or in its own `unit`."""
    form, body = _parted(text)
    if form == 0:
        return body
    return json.dumps(encode(from_stored_text(kind, text)), ensure_ascii=False, sort_keys=True, separators=(",", ":"))


def _parted(text: str) -> tuple[int, str]:
    """The number of a text's form, and its JSON."""
    begins = text.find("{")
    if begins <= 0:
        return 0, text
    return int(text[:begins]), text[begins:]


@cache
def _reader(kind: Any) -> msgspec.json.Decoder[Any]:
    return msgspec.json.Decoder(kind)
