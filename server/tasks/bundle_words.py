"""What became of files that were carried over by hand, in words for the terminal and for the desk's page.

Nothing is taken in here; what it tells of was counted elsewhere.
"""

from __future__ import annotations

from collections.abc import Sequence

from server.tasks.messages import PartName
from sync.wire.responses import Tally

ENTRY_WORDS = {
    "accepted": "filed", "conflict": "filed but in disagreement with another", "rejected": "refused",
    "deferred": "waiting for others", "unreadable": "unreadable",
}
PHOTO_WORDS = {"accepted": "kept", "rejected": "refused", "deferred": "not whole"}


def outcome_of(tally: Tally) -> str:
    """What became of one file's entries and photos, as a sentence without its beginning [text]."""
    entries = [f"{count} {ENTRY_WORDS[status]}" for status, count in tally["entries"].items() if count]
    photos = [f"{count} {PHOTO_WORDS[status]}" for status, count in tally["photos"].items() if count]
    text = f"entries: {', '.join(entries)}" if entries else "no entry"
    text += f"; photos: {', '.join(photos)}" if photos else ""
    return f"{text}; {tally['repeats']} of them known before." if tally["repeats"] else f"{text}."


def faults_of(tally: Tally) -> list[str]:
    """What is wrong in one file, a line each, the last with the number of those that are not listed [texts]."""
    lines = [f"Line {fault['line']}: {fault['detail']}" for fault in tally["faults"]]
    return [*lines, f"And {tally['more']} more."] if tally["more"] else lines


def missing_parts(files: Sequence[PartName]) -> list[str]:
    """Which parts were not among the files, in words; what a part holds needs no other part to be filed."""
    present: dict[tuple[str, int], set[int]] = {}
    for file in files:
        part, parts = (int(number) for number in file["part"].split("/"))
        present.setdefault((file["device"], parts), set()).add(part)
    words = []
    for (device, parts), numbers in present.items():
        missing = [str(part) for part in range(1, parts + 1) if part not in numbers]
        if missing:
            which = f"part {', '.join(missing)} of {parts}"
            words.append(f"Of device {device}, {which} was not among the files. Carry it over.")
    return words
