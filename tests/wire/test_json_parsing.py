"""The border: every way in which bytes fail to be valid JSON is named, with its place, and valid JSON passes untouched.

Rules of JSON: RFC 8259; of pointers: RFC 6901; of exact whole numbers: IEEE 754 binary64, 2^53.
"""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sync.wire.json_parsing import ParseFault, parse

TEXTS = st.text(st.characters(codec="utf-8"))
SCALARS = st.none() | st.booleans() | st.integers(-(2**53), 2**53) | st.floats(allow_nan=False, allow_infinity=False)
VALUES = st.recursive(
    SCALARS | TEXTS,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(TEXTS, inner, max_size=4),
    max_leaves=20,
)


def faults_of(data: bytes) -> list[tuple[str, str]]:
    """(pointer, code) of every fault, in order."""
    with pytest.raises(ParseFault) as caught:
        parse(data)
    assert all(set(fault) == {"pointer", "code", "detail", "value"} for fault in caught.value.faults)
    return [(fault["pointer"], fault["code"]) for fault in caught.value.faults]


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])  # a slow machine isn't the border's fault
@given(VALUES)
def test_sound_json_comes_through_unchanged(value: Any) -> None:
    """Value, text, value again: nothing is lost or changed."""
    assert parse(json.dumps(value, ensure_ascii=False).encode()) == value


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        (b'{"a":NaN}', [("/a", "not_finite")]),
        (b"[-Infinity,1]", [("/0", "not_finite")]),
        (b'{"a":{"b":1e400}}', [("/a/b", "not_finite")]),
        (b'{"a":9007199254740993}', [("/a", "number_too_large")]),
        (b'{"a":' + b"9" * 5000 + b"}", [("/a", "number_too_large")]),
        (b'{"a":"\\ud800"}', [("/a", "lone_surrogate")]),
        (b'{"x":1,"x":2}', [("/x", "duplicate_key")]),
        (b'{"a/b":{"m~n":NaN}}', [("/a~1b/m~0n", "not_finite")]),
        (b"\xff", [("", "not_utf8")]),
        (b"", [("", "not_json")]),
        (b'{"a":1} x', [("", "not_json")]),
        (b"{'a':1}", [("", "not_json")]),
        (b"\xef\xbb\xbf{}", [("", "not_json")]),
    ],
)
def test_a_fault_is_named_with_its_place(data: bytes, expected: list[tuple[str, str]]) -> None:
    """One fault, one name, one pointer."""
    assert faults_of(data) == expected


def test_all_faults_come_at_once() -> None:
    """Five slips in one text are five faults."""
    data = b'{"a":NaN,"b":[1,1e999],"c":{"d":"\\udc00"},"e":99999999999999999999,"f":1,"f":2}'
    assert set(faults_of(data)) == {
        ("/a", "not_finite"),
        ("/b/1", "not_finite"),
        ("/c/d", "lone_surrogate"),
        ("/e", "number_too_large"),
        ("/f", "duplicate_key"),
    }


def test_the_largest_whole_number_passes() -> None:
    """2^53 has an exact double, and so has its negative."""
    assert parse(b"[9007199254740992,-9007199254740992]") == [2**53, -(2**53)]


def test_a_pair_of_surrogates_is_a_letter() -> None:
    """The escapes of U+1D11E, the example in RFC 8259 section 7, aren't a fault."""
    assert parse(b'"\\uD834\\uDD1E"') == "\U0001d11e"


def test_depth_is_measured_outside_texts() -> None:
    """32 levels pass, 33 don't, and brackets inside a text don't count as a level."""
    assert parse(b"[" * 32 + b"]" * 32) is not None
    assert faults_of(b"[" * 33 + b"]" * 33) == [("/0" * 32, "too_deep")]
    assert parse(json.dumps("[" * 5000 + '\\"' * 50).encode()) == "[" * 5000 + '\\"' * 50


@pytest.mark.parametrize("data", [b"[" * 100_000, b'{"a":' * 50_000, b"[" * 100_000 + b"]" * 100_000])
def test_a_bottomless_text_is_a_fault_and_no_crash(data: bytes) -> None:
    """A depth that would end the reader's stack is refused before reading."""
    assert faults_of(data) == [("", "too_deep")]


@pytest.mark.parametrize("data", [b'"' + b'\\"' * 60_000, b'["' + b"[" * 60_000, b'"\\' * 60_000])
def test_an_unended_text_is_a_fault(data: bytes) -> None:
    """Quotes and brackets in hostile order end as one fault."""
    assert len(faults_of(data)) == 1


def test_a_text_over_the_limit_is_not_read() -> None:
    """The size is judged before the content."""
    with pytest.raises(ParseFault) as caught:
        parse(b"[1, 2, 3]", limit=8)
    assert [fault["code"] for fault in caught.value.faults] == ["too_large"]


def test_many_members_and_one_of_them_twice_is_one_fault() -> None:
    """Sixty thousand names are compared once each, not each with each other."""
    data = "{" + ",".join(f'"{number:x}":0' for number in range(60_000)) + ',"0":1}'
    assert faults_of(data.encode()) == [("/0", "duplicate_key")]
