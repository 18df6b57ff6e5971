"""Backup and restore: of one moment while others file, verified member by member, restored whole or not at all."""

from __future__ import annotations

import hashlib
import json
import os
import random
import sys
import textwrap
import threading
import zipfile
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from demo import phone as demo_phone
from sync import rulebook as books
from sync.disk.folder_lock import FolderBusy, FolderLock
from sync.records.embedded.folder_files import FolderFiles
from sync.records.logbook import Logbook
from sync.records.photos import PhotoStore
from sync.records.sheet_records import SheetRecords
from sync.work.backup import BackupFailed, BackupInside, back_up
from sync.work.intake import receive
from sync.work.restore import BackupDamaged, FolderNotEmpty, restore, verify
from tests.records.test_photos import name_of, photo
from tests.support import children
from tests.support.ops import JUNE_12, Phone, body_of
from tests.support.service import LAYBY, ROOT, Service
from tests.support.threads import join

Books = dict[str, Any]


@pytest.fixture
def logbook(folder: Path, rulebook: Books) -> Iterator[Logbook]:
    """The demo's day filed, a complete photo and a partial one, a sheet, a letter, settings with a password."""
    with Logbook(folder, rulebook, floor_bytes=0) as opened:
        lines = [line for _, line in demo_phone.whole_day(rulebook, demo_phone.load_day()).made]
        for start in range(0, len(lines), 50):
            receive(opened, b"".join(lines[start : start + 50]), JUNE_12)
        store = PhotoStore(FolderFiles(folder, floor_bytes=0))
        store.append(name_of(photo(1)), 0, len(photo(1)), photo(1))
        store.append(name_of(photo(2)), 0, len(photo(2)), photo(2)[:90])
        sheets, visit = SheetRecords(opened), Phone().new_id()
        sheets.keep(visit, "ab" * 32, b"%PDF-1.7 of a sheet", JUNE_12)
        sheets.spool("letter.eml", b"To: somebody\r\n\r\n")
        (folder / "logo").write_bytes(photo(3))
        (folder / "settings.json").write_text(
            json.dumps({"smtp": {"host": "h", "from": "v@alder.example", "password": "s3cret"}})
        )
        yield opened


def content_of(folder: Path) -> dict[str, bytes]:
    """Every file of a folder by its name."""
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def picture(logbook: Logbook) -> dict[str, Any]:
    """Every visit as the logbook folds it."""
    day = demo_phone.load_day()
    return {visit: logbook.visit(visit) for visit in logbook.visits_on(date.fromisoformat(day["day"]))}


def test_a_restored_folder_is_the_folder(logbook: Logbook, tmp_path: Path, rulebook: Books) -> None:
    """Journal, photos, sheets, letters, logo and settings byte for byte; the pages made again say the same."""
    told = back_up(logbook, tmp_path / "b.zip", JUNE_12)
    assert (tmp_path / "b.zip").stat().st_mode & 0o077 == 0
    assert told["sha256"] == hashlib.sha256((tmp_path / "b.zip").read_bytes()).hexdigest()
    logbook.flush()
    before, expected = content_of(logbook.folder), picture(logbook)
    restore(tmp_path / "b.zip", tmp_path / "anew")
    after = content_of(tmp_path / "anew")
    gone = {name for name in before if name not in after}
    assert {name.split("/")[0] for name in gone} == {
        "pages", "checkpoint.json", "journal.proved", "layby.lock", "photos"}
    begun = name_of(photo(2))
    assert [name for name in gone if name.startswith("photos")] == [f"photos/{begun[:2]}/{begun}.part"]
    assert {name: after[name] for name in after if name != "settings.json"} == {
        name: before[name] for name in after if name != "settings.json"
    }
    assert after["logo"] == photo(3)
    assert len(expected) == 8
    with Logbook(tmp_path / "anew", rulebook, floor_bytes=0) as again:
        assert picture(again) == expected
    assert all(path.stat().st_mode & 0o077 == 0 for path in (tmp_path / "anew").rglob("*"))


