"""What is printed, as types: plain data in, every text and number as a person reads it.

Nothing here prints. The code that has a sheet printed declares the same shape itself, and mypy compares the two where
one is passed to the other.
"""

from __future__ import annotations

from typing import Literal, NotRequired, TypedDict

from reports.plot_data import ReadingsPlot, TechnicianPlot


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


class Picture(TypedDict):
    """A drawing as an element of the page, its height [px], and the text above and below it, empty if not needed."""

    title: str
    drawing: str
    high: float
    caption: str
    aside: str


class PicturesBlock(TypedDict):
    """The drawings of the readings, which are set beside their table."""

    name: str
    kind: Literal["pictures"]
    pictures: list[Picture]


class DrawnLine(TypedDict):
    """Something seen or measured, with its marks drawn [SVG]."""

    label: str
    marks: list[str]


class MarkedCauses(CausesBlock):
    """Causes with their evidence drawn, and what the marks mean [SVG], empty if there are none."""

    lines: list[DrawnLine]
    legend: str


class PicturedDrawings(DrawingsBlock):
    """The technician's drawings [SVG]."""

    pictures: list[str]


class AddressedPhoto(CaptionedPhoto):
    """A photo with the address that contains it, empty if it can't be drawn; it `fills` its frame or is shown whole."""

    address: str
    fills: bool


class LinedPhotos(PhotosBlock):
    """Photos in lines that never break across pages."""

    lines: list[list[AddressedPhoto]]


class PicturedSignature(SignatureBlock):
    """A signature with its strokes drawn [SVG], empty if there are none."""

    picture: str


class Abreast(TypedDict):
    """Blocks in two columns that stay on one page; `name` gives their widths."""

    name: str
    kind: Literal["abreast"]
    columns: list[list[DrawnBlock]]


DrawnBlock = (
    ReadingsBlock | PicturesBlock | ProseBlock | MarkedCauses | TableBlock | BillBlock | LinedPhotos | TextsBlock
    | PicturedSignature | PicturedDrawings
)
SetBlock = DrawnBlock | Abreast
