"""A value with its standard uncertainty, as a type.

Nothing here calculates one; `quantities` does.
"""

from __future__ import annotations

from typing import TypedDict


class Figure(TypedDict):
    """A value with its standard uncertainty, both in the quantity's canonical unit."""

    value: float
    u: float
