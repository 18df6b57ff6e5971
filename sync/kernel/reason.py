"""Why something was not done, as a type.

Nothing here words a reason; the sentence for each code is rulebook data.
"""

from __future__ import annotations

from typing import TypedDict

from sync.kernel.json_tree import JsonObject


class Reason(TypedDict):
    """A code and what fills the blanks of its sentence."""

    code: str
    values: JsonObject
