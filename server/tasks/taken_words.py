"""What became of files that were carried over by hand, in words for the terminal and for the desk's page.

Nothing is taken in here; what it tells of was counted elsewhere.
"""

from __future__ import annotations

from collections.abc import Sequence

from sync.wire.responses import Tally


class Taken(Tally):
    """What became of one part of a phone's entries."""

    device: str
    part: str


ENTRY_WORDS = {
    "accepted": "filed", "conflict": "filed but in disagreement with another", "rejected": "refused",
    "deferred": "waiting for others", "unreadable": "unreadable",
}
PHOTO_WORDS = {"accepted": "kept", "rejected": "refused", "deferred": "not whole"}


def told_of(one: Taken) -> str:
    """What became of one file's entries and photos, as a sentence without its beginning [text]."""
    entries = [f"{count} {ENTRY_WORDS[status]}" for status, count in one["entries"].items() if count]
    photos = [f"{count} {PHOTO_WORDS[status]}" for status, count in one["photos"].items() if count]
    told = f"entries: {', '.join(entries)}" if entries else "no entry"
    told += f"; photos: {', '.join(photos)}" if photos else ""
    return f"{told}; {one['repeats']} of them known before." if one["repeats"] else f"{told}."


def missing_parts(taken: Sequence[Taken]) -> list[str]:
    """Which parts were not among the files, in words; what a part holds needs no other part to be filed."""
    given: dict[tuple[str, int], set[int]] = {}
    for one in taken:
        part, parts = (int(number) for number in one["part"].split("/"))
        given.setdefault((one["device"], parts), set()).add(part)
    words = []
    for (device, parts), found in given.items():
        lost = [str(part) for part in range(1, parts + 1) if part not in found]
        if lost:
            which = f"part {', '.join(lost)} of {parts}"
            words.append(f"Of device {device}, {which} was not among the files. Carry it over.")
    return words
