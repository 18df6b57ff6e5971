"""Strings joined, split and formatted.

Sample Python for the emitter, called by the tests; it means nothing by itself.
"""

from __future__ import annotations

from typing import Any


def f(a: str, b: str) -> Any:
    return [
        a + b,
        str(a),
        f"{a}/{b}",
        f"`${a}\\{{}}`\n",
        a.replace(b, "-"),
        a.split(b),
        a.startswith(b),
        a.endswith(b),
        b.join(["x", a, "y"]),
    ]
