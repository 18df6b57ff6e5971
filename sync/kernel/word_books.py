"""The rulebook's books of words, as types; groups and codes are those of the data.

No rule of the kernel reads them: verdicts carry codes and values.
"""

from __future__ import annotations

from typing import Required, TypedDict

from sync.kernel.condition import Condition
from sync.kernel.json_tree import JsonObject


class WordingBook(TypedDict):
    """Sentences by the code of an error, and words by group and code."""

    errors: dict[str, str]
    codes: dict[str, dict[str, str]]


class CauseName(TypedDict):
    """What a cause is called, how it is said to each reader, and what would confirm it."""

    name: str
    customer: str
    technician: str
    confirm: str
    takes: str
    mind: str


class CauseWords(TypedDict):
    """The words of causes, evidence, checks and yardsticks in one language; `count` are numbers from none on."""

    causes: dict[str, CauseName]
    evidence: dict[str, str]
    checks: dict[str, str]
    said: dict[str, str]
    yardstick: dict[str, str]
    range: dict[str, str]
    families: dict[str, str]
    shows: dict[str, str]
    count: list[str]


class Strip(TypedDict):
    """A quantity that is drawn against its yardsticks: as which quantity, on which side, and its scale [its unit]."""

    of: str
    quantity: str
    side: str
    low: float
    high: float


class CauseWordsBook(TypedDict):
    """Of what kind each figure of evidence is, what is drawn, the causes by family, and the words by language."""

    figures: dict[str, str]
    strips: list[Strip]
    families: dict[str, list[str]]
    languages: dict[str, CauseWords]


class SheetRow(TypedDict, total=False):
    """A row of the sheet's readings: its label, and the reading or derived quantity it shows, as which quantity."""

    label: Required[str]
    path: str
    derived: str
    quantity: str
    unit: str
    decimals: int
    side: str
    strong: bool
    kept: bool


class OwnNote(TypedDict):
    """A note of the sheet, and the groups of conditions of which one has to hold."""

    code: str
    text: str
    when: list[list[Condition]]


class SheetWordsBook(TypedDict):
    """The sheet's rows, and its words by language, group and code."""

    on_phone: list[str]
    rows: list[SheetRow]
    conditions: list[str]
    own_notes: list[OwnNote]
    minor_digits: dict[str, int]
    languages: dict[str, JsonObject]
