"""Hostile texts, JSON and bodies, drawn with a seed: things that no route of Layby asks for, or nearly that.

No request is put together here.
"""

from __future__ import annotations

import base64
import copy
import hashlib
import io
import json
import random
import struct
import zipfile
import zlib
from typing import Any

from tests.support.ops import JUNE_12, Phone, framed

# JSON texts that a reader may stumble over, for any place (RFC 8259 leaves most of them open).
JSON_TEXTS = (
    "NaN", "-Infinity", "1e400", "-1e-400", "9" * 5000, "-0", "1" + "0" * 400 + ".5", '"\\ud800"', '"\\udfff\\ud800"',
    '"\\u0000"', '"' + "x" * 70_000 + '"', '""', "null", "true", "[]", "{}", "[" * 40 + "]" * 40, "[" * 100_000,
    '{"a":' * 5000 + "1" + "}" * 5000, '{"id":1,"id":2}', '{"__proto__":{"x":1}}', '{"\\ud800":1}',
    '"2026-02-30T25:61:00+99:99"', '"0001-01-01T00:00:00+14:00"', '"9999-12-31T23:59:59-14:00"', '"../../etc/passwd"',
    "12.7", "1e308", "-9007199254740992", "9007199254740993", "/**/1", "﻿1", "\x00", '"\ud800"', "'x'", "[1,]",
)  # fmt: skip
WORDS = (
    "", " ", "0", "-1", "1", "+1", "1e3", "²", "٣", "0x10", "1_0", "NaN", "9" * 20, "9" * 5000, "a" * 6000, "../..",
    "..%2f..%2fetc%2fpasswd", "%", "%zz", "\x00", "a\x00b", "\r\nSet-Cookie: a=b", "\ud800", "'\"<script>alert(1)",
    "{0.__class__}",
    "{{7*7}}", "%s%n", "' OR 1=1 --", "-1.0.00000000.0", "-1.²", "0.0.00000000.0", "0.19.00000000.1", "0001-01-01",
    "9999-12-31", "2026-02-30", "2026-06-12", "2026-W24-5", "20260612", "019ebcb4-8d7c-7000-8000-000000000001",
    "ffffffff-ffff-7fff-bfff-ffffffffffff", "de5c", "7e57", "A" * 64, "0" * 64, "\u202e", "e\u0301" * 50, "😀" * 40,
)  # fmt: skip
# Values that are valid by themselves and only in the wrong place, so that they get further.
SOUND_TEXTS = (
    '""', "null", "true", "[]", "{}", "[[[[1]]]]", '"2026-02-30T25:61:00+99:99"', '"0001-01-01T00:00:00+14:00"', "-1",
    '"9999-12-31T23:59:59-14:00"', '"../../etc/passwd"', "12.7", "1e308", "-9007199254740992", '"a\\u0000b"', '["x"]',
    '"' + "x" * 300 + '"', '{"a":{"b":[null]}}', '"0001-01-01"', '"9999-12-31"',
    '"019ebcb4-8d7c-7000-8000-000000000001"',
)  # fmt: skip
# JSON with a mark where a hostile text goes.
_MARK = "HOSTILE"


def hostile_json(dice: random.Random, sound: Any) -> bytes:
    """A valid value with a hostile text somewhere, or with some bytes disturbed, or only the hostile text."""
    if not isinstance(sound, dict) or dice.random() < 0.1:
        return _encoded(dice.choice(JSON_TEXTS))
    hostile = dice.choice(SOUND_TEXTS if dice.random() < 0.7 else JSON_TEXTS)
    text = _encoded(json.dumps(_struck(copy.deepcopy(sound), dice)).replace(f'"{_MARK}"', hostile))
    return disturbed(dice, text) if dice.random() < 0.15 else text


def _encoded(text: str) -> bytes:
    return text.encode("utf-8", "surrogatepass")


def _struck(tree: dict[str, Any], dice: random.Random) -> dict[str, Any]:
    """The tree with a mark in one place, at any depth, with one member too many, or with one too few."""
    here: Any = tree
    while True:
        name = dice.choice([*here, "__proto__"])
        if dice.random() < 0.5 or not isinstance(here.get(name), dict) or not here[name]:
            if dice.random() < 0.15 and name in here:
                del here[name]
            else:
                here[name] = _MARK
            return tree
        here = here[name]


def disturbed(dice: random.Random, content: bytes) -> bytes:
    """Bytes with a few of them flipped, cut out, inserted, doubled or swapped."""
    mutable = bytearray(content)
    for _ in range(dice.randint(1, 4)):
        at, much = dice.randrange(len(mutable) + 1), dice.choice((1, 1, 4, 64, 900))
        piece = bytes(mutable[at : at + much])
        match dice.choice(("flip", "cut", "insert", "double", "exchange")):
            case "flip" if piece:
                mutable[at] ^= 1 << dice.randrange(8)
            case "cut":
                del mutable[at : at + much]
            case "insert":
                mutable[at:at] = dice.choice((dice.randbytes(much), b"\x00" * much, b"\n", b'"', b"{", b"\xff"))
            case "double":
                mutable[at:at] = piece
            case "exchange" if piece:
                other = dice.randrange(len(mutable))
                mutable[at], mutable[other] = mutable[other], mutable[at]
    return bytes(mutable)


