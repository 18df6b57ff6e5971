"""What the reading of a logger's file takes and gives: the book with its limits and names, columns, faults, entries.

Types only; the book itself is `sync/rulebook/loggers/loggers.json`.
"""

from __future__ import annotations

from typing import TypedDict


class Channel(TypedDict):
    """A reading that a log can hold: the field of a test that it is one of, its quantity, the decimals it is kept with,
    what no sensor exceeds, and its names in files.
    """

    field: str
    quantity: str
    decimals: int
    low: float
    high: float
    names: list[str]


class Most(TypedDict):
    """How much of a file is read at all, and how much of it is kept."""

    bytes: int
    line: int
    columns: int
    sample: int
    firsts: int
    points: int
    faults: int
    matches: int


class Around(TypedDict):
    """How far a test reaches where nothing else begins or ends it."""

    before_s: float
    after_s: float


class LoggersBook(TypedDict):
    """The book; `units` are the names by quantity and unit, `order` says which are tried first."""

    most: Most
    around: Around
    order: list[str]
    channels: dict[str, Channel]
    units: dict[str, dict[str, list[str]]]
    absolute: list[str]
    elapsed: dict[str, list[str]]
    halves: dict[str, list[str]]


class Factor(TypedDict):
    """A unit: canonical value = number * scale + offset."""

    scale: float
    offset: float


class UnitsOf(TypedDict):
    """The units of one quantity, as the rulebook has them."""

    units: dict[str, Factor]


class Fault(TypedDict):
    """What is wrong: a code, the line (0 where the whole file is meant), the column's name, and what was found."""

    code: str
    line: int
    column: str
    found: str


class Column(TypedDict):
    """A column as it is shown: its name, its first values, and what it most likely is ("" where nobody can tell)."""

    name: str
    firsts: list[str]
    guess: str


class Table(TypedDict):
    """The text as columns: the mark between them, the decimal mark, the first row, and by what a match is remembered.
    """

    lines: list[str]
    mark: str
    point: str
    first: int
    header: str
    columns: list[Column]
    faults: list[Fault]


class Span(TypedDict):
    """A test's time: when it began, and from when to when it reaches, in seconds from then.

    `zero_s` is where a file begins that counts from its own start; `number` tells the file apart from earlier ones.
    """

    at: str
    from_s: float
    to_s: float
    zero_s: float
    number: int


class Entries(TypedDict):
    """What a file comes to: its points, how many rows lie before and after the test, how many were thinned out.

    `more` is how many faults there are beside those that are listed.
    """

    points: list[dict[str, float]]
    rows: int
    before: int
    after: int
    thinned: int
    faults: list[Fault]
    more: int


class Group(TypedDict):
    """Entries of a log that came together: the number of their file (0 for those that were typed), from when to when.
    """

    number: int
    count: int
    first: float
    last: float
