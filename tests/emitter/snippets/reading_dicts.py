"""Dict entries, present and absent.

Sample Python for the emitter, called by the tests; it means nothing by itself.
"""

from __future__ import annotations

from typing import Any


def f(d: dict[str, Any], key: str) -> Any:
    return [
        d["a"],
        d["deep"]["x"],
        d.get(key),
        d.get(key, 5),
        d.get("none"),
        d.get("zero", 3),
        d.get("absent"),
        (d.get("absent") or {}).get("x"),
        len(d),
        d["list"][0],
        d["list"][-1],
    ]
