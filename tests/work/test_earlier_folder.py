"""A folder that an earlier version wrote, kept whole in `tests/vectors/folders`: it opens, works, loses nothing.

Version 0.1.0 wrote it, before its modules were put into rooms: two visits with photos and sent sheets, six erased ones,
a visit under an id past the year 9999, and an unfinished write at the journal's end.
"""

from __future__ import annotations

import re
import zipfile
from pathlib import Path

import pytest
from pypdf import PdfReader

from server import settings
from server.tasks.sheet_data import inputs_of
from sync import rulebook as books
from sync.records.embedded.folder_files import FolderFiles
from sync.records.logbook import Logbook
from tests.support import children
from tests.support.service import LAYBY, ROOT
from tests.support.sheet_visits import blocks_of

EARLIER = ROOT / "tests" / "vectors" / "folders" / "0.1.0-before-rooms.zip"
DAY = "2026-06-12"
LATE = "e67fde0f-9c01-7abc-8def-000000000001"


@pytest.fixture
def earlier(folder: Path) -> Path:
    """The folder, unpacked."""
    with zipfile.ZipFile(EARLIER) as packed:
        packed.extractall(folder)
    return folder


def layby(folder: Path, *words: str) -> str:
    """A command's output."""
    return str(children.run([LAYBY, "--folder", folder, *words], check=True).stdout)


def files_of(folder: Path) -> dict[str, bytes]:
    """The folder's sheets."""
    return {path.name: path.read_bytes() for path in (folder / "sheets").glob("*.pdf")}


def text_of(path: Path) -> str:
    """The text of a sheet, without line breaks and uncertainties."""
    text = " ".join(" ".join(page.extract_text() for page in PdfReader(path).pages).split())
    return re.sub(r" ± [0-9.]+", "", text)


def test_its_evening_leaves_the_sheets_as_they_are(earlier: Path) -> None:
    """What was sent is never replaced or sent again; a later judgement is a revision that waits for a person."""
    before = files_of(earlier)
    listing = layby(earlier, "evening", "--day", DAY)
    assert len(before) == 2
    assert files_of(earlier).items() >= before.items()
    assert "sent, " not in listing
    assert not list((earlier / "outgoing").glob("*"))
    assert listing.count("ready, ") == 3
    assert "Nadia Ferreira-Holt" in listing


def test_its_readings_are_said_as_they_were(earlier: Path) -> None:
    """Every reading, and every temperature derived from one, on today's sheet is on the sheet that was sent."""
    sent = {path.name[:36]: text_of(path) for path in (earlier / "sheets").glob("*.pdf")}
    with Logbook(earlier, books.load(), floor_bytes=0) as logbook:
        chosen = settings.load(FolderFiles(earlier))["sheet"]
        for visit, text in sent.items():
            data = inputs_of(logbook, visit, logbook.rulebook, chosen).data
            rows = blocks_of(data)["readings"]["rows"]
            assert len(rows) >= 9
            for row in rows:
                # Words change with the rulebook, figures don't.
                said = [cell["text"] for cell in row["cells"] if cell["text"][0].isdigit()]
                assert " ".join(said).replace("\u00a0", " ") in text


def test_what_was_unfinished_lies_aside(earlier: Path) -> None:
    """The half record at the journal's end is in a side file, and the journal reads without damage."""
    tail = (earlier / "journal.log").read_bytes().rpartition(b"\n")[2]
    layby(earlier, "find", "Okello")
    (aside,) = earlier.glob("journal.torn-*")
    assert tail.startswith(b"512 ")
    assert aside.read_bytes() == tail


def test_it_is_searched_erased_and_rebuilt(earlier: Path) -> None:
    """A visit past the year 9999 among the others; erased customers stay erased, even through a rebuild."""
    assert LATE in layby(earlier, "find", "Nadia")
    assert "Whitlock" not in layby(earlier, "find", DAY)
    layby(earlier, "rebuild")
    assert "Okello" in layby(earlier, "find", DAY)
    assert "Whitlock" not in layby(earlier, "find", DAY)
    layby(earlier, "erase", "Nadia Ferreira-Holt", "--yes")
    assert "Nadia" not in layby(earlier, "find", DAY)
    assert b"Nadia" not in (earlier / "journal.log").read_bytes()


def test_it_is_backed_up_and_restored(earlier: Path, tmp_path: Path) -> None:
    """A backup of it makes the same journal again."""
    layby(earlier, "backup", str(tmp_path / "backup.zip"))
    layby(tmp_path / "again", "restore", str(tmp_path / "backup.zip"))
    assert (tmp_path / "again" / "journal.log").read_bytes() == (earlier / "journal.log").read_bytes()
