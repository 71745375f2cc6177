"""Frozen dataclasses to JSON, from JSON and as JSON Schema, all three from their type hints.

Written here, not taken from a library, for three things none offered together: lengths that are numbers in the
document's own unit or texts with theirs (an object's
`unit` holds for all inside it), every fault with path, problem and fix, and one shape for all three uses.

Rules: unknown fields are faults; a field `length_nm` is `length` in JSON, a number in the document's `unit` or a text
with its own; `metadata={"json": "from"}` renames; a field with a default may be left out, and is left out when written
at its default; a union of dataclasses is told apart by its `kind`, else by which fields fit; text is never guessed at.
"""

from __future__ import annotations

import json
import math
import re
import types
from collections import Counter
from collections.abc import Callable, Hashable, Mapping
from dataclasses import MISSING, Field, fields, is_dataclass
from enum import StrEnum
from functools import cache
from typing import Annotated, Any, Literal, NewType, TypeVar, Union, cast, get_args, get_origin, get_type_hints

from solver.errors import FaultCollector, FieldFault, InputError
from solver.field_limits import Description, ExclusiveMinimum, ItemCount, Maximum, Minimum, TextPattern
from solver.units import LengthError, Nm, Unit, length_as_number, length_from_json

T = TypeVar("T")
TEXT_LIMIT = 2_000  # characters in one text: an id, a name, an address line
ABSENT = object()
_UNFIT = re.compile("[\x00-\x1f\ud800-\udfff]")  # control characters, and halves of letters


class _Object(dict[str, Any]):
    """A JSON object that remembers keys given twice."""

    repeated: tuple[str, ...] = ()


def _pairs(pairs: list[tuple[str, Any]]) -> _Object:
    made = _Object(pairs)
    if len(made) < len(pairs):
        made.repeated = tuple(sorted(name for name, times in Counter(name for name, _ in pairs).items() if times > 1))
    return made


def read_json(text: str | bytes, *, name: str, limit_bytes: int = 4_000_000) -> Any:
    """Return the JSON value of a text. Raises InputError when it is too large or no JSON.

    NaN, infinities and keys given twice are let through to be reported at their own paths by `decode`.
    """
    size = len(text) if isinstance(text, bytes) else len(text.encode("utf-8", "surrogatepass"))
    if size > limit_bytes:
        raise InputError(
            FieldFault(name, f"{size / 1e6:.1f} MB is over the limit of {limit_bytes / 1e6:g} MB", "send a smaller document")
        )
    try:
        return json.loads(text, object_pairs_hook=_pairs)
    except UnicodeDecodeError as error:
        raise InputError(FieldFault(name, f"byte {error.start} is not UTF-8", "text in UTF-8")) from error
    except json.JSONDecodeError as error:
        where = f"line {error.lineno}, column {error.colno}"
        raise InputError(FieldFault(name, f"not JSON at {where} ({error.msg})", "one JSON document")) from error
    except (RecursionError, ValueError) as error:
        raise InputError(FieldFault(name, f"not JSON that can be read ({str(error)[:80]})", "one JSON document")) from error


def decode(kind: type[T], data: Any, *, name: str, unit: Unit | None = None) -> T:
    """Return `data` as a value of the dataclass `kind`. Raises InputError with every fault; paths start at `name`."""
    faults = FaultCollector()
    value = _read(kind, data, "" if name == "$" else name, unit, faults, ())
    faults.raise_if_any()
    return cast(T, value)


def encode(value: Any, *, unit: Unit = "mm") -> Any:
    """Return a value as JSON data; lengths as numbers in `unit` (1e-6 mm or 1e-9 in)."""
    return _writer(cast(Hashable, type(value)))(value, unit)


