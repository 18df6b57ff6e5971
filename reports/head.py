"""The head of page one: the business's logo beside its name, and how much higher that makes the page.

It sets nothing; the millimetres here go with those of sheet.css.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from reports import drawn, heights
from reports.sheet_data import Heading, Sheet

# A head or a party with more text than this goes below the other instead of beside it.
TEXT_MOST = 200
# The logo fits into this, as high as a name with a line below it, and keeps a distance from both [mm].
WIDE, HIGH, GAP, BELOW = 42.0, 11.0, 4.0, 1.5
# The share of the name's side, and how high the other one is [mm].
WHO, WHAT = 0.66, 9.1


class Logo(NamedTuple):
    """A logo with its bytes inside, what it shows, and its size on paper [mm]."""

    address: str
    alt: str
    width: float
    height: float


class Head(NamedTuple):
    """How the head is set: its sides below each other, the logo, the width left for the name, what it adds [mm]."""

    stacked: bool
    logo: Logo | None
    who: float
    more: float


def of_customer(sheet: Sheet, pictures: Mapping[str, bytes]) -> Head:
    """The head of page one.

    Args:
        sheet: its content [Sheet]
        pictures: the photos, and the logo, by their digests [JPEGs]

    Returns:
        how it is set; without its logo if that can't be drawn [Head]
    """
    top = sheet["heading"]
    stacked = sum(map(len, (*top["lines"], *top["beside"], top["name"]))) > TEXT_MOST
    logo, whole = _logo(sheet, pictures), heights.WIDTHS[sheet["paper"]] * WHO
    if logo is None:
        return Head(stacked, None, whole, 0.0)
    if stacked:
        return Head(stacked, logo, whole, logo.height + BELOW)
    who = whole - logo.width - GAP
    more = max(_high(top, who), logo.height) - max(_high(top, whole), WHAT)
    return Head(stacked, logo, who, max(0.0, more))


def _logo(sheet: Sheet, pictures: Mapping[str, bytes]) -> Logo | None:
    from reports import photos

    content = pictures.get(sheet["heading"].get("logo", ""))
    if content is None:
        return None
    width, height = photos.size(content)
    scale = min(WIDE / width, HIGH / height)
    alt = sheet["heading"]["name"] or sheet["title"]
    return Logo(drawn.inline(content), alt, round(width * scale, 2), round(height * scale, 2))


def _high(top: Heading, width: float) -> float:
    """The name at 16 pt, which is set bolder than the others, and the lines below it at 8.5 pt [mm]."""
    name = heights.lines(top["name"], 17.0, width) * 16.0 * 1.2
    return (name + sum(heights.lines(text, 8.5, width) for text in top["lines"]) * 8.5 * 1.4) * heights.POINT
