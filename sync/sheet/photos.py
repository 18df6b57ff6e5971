"""The sheet's block of photos: which are shown, in which order, and what their captions say.

It reads no picture; which photos have arrived is told to it.
"""

from __future__ import annotations

from collections.abc import Collection

from sync.kernel.visit import Photo, Visit
from sync.sheet.sheet_data import CaptionedPhoto, PhotosBlock
from sync.sheet.wording import Phrases, clock, sentence

# A visit's course; what bears no role or an unknown one comes last.
ORDER = ("arrival", "before", "after", "label", "other")


def photos(visit: Visit, arrived: Collection[str], phrases: Phrases) -> PhotosBlock | None:
    """The photos by role and time; one whose bytes are still on the phone is named, not shown.

    Args:
        visit: the visit [Visit]
        arrived: the photos whose bytes are here, whole [SHA-256 digests in hex]
        phrases: words of the reader [Phrases]

    Returns:
        the block, None without a photo [PhotosBlock]
    """
    in_order = sorted(visit.get("photos") or [], key=_place)
    if not in_order:
        return None
    shown = [_captioned(photo, phrases) for photo in in_order if photo["sha256"] in arrived]
    waiting = [_named(photo, phrases) for photo in in_order if photo["sha256"] not in arrived]
    notes = [phrases.say("photos", "waiting", list=phrases.row(waiting))] if waiting else []
    return {"name": "photos", "kind": "photos", "title": phrases.say("section", "photos"), "photos": shown,
            "unreadable": phrases.say("photos", "unreadable"), "notes": notes}


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
