"""From the text of a file to its cells, and from a cell to a number; in which way its bytes are written.

Nothing here knows what a column means.
"""

from __future__ import annotations

from typing import Any, cast

DIGITS = "0123456789"
BLANKS = " \t\u00a0\u202f\ufeff"
QUOTE = '"'
# Plain letters written with two bytes have a zero in each second one.
LEAST_ZEROS = 0.3


def encoding_of(head: list[int]) -> str:
    """In which way the bytes of a text are written, by its mark or by the zeros beside plain letters.

    Args:
        head: the first bytes [0 to 255]

    Returns:
        "utf-16le", "utf-16be" or "utf-8"; what is no UTF-8 after all is read as Latin-1 [label]

    Source: The Unicode Standard, section 23.8, byte order mark.
    """
    if len(head) > 1 and head[0] == 255 and head[1] == 254:
        return "utf-16le"
    if len(head) > 1 and head[0] == 254 and head[1] == 255:
        return "utf-16be"
    zeros = [0, 0]
    side = 0
    for byte in head:
        if byte == 0:
            zeros[side] = zeros[side] + 1
        side = 1 - side
    if zeros[0] == 0 and zeros[1] > LEAST_ZEROS * len(head):
        return "utf-16le"
    if zeros[1] == 0 and zeros[0] > LEAST_ZEROS * len(head):
        return "utf-16be"
    return "utf-8"


def letters_of(text: str) -> list[str]:
    """The characters of a text."""
    return cast(list[str], list(cast(Any, text)))


def trimmed(text: str) -> str:
    """A text without the blanks around it."""
    letters = letters_of(text)
    start, end = 0, len(letters)
    while start < end and letters[start] in BLANKS:
        start = start + 1
    while end > start and letters[end - 1] in BLANKS:
        end = end - 1
    return "".join(letters[start:end])


def cells_of(line: str, mark: str) -> list[str]:
    """The cells of a line; within quotation marks the separator is a letter like any other, and two marks are one.

    Source: RFC 4180, section 2.
    """
    if QUOTE not in line:
        return [trimmed(cell) for cell in line.split(mark)]
    cells: list[str] = []
    cell: list[str] = []
    within, ended = False, False
    for letter in letters_of(line):
        if letter == QUOTE:
            # The second of two marks within a cell begins it anew, and stands for itself.
            if ended and not within:
                cell.append(QUOTE)
            within = not within
            ended = not within
        elif letter == mark and not within:
            cells.append(trimmed("".join(cell)))
            cell, ended = [], False
        else:
            cell.append(letter)
            ended = False
    cells.append(trimmed("".join(cell)))
    return cells


def is_digits(text: str) -> bool:
    """Whether a text is digits, at least one."""
    return text != "" and all(letter in DIGITS for letter in letters_of(text))


def number_of(text: str, point: str) -> float | None:
    """The number in a cell.

    Args:
        text: the cell [characters]
        point: the decimal mark of the file, a point or a comma [one character]

    Returns:
        the number; None where the cell holds anything else, a word for no number included [any unit]
    """
    plain = trimmed(text).replace("\u2212", "-")
    if point == ",":
        plain = "?" if "." in plain else plain.replace(",", ".")
    parts = plain.replace("E", "e").split("e")
    if len(parts) > 2 or (len(parts) == 2 and not _is_exponent(parts[1])):
        return None
    halves = _unsigned(parts[0]).split(".")
    if len(halves) > 2 or not all(half == "" or is_digits(half) for half in halves):
        return None
    return None if "".join(halves) == "" else float(plain)


def _unsigned(text: str) -> str:
    letters = letters_of(text)
    if len(letters) > 0 and letters[0] in "+-":
        return "".join(letters[1:])
    return text


def _is_exponent(text: str) -> bool:
    plain = _unsigned(text)
    return is_digits(plain) and len(plain) <= 2


def whole_of(text: str) -> float:
    """A whole number of at most four digits; -1 where the text is none."""
    return float(text) if is_digits(text) and len(text) <= 4 else -1.0
