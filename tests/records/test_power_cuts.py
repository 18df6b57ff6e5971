"""Power cuts on a real file system: what was acknowledged before the cut is there after it.

A file system is in an image on a loop device. A process files on it. It is stopped at a random moment, and the image is
copied as it is then: whatever the file system had not yet given to its device is lost, as in a power cut. The copy is
mounted, which replays the file system's own journal, and the logbook is opened on it. Only the system's administrator
may use loop devices; elsewhere these tests are skipped.
"""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import sys
import textwrap
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from sync.records.embedded.folder_files import FolderFiles
from sync.records.logbook import Logbook
from sync.records.photos import PhotoStore
from sync.records.sheet_records import SheetRecords
from sync.work.intake import receive
from tests.records.test_photos import name_of
from tests.support import children
from tests.support.ops import JUNE_12, Phone, line_of
from tests.support.service import ROOT

IMAGE_BYTES = 96 * 1024 * 1024

# Files visits with photos and sheets, one after another, and reports after each what it was promised.
FILING = """
    import json, sys
    from pathlib import Path
    from sync import rulebook
    from sync.records.logbook import Logbook
    from sync.records.embedded.folder_files import FolderFiles
    from sync.records.photos import PhotoStore
    from sync.records.sheet_records import SheetRecords
    from sync.work.intake import receive
    from tests.records.test_photos import name_of, photo
    from tests.support.ops import JUNE_12, Phone, line_of
    folder = Path(sys.argv[1])
    phone = Phone("beef")
    with Logbook(folder, rulebook.load(), floor_bytes=0) as logbook:
        sheets = SheetRecords(logbook)
        for number in range(10_000):
            visit = phone.new_id()
            for op in (phone.opening(visit), phone.plate(visit, f"P{number}"), phone.test(visit, vent_c=7.5)):
                [result] = receive(logbook, line_of(op), JUNE_12)["results"]
                print(json.dumps(["op", line_of(op).decode(), result["status"]]), flush=True)
            if number % 5 == 0:
                content = photo(number)
                PhotoStore(FolderFiles(folder, floor_bytes=0)).append(name_of(content), 0, len(content), content)
                print(json.dumps(["photo", name_of(content)]), flush=True)
                sheets.keep(visit, "ab" * 32, b"%PDF-1.7", JUNE_12)
                print(json.dumps(["sheet", visit]), flush=True)
            if number % 7 == 0:
                logbook.flush()
"""


def may_mount() -> bool:
    """Whether loop devices are available here."""
    return os.name == "posix" and os.geteuid() == 0 and all(
        shutil.which(name) for name in ("losetup", "mkfs.ext4", "mount")) and Path("/dev/loop-control").exists()


@contextmanager
def mounted(image: Path, place: Path) -> Iterator[Path]:
    """The file system of an image, for the duration of the block."""
    place.mkdir(exist_ok=True)
    command = ["mount", "-o", "loop", str(image), str(place)]
    if children.run(command).returncode:
        pytest.skip("this system lets nobody mount an image")
    try:
        yield place
    finally:
        children.run(["umount", str(place)], check=True)


@pytest.mark.skipif(not may_mount(), reason="loop devices are for the system's administrator")
def test_what_was_acknowledged_outlives_a_power_cut(
    tmp_path: Path, rulebook: dict[str, Any], request: pytest.FixtureRequest
) -> None:
    """Cut at random moments: each op is on file with its result, each photo whole, each sheet as it was."""
    image, dice = tmp_path / "image", random.Random(20_261_128)
    with image.open("wb") as file:
        file.truncate(IMAGE_BYTES)
    children.run(["mkfs.ext4", "-q", str(image)], check=True)
    cuts = 60 if request.config.getoption("--long") else 4
    promised = [0]
    with mounted(image, tmp_path / "disk") as disk:
        command = [sys.executable, "-c", textwrap.dedent(FILING), str(disk / "layby")]
        with children.beside(command, cwd=ROOT) as filing:
            for number in range(cuts):
                filing.until(lambda: len(filing.stdout.splitlines()) >= promised[-1] + 20, "more entries")
                time.sleep(dice.random() / 4)
                filing.send_signal(signal.SIGSTOP)
                said = filing.stdout
                shutil.copyfile(image, tmp_path / f"cut-{number}")
                filing.send_signal(signal.SIGCONT)
                lines = said[: said.rfind(b"\n") + 1].splitlines()
                promised.append(len(lines))
                holds(tmp_path / f"cut-{number}", tmp_path / "after", lines, rulebook)
                (tmp_path / f"cut-{number}").unlink()
            filing.kill()
    assert promised == sorted(set(promised))


def holds(image: Path, place: Path, lines: list[bytes], rulebook: dict[str, Any]) -> None:
    """Check that the disk after a cut holds what was promised before it."""
    with mounted(image, place) as disk, Logbook(disk / "layby", rulebook, floor_bytes=0) as logbook:
        sheets, store = SheetRecords(logbook), PhotoStore(FolderFiles(disk / "layby", floor_bytes=0))
        assert logbook.store.damage == []
        for what, *rest in map(json.loads, lines):
            if what == "op":
                [result] = receive(logbook, rest[0].encode(), JUNE_12)["results"]
                assert (result["status"], result["repeat"]) == (rest[1], True)
            elif what == "photo":
                assert name_of(store.bytes_of(rest[0]) or b"") == rest[0]
            else:
                [record] = sheets.records(rest[0])
                assert sheets.pdf(record) == b"%PDF-1.7"
        later = Phone("a1de", ms=JUNE_12 + 5)
        [result] = receive(logbook, line_of(later.opening(later.new_id())), JUNE_12)["results"]
        assert result["status"] == "accepted"
