"""The job sheet as a PDF: plain data of a visit in, bytes out.

It chooses no words, rounds no number and fetches nothing: what stands in the data is what gets printed.
"""

from __future__ import annotations

import atexit
import base64
import gc
import re
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from reports import chart, fonts, yardstick
from reports.plot_data import ReadingsPlot
from reports.sheet_data import (
    AddressedPhoto,
    Block,
    CausesBlock,
    DrawnBlock,
    DrawnLine,
    MarkedCauses,
    Picture,
    SetBlock,
    Sheet,
)

if TYPE_CHECKING:
    from weasyprint import CSS, HTML
    from weasyprint.document import Document
    from weasyprint.text.fonts import FontConfiguration
    from weasyprint.urls import URLFetcher

TEMPLATES = Path(__file__).parent / "templates"
# Nobody writes a note as long; of one that is, so many letters are printed and the rest is counted, so that none can
# hold the printer for minutes.
TEXT_MOST = 20_000
# More text than this does not stand side by side: columns that run over pages are hard to read and slow to lay out.
SIDE_BY_SIDE_MOST = 1500
# A signature's text beyond this stands below the cautions, where it may run over pages.
BESIDE_MOST = 400
# Small print up to this fits beside one drawing.
SMALL_MOST = 1000
# Where the last page ends higher than this, by the number of pages, setting it tighter may save its paper.
SPILL_LEAST = {0: 0.45, 1: 0.0, 2: 0.3, 3: 0.65}
# Photos stand so many to a line, and a line never breaks across pages.
ABREAST = 3
VARIANT: dict[str, Any] = {"pdf_variant": "pdf/ua-1", "pdf_tags": True}
PAPERS = {"A4": "A4", "Letter": "letter"}
# Controls, marks that turn the direction of what follows, halves of pairs: they print nothing and can hide or forge.
UNPRINTABLE = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u200e\u200f\u202a-\u202e\u2066-\u2069\ufeff\ufffe\uffff\ud800-\udfff]"
)


def render(data: Sheet, pictures: Mapping[str, bytes] | None = None) -> bytes:
    """The PDF of one job sheet, tagged for reading aloud (PDF/UA-1).

    The same data gives the same bytes with the same versions of the libraries and fonts.

    Args:
        data: what it says, its paper "A4" or "Letter" [Sheet]
        pictures: the photos that the blocks name by their digests, as from `reports.photos.derived` [JPEGs]

    Returns:
        the PDF [bytes]

    Raises:
        jinja2.UndefinedError: a part that the page names is missing from the data.
        KeyError: an unknown paper or kind of picture.
    """
    page = _page(data, {digest: _inline(content) for digest, content in (pictures or {}).items()})
    document = _set(page, data)
    if _spill(document) < SPILL_LEAST.get(len(document.pages), SPILL_LEAST[0]):
        closer = _set(page, data, closer=True)
        document = closer if len(closer.pages) < len(document.pages) else document
    return bytes(document.write_pdf(**VARIANT, pdf_identifier=_identifier(data)))


def prepare() -> None:
    """Load the renderer, its typefaces and its styles, which every sheet needs; nothing is drawn."""
    _styles()


def _inline(content: bytes) -> str:
    """A JPEG as an address that carries it."""
    return "data:image/jpeg;base64," + base64.b64encode(content).decode("ascii")


def _page(data: Sheet, pictures: Mapping[str, str]) -> HTML:
    """The page, read once however often it is laid out; nothing but `data:` addresses can be fetched meanwhile."""
    from weasyprint import HTML

    return HTML(string=markup(data, pictures), url_fetcher=fetcher(), base_url=None)


def _set(page: HTML, data: Sheet, closer: bool = False) -> Document:
    """The pages laid out; `closer` moves everything a little together."""
    sheets, font_config = _styles()
    chosen = sheets if closer else sheets[:-1]
    return page.render(stylesheets=[*chosen, _paper(data)], font_config=font_config, **VARIANT)


def _spill(document: Document) -> float:
    """How far down the last page the sheet ends, as a share of its height."""
    last = document.pages[-1]
    return float(last.anchors["end"][1]) / float(last.height)


def markup(data: Sheet, pictures: Mapping[str, str] | None = None) -> str:
    """The page as HTML.

    Args:
        data: as for `render` [Sheet]
        pictures: `data:` addresses of the photos by their digests [mapping]

    Returns:
        the page [HTML]

    Raises:
        jinja2.UndefinedError: a part that the page names is missing from the data.
    """
    printable: Sheet = _printable(data)
    blocks = _abreast([_drawn(block, pictures or {}) for block in printable["blocks"]])
    return _environment().get_template("sheet.html").render(sheet={**printable, "blocks": blocks})


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
    """The same data, each text of printable length and free of what cannot be printed; marks stand for what is gone."""
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


