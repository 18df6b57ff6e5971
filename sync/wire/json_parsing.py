"""The border: bytes from outside become plain JSON values, or named faults, all of them at once.

Nothing here knows what the values mean; `schemas` checks shapes.
"""

from __future__ import annotations

import json
import re
from collections import Counter
from typing import TypeAlias, cast

from sync.errors import LaybyError
from sync.kernel.fold import escaped
from sync.kernel.json_tree import Json
from sync.wire.faults import Fault, fault, shown

DEPTH = 32
# Beyond this depth the text isn't even read: the reader's own stack would be at risk.
DEPTH_READ = 200
BYTES = 2 * 1024 * 1024
# Beyond this a whole number has no exact double, and the phone would silently keep another number.
WHOLE = 2**53

# An unterminated string runs to the end, so that no text makes the scan slower than linear.
_SHAPE = re.compile(r'"(?:[^"\\]+|\\.)*"?|[\[\]{}]', re.DOTALL)
_SURROGATE = re.compile(r"\\u[dD][89a-fA-F]")


class ParseFault(LaybyError):
    """Bytes that aren't valid JSON; `faults` names every fault, `tree` is what could be read, or None."""

    code = "border"

    def __init__(self, faults: list[Fault], tree: Json = None) -> None:
        super().__init__(faults=faults)
        self.faults = faults
        self.tree = tree


class _Unsound:
    """Marks the place in the tree of a number that can't be kept, or of an object that names a member twice."""

    def __init__(self, code: str, text: str | None, tree: dict[str, _Node] | None = None) -> None:
        self.code = code
        self.text = text
        self.tree = tree
        self.names: list[str] = []


# The reader's result for a text: JSON, with marks where it isn't valid.
_Node: TypeAlias = "bool | int | float | str | list[_Node] | dict[str, _Node] | _Unsound | None"


class _Reading:
    """One reading of one text; notes whether it met anything invalid, so that valid texts are never walked."""

    def __init__(self) -> None:
        self.unsound = False

    def constant(self, text: str) -> _Unsound:
        self.unsound = True
        return _Unsound("not_finite", text)

    def real(self, text: str) -> float | _Unsound:
        number = float(text)
        return number if -float("inf") < number < float("inf") else self.constant(text)

    def whole(self, text: str) -> int | _Unsound:
        if len(text) <= 17 and -WHOLE <= int(text) <= WHOLE:
            return int(text)
        self.unsound = True
        return _Unsound("number_too_large", text)

    def members(self, pairs: list[tuple[str, _Node]]) -> dict[str, _Node] | _Unsound:
        members = dict(pairs)
        if len(members) == len(pairs):
            return members
        self.unsound = True
        result = _Unsound("duplicate_key", None, members)
        result.names = sorted(name for name, times in Counter(name for name, _ in pairs).items() if times > 1)
        return result


def _depth(text: str) -> int:
    if text.count("[") + text.count("{") <= DEPTH:
        return 0
    deepest = depth = 0
    for match in _SHAPE.finditer(text):
        token = match.group()
        if token in "[{":
            depth += 1
            deepest = max(deepest, depth)
        elif token in "]}":
            depth -= 1
    return deepest


def _walk(node: _Node, pointer: str, depth: int, faults: list[Fault]) -> Json:
    """The tree with every invalid place replaced by null; notes each place."""
    if isinstance(node, _Unsound):
        if node.code != "duplicate_key":
            faults.append(fault(pointer, node.code, node.text))
            return None
        faults.extend(fault(f"{pointer}/{escaped(name)}", node.code, name) for name in node.names)
        node = node.tree
    if isinstance(node, str):
        return _text(node, pointer, faults)
    if not isinstance(node, (dict, list)):
        return node
    if depth >= DEPTH:
        faults.append(fault(pointer, "too_deep", depth + 1))
        return None
    if isinstance(node, list):
        return [_walk(item, f"{pointer}/{place}", depth + 1, faults) for place, item in enumerate(node)]
    return {
        _text(name, f"{pointer}/{shown(escaped(name))}", faults): _walk(
            item, f"{pointer}/{shown(escaped(name))}", depth + 1, faults
        )
        for name, item in node.items()
    }


def _text(text: str, pointer: str, faults: list[Fault]) -> str:
    if any("\ud800" <= letter <= "\udfff" for letter in text):
        faults.append(fault(pointer, "lone_surrogate", text))
        return str(shown(text))
    return text


def parse(data: bytes, limit: int = BYTES) -> Json:
    """Reads one JSON text from outside.

    Args:
        data: the text as it came, UTF-8 [bytes]
        limit: the maximum number of bytes [count]

    Returns:
        The value, made only of objects, lists, texts, finite numbers, truth values and null [JSON value]

    Valid for:
        nesting of at most 32 levels, whole numbers within ±2^53, no member named twice, no lone surrogate.

    Raises:
        ParseFault: with all faults found, each {pointer, code, detail, value}.
    """
    if len(data) > limit:
        raise ParseFault([fault("", "too_large", len(data))])
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        raise ParseFault([fault("", "not_utf8", error.start)]) from error
    depth = _depth(text)
    if depth > DEPTH_READ:
        raise ParseFault([fault("", "too_deep", depth)])
    reading = _Reading()
    try:
        tree: _Node = json.loads(
            text,
            parse_constant=reading.constant,
            parse_float=reading.real,
            parse_int=reading.whole,
            object_pairs_hook=reading.members,
        )
    except json.JSONDecodeError as error:
        raise ParseFault([fault("", "not_json", error.pos)]) from error
    if depth <= DEPTH and not reading.unsound and not _SURROGATE.search(text):
        # The reading marked nothing, so all of it is JSON.
        return cast(Json, tree)
    faults: list[Fault] = []
    mended = _walk(tree, "", 0, faults)
    if faults:
        raise ParseFault(faults, mended)
    return mended
