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
