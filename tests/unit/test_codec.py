"""The codec reads what it wrote, names every fault at once, and says the same in its schema."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, Any, Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from solver.codec import decode, encode, read_json, schema
from solver.errors import InputError
from solver.field_limits import ExclusiveMinimum, ItemCount, Minimum, TextPattern
from solver.units import Nm, Unit


@dataclass(frozen=True, slots=True, kw_only=True)
class Round:
    kind: Literal["round"] = field(default="round", metadata={"always": True})
    radius_nm: Annotated[Nm, ExclusiveMinimum(0)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Square:
    kind: Literal["square"] = field(default="square", metadata={"always": True})
    side_nm: Annotated[Nm, ExclusiveMinimum(0)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    unit: Unit = field(default="mm", metadata={"always": True})
    name: Annotated[str, TextPattern(r"[a-z]+", "lower-case letters")]
    size: tuple[Nm, Nm]
    holes: Annotated[tuple[Round | Square, ...], ItemCount(0, 3)] = ()
    marks: Mapping[str, Nm] = field(default_factory=dict)
    edge_nm: Nm | Literal["raw"] | None = None
    count: Annotated[int, Minimum(1)] = 1
    start: str = field(default="left", metadata={"json": "from"})


def faults(data: Any) -> list[str]:
    with pytest.raises(InputError) as caught:
        decode(Sheet, data, name="$")
    return [fault.path for fault in caught.value.faults]


def test_every_fault_is_named_at_once_with_its_path() -> None:
    bad = {
        "unit": "mm",
        "name": "A1",
        "size": [1],
        "holes": [{"kind": "round", "radius": 0}, {"kind": "star"}, 7],
        "marks": {"a": "x"},
        "edge": [],
        "count": 0,
        "extra": 1,
    }
    assert faults(bad) == ["extra", "name", "size", "holes[0].radius", "holes[1]", "holes[2]", "marks.a", "edge", "count"]


@pytest.mark.parametrize(
    ("field_name", "value"),
    [
        ("count", True),
        ("count", 1.5),
        ("count", "1"),
        ("count", 10**30),
        ("name", ""),
        ("name", "a\u0000b"),
        ("name", 3),
        ("size", [float("nan"), 1]),
        ("size", [False, 1]),
        ("size", {"0": 1}),
        ("holes", [{"kind": "round", "radius": 1}] * 4),
        ("from", None),
    ],
)
def test_a_wrong_value_is_refused_not_bent(field_name: str, value: object) -> None:
    good = {"unit": "mm", "name": "a", "size": [1, 2]}
    assert faults({**good, field_name: value})[0].startswith(field_name)


def test_a_number_without_a_unit_is_refused_and_a_text_with_its_own_is_not() -> None:
    assert faults({"name": "a", "size": [1, 2]}) == ["unit"]
    assert decode(Sheet, {"name": "a", "size": ["1 mm", "2 in"]}, name="$").size == (1_000_000, 50_800_000)


def test_json_that_repeats_a_name_or_holds_nan_is_refused_by_path() -> None:
    text = '{"unit": "mm", "name": "a", "name": "b", "size": [NaN, 1e999]}'
    assert faults(read_json(text, name="sheet")) == ["name", "size[0]", "size[1]"]


@pytest.mark.parametrize("text", ["", "{", "[1,]", "\ufeff{", "1" * 5000, "[" * 100_000])
def test_what_is_no_json_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        decode(Sheet, read_json(text, name="sheet"), name="$")


def test_too_much_text_is_refused_before_it_is_read() -> None:
    with pytest.raises(InputError, match=r"10\.0 MB is over the limit of 4 MB"):
        read_json(b" " * 10_000_000, name="order")


lengths = st.integers(1, 10**12).map(Nm)
shapes = st.one_of(
    st.builds(Round, radius_nm=lengths, kind=st.just("round")), st.builds(Square, side_nm=lengths, kind=st.just("square"))
)
sheets = st.builds(
    Sheet,
    unit=st.sampled_from(["mm", "in"]),
    name=st.text("abc", min_size=1, max_size=5),
    size=st.tuples(lengths, lengths),
    holes=st.lists(shapes, max_size=3).map(tuple),
    marks=st.dictionaries(st.text("xyz", min_size=1, max_size=3), lengths, max_size=3),
    edge_nm=st.one_of(st.none(), lengths, st.just("raw")),
    count=st.integers(1, 10**6),
    start=st.text("lr", min_size=1, max_size=3),
)


@given(sheets)
def test_what_is_written_is_read_back_the_same(sheet: Sheet) -> None:
    text = json.dumps(encode(sheet), allow_nan=False)
    assert decode(Sheet, read_json(text, name="sheet"), name="$") == sheet


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(["name", "size", "holes", "kind", "x"]), inner),
    max_leaves=8,
)


@given(json_values)
def test_no_value_makes_the_codec_fall_over(value: object) -> None:
    try:
        decode(Sheet, value, name="$")
    except InputError as error:
        assert error.faults


def test_the_schema_says_what_the_reader_does() -> None:
    made = schema(Sheet)
    sheet = made["$defs"]["Sheet"]
    assert sheet["additionalProperties"] is False
    assert sheet["required"] == ["name", "size"]
    assert "from" in sheet["properties"] and "edge" in sheet["properties"]
    assert sheet["properties"]["count"] == {"type": "integer", "minimum": 1}
    assert sheet["properties"]["holes"]["maxItems"] == 3
