"""The approximate heights of the parts of a sheet, estimated from their letters and rows before anything is laid out.

It is right to a few millimetres, enough to choose how pages are set. It draws nothing, and only the printer knows for
sure.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil
from typing import NamedTuple

from reports import fonts
from reports.sheet_data import (
    BillBlock,
    DrawnBlock,
    LinedPhotos,
    MarkedCauses,
    PicturesBlock,
    ReadingsBlock,
    SetBlock,
    Sheet,
)

POINT = 0.3528  # mm
# A line breaks at a word, so less than its whole width is used; and bold type is wider.
FILLED = 0.98


class Setting(NamedTuple):
    """How a page is set, as in sheet.css and the closer styles.

    room: from the top margin to the bottom margin of an A4 page, and of a Letter page [mm]
    section, heading, row: the space above a section, its heading, and a row of a table [mm]
    prose, aside, small: sizes of type [pt]
    line: from line to line [share of the size]
    shots, pair: heights of small photos, and of the pair of page one on A4 [mm]
    drawing: height on the page for the drawing's own height [mm/px]
    """

    room: dict[str, float]
    section: float
    heading: float
    row: float
    prose: float
    aside: float
    small: float
    line: float
    shots: float
    pair: float
    drawing: float


USUAL = Setting({"A4": 271.0, "Letter": 255.4}, 4.4, 7.3, 6.8, 9.0, 8.4, 7.8, 1.4, 42.0, 60.0, 0.265)
CLOSER = Setting({"A4": 275.0, "Letter": 257.4}, 3.0, 6.3, 5.5, 8.5, 7.9, 7.2, 1.33, 26.0, 48.0, 0.245)
# Page one has larger type.
CUSTOMER = USUAL._replace(prose=10.0)
CUSTOMER_CLOSER = CLOSER._replace(prose=9.2, row=5.8)
WIDTHS = {"A4": 176.0, "Letter": 181.9}
WIDE, HALVES = (0.55, 0.41), (0.51, 0.45)  # the widths of two columns [share of the page]
HEAD = 13.5  # the head of a page, and the space below it [mm]
EDITION = 4.4
LETTER_PAIR = 48.0


def lines(text: str, size: float, width: float) -> int:
    """The number of lines a text takes.

    Args:
        text: the text, which may contain line ends [text]
        size: of its type [pt]
        width: of its column [mm]

    Returns:
        its lines [count]
    """
    return sum(ceil(fonts.width(part) * size * POINT / (width * FILLED)) or 1 for part in text.split("\n"))


def _texts(texts: Sequence[str], size: float, width: float, setting: Setting, gap: float = 0.0) -> float:
    """Paragraphs one below the other [mm]."""
    each = [lines(text, size, width) * size * setting.line * POINT for text in texts]
    return sum(each) + gap * max(0, len(each) - 1)


def of_block(block: DrawnBlock, width: float, setting: Setting) -> float:
    """The height of a block, with the space above it.

    Args:
        block: the block [DrawnBlock]
        width: of its column [mm]
        setting: how the page is set [Setting]

    Returns:
        its height [mm]
    """
    return setting.section + _inside(block, width, setting)


def _inside(block: DrawnBlock, width: float, setting: Setting) -> float:
    heading = setting.heading if block.get("title") else 0.0
    if block["kind"] == "readings":
        return heading + _readings(block, width, setting)
    if block["kind"] == "pictures":
        return _pictures(block, width, setting)
    if block["kind"] == "causes":
        return heading + _causes(block, width, setting)
    if block["kind"] == "prose":
        texts = [f"{item['lead']} {item['text']}" for item in block["paragraphs"]]
        return heading + _texts(texts, setting.prose, width, setting, 1.0)
    if block["kind"] == "cautions":
        return heading + _texts(block["texts"], 8.8 * setting.line / 1.46, width - 3.0, setting)
    if block["kind"] == "small":
        return _texts(block["texts"], setting.small, width, setting, 0.6)
    if block["kind"] == "photos" or block["kind"] == "pair":
        return heading + _photos(block, width, setting)
    if block["kind"] == "bill":
        return heading + _bill(block, width, setting)
    if block["kind"] == "signature":
        return (13.0 if setting.line < USUAL.line else 19.0) + _texts(block["lines"], 8.5, width, setting)
    if block["kind"] == "table":
        # Columns are as wide as their content, so a row is about one line across all of them.
        rows = sum(lines(" ".join(row), 9.5, width - 5.0 * len(row)) for row in block["rows"])
        return heading + setting.row * (rows + 0.8) + _texts(block["notes"], setting.aside, width, setting, 1.3) + 1.3
    drawings = (168.0 * setting.drawing + 1.0) * len(block["pictures"])
    return heading + drawings + _texts(block["notes"], setting.aside, width, setting, 1.3) + 1.3


def _readings(block: ReadingsBlock, width: float, setting: Setting) -> float:
    settings = _texts([block["settings"]], 8.0, width, setting) if block["settings"] else 0.0
    notes = [] if block["plots"] else [" ".join(block["notes"])] if block["notes"] else []
    return settings + setting.row * (len(block["rows"]) + 0.8) + _texts(notes, setting.aside, width, setting)


def _pictures(block: PicturesBlock, width: float, setting: Setting) -> float:
    height = 0.0
    for picture in block["pictures"]:
        height += setting.heading + 0.4 * setting.section if picture["title"] else 1.0
        height += picture["high"] * USUAL.drawing
        height += _texts([picture["caption"]], 8.0, width, setting) if picture["caption"] else 0.0
        height += 1.0 + _texts([picture["aside"]], setting.aside, width, setting) if picture["aside"] else 0.0
    return height


def _causes(block: MarkedCauses, width: float, setting: Setting) -> float:
    held = [f"{cause['letter']} {cause['name']}" for cause in block["held"]]
    families = [f"{family['title']} {family['causes']}" for family in block["families"]]
    height = _texts([block["said"]], 11.0, width * 0.97, setting)
    height += _texts([*held, *families], 8.8, width - 3.0, setting)
    check = block["check"]
    if check:
        about = [check["label"], check["about"]] if check["shows"] else [f"{check['label']} {check['about']}"]
        height += 1.8 + _texts(about, setting.prose, width - (15.0 if check["shows"] else 3.0), setting)
    if block["lines"]:
        height += setting.row * (len(block["lines"]) + 0.8) + 4.2
    return height + _texts(block["notes"], setting.aside, width, setting, 1.3) + 3.0


def _photos(block: LinedPhotos, width: float, setting: Setting) -> float:
    if block["kind"] == "pair":
        return (setting.pair if width < WIDTHS["Letter"] else LETTER_PAIR) + 5.5
    return (setting.shots + 6.5) * len(block["lines"]) + _texts(block["notes"], setting.aside, width, setting, 1.3)


def _bill(block: BillBlock, width: float, setting: Setting) -> float:
    rows = sum(lines(f"{row['text']} {row['more']}", 9.5, width - 26.0) for row in block["rows"])
    notes = _texts(block["notes"], setting.aside, width, setting, 1.3) + (1.3 if block["notes"] else 0.0)
    return setting.row * (rows + len(block["totals"]) + 0.9) + 1.3 + notes


def of_customer(sheet: Sheet, blocks: Sequence[SetBlock], setting: Setting) -> float:
    """The height of page one.

    Args:
        sheet: its content [Sheet]
        blocks: its blocks as set [list]
        setting: how the page is set [Setting]

    Returns:
        its height [mm]
    """
    width = WIDTHS[sheet["paper"]]
    close = setting.line < USUAL.line
    said = sum(lines(text, 20.0, 162.0) for text in sheet["result"]["sentences"]) * (7.4 if close else 8.6)
    detail = [*sheet["result"]["detail"], *(sheet["revision"] or [])[1:]]
    height = HEAD + 2.0 * setting.section + said + _texts(detail, 9.0, width, setting) + 1.4 * len(detail)
    if sheet["parties"]:
        height += 6.5 + max(_texts(party["lines"], 9.0, width * 0.3, setting) for party in sheet["parties"])
    if sheet["figures"]:
        height += 32.5 if close else 35.5
    for block in blocks:
        height += of_set(block, width, setting)
    return height if sheet["technician"] else height + EDITION


def of_set(block: SetBlock, width: float, setting: Setting) -> float:
    """The height of a block, or of the higher of two columns [mm]."""
    if block["kind"] != "abreast":
        return of_block(block, width, setting)
    shares = WIDE if block["name"] in ("whole", "wide") else HALVES
    return max(sum(of_block(each, width * share, setting) for each in column)
               for column, share in zip(block["columns"], shares, strict=True))
