"""A damaged file of the sheet records, made again from what else is there: files, letters, approvals in the journal.

It never guesses that something was sent: what cannot be told goes to a person.
"""

from __future__ import annotations

import json
import logging
from collections.abc import Callable
from email import message_from_bytes
from email.policy import default
from pathlib import Path

from tinydb import TinyDB

from sync.errors import LaybyError
from sync.kernel.operation import Op
from sync.kernel.reason import Reason
from sync.records.safe_files import SafeStorage, Unreadable, set_aside
from sync.records.sheet_record import UNDERWAY, SheetRecord, fresh
from sync.records.sheet_records import day_of
from sync.wire.op_line import in_calendar

log = logging.getLogger("layby.sheetrepair")

# The operations filed for a visit.
OpsOf = Callable[[str], list[Op]]


def mend(folder: Path, ops_of: OpsOf) -> list[str]:
    """Make every file of the sheet records that cannot be read again; the damaged file stays beside it.

    An approval in the journal names its revision whole; with the PDF of that revision there is a record again. A letter
    in `spool` is queued as before, one in `outgoing` was left as a file. For the rest a person is asked. A sheet that
    nobody had approved is simply printed again.

    Args:
        folder: the logbook's folder [path]
        ops_of: gives the filed operations of a visit [callable]

    Returns:
        the files that were made again [names]
    """
    mended = []
    for path in sorted((folder / "sheetbook").glob("*.json")):
        if _is_sound(path):
            continue
        log.warning("page %s of the sheets cannot be read; set aside as %s", path.name, set_aside(path).name)
        if path.stem != "underway":
            _write(path, _records(folder, path.stem, ops_of))
        mended.append(path.name)
    if mended:
        _list_underway(folder)
    return mended


def _is_sound(path: Path) -> bool:
    try:
        with TinyDB(path, storage=SafeStorage) as file:
            file.tables()
    except Unreadable:
        return False
    return True


def _records(folder: Path, day: str, ops_of: OpsOf) -> list[SheetRecord]:
    files = sorted((folder / "sheets").glob("*.pdf"), key=lambda file: file.stat().st_mtime_ns)
    visits = dict.fromkeys(file.name[:36] for file in files if day_of(file.name[:36]) == day)
    return [record for visit in visits for record in _of_visit(folder, visit, files, ops_of)]


def _of_visit(folder: Path, visit: str, files: list[Path], ops_of: OpsOf) -> list[SheetRecord]:
    mine = [file for file in files if file.name.startswith(visit)]
    try:
        ops = [op for op in ops_of(visit) if op["kind"] == "sheet.approve"]
    except LaybyError:
        log.exception("the operations of visit %s cannot be read", visit)
        return []
    records = []
    for number, file in enumerate(mine, 1):
        approvals = [op for op in ops if str(op["body"]["revision"]).startswith(file.stem[37:])]
        if approvals:
            made_ms = file.stat().st_mtime_ns // 1_000_000
            records.append(_approved(folder, file, number, made_ms, approvals[-1]))
    return records


def _approved(folder: Path, file: Path, number: int, made_ms: int, op: Op) -> SheetRecord:
    at_ms = op["at"] if in_calendar(op["at"]) else made_ms
    record = fresh(str(op["visit"]), str(op["body"]["revision"]))
    record["number"], record["file"] = number, file.name
    record["states"] = [{"state": "made", "at": min(made_ms, at_ms), "reason": None},
                        {"state": "approved", "at": at_ms, "reason": None}]
    spooled, left = (sorted((folder / place).glob(f"{file.stem}-*.eml")) for place in ("spool", "outgoing"))
    if spooled:
        _queue(record, spooled[-1], at_ms)
    elif left:
        record["letters"] = len(left)
        reason: Reason = {"code": "left_as_file", "values": {"file": f"outgoing/{left[-1].name}"}}
        record["states"].append({"state": "sent", "at": at_ms, "reason": reason})
    else:
        # Letters of before may have used up to so many names; the next one must not take one of theirs.
        record["letters"] = 100
        reason = {"code": "sheet_record_lost", "values": {}}
        record["states"].append({"state": "failed", "at": at_ms, "reason": reason})
    return record


def _queue(record: SheetRecord, letter: Path, at_ms: int) -> None:
    message = message_from_bytes(letter.read_bytes(), policy=default)
    record["recipients"] = [person.addr_spec for person in message["To"].addresses]
    record["message_id"] = message["Message-ID"]
    record["spool"], record["letters"] = letter.name, int(letter.stem.rsplit("-", 1)[1])
    record["queued_at"] = at_ms
    record["states"].append({"state": "queued", "at": at_ms, "reason": None})


def _write(path: Path, records: list[SheetRecord]) -> None:
    tables = {"sheets": {str(number): json.loads(json.dumps(record)) for number, record in enumerate(records, 1)}}
    with TinyDB(path, storage=SafeStorage) as file:
        file.storage.write(tables)


def _list_underway(folder: Path) -> None:
    """The list of what is underway, from the records: it holds what they say and the times of letters, no more."""
    rows = []
    for path in sorted((folder / "sheetbook").glob("????-??-??.json")):
        with TinyDB(path, storage=SafeStorage) as day:
            rows += [{"visit": record["visit"], "revision": record["revision"]}
                     for record in day.table("sheets").all()
                     if record["states"][-1]["state"] in UNDERWAY]
    with TinyDB(folder / "sheetbook" / "underway.json", storage=SafeStorage) as listed:
        tables = listed.storage.read() or {}
        tables["underway"] = {str(number): row for number, row in enumerate(rows, 1)}
        listed.storage.write(tables)
