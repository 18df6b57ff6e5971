"""What is set side by side on a sheet: blocks that belong together and are short enough not to run over a page.

It measures texts by their letters and draws nothing.
"""

from __future__ import annotations

from itertools import groupby, product, takewhile
from typing import NamedTuple

from reports import heights
from reports.sheet_data import DrawnBlock, SetBlock

# More text than this isn't set side by side: columns that run over pages are hard to read, and would be cut.
ABREAST_MOST = 1200
BILL_ROWS_MOST, EVIDENCE_ROWS_MOST, READINGS_ROWS_MOST = 12, 18, 34
TABLE_ROWS_MOST, TABLE_COLUMNS_MOST = 8, 5
# This many rows of readings leave room for a text below them.
TEXT_BELOW_MOST = 22
# Blocks of page one that are set left or right of each other; the same for the technician's page, in one piece if that
# fits, otherwise in two.
CUSTOMER = ({"prose"}, {"bill", "signature"})
TECHNICIAN = ({"readings", "result", "causes"}, {"pictures", "drawings"})
IN_TWO = (TECHNICIAN[0], {"pictures", "drawings", "cautions"})
# Where else a block of the technician's page may go: in a column, 0 or 1, or below both.
BELOW = 2
PLACES = {"cautions": (1, 0), "prose": (1, 0), "few photos": (1, 0), "table": (BELOW, 0), "small": (BELOW, 1)}
ANYWHERE = TECHNICIAN[0] | TECHNICIAN[1] | set(PLACES)
MOVABLE_MOST = 7
# A page whose estimate is over by no more than this may still fit [mm].
NEARLY = 8.0
# This many photos fit into a column.
FEW = 2


def of_customer(blocks: list[DrawnBlock]) -> list[SetBlock]:
    """The blocks of page one, with findings and advice beside price and signature.

    Args:
        blocks: the blocks in order, drawn [list]

    Returns:
        the blocks as set [list]
    """
    return _abreast(blocks, CUSTOMER)


def _abreast(blocks: list[DrawnBlock], sides: tuple[set[str], set[str]]) -> list[SetBlock]:
    """The same blocks, with those that belong together and are short enough in two columns."""
    placed: list[SetBlock] = []
    for together, run in groupby(blocks, lambda block: _side(block) in sides[0] | sides[1]):
        row = list(run)
        columns = _columns(row, sides) if together else None
        placed += [{"name": _widths(columns), "kind": "abreast", "columns": columns}] if columns else _paired(row)
    return placed


class Placed(NamedTuple):
    """Blocks as set, and how far all of them, and the columns alone, exceed their page [mm]."""

    blocks: list[SetBlock]
    over: float
    columns_over: float


def of_technician(blocks: list[DrawnBlock], way: str, paper: str) -> Placed:
    """The technician's blocks in two columns, as far as they are short.

    Args:
        blocks: the blocks in order, drawn [list]
        way: "usual" or "closer" for columns in one piece, named "whole"; "in two", one piece below the other [code]
        paper: A4 or Letter [name]

    Returns:
        the blocks as set [Placed]
    """
    setting = heights.CLOSER if way == "closer" else heights.USUAL
    page = Page(setting, heights.WIDTHS[paper], setting.room[paper] - heights.HEAD - heights.EDITION)
    if way != "in two":
        short = list(takewhile(lambda block: _side(block) in ANYWHERE and _short(block), blocks))
        placed = _placed(short, _abreast(blocks[len(short):], IN_TWO), page)
        if placed:
            return placed
    short = list(takewhile(lambda block: _side(block) in IN_TWO[0] | IN_TWO[1] and _short(block), blocks))
    first = short[: 3 if _below(short) else 2]
    rows = [*_abreast(first, IN_TWO), *_abreast(short[len(first):], IN_TWO), *_abreast(blocks[len(short):], IN_TWO)]
    return Placed(rows, sum(heights.of_set(block, page.width, setting) for block in rows) - page.room, 0.0)


class Page(NamedTuple):
    """How a page is set, and the room left on it for blocks [Setting, mm, mm]."""

    setting: heights.Setting
    width: float
    room: float


