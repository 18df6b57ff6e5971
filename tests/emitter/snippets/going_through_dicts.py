"""Loops over dicts, lists and values that may be either.

Sample Python for the emitter, called by the tests; it means nothing by itself.
"""

from __future__ import annotations

from typing import Any


def f(d: dict[str, Any], x: Any) -> Any:
    found = []
    for name in d:
        found.append([name, d[name]])
    for name, value in d.items():
        found.append([name, value])
    for one in x:
        found.append(one)
    return [
        found,
        [value for value in d.values()],
        {k: v for k, v in d.items() if v != 2},
        list(x),
        [n for n in d],
    ]
