"""A process makes durable itself whatever it answers for: a former one may have been killed inside its own fsync.

No disk is simulated, unlike in tests/crash: real processes are killed in a real system call, and the calls of a later
one are written down.
"""

from __future__ import annotations

import signal
import sys
import textwrap
from pathlib import Path
from typing import Any

import pytest

from sync.records.embedded.folder_files import FolderFiles
from sync.records.logbook import Logbook
from sync.records.photos import PhotoStore
from sync.work import intake
from tests.records.test_photos import name_of, photo
from tests.support import children
from tests.support.ops import Phone, body_of
from tests.support.service import ROOT

Books = dict[str, Any]

# Wraps the system's fsync, nothing of Layby: it kills at the named file or folder, or writes down which one it is.
PRELUDE = """
    import os, signal, sys
    from pathlib import Path
    from sync import rulebook
    from sync.errors import JournalFailed, LaybyError
    from sync.records.embedded.folder_files import FolderFiles
    from sync.records.logbook import Logbook
    from sync.records.pairing import Claim, Pairings
    from sync.records.photos import PhotoStore
    from sync.work import intake

    folder, given = Path(sys.argv[1]), Path(sys.argv[2]).read_bytes()
    real_fsync = os.fsync

    def name_of(handle):
        return os.path.relpath(os.readlink(f"/proc/self/fd/{handle}"), folder)

    def kill_at(name, there="."):
        def fsync(handle):
            if name_of(handle) == name and (folder / there).exists():
                os.kill(os.getpid(), signal.SIGKILL)
            real_fsync(handle)
        os.fsync = fsync

    def fail_at(name):
        def fsync(handle):
            if name_of(handle) == name:
                raise OSError(5, "Input/output error")
            real_fsync(handle)
        os.fsync = fsync

    def fsync(handle):
        real_fsync(handle)
        print("durable", name_of(handle), flush=True)
    os.fsync = fsync

    def opened():
        return Logbook(folder, rulebook.load(), floor_bytes=0)
"""


def process(folder: Path, given: bytes, code: str, *more: str) -> tuple[int, list[str]]:
    """A separate process that runs the prelude and some lines: how it ended, and what it printed."""
    path = folder.parent / "given"
    path.write_bytes(given)
    command = [sys.executable, "-c", textwrap.dedent(PRELUDE) + textwrap.dedent(code), str(folder), str(path), *more]
    done = children.run(command, cwd=ROOT)
    assert done.returncode in (0, -signal.SIGKILL), done.stderr
    return done.returncode, done.stdout.splitlines()


def batch() -> bytes:
    """A visit of three operations, as one phone hands it in."""
    phone = Phone()
    visit = phone.new_id()
    return body_of(phone.opening(visit), phone.plate(visit, "ALD 4127"), phone.test(visit, vent_c=7.5))


KILLED = """
    with opened() as logbook:
        kill_at("journal.log")
        intake.receive(logbook, given, 5)
"""
HAND_IN = """
    with opened() as logbook:
        print("asked")
        for result in intake.receive(logbook, given, 5)["results"]:
            print("answered", result["status"], result["repeat"])
"""


@pytest.mark.parametrize("before", ["nothing", "a visit"])
def test_an_entry_is_durable_before_another_process_answers_for_it(folder: Path, before: str) -> None:
    """Killed in the fsync of the journal: the bytes are in the file. The next process writes them again into a new
    file, durable together with its name, and then answers.
    """
    if before == "a visit":
        phone = Phone("beef")
        process(folder, body_of(phone.opening(phone.new_id())), HAND_IN)
    given = batch()
    assert process(folder, given, KILLED)[0] == -signal.SIGKILL
    assert given.splitlines()[-1] in (folder / "journal.log").read_bytes()
    ended, told = process(folder, given, HAND_IN)
    assert ended == 0
    assert [line for line in told if line.startswith("answered")] == ["answered accepted True"] * 3
    assert told.index("durable .journal.log.new") < told.index("asked")
    assert "durable ." in told[told.index("durable .journal.log.new") : told.index("asked")]


