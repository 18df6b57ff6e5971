"""The primitives, which each language provides itself.

Sample Python for the emitter, called by the tests; it means nothing by itself.
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
