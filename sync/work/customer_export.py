"""The data on one customer, handed out as one zip file of files that a person can read.

Nothing here finds the data or changes a record; `customer_data` finds it.
"""

from __future__ import annotations

import json
import zipfile
from datetime import UTC, datetime
from pathlib import Path
from typing import TypedDict

from sync.disk.safe_files import replacement
from sync.errors import NotOwn
from sync.language.reader import words_of
from sync.records.image_headers import NotAPhoto, head_of
from sync.records.locks import ALONE
from sync.records.logbook import Logbook
from sync.records.photos import file_of
from sync.records.store.files import Files
from sync.work.customer_data import CustomerData, CustomerVisit, data_about, row

ENDINGS = {"image/jpeg": "jpg", "image/png": "png", "image/webp": "webp"}
OF_VISITS = ("sheets", "outgoing", "spool")


class Export(TypedDict):
    """What was written: the file, its visits, how many photos; and which files are links and were left out."""

    file: str
    visits: list[CustomerVisit]
    photos: int
    links: list[str]


def export(logbook: Logbook, wanted: str, file: Path, now_ms: int) -> Export:
    """Write all data on a customer into one zip file of readable files.

    Args:
        logbook: the open logbook [Logbook]
        wanted: as for `data_about` [text]
        file: where to write; replaced whole [path]
        now_ms: the time to note [ms since 1970]

    Returns:
        the file, the visits, how many photos, the names in the logbook's folder that were not followed [Export]

    Raises:
        UnknownCustomer: nothing is found.
        OSError: the disk did not take it; an earlier file of that name stands.
    """
    with logbook.claim(ALONE):
        data = data_about(logbook, wanted)
        photos, links = _write(logbook, data, file, now_ms)
    rows = [row(visit) for visit in data.visits.values()]
    return {"file": str(file), "visits": rows, "photos": photos, "links": links}


def _write(logbook: Logbook, data: CustomerData, file: Path, now_ms: int) -> tuple[int, list[str]]:
    source = _Source(logbook.files)
    with replacement(file) as zip_file, zipfile.ZipFile(zip_file, "w", zipfile.ZIP_DEFLATED) as archive:
        at = datetime.fromtimestamp(now_ms / 1000, UTC).isoformat(timespec="minutes")
        archive.writestr("README.txt", words_of(logbook.rulebook).say("desk.export.about", at=at))
        return _put_all(archive, logbook, data, source), source.links


class _Source:
    """The files of a logbook, and those that should have been read but are links."""

    def __init__(self, files: Files) -> None:
        self.files = files
        self.links: list[str] = []

    def content(self, name: str) -> bytes | None:
        """The content of a file; None if there is none, or if it is a link."""
        try:
            return self.files.read(name)
        except FileNotFoundError:
            return None
        except NotOwn as error:
            self.links.append(str(error.values["file"]))
            return None


def _put_all(archive: zipfile.ZipFile, logbook: Logbook, data: CustomerData, source: _Source) -> int:
    for visit_id, visit in data.visits.items():
        archive.writestr(f"visits/{visit_id}.json", json.dumps(visit, ensure_ascii=False, indent=1) + "\n")
        for folder in OF_VISITS:
            # The names of a visit's files begin with its id.
            for name in logbook.files.names(folder, f"{visit_id}-"):
                content = source.content(name)
                if content is not None:
                    into = "sheets" if folder == "sheets" else "letters"
                    archive.writestr(f"{into}/{name.removeprefix(f'{folder}/')}", content)
    entries: dict[str, bytes] = {}
    for filed in data.entries:
        name = filed.outline["visit"] or "beside-the-visits"
        entries[name] = entries.get(name, b"") + filed.record.line + b"\n"
    for name, lines in entries.items():
        archive.writestr(f"entries/{name}.txt", lines)
    return _put_photos(archive, logbook, data, source)


def _put_photos(archive: zipfile.ZipFile, logbook: Logbook, data: CustomerData, source: _Source) -> int:
    """All photos that the visits show, including those that another visit shows too."""
    count = 0
    names = {one["sha256"] for visit in data.visits.values() for one in visit.get("photos") or []} | data.photos
    for name in sorted(names):
        content = source.content(file_of(name))
        if content is not None:
            archive.writestr(f"photos/{name}.{_ending(content)}", content)
            count += 1
    return count


def _ending(content: bytes) -> str:
    try:
        return ENDINGS[head_of(content).media_type]
    except NotAPhoto:
        return "bin"
