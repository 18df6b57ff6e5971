"""The promises of a run up to a moment, and the questions to a desk that opens after a crash, to see them kept.

Nothing here knows which calls were made or what happened to them.
"""

from __future__ import annotations

import copy
import json
from collections import defaultdict
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sync.kernel import fold
from sync.records import receipts as receipt_lists
from sync.records.embedded.folder_files import FolderFiles
from sync.records.logbook import Logbook
from sync.records.pairing import Pairings
from sync.records.photos import PhotoAltered, PhotoStore
from sync.records.sheet_records import SheetRecords
from sync.work.changes import changes
from sync.work.restore import verify
from tests.crash.day import DESK, JUNE_12, TRACE, send
from tests.crash.disk import Tree
from tests.crash.recorder import Fact, Recorder

Books = dict[str, Any]
FILED = ("accepted", "conflict")


@dataclass
class Promises:
    """What was sent and what was promised; `erasing` holds visits that may or may not be gone."""

    sent: dict[bytes, str] = field(default_factory=dict)
    answers: dict[bytes, Any] = field(default_factory=dict)
    photos: dict[str, bytes] = field(default_factory=dict)
    photo_ends: dict[str, int] = field(default_factory=dict)
    sheets: dict[tuple[str, str], list[Any]] = field(default_factory=dict)
    files: dict[str, bytes] = field(default_factory=dict)
    handed: list[int] = field(default_factory=list)
    tokens: dict[str, str] = field(default_factory=dict)
    revoking: set[str] = field(default_factory=set)
    revoked: set[str] = field(default_factory=set)
    erasing: set[str] = field(default_factory=set)
    erased: set[str] = field(default_factory=set)
    backups: set[str] = field(default_factory=set)
    broken: list[str] = field(default_factory=list)
    # The lines that were filed before an erasure began; it knows nothing of later ones.
    filed: set[bytes] = field(default_factory=set)
    # The disk invented bytes that nobody wrote.
    is_garbled: bool = False
    # The disk calls old views new: the content of a journal may be taken in a second time, which changes no visit.
    is_lied_to: bool = False

    def copy(self) -> Promises:
        """The same promises, to be added to."""
        return copy.deepcopy(self)

    def take(self, fact: Fact) -> None:
        """Add what one fact of the run says."""
        what, key, value = fact
        match what:
            case "sent":
                self.sent.setdefault(key, value)
            case "answered" if value["status"] != "deferred":
                self.answers.setdefault(key, {name: one for name, one in value.items() if name != "repeat"})
                if not self.is_open(key):
                    self.filed.add(key)
            case "photo sent":
                self.photos[key] = value
            case "photo":
                self.photo_ends[key] = max(value, self.photo_ends.get(key, 0))
            case "sheet":
                self.sheets[key] = list(value)
            case "printed" | "letter":
                self.files[key] = value
            case "letter over":
                self.files.pop(key, None)
            case "handed":
                self.handed.append(key)
            case "paired":
                self.tokens[key] = value
            case "revoking" | "revoked" | "erasing" | "erased":
                getattr(self, what).add(key)
            case "backed up":
                self.backups.add(key)
            case "broken":
                self.broken.append(key)

    def is_open(self, text: str | bytes) -> bool:
        """Whether something with this id may or must be gone: it belongs to a visit that is being or was erased."""
        known = text.decode("utf-8", "replace") if isinstance(text, bytes) else text
        return any(visit in known for visit in self.erasing)


