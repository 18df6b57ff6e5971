"""A job sheet, its letter and what surrounds a visit, as types: every text and number as a person reads it.

Nothing here fills in a sheet or knows how it is drawn. The drawings are types of `sync.sheet.plot_data`.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Literal, NotRequired, TypedDict

from sync.kernel.figure import Figure
from sync.kernel.judgement import Assessment
from sync.kernel.visit import Technician, Visit
from sync.sheet.plot_data import ReadingsPlot, TechnicianPlot


class SheetSettings(TypedDict, total=False):
    """The technician's language, and the paper size, "A4" or "Letter", that overrides the customer's country's.

    The default language is English; the default paper size is the country's, otherwise A4. `technician` stands in for
    what a visit doesn't say of who worked; `logo` is the digest of its business's picture.
    """

    language: str
    paper: str | None
    technician: Technician
    logo: str


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
    """What the records hold about a visit.

    `photos` are the digests of those that arrived, `earlier` is the vehicle's earlier visits, oldest first, and `shown`
    the visit as it was when its verdict was shown, None if that is no longer available.
    """

    photos: Collection[str]
    earlier: Sequence[EarlierTest]
    shown: JudgedVisit | None


class Paragraph(TypedDict):
    """A paragraph; `lead` is printed before it in strong type."""

    lead: str
    text: str


class ProseBlock(TypedDict):
    """Paragraphs one below the other."""

    name: str
    kind: Literal["prose"]
    title: str
    paragraphs: list[Paragraph]


class TableColumn(TypedDict):
    """The heading of a table's column, and whether it holds texts or values."""

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
    notes: list[str]


class BillRow(TypedDict):
    """A line of the bill; `more` says how its sum came about, empty if that says nothing."""

    text: str
    more: str
    net: str


class BillBlock(TypedDict):
    """The bill: its lines under the headings of their columns, and the sums below."""

    name: str
    kind: Literal["bill"]
    title: str
    columns: list[str]
    rows: list[BillRow]
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
    """A row of the readings, one cell per test; `side` is high, low or empty."""

    label: str
    side: str
    cells: list[Cell]


class PlotTitles(TypedDict):
    """The heading above the first drawing of each kind."""

    yardstick: str
    change: str
    trace: str


class ReadingsBlock(TypedDict):
    """The tests side by side, one column each."""

    name: str
    kind: Literal["readings"]
    title: str
    settings: str
    head: str
    columns: list[str]
    rows: list[ReadingsRow]
    spreads: bool
    titles: PlotTitles
    plots: list[ReadingsPlot]
    notes: list[str]


class HeldCause(TypedDict):
    """A cause that is held open."""

    letter: str
    name: str


class CauseFamily(TypedDict):
    """A list of causes of one kind."""

    title: str
    causes: str


class EvidenceMark(TypedDict):
    """What something says about a cause: fits, against or silent; and the same in words, for those who can't see it."""

    kind: str
    text: str


class EvidenceLine(TypedDict):
    """Something seen or measured, with a mark for each cause."""

    label: str
    marks: list[EvidenceMark]


class CheckLine(TypedDict):
    """The next check, how it would turn out with each cause, and what that is about."""

    label: str
    about: str
    shows: list[str]


class EvidenceGrid(TypedDict):
    """The evidence, under the letters of the causes."""

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
    """Photos, as the large pair of page one or small; `unreadable` is printed where one can't be drawn."""

    name: str
    kind: Literal["pair", "photos"]
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
    """The strokes as rows of [x, y] places, and below them who signed for what, one line each."""

    name: str
    kind: Literal["signature"]
    lines: list[str]
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
    ReadingsBlock | ProseBlock | CausesBlock | TableBlock | BillBlock | PhotosBlock | TextsBlock | SignatureBlock
    | DrawingsBlock
)


class Heading(TypedDict):
    """The head of a page: a name and the lines below it, and what is printed on the right of each.

    `logo` is the digest of the business's picture; only page one has one, if there is one.
    """

    name: str
    lines: list[str]
    title: str
    beside: list[str]
    logo: NotRequired[str]


class Party(TypedDict):
    """The customer, the vehicle or the complaint."""

    kind: str
    label: str
    lines: list[str]


class Result(TypedDict):
    """What a sheet says first, and the small print beside it."""

    sentences: list[str]
    detail: list[str]


class LargeFigure(TypedDict):
    """A number that a customer reads from afar: `before` and `to` are empty if it stands alone."""

    name: str
    label: str
    side: str
    before: str
    to: str
    value: str
    unit: str
    line: str


class TechnicianPage(TypedDict):
    """What is for the next technician, on a page of its own; `foot` and `audience` are in its lower margin."""

    heading: Heading
    foot: str
    audience: str
    blocks: list[Block]


class Sheet(TypedDict):
    """Everything that is printed, in order; `revision` is None until it is marked.

    `page_words` surround the number of a page, `foot` and `audience` are in the lower margin of the customer's.
    """

    language: str
    paper: str
    title: str
    author: str
    subject: str
    created: str
    identifier: str
    foot: str
    audience: str
    page_words: list[str]
    heading: Heading
    parties: list[Party]
    result: Result
    figures: list[LargeFigure]
    blocks: list[Block]
    technician: TechnicianPage | None
    edition: str
    revision: list[str] | None


class Replaced(TypedDict):
    """The sheet that a customer already holds; `at` is when it was sent (ISO 8601)."""

    number: int
    at: str


class Letter(TypedDict):
    """What is written to the customer, in which language, as paragraphs of lines; and the name of its file."""

    language: str
    subject: str
    paragraphs: list[list[str]]
    file: str
