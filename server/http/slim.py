"""What a phone need not load of a text: comments, types, white space that means nothing.

What stays means what it meant; a line that could be misread is left as it is. Nothing is packed or served here.
"""

from __future__ import annotations

import re

# Comments that have their lines to themselves, types between code, empty lines and the white space that lines begin
# with; no module here has a text of several lines or of types, where these would be part of the text, which a test
# looks after.
_BLANK = re.compile(rb"^[ \t\n]+", re.MULTILINE)
_TYPE = re.compile(rb"/\*\* @type [^*\n]*\*/ ?")
_BLOCK = rb"/\*(?:[^*]|\*(?!/))*\*/"
_ENDS = re.compile(rb"(?<=[{};])\n")  # of a rule's lines, which a style needs no more than it needs the white space
_COMMENTS = {
    ".html": re.compile(rb"<!--.*?-->"),
    ".webmanifest": re.compile(rb"(?!)"),  # no comment in JSON; the white space goes
    ".svg": re.compile(rb"<!--.*?-->"),
    ".js": re.compile(rb"^[ \t]*(?://.*|" + _BLOCK + rb"[ \t]*)$", re.MULTILINE),
    ".css": re.compile(rb"^[ \t]*" + _BLOCK + rb"[ \t]*$", re.MULTILINE),
}
# The texts of a line, and what needs no space about it; a sign that may stand twice, such as +, is left alone.
_TEXT = re.compile(rb"""\"(?:\\.|[^\"\\])*\"|'(?:\\.|[^'\\])*'|`(?:\\.|[^`\\])*`""")
_SIGN = re.compile(rb" ?(=>|===|!==|<=|>=|&&|\|\||\?\?|[+*-]=|[=?:{}(),;*]) ?")


def slim(content: bytes, suffix: str) -> bytes:
    """A file of the page without comments of their own, types, and white space in front [bytes].

    Args:
        content: the file [UTF-8 bytes]
        suffix: the ending of its name, by which its comments are known
    """
    comment = _COMMENTS.get(suffix)
    if comment is None:
        return content
    plain = _BLANK.sub(b"", _TYPE.sub(b"", comment.sub(b"", content)))
    return _ENDS.sub(b"", plain) if suffix == ".css" else plain


def squeezed(module: bytes) -> bytes:
    """A slim module without the spaces about its signs; its lines stay, so that it can be read beside the sources."""
    return b"\n".join(map(_line, module.split(b"\n")))


def _line(line: bytes) -> bytes:
    """A line, as it is where it has a stroke outside its texts (a pattern, a comment) or a text within a text."""
    texts = _TEXT.findall(line)
    if b"/" in _TEXT.sub(b"", line) or any(text.count(b"{") != text.count(b"}") for text in texts):
        return line
    code = (_SIGN.sub(rb"\1", part) for part in _TEXT.split(line))
    return b"".join(part for pair in zip(code, [*texts, b""], strict=True) for part in pair)
