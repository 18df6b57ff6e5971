"""The desk of the model: the real logbook and intake on a real disk, crashed at any byte and started again.

Nothing here files or judges by itself. A crash is a copy of what the disk holds at that moment, opened again.
"""

from __future__ import annotations

import json
import random
import shutil
from pathlib import Path
from typing import Any

from sync.records.logbook import Logbook
from sync.work import changes, desk_operations
from sync.work.bundle_intake import receive_bundle
from sync.work.intake import receive
from tests.model.plainphone import VEHICLE
from tests.support.ops import JUNE_12

Result = dict[str, Any]


def writer_of(body: bytes) -> str:
    """The device whose token goes with a batch: a phone hands in its own lines [lower-case hex]."""
    return str(json.loads(body.split(b"\n", 1)[0][65:])["device"])


class RealDesk:
    """One desk over all its crashes; `answered` holds the first answer for each op, if one was given."""

    def __init__(self, ground: Path, rulebook: dict[str, Any], dice: random.Random) -> None:
        self.ground = ground
        self.rulebook = rulebook
        self.dice = dice
        self.life = 0
        self.answered: dict[tuple[str, str], Result] = {}
        self.running = self._open()

    @property
    def logbook(self) -> Logbook:
        """The logbook that answers now [Logbook]."""
        return self.running

    @property
    def folder(self) -> Path:
        """Where this life's records are [path]."""
        return self.ground / f"life-{self.life}"

    def _open(self) -> Logbook:
        return Logbook(self.folder, self.rulebook, floor_bytes=0).__enter__()

    def sync(self, body: bytes) -> list[Result]:
        """One batch by network; the answers must be the first ones, for ever."""
        results: list[Result] = receive(self.logbook, body, JUNE_12, writer_of(body))["results"]
        for result in results:
            self._same_for_ever(result)
        return results

    def carried(self, text: bytes) -> bytes:
        """One file carried by hand; returns its receipt."""
        return receive_bundle(self.logbook, text, JUNE_12)

    def _same_for_ever(self, result: Result) -> None:
        first = self.answered.get((result["id"], result["digest"]))
        if first is not None:
            assert result == {**first, "repeat": True}, "an operation was answered for twice, and differently"
        elif result["status"] != "deferred" and (result.get("problem") or {}).get("code") != "damaged":
            self.answered[(result["id"], result["digest"])] = {key: result[key] for key in result if key != "repeat"}

    def changes(self, device: str, cursor: str) -> Result:
        """What a device is told about others' work after a cursor."""
        return changes.changes(self.logbook, device, cursor)

    def ops(self, visit: str | None) -> list[dict[str, Any]]:
        """What is on file for a visit, or, for None, on the vehicle's card."""
        return self.logbook.card_ops("vehicle", VEHICLE) if visit is None else self.logbook.ops(visit)

    def entry(self, visit: str | None) -> dict[str, Any]:
        """The entry of a visit or of the card, which must be there."""
        found = self.logbook.card_heads("vehicle", VEHICLE) if visit is None else self.logbook.visit_heads(visit)
        assert found is not None
        return found

    def count_of(self, line: bytes) -> int:
        """How many records hold a line."""
        # Framed by its record: a damaged line end can glue a copy to the next line of a quarantined record.
        return (self.folder / "journal.log").read_bytes().count(b" " + line + b"\n")

    def approve(self, visit: str) -> None:
        """The desk's own operation, once the visit is there."""
        if self.logbook.ops(visit):
            desk_operations.write(self.logbook, visit, "sheet.approve", {"revision": "ab" * 32}, (JUNE_12, 0))

    # Crashes --------------------------------------------------------------------------------------------------------

    def crash(self, body: bytes | None = None) -> None:
        """The power fails: what isn't on the disk is gone. With a body, during its filing, torn at any byte."""
        picture = self.ground / f"life-{self.life + 1}"
        shutil.copytree(self.folder, picture, ignore=shutil.ignore_patterns("*.lock"))
        if body is None:
            self._tear_a_flush(picture)
        else:
            self._tear_the_journal(picture, body)
        self.logbook.close()
        shutil.rmtree(self.folder)
        self.life += 1
        self.running = self._open()

    def _tear_the_journal(self, picture: Path, body: bytes) -> None:
        """The copied journal holds part of what filing the body appends, down to a single byte."""
        before = (picture / "journal.log").stat().st_size
        receive(self.logbook, body, JUNE_12, writer_of(body))
        appended = (self.folder / "journal.log").read_bytes()[before:]
        with (picture / "journal.log").open("ab") as file:
            file.write(appended[: self.dice.randint(0, len(appended))])

    def _tear_a_flush(self, picture: Path) -> None:
        """Some of the pages were written again, others not yet, and one of them is half done beside its name."""
        self.logbook.flush()
        for page in sorted((self.folder / "pages").rglob("*.json")):
            name = picture / page.relative_to(self.folder)
            if self.dice.random() < 0.4:
                name.parent.mkdir(parents=True, exist_ok=True)
                shutil.copy(page, name)
            elif self.dice.random() < 0.2 and name.parent.is_dir():
                whole = page.read_bytes()
                name.with_name(f".{page.name}.new").write_bytes(whole[: self.dice.randrange(len(whole))])

    def spoil(self) -> None:
        """A page or the checkpoint is deleted or overwritten while the desk is down; the journal stays."""
        self.logbook.close()
        files = [*sorted((self.folder / "pages").rglob("*.json")), self.folder / "checkpoint.json"]
        for file in self.dice.sample(files, min(len(files), self.dice.randint(1, 3))):
            if self.dice.random() < 0.5:
                file.unlink(missing_ok=True)
            else:
                file.write_bytes(file.read_bytes()[: self.dice.randint(0, 40)] if file.exists() else b"")
        self.running = self._open()

    def end(self) -> None:
        """Close down as a person does; harmless if called twice."""
        self.logbook.close()