def _placed(blocks: list[DrawnBlock], rest: list[SetBlock], page: Page) -> Placed | None:
    """The columns and what goes below them, with the ends of the columns as even as possible.

    Blocks that may go elsewhere are tried everywhere. A table and the small print leave their place below the columns
    only if that saves a page.
    """
    columns = [[block for block in blocks if _side(block) in side] for side in TECHNICIAN]
    movable = [block for block in blocks if _side(block) in PLACES]
    if not all(columns) or len(movable) > MOVABLE_MOST:
        return None
    widths = [page.width * share for share in (*heights.WIDE, 1.0)]
    start = [sum(heights.of_block(block, wide, page.setting) for block in column)
             for column, wide in zip(columns, widths, strict=False)]
    start.append(sum(heights.of_set(block, page.width, page.setting) for block in rest))
    each = [{place: heights.of_block(block, widths[place], page.setting) for place in PLACES[_side(block)]}
            for block in movable]

    def ends_of(places: tuple[int, ...]) -> list[float]:
        ends = list(start)
        for place, offered in zip(places, each, strict=True):
            ends[place] += offered[place]
        return ends

    def cost(places: tuple[int, ...]) -> tuple[float, float, int, float, float]:
        left, right, below = ends_of(places)
        over, high = max(left, right) + below - page.room, max(left, right)
        moved = sum(home[0] == BELOW != place for place, home in
                    zip(places, (PLACES[_side(block)] for block in movable), strict=True))
        return min(max(0.0, over), NEARLY), max(0.0, high - page.room), moved, high + below, abs(left - right)

    best = min(product(*each), key=cost)
    for place, block in zip(best, movable, strict=True):
        if place != BELOW:
            columns[place].append(block)
    row: SetBlock = {"name": "whole", "kind": "abreast", "columns": columns}
    lower = [block for place, block in zip(best, movable, strict=True) if place == BELOW]
    left, right, below = ends_of(best)
    return Placed([row, *lower, *rest], max(left, right) + below - page.room, max(left, right) - page.room)


def _below(blocks: list[DrawnBlock]) -> bool:
    """Whether the text after the readings and their drawings has room below the table."""
    return (len(blocks) > 2 and blocks[0]["kind"] == "readings" and _side(blocks[2]) == "result"
            and len(blocks[0]["rows"]) < TEXT_BELOW_MOST)


def _side(block: DrawnBlock) -> str:
    """What decides the side of a block: its kind, and for a result or a few photos, that it is one."""
    if block["kind"] == "photos":
        return "few photos" if len(block["photos"]) <= FEW else "photos"
    return "result" if block["name"] == "result" else block["kind"]


def _columns(row: list[DrawnBlock], sides: tuple[set[str], set[str]]) -> list[list[DrawnBlock]] | None:
    """A run of blocks by side; None if a side is empty or holds more than a page can."""
    columns = [[block for block in row if _side(block) in side] for side in sides]
    if not all(columns):
        return _halves(row)
    return columns if all(map(_short, row)) and max(map(_letters_of, columns)) < ABREAST_MOST else None


def _halves(blocks: list[DrawnBlock]) -> list[list[DrawnBlock]] | None:
    """Two short blocks of text side by side."""
    prose = [block for block in blocks if block["kind"] == "prose"]
    if len(prose) != 2 or len(blocks) != 2 or _letters_of(blocks) >= ABREAST_MOST:
        return None
    return [[prose[0]], [prose[1]]]


def _paired(row: list[DrawnBlock]) -> list[SetBlock]:
    """Blocks one below the other, with two texts in succession set side by side."""
    placed: list[SetBlock] = []
    rest = list(row)
    while rest:
        columns = _halves(rest[:2])
        placed.append({"name": "halves", "kind": "abreast", "columns": columns} if columns else rest[0])
        rest = rest[2 if columns else 1:]
    return placed


def _widths(columns: list[list[DrawnBlock]]) -> str:
    return "wide" if columns[1][0]["kind"] in IN_TWO[1] else "halves"


def _short(block: DrawnBlock) -> bool:
    """Whether a block is certain to fit on a page beside others."""
    if block["kind"] == "bill":
        return len(block["rows"]) <= BILL_ROWS_MOST
    if block["kind"] == "readings":
        return len(block["rows"]) <= READINGS_ROWS_MOST
    if block["kind"] == "table":
        return len(block["rows"]) <= TABLE_ROWS_MOST and len(block["columns"]) <= TABLE_COLUMNS_MOST
    if block["kind"] == "prose":
        return _letters_of([block]) < ABREAST_MOST
    return len(block["lines"]) <= EVIDENCE_ROWS_MOST if block["kind"] == "causes" else True


def _letters_of(blocks: list[DrawnBlock]) -> int:
    """The number of letters in the free texts of blocks."""
    return sum(len(text) for block in blocks for text in _free_texts(block))


def _free_texts(block: DrawnBlock) -> list[str]:
    if block["kind"] == "prose":
        return [item["text"] for item in block["paragraphs"]]
    if block["kind"] == "bill":
        return [row["text"] for row in block["rows"]]
    return block["lines"] if block["kind"] == "signature" else []
