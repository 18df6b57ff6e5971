"""A folder that an earlier version wrote, kept whole in `tests/vectors/folders`: it opens, works and says the same.

Version 0.1.0 wrote it, before its modules were put into rooms: two visits with photos and sent sheets, six erased
ones, a visit under an id past the year 9999, and an unfinished write at the journal's end.
"""

from __future__ import annotations

import zipfile
from datetime import date
from pathlib import Path

import pytest

from server import settings
from server.tasks.sheet_data import inputs_of
from sync import rulebook as books
from sync.records.logbook import Logbook
from tests.support import children
from tests.support.service import LAYBY, ROOT

EARLIER = ROOT / "tests" / "vectors" / "folders" / "0.1.0-before-rooms.zip"
DAY = "2026-06-12"
LATE = "e67fde0f-9c01-7abc-8def-000000000001"


@pytest.fixture
def earlier(folder: Path) -> Path:
    """The folder, taken out."""
    with zipfile.ZipFile(EARLIER) as packed:
        packed.extractall(folder)
    return folder


def layby(folder: Path, *words: str) -> str:
    """What a command says."""
    return str(children.run([LAYBY, "--folder", folder, *words], check=True).stdout)


def files_of(folder: Path) -> dict[str, bytes]:
    """The folder's sheets."""
    return {path.name: path.read_bytes() for path in (folder / "sheets").glob("*.pdf")}


def test_its_evening_leaves_the_sheets_as_they_are(earlier: Path) -> None:
    """What was sent is never drawn over or sent again; a later judgement is a revision that waits for a person."""
    before = files_of(earlier)
    listing = layby(earlier, "evening", "--day", DAY)
    assert len(before) == 2
    assert files_of(earlier).items() >= before.items()
    assert "sent, " not in listing
    assert listing.count("made, ") == 3
    assert "Nadia Ferreira-Holt" in listing


def test_its_sheets_say_more_only_where_the_judgement_is_later(earlier: Path) -> None:
    """The revision in a sheet's name is a digest over all that it says: the same visit gives the same one again."""
    names = {path.name.rpartition("-")[2].removesuffix(".pdf") for path in (earlier / "sheets").glob("*.pdf")}
    with Logbook(earlier, books.load(), floor_bytes=0) as logbook:
        chosen = settings.load(earlier)["sheet"]
        visits = [visit for visit in logbook.visits_on(date.fromisoformat(DAY)) if visit != LATE]
        drawn = [[inputs_of(logbook, visit, logbook.rulebook, chosen).revision for visit in visits] for _ in range(2)]
    assert drawn[0] == drawn[1]
    assert not {revision[:12] for revision in drawn[0]} & names


def test_what_was_unfinished_lies_aside(earlier: Path) -> None:
    """The half record at the journal's end is in a side file, and the journal reads soundly."""
    tail = (earlier / "journal.log").read_bytes().rpartition(b"\n")[2]
    layby(earlier, "find", "Okello")
    (aside,) = earlier.glob("journal.torn-*")
    assert tail.startswith(b"512 ")
    assert aside.read_bytes() == tail


def test_it_is_searched_erased_and_rebuilt(earlier: Path) -> None:
    """A visit past the year 9999 among the others; who was erased stays so, through a rebuild, too."""
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
