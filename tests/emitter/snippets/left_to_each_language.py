"""The primitives, which each language has by itself.

A piece of Python for the emitter; the tests call it, and it means nothing by itself.
"""

from __future__ import annotations

from typing import Any

from sync.kernel.primitives import names_in_order, number_text, quoted


def f(x: Any) -> Any:
    return [
        [number_text(one) for one in x["numbers"]],
        [quoted(one) for one in x["texts"]],
        names_in_order(x["names"]),
    ]
