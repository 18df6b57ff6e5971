"""The job sheet as a PDF: plain data of a visit in, bytes out.

It chooses no words, rounds no number and fetches nothing: it prints what is in the data.
"""

from __future__ import annotations

import atexit
import gc
import re
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from reports import columns, drawn, fonts, head, heights
from reports.sheet_data import DrawnBlock, Sheet, TechnicianPage

if TYPE_CHECKING:
    from weasyprint import CSS
    from weasyprint.document import Document
    from weasyprint.text.fonts import FontConfiguration
    from weasyprint.urls import URLFetcher

TEMPLATES = Path(__file__).parent / "templates"
# Nobody writes notes this long. If one is longer, this many letters are printed and the rest is counted, so that no
# note can block the printer for minutes.
TEXT_MOST = 20_000
# A page with this much estimated room fits; one whose estimate is over by this much may still fit [mm].
SURE, NEARLY = 2.0, columns.NEARLY
# Where the technician's columns end, by the names in the page.
COLUMN_END = "column-end-"
VARIANT: dict[str, Any] = {"pdf_variant": "pdf/ua-1", "pdf_tags": True}
PAPERS = {"A4": "A4", "Letter": "letter"}
# Letter is wider and shorter: less room above, and lower photos.
PAPER_STYLES = {"A4": "", "Letter": "@page { margin: 12mm 17mm 12mm } .pair img { max-height: 48mm }"
                                    " .pair img.fills { height: 48mm }"}
# Control characters, direction marks, lone surrogates: they print nothing and can hide or forge text.
UNPRINTABLE = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u200e\u200f\u202a-\u202e\u2066-\u2069\ufeff\ufffe\uffff\ud800-\udfff]"
)


def render(data: Sheet, pictures: Mapping[str, bytes] | None = None) -> bytes:
    """The PDF of one job sheet, tagged for reading aloud (PDF/UA-1).

    The same data gives the same bytes with the same versions of libraries and fonts.

    Args:
        data: its content, with its paper "A4" or "Letter" [Sheet]
        pictures: the photos that the blocks name by their digests, as from `reports.photos.derived` [JPEGs]

    Returns:
        the PDF [bytes]

    Raises:
        jinja2.UndefinedError: a part that the page names is missing from the data.
        KeyError: an unknown paper or kind of picture.
    """
    document = _laid_out(data, pictures or {})
    return bytes(document.write_pdf(**VARIANT, pdf_identifier=_identifier(data)))


class Way(NamedTuple):
    """How the two pages are set: the customer's "usual" or "closer", the technician's also "in two"."""

    customer: str = "usual"
    technician: str = "usual"


class Content(NamedTuple):
    """A sheet's printable data, with the head of page one and its blocks drawn."""

    sheet: Sheet
    head: head.Head
    customer: list[DrawnBlock]
    technician: list[DrawnBlock]


def _laid_out(data: Sheet, pictures: Mapping[str, bytes]) -> Document:
    """The pages by their estimated heights; once or twice more, closer, if one of them spilled after all."""
    content = _content(data, pictures)
    way: Way | None = _foretold(content)
    documents: list[Document] = []
    while way is not None:
        documents.append(_set(content, way))
        way = _mended(documents[-1], way)
    return min(documents, key=lambda document: (not _fits(document), len(document.pages)))


def _foretold(content: Content) -> Way:
    """Each page is set closer if that is likely to save a page."""
    return Way(_customer_way(content), _technician_way(content) if content.technician else "usual")


def _customer_way(content: Content) -> str:
    blocks, paper = columns.of_customer(content.customer), content.sheet["paper"]
    usual, closer = (heights.of_customer(content.sheet, blocks, setting) + content.head.more - setting.room[paper]
                     for setting in (heights.CUSTOMER, heights.CUSTOMER_CLOSER))
    return "closer" if usual > -SURE and closer < NEARLY else "usual"


def _technician_way(content: Content) -> str:
    """If more than one page is needed anyway, at least the columns should fit on one, otherwise in two pieces."""
    usual = columns.of_technician(content.technician, "usual", content.sheet["paper"])
    if usual.over < -SURE:
        return "usual"
    closer = columns.of_technician(content.technician, "closer", content.sheet["paper"])
    if closer.over < NEARLY:
        return "closer"
    fitting = (way for way, placed in (("usual", usual), ("closer", closer)) if placed.columns_over < -SURE)
    return next(fitting, "in two")


def _mended(document: Document, way: Way) -> Way | None:
    """The next way to try if a page has spilled; None if there is none or no need."""
    second = next((number for number, page in enumerate(document.pages) if "technician" in page.anchors),
                  len(document.pages))
    mended = way
    if second > 1 and way.customer == "usual":
        mended = mended._replace(customer="closer")
    if len(document.pages) - second > 1 and way.technician == "usual":
        mended = mended._replace(technician="closer")
    elif not _fits(document):
        mended = mended._replace(technician="in two")
    return None if mended == way else mended


def _fits(document: Document) -> bool:
    """Whether the technician's columns end on the page on which they begin, above its margin."""
    ends = [name for page in document.pages for name in page.anchors if name.startswith(COLUMN_END)]
    first = next((page for page in document.pages if "technician" in page.anchors), None)
    if not ends or first is None:
        return True
    lowest = float(first.height) - float(first._page_box.margin_bottom)
    return all(name in first.anchors and float(first.anchors[name][1]) <= lowest for name in ends)


def prepare() -> None:
    """Load the renderer, its typefaces and its styles, which every sheet needs; nothing is drawn."""
    _styles()
    fonts.width("")