def test_what_was_proved_is_not_written_anew(folder: Path) -> None:
    """A clean end proves the whole journal: the next start writes none of it again."""
    given = batch()
    process(folder, given, HAND_IN)
    _, told = process(folder, given, HAND_IN)
    assert told.count("answered accepted True") == 3
    assert "durable .journal.log.new" not in told


def test_a_process_killed_as_it_opens_the_journal_changes_nothing_of_it(folder: Path) -> None:
    """The second process is killed in the fsync of its own start: the third doesn't trust it either."""
    given = batch()
    process(folder, given, KILLED)
    assert process(folder, given, 'kill_at(".journal.log.new")\nopened().__enter__()\n')[0] == -signal.SIGKILL
    _, told = process(folder, given, HAND_IN)
    assert told.index("durable .journal.log.new") < told.index("asked")
    assert told.count("answered accepted True") == 3


def test_what_a_disk_did_not_take_is_not_left_for_the_next_process_to_answer_for(folder: Path) -> None:
    """After a failed fsync the system may report the next as good without the bytes, so they leave the file."""
    given = batch()
    code = """
        with opened() as logbook:
            fail_at("journal.log")
            try:
                intake.receive(logbook, given, 5)
            except JournalFailed:
                print("not filed", (folder / "journal.log").stat().st_size)
            try:
                intake.receive(logbook, given, 5)
            except JournalFailed:
                print("nor later")
    """
    assert process(folder, given, code)[1][-2:] == ["not filed 0", "nor later"]
    assert process(folder, given, HAND_IN)[1].count("answered accepted False") == 3


def test_a_start_that_cannot_prove_the_journal_promises_nothing(folder: Path) -> None:
    """Killed in its fsync, and the next start can't write it again: it can be read, and nothing is promised."""
    given = batch()
    process(folder, given, KILLED)
    code = """
        fail_at(".journal.log.new")
        with opened() as logbook:
            print("refused", logbook.store.refusal.code, len(list(logbook.store.records())))
            try:
                intake.receive(logbook, given, 5)
            except LaybyError as error:
                print("nothing promised", error.code)
    """
    assert process(folder, given, code)[1][-2:] == ["refused journal_failed 3", "nothing promised journal_failed"]
    assert process(folder, given, HAND_IN)[1].count("answered accepted True") == 3


def test_a_page_that_was_renamed_is_durable_before_the_checkpoint_counts_on_it(folder: Path) -> None:
    """Killed after the rename of a page: the next process finds the page complete, has nothing to write on it, and
    moves the checkpoint past it.
    """
    given = batch()
    code = """
        with opened() as logbook:
            intake.receive(logbook, given, 5)
            kill_at("pages/days")
            logbook.flush()
    """
    assert process(folder, given, code)[0] == -signal.SIGKILL
    assert list((folder / "pages" / "days").glob("*.json"))
    _, told = process(folder, given, "with opened() as logbook:\n    logbook.flush()\n")
    assert told.index("durable pages/days") < told.index("durable .checkpoint.json.new")


PHOTO = """
from sync.work.bundle_intake import receive_bundle
sha = sys.argv[3]
store = PhotoStore(FolderFiles(folder, floor_bytes=0))

def by_hand():
    from tests.work.test_bundle_intake import blob_lines, bundle_of
    with opened() as logbook:
        receive_bundle(logbook, bundle_of("beef", b"".join(blob_lines(given))), 5)
"""


@pytest.mark.parametrize("ask", ["store.offset(sha)", "store.append(sha, len(given), len(given), b'')", "by_hand()"])
def test_a_photo_that_was_renamed_is_durable_before_it_is_called_whole(folder: Path, ask: str) -> None:
    """Killed after the rename of a complete photo: asked for its offset, sent again or brought by hand, the folder that
    names it comes first.
    """
    content = photo()
    sha = name_of(content)
    last_piece = """
        store.append(sha, 0, len(given), given[:900])
        kill_at(f"photos/{sha[:2]}")
        store.append(sha, 900, len(given), given[900:])
    """
    assert process(folder, content, PHOTO + textwrap.dedent(last_piece), sha)[0] == -signal.SIGKILL
    assert (folder / "photos" / sha[:2] / sha).read_bytes() == content
    _, told = process(folder, content, PHOTO + f"{ask}\nprint('answered')\n", sha)
    assert told.index(f"durable photos/{sha[:2]}") < told.index("answered")
    assert told.index("durable photos") < told.index("answered")