def test_the_mail_password_stays_at_home(logbook: Logbook, tmp_path: Path) -> None:
    """The backup doesn't contain a byte of it, and says so; the other settings are there."""
    told = back_up(logbook, tmp_path / "b.zip", JUNE_12)
    restore(tmp_path / "b.zip", tmp_path / "anew")
    assert all(b"s3cret" not in content for content in content_of(tmp_path / "anew").values())
    assert json.loads((tmp_path / "anew" / "settings.json").read_text()) == {
        "smtp": {"host": "h", "from": "v@alder.example"}
    }
    assert told["left_out"] == ["smtp.password"]


@pytest.mark.parametrize("written", [
    '{"smtp": {"host": "h", "password": "s3cret"},}', '{"smtp": {"password": "s3cret"}, "smtp": {"host": "h"}}',
    '{"smtp": {"password": "s3cret", "password": null}}', '\xff{"smtp": {"password": "s3cret"}}',
])  # fmt: skip
def test_a_password_in_settings_with_a_slip_stays_at_home(logbook: Logbook, tmp_path: Path, written: str) -> None:
    """A comma too many, a section or a member named twice, a byte that isn't text: the rest is kept, and it is not."""
    (logbook.folder / "settings.json").write_text(written, "latin-1")
    back_up(logbook, tmp_path / "b.zip", JUNE_12)
    restore(tmp_path / "b.zip", tmp_path / "place")
    kept = b"".join(path.read_bytes() for path in (tmp_path / "place").rglob("*") if path.is_file())
    assert b"s3cret" not in kept
    assert (tmp_path / "place" / "journal.log").exists()


def test_a_backup_while_others_file_is_of_one_moment(logbook: Logbook, tmp_path: Path, rulebook: Books) -> None:
    """Four phones file and sheets are noted meanwhile: each backup holds only complete records, and everything that was
    acknowledged before it began.
    """
    ended = threading.Event()
    answered: list[str] = []

    def file(number: int) -> None:
        phone = Phone(f"{number:04x}", JUNE_12 + number * 10_000_000)
        while not ended.is_set():
            opening = phone.opening(phone.new_id())
            receive(logbook, body_of(opening), JUNE_12)
            answered.append(opening["visit"])

    threads = [threading.Thread(target=file, args=(number,), daemon=True) for number in range(4)]
    for thread in threads:
        thread.start()
    known = []
    for number in range(5):
        known.append(list(answered))
        back_up(logbook, tmp_path / f"{number}.zip", JUNE_12)
    ended.set()
    join(*threads)
    assert len(answered) > len(known[-1]) > len(known[0])
    for number, visits in enumerate(known):
        restore(tmp_path / f"{number}.zip", tmp_path / f"{number}")
        with Logbook(tmp_path / f"{number}", rulebook, floor_bytes=0) as again:
            assert again.store.damage == []
            assert not list((tmp_path / f"{number}").glob("journal.torn-*"))
            assert all(again.ops(visit) for visit in visits)


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A backup of one visit and a photo."""
    place = tmp_path_factory.mktemp("backup")
    with Logbook(place / "layby", books.load(), floor_bytes=0) as opened:
        phone = Phone()
        receive(opened, body_of(phone.opening(phone.new_id())), JUNE_12)
        PhotoStore(FolderFiles(place / "layby", floor_bytes=0)).append(name_of(photo(1)), 0, len(photo(1)), photo(1))
        back_up(opened, place / "sound.zip", JUNE_12)
    return place / "sound.zip"


def test_a_backup_cut_or_changed_anywhere_restores_nothing(sound: Path, tmp_path: Path) -> None:
    """Cut at many lengths, one bit changed at many places: refused with values for a sentence, or, if the changed bit
    doesn't matter (an attribute, a time), restored with every byte as it was.
    """
    whole = sound.read_bytes()
    dice = random.Random(8)
    restore(sound, tmp_path / "reference")
    expected = content_of(tmp_path / "reference")
    refused = 0
    for number in range(120):
        harmed = bytearray(whole[: dice.randrange(len(whole))] if number % 3 == 0 else whole)
        if number % 3:
            harmed[dice.randrange(len(harmed))] ^= 1 << dice.randrange(8)
        (tmp_path / "harmed.zip").write_bytes(harmed)
        place = tmp_path / f"place-{number}"
        try:
            restore(tmp_path / "harmed.zip", place)
        except BackupDamaged as error:
            refused += bool(error.values.get("what") or error.values["why"]) and not place.exists()
        else:
            assert number % 3
            assert content_of(place) == expected
    assert refused > 90
    assert [path.name for path in tmp_path.iterdir() if path.name.startswith(".")] == []


def with_members(sound: Path, target: Path, change: Any) -> Path:
    """The backup with its members and manifest changed by somebody who keeps the format."""
    with zipfile.ZipFile(sound) as archive:
        members = {name: archive.read(name) for name in archive.namelist() if name != "manifest.json"}
        manifest = json.loads(archive.read("manifest.json"))
    change(members, manifest)
    with zipfile.ZipFile(target, "w") as archive:
        for name, content in members.items():
            archive.writestr(zipfile.ZipInfo(name), content)
        archive.writestr("manifest.json", json.dumps(manifest))
    return target


@pytest.mark.parametrize("name", ["service.json", "checkpoint.json", "pages/days/2026-06-12.json", "layby.lock"])
def test_what_no_backup_holds_makes_it_unsound(sound: Path, tmp_path: Path, name: str) -> None:
    """A page that lies, or a note that would send the next command's data elsewhere, although its hash fits."""

    def smuggle(members: dict[str, bytes], manifest: dict[str, Any]) -> None:
        members[name] = b"{}"
        manifest["members"][name] = {"sha256": hashlib.sha256(b"{}").hexdigest(), "bytes": 2}

    with pytest.raises(BackupDamaged) as caught:
        restore(with_members(sound, tmp_path / "harmed.zip", smuggle), tmp_path / "place")
    assert caught.value.values["what"] == name
    assert not (tmp_path / "place").exists()


