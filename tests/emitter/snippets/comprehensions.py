"""Lists and dicts made in one expression; any and all.

Sample Python for the emitter, called by the tests; it means nothing by itself.
"""

from __future__ import annotations

from typing import Any


def f(rows: list[dict[str, Any]]) -> Any:
    pairs = [(row["name"], row["size"]) for row in rows if row["size"] is not None]
    return [
        pairs,
        [{"n": name} for name, _ in pairs],
        any(row["size"] == 2 for row in rows),
        all(size > 1 for _, size in pairs),
        [[one, two] for one, two in pairs if one != "a"],
        [row for row in rows],
        {name: size * 2 for name, size in pairs},
    ]
