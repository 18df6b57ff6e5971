"""Long lines: broken inside their longest brackets, or after `&&`, `||`, `+` and the like, as a person would do it.

Only white space is added, and never where JavaScript would end a statement by itself.
"""

from __future__ import annotations

import re

WIDTH = 110
OPEN, CLOSE = "([{", ")]}"
TOKEN = re.compile(r'"(?:\\.|[^"\\])*"|`(?:\\.|[^`\\])*`|[()\[\]{}]|, | (?:&&|\|\||\+|\?|:|=>) ')


def laid_out(text: str, indent: str) -> list[str]:
    """A line, or the lines it is broken into."""
    if len(indent) + len(text) <= WIDTH:
        return [indent + text]
    group = _longest_group(text)
    pieces = _pieces(text, {" && ", " || ", " ? ", " : "}) or _pieces(text, {" + "})
    if pieces and (group is None or group[1] - group[0] < len(text) / 2):
        return [indent + pieces[0], *(line for piece in pieces[1:] for line in laid_out(piece, indent + "  "))]
    if group is None:
        return [indent + text]
    start, end = group
    pieces = _pieces(text[start:end], {", "}) or _pieces(text[start:end], {" && ", " || "}) or [text[start:end].strip()]
    inner = [line for piece in pieces for line in laid_out(piece, indent + "  ")]
    return [indent + text[:start].rstrip(), *inner, indent + text[end:].lstrip()]


def _longest_group(text: str) -> tuple[int, int] | None:
    """Where the content of the longest outermost brackets starts and ends."""
    group, depth, start = None, 0, 0
    for token in TOKEN.finditer(text):
        if token[0] in OPEN:
            start = token.end() if depth == 0 else start
            depth += 1
        elif token[0] in CLOSE:
            depth -= 1
            if depth == 0 and (group is None or token.start() - start > group[1] - group[0]):
                group = (start, token.start())
    return group


def _pieces(text: str, marks: set[str]) -> list[str]:
    """A text cut after each of these marks outside brackets; empty if there is none."""
    pieces, depth, start = [], 0, 0
    for token in TOKEN.finditer(text):
        if token[0] in OPEN:
            depth += 1
        elif token[0] in CLOSE:
            depth -= 1
        elif token[0] in marks and depth == 0:
            pieces.append(text[start : token.end()].strip())
            start = token.end()
    return [*pieces, text[start:].strip()] if pieces else []
