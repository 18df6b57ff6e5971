"""The blocks of a sheet with everything in them drawn: plots, marks and strokes as pictures, photos by their address.

It sets no page; the drawing modules decide what a picture looks like.
"""

from __future__ import annotations

import base64
import re
from collections.abc import Mapping

from markupsafe import Markup

from reports import chart, yardstick
from reports.sheet_data import (
    AddressedPhoto,
    Block,
    CaptionedPhoto,
    CausesBlock,
    DrawnBlock,
    DrawnLine,
    EvidenceMark,
    MarkedCauses,
    Picture,
    ReadingsBlock,
)

# A photo between these shapes fills its frame and loses a narrow strip; others are shown whole [width / height].
FILLING = (1.2, 1.7)
# This many photos in a line; a line never breaks across pages.
ABREAST = 3
HEIGHT = re.compile(r' height="([\d.]+)"')


def with_pictures(blocks: list[Block], pictures: Mapping[str, bytes]) -> list[DrawnBlock]:
    """The technician's blocks, followed by the drawings of the readings as a block of their own.

    Args:
        blocks: the blocks in order [list]
        pictures: the photos by their digests [JPEGs]

    Returns:
        the same with everything drawn [list]
    """
    drawn: list[DrawnBlock] = []
    for block in blocks:
        drawn.append(with_drawings(block, pictures))
        if block["kind"] == "readings" and block["plots"]:
            drawn.append({"name": "pictures", "kind": "pictures", "pictures": _pictures(block)})
    return drawn


def with_drawings(block: Block, pictures: Mapping[str, bytes]) -> DrawnBlock:
    """A block whose plots, marks and signature strokes have become pictures.

    Args:
        block: the block [Block]
        pictures: the photos by their digests [JPEGs]

    Returns:
        the same with everything drawn [DrawnBlock]
    """
    if block["kind"] == "causes":
        return _marked(block)
    if block["kind"] == "drawings":
        return {**block, "pictures": [_picture(chart.draw(plot), plot["alt"]) for plot in block["plots"]]}
    if block["kind"] == "pair" or block["kind"] == "photos":
        shown = [_addressed(photo, pictures) for photo in block["photos"]]
        return {**block, "lines": [shown[start : start + ABREAST] for start in range(0, len(shown), ABREAST)]}
    if block["kind"] == "signature":
        strokes = block["strokes"]
        return {**block, "picture": _picture(chart.signature(strokes, block["alt"]), block["alt"]) if strokes else ""}
    return block


def _addressed(photo: CaptionedPhoto, pictures: Mapping[str, bytes]) -> AddressedPhoto:
    """A photo with its bytes inside; an empty address if it couldn't be read."""
    from reports import photos

    content = pictures.get(photo["sha256"])
    if content is None:
        return {**photo, "address": "", "fills": False}
    width, height = photos.size(content)
    return {**photo, "address": inline(content), "fills": FILLING[0] < width / height < FILLING[1]}


def _pictures(block: ReadingsBlock) -> list[Picture]:
    """The drawings of the readings, the first of each kind under its heading, the key of the strips below the last."""
    titles, drawn = dict(block["titles"]), list[Picture]()
    for plot in block["plots"]:
        drawing = chart.draw(plot)
        drawn.append({"title": str(titles.pop(plot["kind"], "")), "drawing": _picture(drawing, plot["alt"]),
                      "high": float(HEIGHT.findall(drawing)[0]), "aside": "",
                      "caption": plot["sentence"] if plot["kind"] == "yardstick" else ""})
    strips = sum(plot["kind"] == "yardstick" for plot in block["plots"])
    if strips:
        drawn[strips - 1]["aside"] = " ".join(block["notes"])
    return drawn


def _marked(block: CausesBlock) -> MarkedCauses:
    """The causes, with the marks of their evidence drawn."""
    grid = block["grid"]
    if grid is None or not grid["lines"]:
        return {**block, "lines": [], "legend": ""}
    lines: list[DrawnLine] = [{"label": line["label"], "marks": [_mark(one) for one in line["marks"]]}
                              for line in grid["lines"]]
    meanings = ", ".join(one["text"] for one in grid["legend"])
    return {**block, "lines": lines, "legend": _picture(yardstick.legend(grid["legend"]), meanings)}


def _mark(one: EvidenceMark) -> Markup:
    return _picture(yardstick.mark(one["kind"], one["text"]), one["text"])


def inline(content: bytes, kind: str = "jpeg") -> str:
    """A picture as an address that contains it."""
    return f"data:image/{kind};base64," + base64.b64encode(content).decode("ascii")


def _picture(drawing: str, alt: str) -> Markup:
    """A drawing as an element of the page; as an address, because the page's own parser is slow with drawings."""
    return Markup('<img src="{}" alt="{}">').format(inline(drawing.encode(), "svg+xml"), alt)
