"""What stands side by side on a sheet: blocks that belong together and are short enough not to run over a page.

It measures texts by their letters and draws nothing.
"""

from __future__ import annotations

from itertools import groupby, takewhile

from reports.sheet_data import DrawnBlock, SetBlock

# More text than this does not stand side by side: columns that run over pages are hard to read, and would be cut.
ABREAST_MOST = 1200
BILL_ROWS_MOST, EVIDENCE_ROWS_MOST, READINGS_ROWS_MOST = 12, 18, 34
# As many rows of readings leave room for a text below them.
TEXT_BELOW_MOST = 22
# Blocks of page one that stand left or right of each other; the same of the technician's page, there in one piece where
# that fits, else in two.
CUSTOMER = ({"prose"}, {"bill", "signature"})
TECHNICIAN = ({"readings", "result", "causes"}, {"pictures", "drawings", "cautions", "prose", "few photos"})
IN_TWO = (TECHNICIAN[0], {"pictures", "drawings", "cautions"})
# So many photos fit into a column.
FEW = 2


def of_customer(blocks: list[DrawnBlock]) -> list[SetBlock]:
    """The blocks of page one, what was found and advised beside price and signature.

    Args:
        blocks: the blocks in their order, drawn [list]

    Returns:
        the blocks as they are set [list]
    """
    return _abreast(blocks, CUSTOMER)


def _abreast(blocks: list[DrawnBlock], sides: tuple[set[str], set[str]]) -> list[SetBlock]:
    """The same blocks, those that belong side by side and are short enough in two columns."""
    placed: list[SetBlock] = []
    for together, run in groupby(blocks, lambda block: _side(block) in sides[0] | sides[1]):
        row = list(run)
        columns = _columns(row, sides) if together else None
        placed += [{"name": _widths(columns), "kind": "abreast", "columns": columns}] if columns else _paired(row)
    return placed


def of_technician(blocks: list[DrawnBlock], whole: bool) -> list[SetBlock]:
    """The technician's blocks in two columns as far as they are short.

    Args:
        blocks: the blocks in their order, drawn [list]
        whole: the columns stand in one piece, named "whole", else in two, one below the other [truth]

    Returns:
        the blocks as they are set [list]
    """
    sides = TECHNICIAN if whole else IN_TWO
    short = list(takewhile(lambda block: _side(block) in sides[0] | sides[1] and _short(block), blocks))
    rest = _abreast(blocks[len(short):], IN_TWO)
    columns = _balanced(_columns(short, sides)) if whole else None
    if columns:
        return [{"name": "whole", "kind": "abreast", "columns": columns}, *rest]
    first = short[: 3 if _below(short) else 2]
    return [*_abreast(first, sides), *_abreast(short[len(first):], sides), *rest]


def _balanced(columns: list[list[DrawnBlock]] | None) -> list[list[DrawnBlock]] | None:
    """The columns, each text about the work, and a few photos, at the end of the one that is shorter then."""
    if columns is None or len(columns[1]) == 1:
        return columns
    movable = [block for block in columns[1] if block["kind"] in ("prose", "photos")]
    balanced = [[*columns[0]], [block for block in columns[1] if block["kind"] not in ("prose", "photos")]]
    for block in movable:
        min(balanced, key=lambda column: sum(map(_height, column))).append(block)
    return balanced


def _height(block: DrawnBlock) -> float:
    """About how high a block is, to choose a column by [mm]."""
    if block["kind"] == "readings":
        return 14.0 + 5.1 * len(block["rows"])
    if block["kind"] == "causes":
        return 52.0 + 5.1 * len(block["lines"]) + sum(map(len, block["notes"])) / 16.0
    if block["kind"] == "pictures":
        return 24.0 + 15.0 * len(block["pictures"])
    if block["kind"] == "photos":
        return 40.0
    if block["kind"] == "drawings":
        return 20.0 + 46.0 * len(block["pictures"])
    return 10.0 + _letters_of([block]) / 12.0 + (3.0 * len(block["paragraphs"]) if block["kind"] == "prose" else 0.0)


def _below(blocks: list[DrawnBlock]) -> bool:
    """Whether the text after the readings and their drawings has room below the table."""
    return (len(blocks) > 2 and blocks[0]["kind"] == "readings" and _side(blocks[2]) == "result"
            and len(blocks[0]["rows"]) < TEXT_BELOW_MOST)


def _side(block: DrawnBlock) -> str:
    """What says on which side a block stands: its kind, and of a result or a few photos that it is that."""
    if block["kind"] == "photos":
        return "few photos" if len(block["photos"]) <= FEW else "photos"
    return "result" if block["name"] == "result" else block["kind"]


def _columns(row: list[DrawnBlock], sides: tuple[set[str], set[str]]) -> list[list[DrawnBlock]] | None:
    """A run of blocks by side, None where a side is empty or one holds more than a page can."""
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
    """Blocks one below the other, two texts in a row side by side."""
    placed: list[SetBlock] = []
    rest = list(row)
    while rest:
        columns = _halves(rest[:2])
        placed.append({"name": "halves", "kind": "abreast", "columns": columns} if columns else rest[0])
        rest = rest[2 if columns else 1:]
    return placed


def _widths(columns: list[list[DrawnBlock]]) -> str:
    return "wide" if columns[1][0]["kind"] in TECHNICIAN[1] else "halves"


def _short(block: DrawnBlock) -> bool:
    """Whether a block is sure to fit on a page beside others."""
    if block["kind"] == "bill":
        return len(block["rows"]) <= BILL_ROWS_MOST
    if block["kind"] == "readings":
        return len(block["rows"]) <= READINGS_ROWS_MOST
    return len(block["lines"]) <= EVIDENCE_ROWS_MOST if block["kind"] == "causes" else True


def _letters_of(blocks: list[DrawnBlock]) -> int:
    """How many letters the free texts of blocks have."""
    return sum(len(text) for block in blocks for text in _free_texts(block))


def _free_texts(block: DrawnBlock) -> list[str]:
    if block["kind"] == "prose":
        return [item["text"] for item in block["paragraphs"]]
    if block["kind"] == "bill":
        return [row["text"] for row in block["rows"]]
    return block["lines"] if block["kind"] == "signature" else []