def _drawn(block: Block, pictures: Mapping[str, str]) -> DrawnBlock:
    """A block whose plots and signature strokes have become pictures, its columns stacked where they are long."""
    if block["kind"] == "readings":
        return {**block, "pictures": [_picture(plot) for plot in block["plots"]]}
    if block["kind"] == "causes":
        return _marked(block)
    if block["kind"] == "drawings":
        return {**block, "small": [], "pictures": [Markup(chart.draw(plot)) for plot in block["plots"]]}
    if block["kind"] == "photos":
        shown: list[AddressedPhoto] = [{**photo, "address": pictures.get(photo["sha256"], "")}
                                       for photo in block["photos"]]
        return {**block, "lines": [shown[start : start + ABREAST] for start in range(0, len(shown), ABREAST)]}
    if block["kind"] == "prose":
        letters = sum(len(item["text"]) for column in block["columns"] for item in column)
        return {**block, "letters": letters, "stacked": len(block["columns"]) == 1 or letters > SIDE_BY_SIDE_MOST}
    if block["kind"] == "signature":
        strokes = block["strokes"]
        return {**block, "picture": Markup(chart.signature(strokes, block["alt"])) if strokes else ""}
    return block


def _marked(block: CausesBlock) -> MarkedCauses:
    """The causes with the marks of their evidence drawn."""
    grid = block["grid"]
    if grid is None or not grid["lines"]:
        return {**block, "lines": [], "legend": ""}
    lines: list[DrawnLine] = [
        {"label": line["label"], "marks": [Markup(yardstick.mark(one["kind"], one["text"])) for one in line["marks"]]}
        for line in grid["lines"]]
    return {**block, "lines": lines, "legend": Markup(yardstick.legend(grid["legend"]))}


def _picture(plot: ReadingsPlot) -> Picture:
    """A drawing of the readings, with the sentence that a strip may have below it."""
    return {"drawing": Markup(chart.draw(plot)), "caption": plot["sentence"] if plot["kind"] == "yardstick" else ""}


def _abreast(blocks: list[DrawnBlock]) -> list[SetBlock]:
    """The same blocks, those that stand side by side as one: cautions and signature, a lone drawing and small print."""
    rows: list[SetBlock] = []
    for block in blocks:
        pair = _side_by_side(rows[-1], block) if rows else None
        if pair is None:
            rows.append(block)
        else:
            rows[-1] = pair
    return rows


def _side_by_side(before: SetBlock, block: DrawnBlock) -> SetBlock | None:
    """Two blocks as one, None where each stands by itself."""
    if before["kind"] == "cautions" and block["kind"] == "signature" and len(block["text"]) < BESIDE_MOST:
        return {"kind": "closing", "cautions": before, "signature": block}
    if before["kind"] == "drawings" and block["kind"] == "small" and len(before["pictures"]) == 1 and (
            sum(map(len, block["texts"])) < SMALL_MOST):
        return {**before, "small": block["texts"]}
    return None


@cache
def _environment() -> Environment:
    return Environment(
        loader=FileSystemLoader(TEMPLATES), autoescape=True, undefined=StrictUndefined, auto_reload=False
    )


@cache
def _styles() -> tuple[list[CSS], FontConfiguration]:
    """Typefaces, style and the closer style, read once for all the sheets of a process."""
    from weasyprint import CSS
    from weasyprint.text.fonts import FontConfiguration

    atexit.register(_let_go)
    font_config = FontConfiguration()
    faces = CSS(string=fonts.style(), font_config=font_config, url_fetcher=fetcher())
    rules = [CSS(string=(TEMPLATES / name).read_text("utf-8"), font_config=font_config, url_fetcher=fetcher())
             for name in ("sheet.css", "tight.css")]
    return [faces, *rules], font_config


def _let_go() -> None:
    """Give the typefaces back while the renderer's modules still stand: it removes the folder it keeps them in."""
    _styles.cache_clear()
    gc.collect()


def _paper(data: Sheet) -> CSS:
    """Paper size, the running line and the words round the page number, as style: all that a margin can take.

    A paragraph that is there for the margin alone would be read aloud as well.
    """
    from weasyprint import CSS

    page_word, of_word, running = (_style_text(word) for word in (*data["page_words"], _printable(data["running"])))
    return CSS(
        string=f"@page {{ size: {PAPERS[data['paper']]} }}\n"
        f'body {{ string-set: page-word "{page_word}", of-word "{of_word}", running "{running}" }}',
        url_fetcher=fetcher(),
    )


def _style_text(text: str) -> str:
    """Any text as the inside of a style sheet's string: every letter but plain ones by its number."""
    return "".join(letter if letter.isalnum() else f"\\{ord(letter):06x}" for letter in text)