@pytest.mark.parametrize("name", ["../out", "/out", "a/../../out", "C:\\out", "a\\out", ".out", "a//out"])
def test_no_member_leaves_the_folder(sound: Path, tmp_path: Path, name: str) -> None:
    """A name that leads elsewhere makes the whole backup invalid, although its hash fits."""

    def smuggle(members: dict[str, bytes], manifest: dict[str, Any]) -> None:
        members[name] = b"x"
        manifest["members"][name] = {"sha256": hashlib.sha256(b"x").hexdigest(), "bytes": 1}

    harmed = with_members(sound, tmp_path / "harmed.zip", smuggle)
    with pytest.raises(BackupDamaged):
        restore(harmed, tmp_path / "deep" / "place")
    assert not list(tmp_path.rglob("*out"))
    assert not (tmp_path / "deep" / "place").exists()


@pytest.mark.parametrize("what", ["extra", "lacking", "newer", "swapped"])
def test_manifest_and_members_must_agree(sound: Path, tmp_path: Path, what: str) -> None:
    """One file too many, one too few, a later format, other content: refused, and the member is named."""

    def change(members: dict[str, bytes], manifest: dict[str, Any]) -> None:
        if what == "extra":
            members["extra"] = b"x"
        elif what == "lacking":
            del members["journal.log"]
        elif what == "newer":
            manifest["version"] = 2
        else:
            members["journal.log"] = members["journal.log"].swapcase()

    with pytest.raises(BackupDamaged) as caught:
        verify(with_members(sound, tmp_path / "harmed.zip", change))
    named = {"extra": "extra", "lacking": "journal.log", "newer": "manifest.json", "swapped": "journal.log"}
    assert named[what] in caught.value.values["what"]


def test_only_an_empty_folder_is_restored_into(sound: Path, tmp_path: Path, rulebook: Books) -> None:
    """An empty folder is accepted; one with a file isn't, and the file stays; nor is one that is held."""
    (tmp_path / "empty").mkdir()
    restore(sound, tmp_path / "empty")
    assert (tmp_path / "empty" / "journal.log").exists()
    (tmp_path / "used").mkdir()
    (tmp_path / "used" / "note.txt").write_text("mine")
    with pytest.raises(FolderNotEmpty):
        restore(sound, tmp_path / "used")
    assert [path.name for path in (tmp_path / "used").iterdir()] == ["note.txt"]
    lock = FolderLock(tmp_path / "held")
    lock.take()
    with pytest.raises(FolderBusy):
        restore(sound, tmp_path / "held")
    lock.give_back()


