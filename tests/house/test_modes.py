"""Who may read what the desk writes: only its owner, after a whole day, even if the system would allow everyone."""

from __future__ import annotations

import json
import os
import stat
from collections.abc import Iterator
from pathlib import Path

import pytest

from demo import phone as demo_phone
from sync import rulebook as books
from tests.records.test_photos import name_of, photo
from tests.server.test_photo_routes import send
from tests.support import children
from tests.support.ops import Phone, body_of, framed
from tests.support.service import LAYBY, Service, hand_in_day


@pytest.fixture
def permissive() -> Iterator[None]:
    """A system that takes nothing away from the modes a program asks for."""
    before = os.umask(0)
    yield
    os.umask(before)


def layby(folder: Path, *words: str) -> None:
    """Run `layby`; it must end well."""
    done = children.run([str(LAYBY), "--folder", str(folder), *words])
    assert done.returncode < 2, done.stdout + done.stderr


def a_whole_day(service: Service, aside: Path) -> None:
    """Captured, a photo and half of one, refused entries, a file by hand, sheets made, approved and left as mail."""
    day = demo_phone.load_day()
    hand_in_day(service, demo_phone.whole_day(books.load(), day).made)
    other = Phone()
    unsound = body_of(other.op(other.new_id(), "visit.open", {"wheels": 4})) + framed(b"{") + b"0" * 64 + b" {}\n"
    assert service.post("/sync", unsound)[0] == 200
    for content, sent in ((photo(1), None), (photo(2), 100)):
        assert send(service, name_of(content), (0, len(content)), content[:sent])[0] == 204
    part = aside / "part.txt"
    part.write_bytes(b"layby-bundle 1 a1de 1/1\n" + body_of(other.opening(other.new_id())))
    layby(service.folder, "receive", str(part))
    assert (aside / "part-receipt.txt").stat().st_mode & 0o077 == 0
    layby(service.folder, "evening", "--day", day["day"])
    layby(service.folder, "approve", "--all")
    layby(service.folder, "send")


def open_to_others(folder: Path) -> list[str]:
    """What in a folder isn't 0600 for a file or 0700 for a folder, including the folder itself."""
    found = [folder, *folder.rglob("*")]
    assert not any(path.is_symlink() for path in found)
    return [
        f"{stat.filemode(path.stat().st_mode)} {path}"
        for path in found
        if stat.S_IMODE(path.stat().st_mode) != (0o700 if path.is_dir() else 0o600)
    ]


def test_a_day_leaves_nothing_that_others_can_read(permissive: None, service: Service, tmp_path: Path) -> None:
    """While it is served and afterwards; with a torn tail and a damaged page set aside."""
    folder = service.folder
    a_whole_day(service, tmp_path)
    names = {path.relative_to(folder).parts[0] for path in folder.rglob("*")}
    assert {"journal.log", "pages", "photos", "sheets", "outgoing", "service.json", "layby.lock"} <= names
    assert open_to_others(folder) == []
    service.kill()
    with (folder / "journal.log").open("ab") as journal:
        journal.write(b"500 0123abcd torn")
    (folder / "pages" / "days" / f"{demo_phone.load_day()['day']}.json").write_text("{")
    service.start()
    layby(folder, "evening", "--day", demo_phone.load_day()["day"])
    assert [path.name for path in folder.glob("journal.torn-*")]
    assert list((folder / "pages" / "days").glob("*.unreadable-*"))
    assert open_to_others(folder) == []
    service.stop()
    assert open_to_others(folder) == []
    assert json.loads((folder / "checkpoint.json").read_text())["number"] >= 0