def schema(kind: type[Any]) -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of a dataclass."""
    defs: dict[str, Any] = {}
    root = _schema(kind, (), defs)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **root, "$defs": defs}


def json_fields(kind: type[Any]) -> dict[str, tuple[Field[Any], Any]]:
    """Return the JSON name, dataclass field and type hint of each field of a dataclass."""
    return _json_fields(cast(Hashable, kind))


@cache
def _json_fields(kind: Any) -> dict[str, tuple[Field[Any], Any]]:
    hints = get_type_hints(kind, include_extras=True)
    made = {}
    for item in fields(kind):
        default_name = item.name[:-3] if item.name.endswith("_nm") else item.name
        made[str(item.metadata.get("json", default_name))] = (item, hints[item.name])
    return made


class _Assumed(str):
    """A unit that stands in for one that is missing or wrong, so that reading goes on; it counts what hangs on it."""

    numbers = 0


def _join(path: str, key: str) -> str:
    return f"{path}.{key}" if path else key


def _show(value: Any) -> str:
    text = json.dumps(value, default=str, ensure_ascii=False) if not isinstance(value, str) else repr(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _peel(hint: Any, limits: tuple[Any, ...]) -> tuple[Any, tuple[Any, ...]]:
    while get_origin(hint) is Annotated:
        hint, *more = get_args(hint)
        limits = (*limits, *more)
    return hint, limits


def _is_union(hint: Any) -> bool:
    return get_origin(hint) in (Union, types.UnionType)


def _read(hint: Any, data: Any, path: str, unit: Unit | None, faults: FaultCollector, limits: tuple[Any, ...]) -> Any:
    hint, limits = _peel(hint, limits)
    if hint is Nm:
        return _read_length(data, path, unit, faults, limits)
    if isinstance(hint, NewType):
        return _read(hint.__supertype__, data, path, unit, faults, limits)
    if _is_union(hint):
        return _read_union(hint, data, path, unit, faults, limits)
    origin = get_origin(hint)
    if origin is Literal:
        return _read_choice(get_args(hint), data, path, faults)
    if origin is tuple:
        return _read_tuple(hint, data, path, unit, faults, limits)
    if origin in (dict, Mapping):
        return _read_mapping(hint, data, path, unit, faults, limits)
    if is_dataclass(hint):
        return _read_object(cast(type[Any], hint), data, path, unit, faults)
    return _read_scalar(hint, data, path, faults, limits)


def _read_length(data: Any, path: str, unit: Unit | None, faults: FaultCollector, limits: tuple[Any, ...]) -> Any:
    if isinstance(unit, _Assumed) and isinstance(data, int | float):
        unit.numbers += 1
    try:
        value = length_from_json(data, unit)
    except LengthError as error:
        faults.add(path, error.problem, error.fix)
        return ABSENT
    return value if _within(value, data, path, faults, limits) else ABSENT


def _within(value: Any, data: Any, path: str, faults: FaultCollector, limits: tuple[Any, ...]) -> bool:
    for limit in limits:
        if isinstance(limit, Minimum) and value < limit.value:
            faults.add(path, f"{_show(data)} is below {limit.value}", f"at least {limit.value}")
        elif isinstance(limit, ExclusiveMinimum) and value <= limit.value:
            faults.add(path, f"{_show(data)} is not above {limit.value}", f"more than {limit.value}")
        elif isinstance(limit, Maximum) and value > limit.value:
            faults.add(path, f"{_show(data)} is above {limit.value}", f"at most {limit.value}")
        else:
            continue
        return False
    return True


def _read_choice(choices: tuple[Any, ...], data: Any, path: str, faults: FaultCollector) -> Any:
    for choice in choices:
        if type(choice) is type(data) and choice == data:
            return choice
    faults.add(path, f"{_show(data)} is not known here", "one of " + ", ".join(str(choice) for choice in choices))
    return ABSENT


def _read_list(data: Any, path: str, faults: FaultCollector, limits: tuple[Any, ...]) -> bool:
    if not isinstance(data, list):
        faults.add(path, f"{_show(data)} is not a list", "a list in square brackets")
        return False
    for limit in limits:
        if isinstance(limit, ItemCount) and not limit.low <= len(data) <= limit.high:
            faults.add(path, f"has {len(data)} items", f"{limit.low} to {limit.high} items")
            return False
    return True


def _read_tuple(hint: Any, data: Any, path: str, unit: Unit | None, faults: FaultCollector, limits: tuple[Any, ...]) -> Any:
    if not _read_list(data, path, faults, tuple(limit for limit in limits if isinstance(limit, ItemCount))):
        return ABSENT
    inner = get_args(hint)
    rest = tuple(limit for limit in limits if not isinstance(limit, ItemCount | Description))
    if len(inner) == 2 and inner[1] is Ellipsis:
        made = tuple(_read(inner[0], item, f"{path}[{n}]", unit, faults, rest) for n, item in enumerate(data))
    elif len(data) != len(inner):
        faults.add(path, f"has {len(data)} items", f"exactly {len(inner)} items")
        return ABSENT
    else:
        made = tuple(
            _read(part, item, f"{path}[{n}]", unit, faults, rest)
            for n, (part, item) in enumerate(zip(inner, data, strict=True))
        )
    return ABSENT if any(item is ABSENT for item in made) else made


def _read_mapping(hint: Any, data: Any, path: str, unit: Unit | None, faults: FaultCollector, limits: tuple[Any, ...]) -> Any:
    if not isinstance(data, dict):
        faults.add(path, f"{_show(data)} is not an object", "an object in curly braces")
        return ABSENT
    _note_repeats(data, path, faults)
    _, inner = get_args(hint)
    rest = tuple(limit for limit in limits if not isinstance(limit, ItemCount | Description))
    made = {}
    for key, item in data.items():
        if not _good_text(key):
            faults.add(path, f"the name {_show(key)} is empty or too long", "a short name")
            continue
        made[key] = _read(inner, item, _join(path, key), unit, faults, rest)
    return ABSENT if any(item is ABSENT for item in made.values()) else made


def _note_repeats(data: dict[str, Any], path: str, faults: FaultCollector) -> None:
    for name in getattr(data, "repeated", ()):
        faults.add(_join(path, name), "is given twice", "each name once")


def _read_object(kind: type[Any], data: Any, path: str, unit: Unit | None, faults: FaultCollector) -> Any:
    if not isinstance(data, dict):
        faults.add(path or "document", f"{_show(data)} is not an object", "an object in curly braces")
        return ABSENT
    _note_repeats(data, path, faults)
    known = json_fields(kind)
    assumed = _Assumed("mm")
    if "unit" in known:
        unit = _unit_inside(data, unit, assumed)
    before = len(faults.found)
    for key in data:
        if key not in known:
            near = ", ".join(sorted(known))
            faults.add(_join(path, str(key)[:60]), "is not a known field", f"one of {near}")
    made: dict[str, Any] = {}
    for key, (item, hint) in known.items():
        if key in data:
            made[item.name] = _read(hint, data[key], _join(path, key), unit, faults, ())
        elif item.default is MISSING and item.default_factory is MISSING:
            faults.add(_join(path, key), "is missing", _wanted(hint))
    if assumed.numbers:
        _tell_what_hangs(faults, _join(path, "unit"), before, assumed.numbers)
    if len(faults.found) > before:
        return ABSENT
    try:
        return kind(**made)
    except InputError as error:
        faults.extend(
            FieldFault(_join(path, fault.path) if fault.path else path, fault.problem, fault.fix) for fault in error.faults
        )
    except ValueError as error:
        faults.add(path or "document", str(error), "values that agree with each other")
    return ABSENT


def _unit_inside(data: dict[str, Any], outer: Unit | None, assumed: _Assumed) -> Unit:
    """The unit of an object that may state one: its own, else that around it; one assumed where neither says any."""
    if data.get("unit") in ("mm", "in"):
        return cast(Unit, data["unit"])
    return outer if "unit" not in data and outer is not None else cast(Unit, assumed)


def _tell_what_hangs(faults: FaultCollector, path: str, since: int, numbers: int) -> None:
    """Tell with the fault of a unit how many numbers cannot be read without it: one cause, one fault."""
    what = f"; {numbers} lengths given as numbers hang on it"
    for n, fault in enumerate(faults.found[since:], since):
        if fault.path == path:
            faults.found[n] = FieldFault(path, fault.problem + what, fault.fix)
            return
    faults.add(path, f"is missing{what}", "one of mm, in; or texts with their own units")


def _wanted(hint: Any) -> str:
    hint, limits = _peel(hint, ())
    said = next((limit.text for limit in limits if isinstance(limit, Description)), None)
    if said:
        return said
    if hint is Nm:
        return "a length"
    if isinstance(hint, NewType):
        return _wanted(hint.__supertype__)
    origin = get_origin(hint)
    if origin is Literal:
        return "one of " + ", ".join(str(choice) for choice in get_args(hint))
    if _is_union(hint):
        return " or ".join(_wanted(part) for part in get_args(hint))
    if origin is tuple:
        return "a list"
    if is_dataclass(hint) or origin is not None:
        return "an object"
    names: dict[Any, str] = {
        str: "a text",
        int: "a whole number",
        float: "a number",
        bool: "true or false",
        type(None): "null",
    }
    return names.get(hint, "a value")


def _read_union(hint: Any, data: Any, path: str, unit: Unit | None, faults: FaultCollector, limits: tuple[Any, ...]) -> Any:
    parts = get_args(hint)
    if data is None and type(None) in parts:
        return None
    parts = tuple(part for part in parts if part is not type(None))
    if len(parts) == 1:
        return _read(parts[0], data, path, unit, faults, limits)
    if isinstance(data, dict):
        chosen = _by_kind(parts, data)
        if chosen is not None:
            return _read(chosen, data, path, unit, faults, limits)
    tried: list[FaultCollector] = []
    for part in parts:
        attempt = FaultCollector()
        value = _read(part, data, path, unit, attempt, limits)
        if not attempt:
            return value
        tried.append(attempt)
    shaped = [one for part, one in zip(parts, tried, strict=True) if _shape_fits(part, data)]
    if len(shaped) == 1:
        faults.extend(shaped[0].found)
    else:
        faults.add(path, f"{_show(data)} does not fit here", " or ".join(_wanted(part) for part in parts))
    return ABSENT


def _shape_fits(part: Any, data: Any) -> bool:
    part, _ = _peel(part, ())
    while isinstance(part, NewType) and part is not Nm:
        part = part.__supertype__
    if is_dataclass(part) or get_origin(part) in (dict, Mapping):
        return isinstance(data, dict)
    if get_origin(part) is tuple:
        return isinstance(data, list)
    if part is Nm:
        return isinstance(data, int | float | str) and not isinstance(data, bool)
    return isinstance(data, str) if part is str else False


def _by_kind(parts: tuple[Any, ...], data: dict[str, Any]) -> Any:
    objects = [part for part in (_peel(part, ())[0] for part in parts) if is_dataclass(part)]
    if len(objects) == 1:
        return objects[0]
    for part in objects:
        known = json_fields(cast(type[Any], part))
        if "kind" in known and data.get("kind") in get_args(_peel(known["kind"][1], ())[0]):
            return part
    best = [part for part in objects if set(data) <= set(json_fields(cast(type[Any], part)))]
    return best[0] if len(best) == 1 else None


def _good_text(text: str) -> bool:
    return 0 < len(text) <= TEXT_LIMIT


def _read_scalar(hint: Any, data: Any, path: str, faults: FaultCollector, limits: tuple[Any, ...]) -> Any:
    reader = _SCALARS.get(hint)
    if reader is None:
        if isinstance(hint, type) and issubclass(hint, StrEnum):
            found = _read_choice(tuple(str(member.value) for member in hint), data, path, faults)
            return found if found is ABSENT else hint(found)
        if hint is Any or hint is object:
            return data
        raise TypeError(f"the codec does not know {hint!r}")
    problem, value = reader(data)
    if problem:
        faults.add(path, problem, _wanted(hint))
        return ABSENT
    for limit in limits:
        if isinstance(limit, TextPattern) and not re.fullmatch(limit.pattern, str(value)):
            faults.add(path, f"{_show(value)} is not {limit.name}", limit.name)
            return ABSENT
    return value if isinstance(value, str | bool) or _within(value, data, path, faults, limits) else ABSENT


def _text(data: Any) -> tuple[str, Any]:
    if not isinstance(data, str):
        return f"{_show(data)} is not a text", None
    if not _good_text(data):
        return ("is empty", None) if not data else (f"has {len(data)} characters, over {TEXT_LIMIT}", None)
    if _UNFIT.search(data):
        return f"{_show(data)} has a control character", None
    return "", data


def _whole(data: Any) -> tuple[str, Any]:
    if isinstance(data, bool) or not isinstance(data, int | float):
        return f"{_show(data)} is not a whole number", None
    if isinstance(data, float) and not (math.isfinite(data) and data == int(data)):
        return f"{_show(data)} is not a whole number", None
    if abs(data) > 2**62:
        return f"{_show(data)} is too large", None
    return "", int(data)


def _real(data: Any) -> tuple[str, Any]:
    if isinstance(data, bool) or not isinstance(data, int | float):
        return f"{_show(data)} is not a number", None
    if isinstance(data, int) and abs(data) > 2**62:
        return f"{_show(data)} is too large", None
    return ("", float(data)) if math.isfinite(data) else (f"{data} is not a finite number", None)


def _truth(data: Any) -> tuple[str, Any]:
    return ("", data) if isinstance(data, bool) else (f"{_show(data)} is not true or false", None)


_SCALARS: dict[Any, Callable[[Any], tuple[str, Any]]] = {str: _text, int: _whole, float: _real, bool: _truth}


Writer = Callable[[Any, Unit], Any]


def _as_it_is(value: Any, _unit: Unit) -> Any:
    return value


@cache
def _writer(hint: Any) -> Writer:
    """What writes values of a type; made once a type, for a plan has a million values of some hundred types."""
    hint, _ = _peel(hint, ())
    if _is_union(hint):
        write = _union_writer(hint)
    elif hint is Nm:
        write = length_as_number
    elif get_origin(hint) is tuple or hint in (tuple, list):
        write = _tuple_writer(get_args(hint))
    elif get_origin(hint) in (dict, Mapping) or hint in (dict, Mapping):
        inner = get_args(hint)[1] if get_args(hint) else Any
        write = _mapping_writer(inner)
    elif hint in (str, int, float, bool) or get_origin(hint) is Literal:
        return _as_it_is
    else:
        write = _as_it_is
    return _by_value(write)


def _by_value(write: Writer) -> Writer:
    """The writer for what its type says, but none, text, truth and objects, which are written by what they are."""

    def by_value(value: Any, unit: Unit) -> Any:
        if value is None or isinstance(value, bool | str):
            return value
        made = _object_writer(cast(Hashable, type(value)))
        return write(value, unit) if made is None else made(value, unit)

    return by_value


@cache
def _object_writer(kind: Any) -> Writer | None:
    """What writes the objects of a dataclass; None for another type."""
    if not is_dataclass(kind):
        return None
    slots = [
        (key, item.name, _writer(hint), item.default, item.default_factory, bool(item.metadata.get("always")))
        for key, (item, hint) in json_fields(cast(type[Any], kind)).items()
    ]

    def write(value: Any, unit: Unit) -> dict[str, Any]:
        own = getattr(value, "unit", None)
        unit = own if own in ("mm", "in") else unit
        made = {}
        for key, name, writer, default, factory, always in slots:
            held = getattr(value, name)
            if not always and default is not MISSING and (held is default or held == default):
                continue
            if factory is not MISSING and held == factory():
                continue
            made[key] = writer(held, unit)
        return made

    return write


def _union_writer(hint: Any) -> Writer:
    parts = [_peel(part, ())[0] for part in get_args(hint)]
    lengths = Nm in parts
    same = [part for part in parts if get_origin(part) in (tuple, dict, Mapping)]
    inner = _writer(same[0]) if same else None

    def write(value: Any, unit: Unit) -> Any:
        if lengths and isinstance(value, int):
            return length_as_number(value, unit)
        if inner is not None and not isinstance(value, int | float):
            return inner(value, unit)
        return _writer(cast(Hashable, type(value)))(value, unit)

    return write


def _tuple_writer(inner: tuple[Any, ...]) -> Writer:
    if len(inner) == 2 and inner[1] is Ellipsis:
        each = _writer(inner[0])
        return lambda value, unit: [each(item, unit) for item in value]
    parts = [_writer(part) for part in inner]

    def write(value: Any, unit: Unit) -> Any:
        if len(parts) == len(value):
            return [part(item, unit) for part, item in zip(parts, value, strict=True)]
        return [_writer(cast(Hashable, type(item)))(item, unit) for item in value]

    return write


def _mapping_writer(inner: Any) -> Writer:
    each = _writer(inner)
    return lambda value, unit: {str(key): each(item, unit) for key, item in value.items()}


def _schema(hint: Any, limits: tuple[Any, ...], defs: dict[str, Any]) -> dict[str, Any]:
    hint, limits = _peel(hint, limits)
    made = _schema_core(hint, limits, defs)
    said = next((limit.text for limit in limits if isinstance(limit, Description)), None)
    return {**made, "description": said} if said else made


def _schema_core(hint: Any, limits: tuple[Any, ...], defs: dict[str, Any]) -> dict[str, Any]:
    if hint is Nm:
        number: dict[str, Any] = {"type": "number", "description": "in the document's unit"}
        return {
            "anyOf": [
                _limited(number, limits),
                {"type": "string", "description": "with its own unit: 12' 6 1/2\", 3810 mm"},
            ]
        }
    if isinstance(hint, NewType):
        return _schema(hint.__supertype__, limits, defs)
    if _is_union(hint):
        return {"anyOf": [_schema(part, limits, defs) for part in get_args(hint)]}
    origin = get_origin(hint)
    if origin is Literal:
        return {"enum": list(get_args(hint))}
    if origin is tuple:
        return _schema_tuple(get_args(hint), limits, defs)
    if is_dataclass(hint):
        return _schema_object(cast(type[Any], hint), defs)
    if origin is not None:
        return {"type": "object", "additionalProperties": _schema(get_args(hint)[1], (), defs)}
    if isinstance(hint, type) and issubclass(hint, StrEnum):
        return {"enum": [str(member.value) for member in hint]}
    names: dict[Any, dict[str, Any]] = {
        str: {"type": "string", "minLength": 1, "maxLength": TEXT_LIMIT},
        int: {"type": "integer"},
        float: {"type": "number"},
        bool: {"type": "boolean"},
        type(None): {"type": "null"},
    }
    return _limited(dict(names.get(hint, {})), limits)


def _schema_tuple(inner: tuple[Any, ...], limits: tuple[Any, ...], defs: dict[str, Any]) -> dict[str, Any]:
    rest = tuple(limit for limit in limits if not isinstance(limit, ItemCount | Description))
    if len(inner) == 2 and inner[1] is Ellipsis:
        made: dict[str, Any] = {"type": "array", "items": _schema(inner[0], rest, defs)}
        for limit in limits:
            if isinstance(limit, ItemCount):
                made |= {"minItems": limit.low, "maxItems": limit.high}
        return made
    size = len(inner)
    return {
        "type": "array",
        "prefixItems": [_schema(part, rest, defs) for part in inner],
        "minItems": size,
        "maxItems": size,
    }


def _schema_object(kind: type[Any], defs: dict[str, Any]) -> dict[str, Any]:
    name = kind.__name__
    if name not in defs:
        defs[name] = {}
        known = json_fields(kind)
        required = [key for key, (item, _) in known.items() if item.default is MISSING and item.default_factory is MISSING]
        made: dict[str, Any] = {
            "type": "object",
            "properties": {key: _schema(hint, (), defs) for key, (_, hint) in known.items()},
            "additionalProperties": False,
        }
        if kind.__doc__ and not kind.__doc__.startswith(f"{name}("):
            made["description"] = " ".join(kind.__doc__.split())
        if required:
            made["required"] = required
        defs[name] = made
    return {"$ref": f"#/$defs/{name}"}


def _limited(made: dict[str, Any], limits: tuple[Any, ...]) -> dict[str, Any]:
    for limit in limits:
        if isinstance(limit, Minimum):
            made["minimum"] = limit.value
        elif isinstance(limit, ExclusiveMinimum):
            made["exclusiveMinimum"] = limit.value
        elif isinstance(limit, Maximum):
            made["maximum"] = limit.value
        elif isinstance(limit, TextPattern):
            made["pattern"] = limit.pattern
    return made
