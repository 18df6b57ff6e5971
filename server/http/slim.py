"""Removes what a phone needn't load of a text: comments, types, white space without meaning.

What stays means the same; a line that could be misread is left as it is. Nothing is compressed or served here.
"""

from __future__ import annotations

import re

# Comments that have their lines to themselves, types between code, empty lines and leading white space. No module has a
# text of several lines or of types in which these would be part of the text; a test makes sure.
_BLANK = re.compile(rb"^[ \t\n]+", re.MULTILINE)
_TYPE = re.compile(rb"/\*\* @type [^*\n]*\*/ ?")
_BLOCK = rb"/\*(?:[^*]|\*(?!/))*\*/"
_ENDS = re.compile(rb"(?<=[{};])\n")  # of a rule's lines; a style sheet needs them no more than the white space
_COMMENTS = {
    ".html": re.compile(rb"<!--.*?-->"),
    ".webmanifest": re.compile(rb"(?!)"),  # no comment in JSON; the white space goes
    ".svg": re.compile(rb"<!--.*?-->"),
    ".js": re.compile(rb"^[ \t]*(?://.*|" + _BLOCK + rb"[ \t]*)$", re.MULTILINE),
    ".css": re.compile(rb"^[ \t]*" + _BLOCK + rb"[ \t]*$", re.MULTILINE),
}
# The texts of a line, and signs that need no space around them; a sign that may be doubled, such as +, is left alone.
_TEXT = re.compile(rb"""\"(?:\\.|[^\"\\])*\"|'(?:\\.|[^'\\])*'|`(?:\\.|[^`\\])*`""")
_OPEN, _CLOSING = (b"{", b"(", b"[", b",", b";"), (b"}", b")", b"]", b".", b"?", b":")
_SIGN = re.compile(rb" ?(=>|===|!==|<=|>=|&&|\|\||\?\?|[+*-]=|[=?:{}(),;*]) ?")


def slim(content: bytes, suffix: str) -> bytes:
    """A file of the page without whole-line comments, types and leading white space [bytes].

    Args:
        content: the file [UTF-8 bytes]
        suffix: the ending of its name, which determines its comments
    """
    comment = _COMMENTS.get(suffix)
    if comment is None:
        return content
    plain = _BLANK.sub(b"", _TYPE.sub(b"", comment.sub(b"", content)))
    return _ENDS.sub(b"", plain) if suffix == ".css" else plain


def squeezed(module: bytes) -> bytes:
    """A slim module without the spaces around its signs, and without the line ends that mean nothing.

    A line goes on behind the one before where that ends in a sign after which, or it begins with one before which,
    JavaScript ends no statement by itself (ECMA-262, 12.10).
    """
    joined: list[bytes] = []
    for line in map(_line, module.split(b"\n")):
        goes_on = joined and b"//" not in joined[-1] and (joined[-1].endswith(_OPEN) or line.startswith(_CLOSING))
        joined[-1:] = [joined[-1] + line] if goes_on else [*joined[-1:], line]
    return b"\n".join(joined)


def _line(line: bytes) -> bytes:
    """A line; unchanged if it has a slash outside its texts (a pattern, a comment) or a text within a text."""
    texts = _TEXT.findall(line)
    if b"/" in _TEXT.sub(b"", line) or any(text.count(b"{") != text.count(b"}") for text in texts):
        return line
    code = (_SIGN.sub(rb"\1", part) for part in _TEXT.split(line))
    return b"".join(part for pair in zip(code, [*texts, b""], strict=True) for part in pair)
