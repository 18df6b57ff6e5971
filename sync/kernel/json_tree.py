"""The trees that JSON carries, as types: for data that is read before its shape is known, or keyed by data.

Nothing here parses or writes JSON.
"""

from __future__ import annotations

from typing import TypeAlias

Json: TypeAlias = "bool | int | float | str | list[Json] | dict[str, Json] | None"
JsonObject: TypeAlias = dict[str, Json]
# What was recorded under one name: a number, a code or a truth value; None if it wasn't recorded.
Recorded: TypeAlias = float | str | bool | None
