"""The typefaces of the sheet, as style rules that contain the files themselves, and the letters they have.

It reads font files from their packages and nothing else; no page layout lives here.
"""

from __future__ import annotations

import base64
from functools import cache
from importlib import import_module
from itertools import repeat
from pathlib import Path

# (family on the page, package, file, weight). Upright only: the italics in these packages have no Greek or Cyrillic.
FACES = (
    ("Sheet Sans", "font_source_sans_pro", "SourceSansPro-Regular.ttf", 400),
    ("Sheet Sans", "font_source_sans_pro", "SourceSansPro-Semibold.ttf", 600),
    ("Sheet Serif", "font_source_serif_pro", "SourceSerifPro-Regular.ttf", 400),
    ("Sheet Serif", "font_source_serif_pro", "SourceSerifPro-Semibold.ttf", 600),
)

WIDE = 0.7  # for a letter that the typeface lacks


def file_of(package: str, name: str) -> Path:
    """Where a typeface is on this machine.

    Args:
        package: the importable name of its package [name]
        name: its file name [name]

    Returns:
        the file [path]

    Raises:
        ModuleNotFoundError: the package is not installed.
    """
    module = import_module(package)
    return Path(str(module.__file__)).parent / "files" / name


@cache
def style() -> str:
    """The `@font-face` rules of all typefaces, each file inside as a `data:` address.

    Returns:
        style rules, about 1.4 MB [CSS]
    """
    rules = []
    for family, package, name, weight in FACES:
        coded = base64.b64encode(file_of(package, name).read_bytes()).decode("ascii")
        rules.append(
            f'@font-face {{ font-family: "{family}"; font-weight: {weight}; font-style: normal;'
            f' src: url("data:font/ttf;base64,{coded}") format("truetype") }}'
        )
    return "\n".join(rules)


@cache
def letters() -> frozenset[int]:
    """The code points that every typeface on the sheet can draw.

    Returns:
        code points [set]
    """
    from fontTools.ttLib import TTFont

    common: set[int] | None = None
    for _, package, name, _ in FACES:
        with TTFont(file_of(package, name), lazy=True) as face:
            points = set(face.getBestCmap())
        common = points if common is None else common & points
    return frozenset(common or ())


@cache
def _advances() -> dict[str, float]:
    """The width of each letter of the upright sans [share of the type size]."""
    from fontTools.ttLib import TTFont

    _, package, name, _ = FACES[0]
    with TTFont(file_of(package, name), lazy=True) as face:
        wide, size = face["hmtx"], face["head"].unitsPerEm
        return {chr(point): wide[glyph][0] / size for point, glyph in face.getBestCmap().items()}


def width(text: str) -> float:
    """The width of a line of the upright sans, without kerning.

    Args:
        text: a line; a letter that the typeface lacks counts as a wide one [text]

    Returns:
        its width [share of the type size]
    """
    return sum(map(_advances().get, text, repeat(WIDE)))
