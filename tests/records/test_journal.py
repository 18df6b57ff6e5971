"""The journal: what was appended reads back, a torn tail is set aside whole, damage in the middle costs only itself."""

from __future__ import annotations

import json
import sys
import textwrap
import zlib
from pathlib import Path

import pytest

from sync.errors import DiskFull, JournalFailed
from sync.records.embedded.framing import framed, unframed
from sync.records.embedded.journal import Journal
from sync.records.store.interface import Damage, Entry, RecordDamaged
from tests.crash.recorder import Recorder
from tests.support import children

ROOT = Path(__file__).resolve().parents[2]
RESULT = {"id": "x", "status": "accepted", "digest": "ÄÖ ü"}


def entry(number: int) -> Entry:
    """A future record; its line contains what could be mistaken for a frame."""
    return Entry(1_000 + number, RESULT, b"%d op \n12 0123abcd line" % number)


def record(number: int) -> bytes:
    """One record as it is in the file."""
    return framed(entry(number))


@pytest.fixture
def journal(tmp_path: Path) -> Journal:
    """An empty journal."""
    return Journal(tmp_path / "journal.log", floor_bytes=0)


def numbers(journal: Journal, start: int = 0) -> list[int]:
    """The numbers of the records that read back."""
    return [one.received_ms - 1_000 for one in journal.records(start)]


def test_a_record_is_framed_by_length_and_checksum() -> None:
    """Read here by hand: length, CRC-32 (its published check value first), time, result with its length, line."""
    assert zlib.crc32(b"123456789") == 0xCBF43926
    head, rest = record(7).split(b" ", 1)
    checksum, payload = rest[:8], rest[9:-1]
    assert int(head) == len(payload)
    assert int(checksum, 16) == zlib.crc32(payload)
    received, size, rest = payload.split(b" ", 2)
    assert (int(received), json.loads(rest[: int(size)])) == (1007, RESULT)
    assert rest[int(size) :] == b" 7 op \n12 0123abcd line"
    assert record(7).endswith(b"\n")


def test_what_was_appended_reads_back(journal: Journal) -> None:
    """In order, from the start and from any record, and one by its place."""
    records = journal.append([entry(1), entry(2)]) + journal.append([entry(3)])
    assert numbers(journal) == [1, 2, 3]
    assert numbers(journal, records[1].number) == [2, 3]
    assert list(journal.records()) == records
    second = journal.read(records[1].number)
    assert (second.received_ms, second.result, second.line) == (1002, RESULT, b"2 op \n12 0123abcd line")


def test_every_torn_tail_is_set_aside_whole(tmp_path: Path) -> None:
    """The last write is cut at each of its bytes: what was intact stays, the rest is in a side file, byte for byte."""
    sound, last = record(1) + record(2), record(3)
    for cut in range(1, len(last)):
        folder = tmp_path / str(cut)
        folder.mkdir()
        (folder / "journal.log").write_bytes(sound + last[:cut])
        journal = Journal(folder / "journal.log", floor_bytes=0)
        assert numbers(journal) == [1, 2]
        aside = journal.set_torn_tail_aside(5)
        assert aside is not None
        assert aside.read_bytes() == last[:cut]
        assert (folder / "journal.log").read_bytes() == sound
        journal.append([entry(4)])
        assert numbers(journal) == [1, 2, 4]
        journal.close()


def test_a_tail_of_zeros_is_set_aside(tmp_path: Path) -> None:
    """After a power cut a file may have its length and none of its content."""
    (tmp_path / "journal.log").write_bytes(record(1) + bytes(5000))
    journal = Journal(tmp_path / "journal.log", floor_bytes=0)
    assert numbers(journal) == [1]
    aside = journal.set_torn_tail_aside(5)
    assert aside is not None
    assert aside.read_bytes() == bytes(5000)


def test_a_sound_journal_has_no_tail_to_set_aside(journal: Journal) -> None:
    """Nothing is made."""
    journal.append([entry(1)])
    assert numbers(journal) == [1]
    assert journal.set_torn_tail_aside(5) is None


