"""A value cast to a type, which does nothing to it.

Sample Python for the emitter, called by the tests; it means nothing by itself.
"""

from __future__ import annotations

from typing import Any, cast


def f(tree: dict[str, Any], name: str) -> list[str]:
    texts = cast(list[str], tree[name])
    return [text + "!" for text in texts]
