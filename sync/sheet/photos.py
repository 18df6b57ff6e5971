"""The sheet's block of photos: which are shown, in which order, and what their captions say.

It reads no picture; which photos have arrived is told to it.
"""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from sync.sheet.wording import Phrases, clock, sentence

# A visit's course; what bears no role or an unknown one comes last.
ORDER = ("arrival", "before", "after", "label", "other")


def photos(visit: dict[str, Any], arrived: Collection[str], phrases: Phrases) -> dict[str, Any] | None:
    """The photos by role and time; one whose bytes are still on the phone is named, not shown.

    Args:
        visit: the visit [design shape]
        arrived: the photos whose bytes are here, whole [SHA-256 digests in hex]
        phrases: words of the reader [object]

    Returns:
        {kind, title, photos: [{sha256, role, more, alt}], unreadable, notes}, None without a photo [plain data]
    """
    taken = sorted(visit.get("photos") or [], key=_place)
    if not taken:
        return None
    shown = [_captioned(photo, phrases) for photo in taken if photo["sha256"] in arrived]
    waiting = [_named(photo, phrases) for photo in taken if photo["sha256"] not in arrived]
    notes = [phrases.say("photos", "waiting", list=phrases.row(waiting))] if waiting else []
    return {"kind": "photos", "title": phrases.say("section", "photos"), "photos": shown,
            "unreadable": phrases.say("photos", "unreadable"), "notes": notes}


def _place(photo: dict[str, Any]) -> tuple[int, str, str]:
    role = photo.get("role") or "other"
    return (ORDER.index(role) if role in ORDER else len(ORDER), str(photo.get("at") or ""), str(photo["sha256"]))


def _captioned(photo: dict[str, Any], phrases: Phrases) -> dict[str, str]:
    role = phrases.code("photo_role", photo.get("role") or "other")
    more = clock(photo["at"]) if photo.get("at") else ""
    return {"sha256": photo["sha256"], "role": sentence(role), "more": more,
            "alt": phrases.say("photos", "alt", which=_named(photo, phrases))}


def _named(photo: dict[str, Any], phrases: Phrases) -> str:
    role = phrases.code("photo_role", photo.get("role") or "other")
    return phrases.say("photos", "named", role=role, time=clock(photo["at"])) if photo.get("at") else role
