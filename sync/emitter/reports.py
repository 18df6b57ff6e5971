"""What a run has to report: everything that was refused, and which rows of the table were used.

One run reports all of it at once. Nothing is emitted here.
"""

from __future__ import annotations

import ast
from dataclasses import dataclass, field
from pathlib import Path

from sync.emitter.constructs import REASONS


@dataclass(frozen=True, order=True)
class Refusal:
    """Something that isn't in the table: where, what it is, and why, with what to write instead."""

    path: str
    line: int
    construct: str
    reason: str

    def __str__(self) -> str:
        return f"{self.path}:{self.line}: {self.construct}: {REASONS[self.reason]}"


class Refused(Exception):
    """Python that the emitter doesn't accept; `refusals` has all of it, in the order of the files."""

    def __init__(self, refusals: list[Refusal]) -> None:
        super().__init__("\n".join(str(refusal) for refusal in refusals))
        self.refusals = refusals


@dataclass
class Report:
    """What was refused in one file, and the rows of the table that it used."""

    path: Path
    refusals: set[Refusal] = field(default_factory=set)
    rows: set[str] = field(default_factory=set)

    def refuse(self, node: ast.AST, construct: str, reason: str) -> None:
        """Note that something is refused, with a reason from the table."""
        self.refusals.add(Refusal(str(self.path), getattr(node, "lineno", 1), construct, reason))

    def use(self, row: str) -> None:
        """Note that a row of the table was used."""
        self.rows.add(row)
