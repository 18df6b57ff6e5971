"""Characters of a text, counted as Python counts them.

A piece of Python for the emitter; the tests call it, and it means nothing by itself.
"""

from __future__ import annotations

from typing import Any


def f(a: str) -> Any:
    found = []
    for i in range(len(a)):
        found.append([a[i], ord(a[i]), a.index(a[i])])
    return [found, a[1:], a[:2], a[1:3], a[:-1], [letter for letter in a]]