BESIDE = {
    "a phone revoked": (".", 'Pairings(FolderFiles(folder)).revoke("van", 9)'),
    "a sheet's file": ("sheets", 'SheetRecords(logbook).keep(visit, "ab" * 32, b"%PDF", 5)'),
    "a letter in the spool": ("spool", 'SheetRecords(logbook).spool("letter.eml", b"To: n@mail.example")'),
}


@pytest.mark.parametrize("what", BESIDE)
def test_what_stands_beside_the_journal_is_durable_before_the_next_answer(folder: Path, what: str) -> None:
    """Killed after the rename of the file: the next process reads it, so it makes the folder's entries durable."""
    place, act = BESIDE[what]
    prepared = f"""
        from sync.records.sheet_records import SheetRecords
        visit = "{Phone().new_id()}"
        made = Pairings(FolderFiles(folder)).offer(5)
        Pairings(FolderFiles(folder)).pair(Claim(made.code, "beef", "van"), 6)
        with opened() as logbook:
            kill_at("{place}")
            {act}
    """
    assert process(folder, b"", prepared)[0] == -signal.SIGKILL
    _, told = process(folder, b"", 'with opened():\n    print("open")\n')
    assert told.index(f"durable {place}") < told.index("open")


def test_what_was_erased_stays_so(folder: Path, rulebook: Books) -> None:
    """Every folder from which something was removed is durable before the erasure is no longer written down."""
    content = photo()
    phone = Phone()
    visit = phone.new_id()
    named = phone.op(visit, "visit.set", {"customer": {"name": "N. Example"}}, {"/customer/name": None})
    added = phone.op(visit, "photo.add", {"sha256": name_of(content), "role": "before"})
    with Logbook(folder, rulebook, floor_bytes=0) as logbook:
        results = intake.receive(logbook, body_of(phone.opening(visit), named, added), 5)["results"]
        assert [result["status"] for result in results] == ["accepted"] * 3
        PhotoStore(FolderFiles(folder, floor_bytes=0)).append(name_of(content), 0, len(content), content)
    code = """
        from sync.work import erasure
        def told(event, arguments):
            if event == "os.remove":
                print("removed", os.path.relpath(arguments[0], folder), flush=True)
        sys.addaudithook(told)
        with opened() as logbook:
            erasure.erase(logbook, "N. Example", 7)
            print("erased")
    """
    _, told = process(folder, b"", code)
    inside = told[: told.index("removed erasure-under-way.json")]
    place = f"photos/{name_of(content)[:2]}"
    at = inside.index(f"removed {place}/{name_of(content)}")
    assert f"durable {place}" in inside[at:]


def test_an_erasure_that_is_begun_anew_is_written_down_durably_first(folder: Path, rulebook: Books) -> None:
    """Killed after the rename of the erasure plan: the next start makes that durable first of all."""
    phone = Phone()
    visit = phone.new_id()
    named = phone.op(visit, "visit.set", {"customer": {"name": "N. Example"}}, {"/customer/name": None})
    with Logbook(folder, rulebook, floor_bytes=0) as logbook:
        intake.receive(logbook, body_of(phone.opening(visit), named), 5)
    code = """
        from sync.work import erasure
        with opened() as logbook:
            kill_at(".", "erasure-under-way.json")
            erasure.erase(logbook, "N. Example", 7)
    """
    assert process(folder, b"", code)[0] == -signal.SIGKILL
    assert (folder / "erasure-under-way.json").exists()
    _, told = process(folder, b"", 'with opened():\n    print("open")\n')
    assert told.index("durable .") < told.index("durable journal.log")