def test_a_restore_that_was_killed_leaves_no_half_folder(sound: Path, tmp_path: Path) -> None:
    """Killed while files are written: the folder doesn't exist; the next restore clears up and succeeds."""
    code = """
        import os, signal, sys
        from pathlib import Path
        from sync.work import restore
        count = int(sys.argv[3])
        take_out = restore._take_out
        def dying(*given):
            global count
            count -= 1
            if count < 0:
                os.kill(os.getpid(), signal.SIGKILL)
            take_out(*given)
        restore._take_out = dying
        restore.restore(Path(sys.argv[1]), Path(sys.argv[2]))
    """
    for files in (0, 1):
        command = [sys.executable, "-c", textwrap.dedent(code), str(sound), str(tmp_path / "place"), str(files)]
        assert children.run(command, cwd=ROOT).returncode == -9
        assert not (tmp_path / "place").exists()
    restore(sound, tmp_path / "place")
    assert (tmp_path / "place" / "journal.log").exists()
    assert not (tmp_path / ".place.restoring").exists()


def test_a_backup_that_cannot_be_written_leaves_the_earlier_one(logbook: Logbook, tmp_path: Path) -> None:
    """Into the logbook's own folder, into a folder that doesn't exist, onto a disk that takes no more."""
    back_up(logbook, tmp_path / "b.zip", JUNE_12)
    earlier = (tmp_path / "b.zip").read_bytes()
    with pytest.raises(BackupInside):
        back_up(logbook, logbook.folder / "b.zip", JUNE_12)
    with pytest.raises(BackupFailed):
        back_up(logbook, tmp_path / "nowhere" / "b.zip", JUNE_12)
    (tmp_path / ".b.zip.new").mkdir()
    with pytest.raises(BackupFailed):
        back_up(logbook, tmp_path / "b.zip", JUNE_12)
    os.rmdir(tmp_path / ".b.zip.new")
    assert (tmp_path / "b.zip").read_bytes() == earlier


def layby(*words: str) -> children.CompletedProcess[str]:
    """`layby` with its answer."""
    command = [str(LAYBY), *words]
    return children.run(command, cwd=ROOT)


def test_the_commands_while_the_service_runs(service: Service, tmp_path: Path) -> None:
    """The service does `layby backup`; `layby restore` makes a folder elsewhere; a service there knows every entry."""
    phone = Phone()
    opening = phone.opening(phone.new_id())
    assert service.post("/sync", body_of(opening))[0] == 200
    done = layby("--folder", str(service.folder), "backup", str(tmp_path / "b.zip"))
    assert done.returncode == 0, done.stderr
    assert "read back and compared" in done.stdout
    assert layby("--folder", str(service.folder), "restore", str(tmp_path / "b.zip")).returncode == 2
    done = layby("--folder", str(tmp_path / "anew"), "restore", str(tmp_path / "b.zip"))
    assert done.returncode == 0, done.stderr
    second = Service(tmp_path / "anew").start()
    # The phone's pairing was restored too; it shows the token that it has.
    second.tokens = dict(service.tokens)
    assert json.loads(second.post("/sync", body_of(opening))[2])["results"][0]["repeat"] is True
    second.stop()


@pytest.mark.parametrize("harm", ["cut", "other file", "missing", "no logbook"])
def test_what_goes_wrong_is_one_sentence(service: Service, tmp_path: Path, harm: str) -> None:
    """No traceback, status 2, the file named."""
    path = tmp_path / "b.zip"
    if harm == "no logbook":
        done = layby("--folder", str(tmp_path / "typo"), "backup", str(path))
        assert not (tmp_path / "typo").exists()
    else:
        layby("--folder", str(service.folder), "backup", str(path))
        if harm == "cut":
            path.write_bytes(path.read_bytes()[:-30])
        elif harm == "other file":
            path.write_text("fetch the hoses")
        else:
            path.unlink()
        done = layby("--folder", str(tmp_path / "anew"), "restore", str(path))
        assert not (tmp_path / "anew").exists()
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert len(done.stderr.splitlines()) == 1
    assert ("typo" if harm == "no logbook" else "b.zip") in done.stderr
