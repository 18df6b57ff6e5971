"""Removes what a phone needn't load of a text: comments, types, white space without meaning, long local names.

What stays means the same. Nothing is compressed or served here.
"""

from __future__ import annotations

import re

try:
    import minify
except ImportError:
    # Its makers offer no build for Apple's own processors; a phone then loads a tenth more.
    minify = None

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
_MINIFIED = {".js": "text/javascript", ".css": "text/css"}


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


def shortest(content: bytes, suffix: str) -> bytes:
    """A script or a style sheet as a phone loads it: with short names inside its functions, where that can be had.

    Args:
        content: the file [UTF-8 bytes]
        suffix: ".js" or ".css"

    Returns:
        the same, shorter; what a module exports keeps its name [UTF-8 bytes]
    """
    if minify is None:
        return slim(content, suffix)
    return str(minify.string(_MINIFIED[suffix], content.decode("utf-8"))).encode("utf-8")
