"""A job sheet, its letter and what stands beside a visit, as types: every text and number as a person reads it.

Nothing here fills a sheet or knows how it is drawn. The drawings are types of `sync.sheet.plot_data`.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Literal, TypedDict

from sync.kernel.figure import Figure
from sync.kernel.judgement import Assessment
from sync.kernel.visit import Visit
from sync.sheet.plot_data import ReadingsPlot, TechnicianPlot


class SheetSettings(TypedDict, total=False):
    """The language of a sheet and its paper, "A4" or "Letter"; what is absent is English on A4."""

    language: str
    paper: str


class EarlierTest(TypedDict):
    """What a test of an earlier visit showed [°C, K, kPa]."""

    at: str
    ambient_c: float
    split: Figure | None
    high_kpa_g: float | None


class JudgedVisit(TypedDict):
    """A visit and its judgement."""

    visit: Visit
    assessment: Assessment


class RecordsBeside(TypedDict, total=False):
    """What the records hold beside a visit.

    `photos` are the digests of those that arrived, `earlier` is the vehicle's earlier visits, oldest first, and `shown`
    the visit as it was when its verdict was shown, None where that cannot be had any more.
    """

    photos: Collection[str]
    earlier: Sequence[EarlierTest]
    shown: JudgedVisit | None


class Paragraph(TypedDict):
    """A paragraph; `lead` is printed before it in strong type."""

    lead: str
    text: str


class ProseBlock(TypedDict):
    """Paragraphs in columns."""

    name: str
    kind: Literal["prose"]
    title: str
    columns: list[list[Paragraph]]


class TableColumn(TypedDict):
    """The head of a table's column, and whether it holds texts or values."""

    text: str
    kind: str


class TableTotal(TypedDict):
    """A sum below a table; `grand` is the last one."""

    label: str
    text: str
    grand: bool


class TableBlock(TypedDict):
    """A table, its first column naming the row."""

    name: str
    kind: Literal["table"]
    title: str
    columns: list[TableColumn]
    rows: list[list[str]]
    totals: list[TableTotal]
    notes: list[str]


class Cell(TypedDict):
    """A figure of the readings; `spread` is its uncertainty, `quiet` prints it in the second ink."""

    text: str
    spread: str
    strong: bool
    quiet: bool
    across: int


class ReadingsRow(TypedDict):
    """A row of the readings, a cell a test; `side` is high, low or empty."""

    label: str
    side: str
    cells: list[Cell]


class ReadingsBlock(TypedDict):
    """The tests side by side, a column each."""

    name: str
    kind: Literal["readings"]
    title: str
    settings: str
    head: str
    columns: list[str]
    rows: list[ReadingsRow]
    spreads: bool
    plots: list[ReadingsPlot]
    notes: list[str]


class HeldCause(TypedDict):
    """A cause that is held open."""

    letter: str
    name: str


class CauseFamily(TypedDict):
    """Causes of one kind in a row."""

    title: str
    causes: str


class EvidenceMark(TypedDict):
    """What a thing says of a cause: fits, against or silent; and the same in words, for those who cannot see it."""

    kind: str
    text: str


class EvidenceLine(TypedDict):
    """A thing that was seen or measured, with a mark for each cause."""

    label: str
    marks: list[EvidenceMark]


class CheckLine(TypedDict):
    """The next check, how it would turn out with each cause, and what that is about."""

    label: str
    about: str
    shows: list[str]


class EvidenceGrid(TypedDict):
    """The evidence over the letters of the causes."""

    head: str
    letters: list[str]
    lines: list[EvidenceLine]
    legend: list[EvidenceMark]


class CausesBlock(TypedDict):
    """What could be wrong: up to three causes with letters and evidence, or more of them by family."""

    name: str
    kind: Literal["causes"]
    title: str
    said: str
    held: list[HeldCause]
    families: list[CauseFamily]
    grid: EvidenceGrid | None
    check: CheckLine | None
    notes: list[str]


class CaptionedPhoto(TypedDict):
    """A photo by the digest of its bytes, with its caption."""

    sha256: str
    role: str
    more: str
    alt: str


class PhotosBlock(TypedDict):
    """The photos; `unreadable` stands where one cannot be drawn."""

    name: str
    kind: Literal["photos"]
    title: str
    photos: list[CaptionedPhoto]
    unreadable: str
    notes: list[str]


class TextsBlock(TypedDict):
    """Paragraphs one below the other: cautions in a bar, or small print."""

    name: str
    kind: Literal["cautions", "small"]
    title: str
    texts: list[str]


class SignatureBlock(TypedDict):
    """Who signed and what was agreed, and the strokes as rows of [x, y] places."""

    name: str
    kind: Literal["signature"]
    title: str
    text: str
    strokes: list[list[list[float]]]
    alt: str


class DrawingsBlock(TypedDict):
    """The technician's drawings."""

    name: str
    kind: Literal["drawings"]
    title: str
    plots: list[TechnicianPlot]
    notes: list[str]


Block = (
    ReadingsBlock | ProseBlock | CausesBlock | TableBlock | PhotosBlock | TextsBlock | SignatureBlock | DrawingsBlock
)


class Heading(TypedDict):
    """The head of a sheet."""

    title: str
    when: str
    business: str
    lines: list[str]


class Party(TypedDict):
    """The customer, the vehicle or the complaint."""

    kind: str
    label: str
    lines: list[str]


class Result(TypedDict):
    """What a sheet says first, and the small print beside it."""

    sentences: list[str]
    detail: list[str]


class Sheet(TypedDict):
    """Everything a page prints, in its order; `revision` is None until it is marked."""

    language: str
    paper: str
    title: str
    author: str
    subject: str
    created: str
    identifier: str
    running: str
    page_words: list[str]
    heading: Heading
    parties: list[Party]
    result: Result
    blocks: list[Block]
    edition: str
    revision: list[str] | None


class Replaced(TypedDict):
    """The sheet that a customer already holds; `at` is when it was sent (ISO 8601)."""

    number: int
    at: str


class Letter(TypedDict):
    """What is written to the customer, and the name of the file it carries."""

    subject: str
    text: str
    file: str
