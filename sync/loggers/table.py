"""A logger's text as columns: the mark between them, the decimal mark, the header, and what each column may be.

It decides nothing for a person: a guess is shown and can be changed.
"""

from __future__ import annotations

from sync.loggers.book import Column, Fault, LoggersBook, Table
from sync.loggers.cells import cells_of, letters_of, number_of
from sync.loggers.times import DAY_FORMS, NO_TIME, clock_of, days_of, stamp_of, start_of

HEADERS_MOST = 2
CAPITALS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
SMALL = "abcdefghijklmnopqrstuvwxyz"


def fault_of(code: str, line: int = 0, column: str = "", found: str = "") -> Fault:
    """A fault; what was found is shown in part."""
    return {"code": code, "line": line, "column": column, "found": "".join(letters_of(found)[0:40])}


def lowered(text: str) -> str:
    """A text with small letters instead of plain capitals."""
    small = letters_of(SMALL)
    return "".join(small[CAPITALS.index(letter)] if letter in CAPITALS else letter for letter in letters_of(text))


def table_of(text: str, at: str, book: LoggersBook) -> Table:
    """A text as columns.

    Args:
        text: what the file holds [characters]
        at: when the test began, by which the order of a day's numbers is guessed [RFC 3339]
        book: the book of loggers [LoggersBook]

    Returns:
        the columns with their first values; none where `faults` say why [Table]
    """
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    table: Table = {"lines": lines, "mark": "", "point": ".", "first": 0, "header": "", "columns": [], "faults": []}
    sample = _sample(lines, book)
    table["faults"] = _broken(sample, lines, book)
    if len(table["faults"]) > 0:
        return table
    mark, width = "", 0
    rows: list[int] = []
    for one in book["order"]:
        found, wide = _rows(sample, one, book)
        if len(found) > len(rows):
            mark, rows, width = one, found, wide
    if len(rows) == 0:
        table["faults"] = [fault_of("no_rows" if _has_marks(sample, book) else "one_column")]
    elif width > book["most"]["columns"]:
        table["faults"] = [fault_of("many_columns", rows[0] + 1)]
    else:
        _fill(table, (mark, rows, width), at, book)
    return table


def _sample(lines: list[str], book: LoggersBook) -> list[str]:
    """The first lines, those that are too long left empty."""
    return [line if len(line) <= book["most"]["line"] else "" for line in lines[0 : book["most"]["sample"]]]


def _broken(sample: list[str], lines: list[str], book: LoggersBook) -> list[Fault]:
    """Why a text cannot be read at all."""
    for i in range(len(sample)):
        for letter in letters_of(sample[i]):
            if ord(letter) < 32 and letter != "\t":
                return [fault_of("binary", i + 1)]
    if not all(line == "" for line in sample):
        return []
    long = [fault_of("long_line", i + 1) for i in range(len(sample)) if lines[i] != ""]
    if len(long) > 0:
        return [long[0], fault_of("no_rows")]
    return [fault_of("empty" if len(sample) < 2 else "no_rows")]


def _has_marks(sample: list[str], book: LoggersBook) -> bool:
    text = "".join(sample)
    return any(mark in text for mark in book["order"])


def _is_value(cell: str, book: LoggersBook) -> bool:
    return number_of(cell, "." if "." in cell else ",") is not None or _is_time(cell, book)


def _is_time(cell: str, book: LoggersBook) -> bool:
    if clock_of(cell, book) != NO_TIME:
        return True
    return any(days_of(cell, form) != NO_TIME or stamp_of(cell, form, 0.0, book) != NO_TIME for form in DAY_FORMS)


def _is_row(cells: list[str], book: LoggersBook) -> bool:
    """Whether cells hold a time or count and at least one number beside it."""
    values = [cell for cell in cells if _is_value(cell, book)]
    filled = [cell for cell in cells if cell != ""]
    return len(values) > 1 and len(values) * 2 > len(filled)


def _rows(sample: list[str], mark: str, book: LoggersBook) -> tuple[list[int], int]:
    """The lines that hold values where this is the mark between columns, and how many columns most of them have."""
    found: list[tuple[int, int]] = []
    counts: list[int] = []
    for i in range(len(sample)):
        if mark in sample[i]:
            cells = cells_of(sample[i], mark)
            if _is_row(cells, book):
                found.append((i, len(cells)))
                while len(counts) <= len(cells):
                    counts.append(0)
                counts[len(cells)] = counts[len(cells)] + 1
    width = 0
    for i in range(len(counts)):
        if counts[i] > 0 and (width == 0 or counts[i] > counts[width]):
            width = i
    return [i for i, count in found if count == width], width


