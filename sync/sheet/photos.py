"""The sheet's block of photos: which are shown, in which order, and their captions.

It reads no picture; the caller says which photos have arrived.
"""

from __future__ import annotations

from collections.abc import Collection
from typing import Literal

from sync.kernel.visit import Photo, Visit
from sync.sheet.sheet_data import CaptionedPhoto, PhotosBlock
from sync.sheet.wording import Phrases, clock, sentence

# The course of a visit; a photo without a role, or with an unknown one, comes last.
ORDER = ("arrival", "before", "after", "label", "other")
# Taken for the desk, which types the chart off it; the page belongs to its maker and goes to no customer.
DESKS_OWN = ("chart",)


def pair(visit: Visit, arrived: Collection[str], phrases: Phrases) -> PhotosBlock | None:
    """The first photo before the work and the first after it, side by side on page one.

    Args:
        visit: the visit [Visit]
        arrived: the photos whose bytes are completely here [SHA-256 digests in hex]
        phrases: words of the reader [Phrases]

    Returns:
        the block; None if neither has arrived [PhotosBlock]
    """
    large = _large(visit, arrived)
    return _block("pair", "", large, [], phrases) if large else None


def photos(visit: Visit, arrived: Collection[str], phrases: Phrases) -> PhotosBlock | None:
    """The others by role and time; one whose bytes are still on the phone is named, not shown.

    Args:
        visit: the visit [Visit]
        arrived: the photos whose bytes are completely here [SHA-256 digests in hex]
        phrases: words of the reader [Phrases]

    Returns:
        the block; None without another photo [PhotosBlock]
    """
    large = [photo["sha256"] for photo in _large(visit, arrived)]
    others = [photo for photo in sorted(visit.get("photos") or [], key=_place)
              if photo["sha256"] not in large and photo.get("role") not in DESKS_OWN]
    if not others:
        return None
    return _block("photos", phrases.say("section", "photos"), [photo for photo in others if photo["sha256"] in arrived],
                  [_named(photo, phrases) for photo in others if photo["sha256"] not in arrived], phrases)


def _large(visit: Visit, arrived: Collection[str]) -> list[Photo]:
    here = [photo for photo in sorted(visit.get("photos") or [], key=_place) if photo["sha256"] in arrived]
    first = {role: next((photo for photo in here if photo.get("role") == role), None) for role in ("before", "after")}
    return [photo for photo in first.values() if photo]


def _block(kind: Literal["pair", "photos"], title: str, shown: list[Photo], waiting: list[str],
           phrases: Phrases) -> PhotosBlock:
    return {"name": kind, "kind": kind, "title": title, "photos": [_captioned(photo, phrases) for photo in shown],
            "unreadable": phrases.say("photos", "unreadable"),
            "notes": [phrases.say("photos", "waiting", list=phrases.row(waiting))] if waiting else []}


def _place(photo: Photo) -> tuple[int, str, str]:
    role = photo.get("role") or "other"
    return (ORDER.index(role) if role in ORDER else len(ORDER), photo.get("at") or "", photo["sha256"])


def _captioned(photo: Photo, phrases: Phrases) -> CaptionedPhoto:
    role = phrases.code("photo_role", photo.get("role") or "other")
    more = clock(photo["at"]) if photo.get("at") else ""
    return {"sha256": photo["sha256"], "role": sentence(role), "more": more,
            "alt": phrases.say("photos", "alt", which=_named(photo, phrases))}


def _named(photo: Photo, phrases: Phrases) -> str:
    role = phrases.code("photo_role", photo.get("role") or "other")
    return phrases.say("photos", "named", role=role, time=clock(photo["at"])) if photo.get("at") else role
