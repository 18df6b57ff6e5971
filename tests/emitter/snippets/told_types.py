"""A value that is told to be of a type, and with which nothing is done.

A piece of Python for the emitter; the tests call it, and it means nothing by itself.
"""

from __future__ import annotations

from typing import Any, cast


def f(tree: dict[str, Any], name: str) -> list[str]:
    texts = cast(list[str], tree[name])
    return [text + "!" for text in texts]
