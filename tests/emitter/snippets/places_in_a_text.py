"""Characters of a string, counted as Python counts them.

Sample Python for the emitter, called by the tests; it means nothing by itself.
"""

from __future__ import annotations

from typing import Any


def f(a: str) -> Any:
    found = []
    for i in range(len(a)):
        found.append([a[i], ord(a[i]), a.index(a[i])])
    return [found, a[1:], a[:2], a[1:3], a[:-1], [letter for letter in a]]
