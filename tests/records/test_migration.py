"""A folder of format 1 is converted to this one: what its files said is kept, and a kill at any call changes nothing.

Version 0.1.0 itself wrote the folder; the expected values are read from its files by hand.
"""

from __future__ import annotations

import json
import random
import shutil
import tempfile
import zipfile
from pathlib import Path
from typing import Any

import pytest

from sync.records.logbook import Logbook
from sync.records.sheet_records import SheetRecords
from sync.work.troubles import troubles
from tests.crash.day import without_keeper
from tests.crash.disk import VARIANTS, Call, Disk, Variant, read_in, write_out
from tests.crash.recorder import Recorder
from tests.crash.replay import MEMORY
from tests.support.service import ROOT

Books = dict[str, Any]
EARLIER = ROOT / "tests" / "vectors" / "folders" / "0.1.0-before-rooms.zip"
# The folder ends with an unfinished write, which is set aside.
TORN = b"\n512 "
HANDED = 1_795_867_182_990
LEFT_OUT = ("layby.lock",)


@pytest.fixture
def earlier(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder, unpacked; one sheet waits for the mail, and one letter was handed over."""
    without_keeper(monkeypatch)
    with zipfile.ZipFile(EARLIER) as packed:
        packed.extractall(folder)
    shutil.rmtree(folder / "photos")
    path = folder / "sheetbook" / "2026-06-13.json"
    book = json.loads(path.read_bytes())
    [row] = book["sheets"].values()
    row["states"][-1] = {"state": "queued", "at": row["states"][-1]["at"], "reason": None}
    path.write_text(json.dumps(book))
    (folder / "sheetbook" / "underway.json").write_text(json.dumps({
        "underway": {"1": {"visit": row["visit"], "revision": row["revision"]}}, "handed": {"1": {"at": HANDED}}}))
    return folder


def said(folder: Path) -> dict[str, Any]:
    """What the files of format 1 say."""
    books = [json.loads(path.read_bytes()) for path in sorted((folder / "sheetbook").glob("2*.json"))]
    memory = json.loads((folder / "erasures.json").read_bytes())
    journal = (folder / "journal.log").read_bytes()
    return {
        "sheets": [row for book in books for row in book["sheets"].values()],
        "underway": [(row["visit"], row["revision"]) for book in books for row in book["sheets"].values()
                     if row["states"][-1]["state"] in ("approved", "queued")],
        "erasures": memory["erasures"], "hashes": set(memory["hashes"]), "handed": [HANDED],
        "journal": journal[: journal.rindex(TORN) + 1],
    }


def answered(folder: Path, rulebook: Books) -> dict[str, Any]:
    """What the logbook over the folder says about the same."""
    with Logbook(folder, rulebook, floor_bytes=0) as logbook:
        assert logbook.store.refusal is None
        sheets = SheetRecords(logbook)
        visits = sorted({path.name[:36] for path in (folder / "sheets").glob("*.pdf")})
        with logbook.lock:
            hashes = set(logbook.view("erased/all").erased)
        return {
            "sheets": [record for visit in visits for record in sheets.records(visit)],
            "underway": sheets.underway(), "erasures": logbook.erased.erasures, "hashes": hashes,
            "handed": sheets.handed(None, HANDED - 1), "journal": (folder / "journal.log").read_bytes(),
        }


def same(answer: dict[str, Any], before: dict[str, Any]) -> None:
    """Check that all is as the files said, and that the new journal begins with the old one, to the byte."""
    assert answer["journal"].startswith(before["journal"])
    assert {**answer, "journal": b""} == {**before, "journal": b""}


def test_the_logbook_says_what_the_files_said(earlier: Path, rulebook: Books) -> None:
    """States of sheets, what waits, letters, erasures; each is noted once, however often the folder is opened."""
    before = said(earlier)
    assert (len(before["sheets"]), len(before["underway"]), len(before["erasures"])) == (2, 1, 6)
    first = answered(earlier, rulebook)
    same(first, before)
    # Two sheets, one letter, and the erasures noted twice.
    assert first["journal"][len(before["journal"]):].count(b'"status":"noted"') == 5
    assert answered(earlier, rulebook) == first
    assert not [name for name in ("sheetbook", "notices", "erasures.json") if (earlier / name).exists()]


def crashes(earlier: Path, rulebook: Books, count: int | None) -> int:
    """Crash the first start at some of its calls, or all, and start again; returns how many were tried."""
    before, start = said(earlier), read_in(earlier.parent, LEFT_OUT)
    with Recorder(earlier.parent) as recorder:
        expected = answered(earlier, rulebook)
    calls = [event for event in recorder.events if isinstance(event, Call)]
    dice = random.Random(3)
    ends = sorted(dice.sample(range(1, len(calls) + 1), count or len(calls)))
    disk, done = Disk(start), 0
    for number, end in enumerate(ends):
        for call in calls[done:end]:
            disk.apply(call)
        done, variant = end, VARIANTS[number % len(VARIANTS)]
        with tempfile.TemporaryDirectory(dir=MEMORY if MEMORY.is_dir() else earlier.parent) as place:
            write_out(disk.left(variant, random.Random(end)), Path(place))
            _same_after(Path(place) / earlier.name, rulebook, (before, expected), (calls[end - 1], variant))
    return len(ends)


def _same_after(
    folder: Path, rulebook: Books, wanted: tuple[dict[str, Any], dict[str, Any]], crash: tuple[Call, Variant]
) -> None:
    try:
        answer = answered(folder, rulebook)
        same(answer, wanted[0])
        assert answer["journal"] == wanted[1]["journal"]
    except Exception as error:
        error.add_note(f"crash behind {crash[0]!r:.200}; left: {crash[1]}")
        raise


def test_a_crash_at_a_call_of_it_changes_nothing(earlier: Path, rulebook: Books) -> None:
    """A sample of calls, each with one of the things that a crash leaves: the next start ends with the same bytes."""
    assert crashes(earlier, rulebook, 60) == 60


@pytest.mark.long
def test_a_crash_at_any_call_of_it_changes_nothing(earlier: Path, rulebook: Books) -> None:
    """Every call."""
    assert crashes(earlier, rulebook, None) > 100


@pytest.mark.parametrize("content", [b"{", b"", b"[]", b'{"sheets": 4}',
                                     b'{"sheets": {"1": {"visit": "x"}}, "handed": {"1": {"at": "x"}}}'])
@pytest.mark.parametrize("name", ["sheetbook/2026-06-12.json", "sheetbook/underway.json", "erasures.json"])
def test_a_file_that_cannot_be_read_is_set_aside_and_named(
    earlier: Path, rulebook: Books, name: str, content: bytes
) -> None:
    """What the others say is taken over."""
    before = said(earlier)
    (earlier / name).write_bytes(content)
    answer = answered(earlier, rulebook)
    assert answer["journal"].startswith(before["journal"])
    [aside] = earlier.glob("*.unreadable-*")
    assert aside.name.startswith(f"{Path(name).name}.unreadable-")
    assert aside.read_bytes() == content
    with Logbook(earlier, rulebook, floor_bytes=0) as logbook:
        [trouble] = [one for one in troubles(logbook) if one["code"] == "trouble_aside"]
    assert aside.name in str(trouble["values"]["files"])
    if name != "erasures.json":
        assert (answer["erasures"], answer["hashes"]) == (before["erasures"], before["hashes"])
    if name != "sheetbook/2026-06-12.json":
        assert answer["sheets"] == before["sheets"]
        assert answer["underway"] == before["underway"]
