"""Dict entries set, removed and merged.

Sample Python for the emitter, called by the tests; it means nothing by itself.
"""

from __future__ import annotations

from typing import Any

from sync.kernel.primitives import names_in_order


def f(key: str, other: dict[str, Any]) -> Any:
    made: dict[str, Any] = {}
    made[key] = 1
    made["plain"] = [key]
    made.update(other)
    made.update(named=2)
    made.setdefault(key, 5)
    made.setdefault("list", []).append(3)
    taken = made.pop("plain")
    copy = dict(made)
    copy["more"] = {**made, key: 9, "x": {}}
    return [made, taken, copy, {key: 1}, {name: name for name in names_in_order(made)}]
