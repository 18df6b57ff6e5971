"""The commands that carry records in and out: files from a phone, and what became of them.

Nothing is taken in or written into the logbook here; the errands do that, wherever the folder is held.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from server.deskwork import desk

Arguments = argparse.Namespace
Taken = dict[str, Any]

ENTRY_WORDS = {
    "accepted": "filed", "conflict": "filed but in disagreement with another", "rejected": "refused",
    "deferred": "waiting for others", "unreadable": "unreadable",
}
PHOTO_WORDS = {"accepted": "kept", "rejected": "refused", "deferred": "not whole"}


def receive(arguments: Arguments) -> int:
    """Take in files carried over by hand and leave a receipt beside each."""
    from sync.storage import write_whole

    paths = [Path(name).resolve() for name in arguments.files]
    for path in paths:
        path.open("rb").close()
    taken = desk(arguments, "receive", files=[str(path) for path in paths])
    for path, one in zip(paths, taken, strict=True):
        receipt = path.with_name(f"{path.stem}-receipt.txt")
        write_whole(receipt, one["receipt"].encode())
        print(f"{path.name}, part {one['part'].replace('/', ' of ')}: {_told(one)}")
        for fault in one["faults"]:
            print(f"       line {fault['line']}: {fault['detail']}")
        print(f"       The receipt for the phone: {receipt}")
    missing = _missing(taken)
    for words in missing:
        print(words)
    return 1 if missing or any(one["faults"] for one in taken) else 0


def _told(one: Taken) -> str:
    entries = [f"{count} {ENTRY_WORDS[status]}" for status, count in one["entries"].items() if count]
    photos = [f"{count} {PHOTO_WORDS[status]}" for status, count in one["photos"].items() if count]
    told = f"entries {', '.join(entries)}" if entries else "no entry"
    told += f"; photos {', '.join(photos)}" if photos else ""
    return f"{told}; {one['repeats']} of them known before." if one["repeats"] else f"{told}."


def _missing(taken: list[Taken]) -> list[str]:
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