@pytest.mark.parametrize("place", range(0, len(record(2)), 3))
def test_damage_in_the_middle_costs_only_itself(tmp_path: Path, place: int) -> None:
    """One byte of the second of three records is changed: the first and the third stay, nothing is cut."""
    whole = bytearray(record(1) + record(2) + record(3))
    at = len(record(1)) + place
    whole[at] ^= 0x15
    (tmp_path / "journal.log").write_bytes(whole)
    journal = Journal(tmp_path / "journal.log", floor_bytes=0)
    assert numbers(journal) == [1, 3]
    assert journal.damage == [Damage(len(record(1)), len(record(1) + record(2)))]
    assert journal.set_torn_tail_aside(5) is None
    assert (tmp_path / "journal.log").read_bytes() == whole
    with pytest.raises(RecordDamaged) as caught:
        journal.read(len(record(1)))
    assert caught.value.values["number"] == len(record(1))


def test_a_large_damaged_stretch_is_crossed(tmp_path: Path) -> None:
    """Three megabytes of noise, with line feeds and numbers in it, between two intact records."""
    noise = b"\n12 0123abcd " * 250_000
    (tmp_path / "journal.log").write_bytes(record(1) + noise + b"\n" + record(2))
    assert numbers(Journal(tmp_path / "journal.log", floor_bytes=0)) == [1, 2]


def test_a_disk_below_the_floor_takes_nothing(tmp_path: Path) -> None:
    """The floor is above what any disk has: refused, and the file is as before."""
    journal = Journal(tmp_path / "journal.log", floor_bytes=1 << 62)
    with pytest.raises(DiskFull) as caught:
        journal.append([entry(1)])
    assert caught.value.code == "disk_full"
    assert (tmp_path / "journal.log").read_bytes() == b""


def test_a_write_that_does_not_fit_leaves_nothing_behind(tmp_path: Path) -> None:
    """The process may write files of 100 kB: the batch that exceeds it is undone, the next small one accepted."""
    code = """
        import resource, signal, sys
        from pathlib import Path
        from sync.errors import DiskFull, JournalFailed
        from sync.records.embedded.journal import Journal
        from sync.records.store.interface import Entry
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, 100_000))
        journal = Journal(Path(sys.argv[1]) / "journal.log", floor_bytes=0)
        result = {"id": "x", "status": "accepted", "digest": ""}
        journal.append([Entry(1001, result, b"x" * 60_000)])
        try:
            journal.append([Entry(1002, result, b"y" * 30_000), Entry(1003, result, b"z" * 30_000)])
        except DiskFull:
            print("refused", journal.size, journal.path.stat().st_size)
        journal.append([Entry(1004, result, b"small")])
        print([record.received_ms for record in journal.records()])
    """
    command = [sys.executable, "-c", textwrap.dedent(code), str(tmp_path)]
    done = children.run(command, cwd=ROOT, check=True)
    size = len(framed(Entry(1001, {"id": "x", "status": "accepted", "digest": ""}, b"x" * 60_000)))
    assert done.stdout.splitlines() == [f"refused {size} {size}", "[1001, 1004]"]


def test_what_is_no_record_is_none() -> None:
    """Empty, short, another text, a length that lies."""
    for piece in (b"", b"5", b"hello\n", record(1)[:-1], record(1)[:-2] + b"\n", b"9" + record(1)):
        assert unframed(piece, 0) is None


def test_a_journal_whose_new_file_has_no_durable_name_takes_nothing_more(tmp_path: Path) -> None:
    """The folder's sync fails after the swap: nobody knows which file the disk has, so no entry is promised."""
    journal = Journal(tmp_path / "journal.log", floor_bytes=0)
    journal.append([entry(1), entry(2)])
    # The file's two syncs are good, the folder's is not.
    with Recorder(tmp_path, failing=2), pytest.raises(JournalFailed):
        journal.rewrite()
    with pytest.raises(JournalFailed):
        journal.append([entry(3)])
    assert numbers(journal) == [1, 2]
    journal.close()
    assert numbers(Journal(tmp_path / "journal.log", floor_bytes=0)) == [1, 2]