def _set(content: Content, way: Way) -> Document:
    """The pages laid out; meanwhile nothing but `data:` addresses can be fetched."""
    from weasyprint import HTML

    faces, usual, customer, technician = _styles()[0]
    chosen = [faces, usual, _paper(content.sheet)]
    chosen += [customer] if way.customer == "closer" else []
    chosen += [technician] if way.technician == "closer" else []
    page = HTML(string=_html(content, way), url_fetcher=fetcher(), base_url=None)
    return page.render(stylesheets=chosen, font_config=_styles()[1], **VARIANT)


def markup(data: Sheet, pictures: Mapping[str, bytes] | None = None) -> str:
    """The pages as HTML, as they are first laid out.

    Args:
        data: as for `render` [Sheet]
        pictures: the photos by their digests [JPEGs]

    Returns:
        the pages [HTML]

    Raises:
        jinja2.UndefinedError: a part that the page names is missing from the data.
    """
    content = _content(data, pictures or {})
    return _html(content, _foretold(content))


def _content(data: Sheet, pictures: Mapping[str, bytes]) -> Content:
    printable: Sheet = _printable(data)
    technician = printable["technician"]
    customer = [drawn.with_drawings(block, pictures) for block in printable["blocks"]]
    return Content(printable, head.of_customer(printable, pictures), customer,
                   drawn.with_pictures(technician["blocks"], pictures) if technician else [])


def _html(content: Content, way: Way) -> str:
    sheet, technician = content.sheet, content.sheet["technician"]
    more = columns.of_technician(content.technician, way.technician, sheet["paper"]).blocks
    return _environment().get_template("sheet.html").render(
        sheet={**sheet, "blocks": columns.of_customer(content.customer)}, head_most=head.TEXT_MOST,
        head=content.head, technician={**technician, "blocks": more} if technician else None)


def fetcher() -> URLFetcher:
    """The only way to anything outside the page: `data:` addresses; all others are refused.

    Returns:
        a fetcher for the renderer [object]
    """
    from weasyprint.urls import URLFetcher

    return URLFetcher(allowed_protocols=["data"], allow_redirects=False, fail_on_errors=True)


def _identifier(data: Sheet) -> bytes:
    return re.sub(r"[^0-9a-z-]", "", data["identifier"].lower()).encode("ascii")


def _printable(value: Any) -> Any:
    """The same data, with texts of printable length and no unprintable characters; marks show what is gone."""
    if isinstance(value, str):
        text = value if len(value) <= TEXT_MOST else f"{value[:TEXT_MOST]} [… +{len(value) - TEXT_MOST}]"
        return _letters(UNPRINTABLE.sub("☐", text.replace("\r\n", "\n").replace("\r", "\n")))
    if isinstance(value, dict):
        return {key: _printable(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_printable(item) for item in value]
    return value


def _letters(text: str) -> str:
    """Text in which a letter that the typefaces lack is named by its code point, so that nothing vanishes."""
    if text.isascii() or text.startswith("data:"):
        return text
    covered = fonts.letters()
    return "".join(
        letter if letter == "\n" or ord(letter) in covered else f"[U+{ord(letter):04X}]" for letter in text
    )


@cache
def _environment() -> Environment:
    return Environment(
        loader=FileSystemLoader(TEMPLATES), autoescape=True, undefined=StrictUndefined, auto_reload=False
    )


@cache
def _styles() -> tuple[list[CSS], FontConfiguration]:
    """Typefaces, style and the closer styles, read once for all the sheets of a process."""
    from weasyprint import CSS
    from weasyprint.text.fonts import FontConfiguration

    atexit.register(_let_go)
    font_config = FontConfiguration()
    faces = CSS(string=fonts.style(), font_config=font_config, url_fetcher=fetcher())
    rules = [CSS(string=(TEMPLATES / name).read_text("utf-8"), font_config=font_config, url_fetcher=fetcher())
             for name in ("sheet.css", "customer-closer.css", "technician-closer.css")]
    return [faces, *rules], font_config


def _let_go() -> None:
    """Release the typefaces while the renderer's modules still exist: it removes the folder that holds them."""
    _styles.cache_clear()
    gc.collect()


def _paper(data: Sheet) -> CSS:
    """Paper and lower margins as style, the only thing a margin can take.

    A paragraph put there for the margin would be read aloud as well.
    """
    from weasyprint import CSS

    page_word, of_word = (_style_text(word) for word in data["page_words"])
    rules = [f"@page {{ size: {PAPERS[data['paper']]} }}", PAPER_STYLES[data["paper"]],
             f'body {{ string-set: page-word "{page_word}", of-word "{of_word}" }}',
             # Only on the head: the body runs over all pages.
             f'header {{ string-set: {_foot(data)} }}']
    if data["technician"]:
        rules.append(f".technician header {{ string-set: {_foot(data['technician'])} }}")
    return CSS(string="\n".join(rules), url_fetcher=fetcher())


def _foot(page: Sheet | TechnicianPage) -> str:
    """The words of a lower margin: what the page is about, and who it is for."""
    audience = f", {page['audience']}" if page["audience"] else ""
    return f'foot "{_style_text(_printable(page["foot"]))}", audience "{_style_text(audience)}"'


def _style_text(text: str) -> str:
    """Any text as the inside of a string in a style sheet: every letter except plain ones by its number."""
    return "".join(letter if letter.isalnum() else f"\\{ord(letter):06x}" for letter in text)