def sound_op(dice: random.Random, phone: Phone) -> dict[str, Any]:
    """One of the operations that a phone writes."""
    visit = phone.new_id()
    test = {"id": "b1", "role": "before", "at": "2026-06-12T09:05:00-07:00", "readings": {"vent_c": 7.0}}
    return dice.choice((
        lambda: phone.opening(visit), lambda: phone.op(visit, "test.add", test),
        lambda: phone.plate(visit, "ALD 4127"),
        lambda: phone.op(visit, "op.mend", {"replaces": visit, "kind": "test.add", "body": test}),
        lambda: phone.op(visit, "conflict.settle", {"of": [visit], "set": {"complaint": "warm"}}),
        lambda: phone.beside("customer.merge", keep="c1", drop="c2"),
        lambda: phone.beside("vehicle.set", id="v1", plate="A"),
        lambda: phone.beside("baseline.mark", vehicle="v1", visit=visit, test="b1", healthy=True),
    ))()  # fmt: skip


def op_lines(dice: random.Random, device: str, count: int) -> bytes:
    """Op lines of a device, hostile in their JSON under a correct hash, or in the line itself."""
    phone = Phone(device, JUNE_12 + dice.randrange(10**9))
    phone.seq = dice.choice((0, 5, 10**6, 2**53 - 2))
    lines = [framed(hostile_json(dice, sound_op(dice, phone)).replace(b"\n", b" ")) for _ in range(count)]
    if dice.random() < 0.3:
        lines[dice.randrange(count)] = disturbed(dice, lines[-1])
    return b"".join(lines)


def bundle(dice: random.Random, device: str) -> bytes:
    """A part as a phone writes it, hostile in its lines, its pieces, its head or its end; some have a valid frame."""
    pieces = [*op_lines(dice, device, dice.randint(1, 6)).split(b"\n")[:-1]]
    content = picture(dice)
    sha, offset = dice.choice((hashlib.sha256(content).hexdigest(), "0" * 64)), dice.choice((0, 0, 7, 999_999_999))
    packed = dice.choice((base64.b64encode(content), b"====", b"A" * 5, b"AAAA" * 20_000))
    pieces += [b"blob " + sha.encode() + b" %d " % offset + packed for _ in range(dice.choice((0, 1, 3)))]
    pieces += [b"", b" ", b"\x00" * 40][: dice.choice((0, 0, 3))]
    inner = b"".join(piece + b"\n" for piece in pieces)
    part = dice.choice((b"1/1", b"1/1", b"0/0", b"9999/1", b"2/1"))
    head = b"layby-bundle 1 %b %b\n" % (device.encode(), part)
    end = b"end %d %b\n" % (inner.count(b"\n"), hashlib.sha256(inner).hexdigest().encode())
    whole = head + inner + end
    return dice.choice((lambda: whole, lambda: whole, lambda: disturbed(dice, whole), lambda: whole[: len(whole) // 2],
                        lambda: whole + whole, lambda: b"\xef\xbb\xbf" + whole, lambda: archive(dice, whole),
                        lambda: head * 400 + end))()  # fmt: skip


def archive(dice: random.Random, content: bytes) -> bytes:
    """A zip file, whole or cut, with names that lead elsewhere and content that grows when it is unpacked."""
    kept = io.BytesIO()
    with zipfile.ZipFile(kept, "w", zipfile.ZIP_DEFLATED) as packed:
        for name in ("../../outside", "a" * 3000, "manifest.json", "zeros"):
            packed.writestr(zipfile.ZipInfo(name), bytes(300_000) if name == "zeros" else content, zipfile.ZIP_DEFLATED)
    return kept.getvalue()[: dice.choice((None, None, 200))]


def picture(dice: random.Random) -> bytes:
    """The head of a picture that claims to be huge or isn't a picture, followed by noise."""
    sides = struct.pack(">II", dice.choice((1, 2**31 - 1, 0, 65_535)), dice.choice((1, 2**31 - 1, 100_000)))
    header = b"IHDR" + sides + b"\x08\x02\x00\x00\x00"
    png = b"\x89PNG\r\n\x1a\n" + struct.pack(">I", 13) + header + struct.pack(">I", zlib.crc32(header))
    heads = (
        png, b"\xff\xd8\xff", b"\xff\xd8\xff\xe0\x00\x00" * 9, b"\xff\xd8\xff\xc0\x00\x11\x08\xff\xff\xff\xff\x03",
        b"RIFF\x00\x00\x00\x00WEBPVP8X" + b"\xff" * 14, b"RIFF\x00\x00\x00\x00WEBPVP8L\x00\x00\x00\x00\x2f",
        b"GIF89a\xff\xff\xff\xff", b"PK\x03\x04", b"%PDF-1.7", b"",
    )  # fmt: skip
    return dice.choice(heads) + dice.randbytes(dice.choice((0, 3, 400, 5000)))


def multipart(dice: random.Random, token: str, content: bytes) -> tuple[str, bytes]:
    """A form with files and its content type: far too many parts, odd names, no end, heads without an end."""
    edge = dice.choice(("x", "a" * 70, "é", ""))
    mark = b"--" + edge.encode() + b"\r\n"
    parts = [b'Content-Disposition: form-data; name="form_token"\r\n\r\n' + token.encode() + b"\r\n"]
    names = (b'"part.txt"', b'"../../part.txt"', b'"\xff\x00"', b"a;b", b'"' + b"n" * 3000 + b'"', b"\"'<b>\"")
    count = dice.choice((1, 1, 2, 3, 500))
    parts += [b'Content-Disposition: form-data; name="file"; filename=' + dice.choice(names) + b"\r\n\r\n"
              + (content if count < 9 else b"x") + b"\r\n" for _ in range(count)]
    if dice.random() < 0.2:
        parts.append(b"X: " + b"y" * 100_000)
    body = b"".join(mark + part for part in parts) + b"--" + edge.encode() + dice.choice((b"--\r\n", b"", b"--"))
    kind = f"multipart/form-data; boundary={edge}"
    return kind, disturbed(dice, body) if dice.random() < 0.2 else body
