"""A condition on a visit, as the rulebook's data writes it, as a type.

Nothing here decides whether it holds; `cautions` does.
"""

from __future__ import annotations

from typing import NotRequired, TypedDict

from sync.kernel.json_tree import Json

# `in` is a keyword of the language.
Condition = TypedDict(
    "Condition",
    {
        "field": NotRequired[str],
        "in": NotRequired[list[Json]],
        "list": NotRequired[str],
        "codes": NotRequired[list[str]],
    },
)