def _fill(table: Table, layout: tuple[str, list[int], int], at: str, book: LoggersBook) -> None:
    mark, rows, width = layout
    lines = table["lines"]
    first = _first(lines, layout, book)
    names = _names(lines, (mark, first, width), book)
    whole = [cells_of(line, mark) for line in lines[first : rows[-1] + 1] if len(line) <= book["most"]["line"]]
    firsts = [cells for cells in whole if len(cells) == width][0 : book["most"]["firsts"]]
    table["mark"] = mark
    table["first"] = first
    table["header"] = "\t".join(names)
    table["point"] = _point([cells_of(lines[row], mark) for row in rows])
    for i in range(width):
        cells = [cells[i] for cells in firsts]
        table["columns"].append({"name": names[i], "firsts": cells, "guess": ""})
    _guess(table, at, book)


def _first(lines: list[str], layout: tuple[str, list[int], int], book: LoggersBook) -> int:
    """The first line with values; above a whole row there may be some in which most cells hold none."""
    mark, rows, width = layout
    first = rows[0]
    while first > 0 and len(lines[first - 1]) <= book["most"]["line"]:
        cells = cells_of(lines[first - 1], mark)
        if len(cells) != width or not any(_is_value(cell, book) for cell in cells):
            break
        first = first - 1
    return first


def _names(lines: list[str], layout: tuple[str, int, int], book: LoggersBook) -> list[str]:
    """The names of the columns: of the lines right above the first row that have as many cells, at most two."""
    mark, first, width = layout
    names = ["" for _ in range(width)]
    line, taken = first - 1, 0
    while line >= 0 and taken < HEADERS_MOST and len(lines[line]) <= book["most"]["line"]:
        cells = cells_of(lines[line], mark)
        filled = [cell for cell in cells if cell != ""]
        if len(cells) != width or len(filled) * 2 < width:
            break
        names = [" ".join([one for one in (cells[i], names[i]) if one != ""]) for i in range(width)]
        line, taken = line - 1, taken + 1
    return names


def _point(rows: list[list[str]]) -> str:
    """The decimal mark: a comma where some number needs one and none has a point."""
    commas = False
    for cells in rows:
        for cell in cells:
            if "." in cell and number_of(cell, ".") is not None:
                return "."
            if "," in cell and number_of(cell, ",") is not None:
                commas = True
    return "," if commas else "."


def _guess(table: Table, at: str, book: LoggersBook) -> None:
    """Say of each column what it most likely is: a time first, then readings by name and unit, none of them twice."""
    taken: dict[str, bool] = {}
    for column in table["columns"]:
        guess = _time_guess(column, at, book)
        if guess == "":
            guess = _reading_guess(column, table["point"], book)
        what = guess.split(":")[0]
        if what != "" and not taken.get(what, False):
            column["guess"] = guess
            taken[what] = True


def _time_guess(column: Column, at: str, book: LoggersBook) -> str:
    cell, name = column["firsts"][0], lowered(column["name"])
    today = start_of(at, book)[0]
    best, nearest = "", 1e14
    for form in DAY_FORMS:
        stamp, days = stamp_of(cell, form, 0.0, book), days_of(cell, form)
        found = stamp if stamp != NO_TIME else days * 86400.0 if days != NO_TIME else NO_TIME
        if found != NO_TIME and abs(found - today) < nearest:
            best, nearest = ("time:" if stamp != NO_TIME else "day:") + form, abs(found - today)
    if best != "":
        return best
    if clock_of(cell, book) != NO_TIME:
        # A count of hours, minutes and seconds begins near zero.
        return "time:count" if clock_of(cell, book) < 60.0 else "time:clock"
    for form in ("seconds", "minutes"):
        if any(hint in name for hint in book["elapsed"][form]):
            return "time:" + form
    return ""


def _reading_guess(column: Column, point: str, book: LoggersBook) -> str:
    name = lowered(column["name"])
    if all(number_of(cell, point) is None for cell in column["firsts"]):
        return ""
    for channel in book["channels"]:
        row = book["channels"][channel]
        named = any(hint in name for hint in row["names"])
        for unit in book["units"][row["quantity"]]:
            has_unit = any(hint in name for hint in book["units"][row["quantity"]][unit])
            # A percentage of a hygrometer needs no name, pressures are gauge pressures.
            sure = named or row["quantity"] == "percent"
            if has_unit and sure and not any(hint in name for hint in book["absolute"]):
                return f"{channel}:{unit}"
    return ""