class Kept:
    """The questions to a desk's folder after a crash. Each raises AssertionError if a promise isn't kept.

    Args of the constructor:
        top: where the desk's folder is [path]
        rulebook: all books
        promises: what was promised; answers given here are added [Promises]
        recorder: where the answers given here are noted [Recorder]
    """

    def __init__(self, top: Path, rulebook: Books, promises: Promises, recorder: Recorder) -> None:
        self.top, self.folder, self.rulebook = top, top / DESK, rulebook
        self.promises, self.recorder = promises, recorder

    def ask(self) -> None:
        """Open the desk, send everything again, ask for everything, close it."""
        self._pairings()
        with Logbook(self.folder, self.rulebook, floor_bytes=0) as logbook:
            assert logbook.store.refusal is None
            assert logbook.left_out == set()
            self.receipts(logbook)
            filed = self.send_again(logbook)
            gone = self._gone(logbook)
            self.visits(logbook, filed, gone)
            self.found(logbook, filed, gone)
            self._sheets(logbook, gone)
            self._photos(gone)
            self._changes(logbook, filed, gone)
            assert not [name for name in logbook.store.aside if "unreadable" in name]
        for backup in self.promises.backups:
            verify(self.top / backup)

    def _pairings(self) -> None:
        pairings = Pairings(FolderFiles(self.folder))
        for token, device in self.promises.tokens.items():
            owner = pairings.device_of(token, JUNE_12)
            if device in self.promises.revoked:
                assert owner is None, f"{device} is paired again"
            elif device not in self.promises.revoking:
                assert owner is not None, f"{device} is paired no more"
                assert owner["device"] == device

    def receipts(self, logbook: Logbook) -> None:
        """Before anything is sent again: what was answered is on the list."""
        for device in set(self.promises.sent.values()):
            rows = receipt_lists.receipts(logbook, device, 0)["receipts"]
            listed = {(one["id"], one["digest"], one["status"]) for one in rows}
            for line, answer in self.promises.answers.items():
                if self.promises.sent[line] == device and not self.promises.is_open(line):
                    assert (answer["id"], answer["digest"], answer["status"]) in listed, f"no receipt for {answer}"

    def send_again(self, logbook: Logbook) -> list[bytes]:
        """The phones send everything they have, in the original order; returns the lines that are filed."""
        filed = []
        before = dict(self.promises.answers)
        for line, device in self.promises.sent.items():
            [result] = send(logbook, device, [line], self.recorder)
            if line in before and not self.promises.is_open(line):
                repeat = result["repeat"] if self.promises.is_lied_to else True
                assert result == {**before[line], "repeat": repeat}, f"answered otherwise: {result}"
            assert result["status"] != "deferred" or self.promises.is_open(line), f"put off: {result}"
            if result["status"] in FILED:
                filed.append(line)
        return filed

    def _gone(self, logbook: Logbook) -> set[str]:
        """The visits that are erased: all that had to be; nothing of them is there, not even half."""
        gone = {visit for visit in self.promises.erasing if logbook.erased.holds(visit)}
        assert gone >= self.promises.erased
        for visit in gone:
            self.recorder.note("erased", visit)
            assert logbook.ops(visit) == []
            assert SheetRecords(logbook).records(visit) == []
            logbook.flush()
            assert traces(read_desk(self.folder)) == []
        return gone

    def visits(self, logbook: Logbook, filed: list[bytes], gone: set[str]) -> None:
        """Every visit that isn't gone is what its lines make it; every card has its lines."""
        ops: dict[str, list[Any]] = defaultdict(list)
        for line in filed:
            op = op_of(line)
            ops[op["visit"] or ""].append(op)
        beside = ops.pop("", [])
        for visit in ops.keys() - gone:
            assert {op["id"] for op in logbook.ops(visit)} == {op["id"] for op in ops[visit]}
            assert logbook.visit(visit) == fold.fold(ops[visit], logbook.kinds)
        for op in beside:
            what = "customer" if op["kind"] == "customer.set" else "vehicle"
            name = op["body"].get("id") or op["body"].get("vehicle")
            assert op["id"] in [one["id"] for one in logbook.card_ops(what, name)]

    def found(self, logbook: Logbook, filed: list[bytes], gone: set[str]) -> None:
        """Every visit that isn't gone is found by its plate."""
        for visit in {op_of(line)["visit"] for line in filed} - gone - {None}:
            plate = logbook.visit(visit).get("vehicle", {}).get("plate")
            rows = logbook.search.find(plate)["visits"] if plate else [{"id": visit}]
            assert visit in [row["id"] for row in rows], f"{visit} is not found as {plate}"

    def _sheets(self, logbook: Logbook, gone: set[str]) -> None:
        sheets = SheetRecords(logbook)
        for (visit, revision), states in self.promises.sheets.items():
            if visit in gone:
                continue
            now = sheets.record(visit, revision)["states"]
            assert now[: len(states)] == states, f"sheet of {visit}: {now} and not {states}"
            assert len(now) <= len(states) + 1
            assert ((visit, revision) in sheets.underway()) == (now[-1]["state"] in ("approved", "queued"))
            self.recorder.note("sheet", (visit, revision), now)
        for path, content in self.promises.files.items():
            if not any(visit in path for visit in gone):
                assert (self.top / path).read_bytes() == content
        assert set(sheets.handed(None, JUNE_12 - 1)) >= set(self.promises.handed)

    def _photos(self, gone: set[str]) -> None:
        """No less of each photo is held than before; the phone sends the rest, and it is complete."""
        store = PhotoStore(FolderFiles(self.folder, floor_bytes=0))
        for sha, content in self.promises.photos.items():
            if gone and self._is_of_erased(sha):
                assert store.append(sha, 0, len(content), content) == len(content)
                assert store.bytes_of(sha) is None
                continue
            held, end = self.promises.photo_ends.get(sha, 0), store.offset(sha)[0]
            assert end >= held or (self.promises.is_garbled and held < len(content)), f"{sha}: {end} bytes are left"
            try:
                store.append(sha, end, len(content), content[end:])
            except PhotoAltered:
                # A piece that was never acknowledged came out garbled: the phone starts again.
                assert self.promises.is_garbled
                store.append(sha, 0, len(content), content)
            self.recorder.note("photo", sha, len(content))
            assert store.bytes_of(sha) == content

    def _is_of_erased(self, sha: str) -> bool:
        """Whether a photo went with an erased visit: its link to the visit was filed before."""
        shown = [line for line in self.promises.filed if sha.encode() in line]
        return bool(shown) and all(self.promises.is_open(line) for line in shown)

    def _changes(self, logbook: Logbook, filed: list[bytes], gone: set[str]) -> None:
        """Each phone is told of every line of others in the visits it takes part in."""
        parts: dict[str, set[str]] = defaultdict(set)
        for line in filed:
            parts[self.promises.sent[line]].add(op_of(line)["visit"])
        for device, visits in parts.items():
            lines = {one["line"] for one in changes(logbook, device, "")["changes"] if one["kind"] == "op"}
            for line in filed:
                visit = op_of(line)["visit"]
                if visit and visit in visits - gone and self.promises.sent[line] != device:
                    assert line.decode().rstrip("\n") in lines, f"{device} is not told of {line[:200]!r}"


def op_of(line: bytes) -> Any:
    """The operation of an op line, read by hand."""
    return json.loads(line[65:])


def read_desk(folder: Path) -> Tree:
    """The files of a desk's folder."""
    return {path.as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def traces(tree: Tree) -> list[str]:
    """The files that reveal the erased customer."""
    return [path for path, content in tree.items() if content and TRACE in content]
