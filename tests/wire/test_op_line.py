"""Op lines: the frame, the hash over the author's own bytes, and what an invalid operation still says about itself."""

from __future__ import annotations

import pytest

from sync.wire import op_line
from tests.support.ops import Phone, framed, line_of, uuid7

# FIPS 180-4, SHA-256 example: the message "abc".
ABC = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
# RFC 9562, appendix A.6: a UUID version 7 of 2022-02-22 19:22:22 UTC.
EXAMPLE = "017f22e2-79b0-7cc3-98c4-dc0c0c07398f"


def test_the_digest_is_sha_256() -> None:
    """The published example."""
    assert op_line.digest(b"abc") == ABC


def test_a_line_is_hash_space_json_line_feed() -> None:
    """What this desk writes is what a phone would write."""
    op = Phone().opening(uuid7(1, 1))
    assert op_line.line(op).endswith(b"\n")
    digest, json_bytes = op_line.read(op_line.line(op))
    assert framed(json_bytes) == op_line.line(op)
    assert digest == op_line.digest(json_bytes)


def test_a_body_is_split_into_its_lines() -> None:
    """CR LF and a missing last line feed are accepted; the lines are the same."""
    one, two = line_of({"a": 1}), line_of({"b": 2})
    plain = op_line.split(one + two)
    assert plain == [one[:-1], two[:-1]]
    assert op_line.split((one + two)[:-1]) == plain
    assert op_line.split((one + two).replace(b"\n", b"\r\n")) == plain


@pytest.mark.parametrize(
    ("body", "line"),
    [
        (b"", 1),
        (b"\n", 1),
        (b"hello\n", 1),
        (line_of(1) + b"\n" + line_of(2), 2),
        (line_of(1) + b"A" * 64 + b" {}\n", 2),
        (b"0" * 64 + b" ", 1),
    ],
)
def test_what_is_no_line_is_named_by_its_place(body: bytes, line: int) -> None:
    """The first line without the frame is reported by its number."""
    with pytest.raises(op_line.NotLines) as caught:
        op_line.split(body)
    assert (caught.value.code, caught.value.values["line"]) == ("not_lines", line)


def test_one_changed_byte_is_damage() -> None:
    """The hash no longer matches."""
    with pytest.raises(op_line.Damaged) as caught:
        op_line.read(line_of({"a": 1}).replace(b"1}", b"2}"))
    assert caught.value.code == "damaged"


def test_the_instant_of_an_id_is_read_from_it() -> None:
    """The published example: 1645557742000 ms."""
    assert op_line.is_id(EXAMPLE)
    assert op_line.made_ms(EXAMPLE) == 1_645_557_742_000


@pytest.mark.parametrize(
    "value", [EXAMPLE.upper(), EXAMPLE.replace("-7c", "-4c"), EXAMPLE.replace("98c4", "18c4"), EXAMPLE + "\n", 7, None]
)
def test_another_form_is_no_id(value: object) -> None:
    """Upper case, other versions and variants, and what isn't a text at all."""
    assert not op_line.is_id(value)


def test_an_unsound_operation_still_tells_who_wrote_it() -> None:
    """A number that can't be kept doesn't hide id, device and seq; nonsense hides them all."""
    json_bytes = b'{"id":"%b","device":"ab12","seq":3,"body":{"x":NaN}}' % EXAMPLE.encode()
    assert op_line.outline(json_bytes) == {"id": EXAMPLE, "device": "ab12", "seq": 3, "visit": None}
    nothing = {"id": None, "device": None, "seq": None, "visit": None}
    for unsound in (b"{", b"[]", b'{"id":5,"device":"XY","seq":true,"visit":[]}', b'{"seq":-1}'):
        assert op_line.outline(unsound) == nothing
