"""A real service to attack, with a visit of its own on file, and what must hold once the attack is over.

Nothing hostile is made here.
"""

from __future__ import annotations

import json
import re
import shutil
import urllib.request
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sync import rulebook
from sync.records.embedded.journal import Journal
from sync.records.logbook import Logbook
from tests.hostile.exchange import Request, memory_of
from tests.hostile.routes import Callers
from tests.support.ops import Phone
from tests.support.service import PATIENCE_S, Service
from tests.support.sheet_visits import PAIR, SINGLE, operations
from tests.support.visitor import Visitor, wait_for_key

# What an attack may leave in memory, including its own entries; a body may have 16 MiB, and one is processed at a time.
GROWTH_MOST = 96 * 1024 * 1024
HONEST = "c0ffee"
DAY = "2026-07-14"
AS_FILED = ("started_at", "customer", "vehicle", "tests", "advice")
JUDGED = {"accepted", "conflict", "rejected", "noted"}
# The pages on which the owner, signed in, reads where the logbook lies.
OF_FOLDERS = ("/desk/do/backup", "/desk/do/read-back", "/desk/do/restore")
# A trace in the log, down to its last line.
_TRACE = re.compile(r"^Traceback[^\n]*\n(?:(?: [^\n]*|)\n)+([^\n]+)", re.MULTILINE)


class Attacked:
    """One service under attack; `root` is the folder that its commands work in."""

    def __init__(self, service: Service, visitor: Visitor) -> None:
        self.service = service
        self.root = service.folder.parent
        self.callers = Callers.of(service, visitor)
        self.phone = Phone(HONEST)
        self.hand_in(PAIR)
        self.before = memory_of(service)

    def hand_in(self, visit: dict[str, Any]) -> None:
        """File an honest visit, every line of which must be accepted."""
        status, _, content = self.service.post("/sync", operations(visit, self.phone))
        results = json.loads(content)["results"]
        assert (status, {one["status"] for one in results}) == (200, {"accepted"}), content

    def faults(self) -> list[str]:
        """What doesn't hold after the attack; the service is stopped for this [texts]."""
        growth = memory_of(self.service) - self.before
        self.hand_in(SINGLE)
        faults = [] if growth <= GROWTH_MOST else [f"the service has grown by {growth / 1e6:.0f} MB"]
        rows = self._evening()
        faults += [f"no sheet of {row['visit']}: {row['reason']}" for row in rows if row["state"] != "made"]
        faults += [] if {row["visit"] for row in rows} == {PAIR["id"], SINGLE["id"]} else ["the evening misses a visit"]
        self.service.stop()
        return faults + faults_of_records(self.service.folder, (PAIR, SINGLE))

    def secrets(self, request: Request) -> list[bytes]:
        """What no answer to a request may show: locations on the disk, unless the owner's own command named them or the
        owner, signed in, asked for a page of backups.
        """
        is_owners = request.route.endswith(OF_FOLDERS) and request.kind.endswith("(signed in)")
        return [] if is_owners or request.route.endswith("/desk/<name>") else [str(self.root).encode()]

    def traces(self) -> list[str]:
        """The last line of each trace in the service's log [texts]."""
        return _TRACE.findall(self.service.log.read_text("utf-8", "replace"))

    def _evening(self) -> list[dict[str, Any]]:
        key = json.loads((self.service.folder / "service.json").read_bytes())["key"]
        headers = {"Authorization": f"Bearer {key}", "Content-Type": "application/json"}
        asked = urllib.request.Request(
            self.service.url + "/desk/evening", json.dumps({"day": DAY}).encode(), headers)  # fmt: skip
        with urllib.request.urlopen(asked, timeout=PATIENCE_S) as answer:
            return list(json.loads(answer.read())["result"])


def faults_of_records(folder: Path, visits: Iterable[dict[str, Any]]) -> list[str]:
    """What is wrong with a folder that nobody holds: its journal has only judged lines and notes of the desk, a start
    enters every one, and these visits read as they were filed [texts].
    """
    copy = folder.with_name(f"{folder.name}-copy")
    shutil.copytree(folder, copy)
    journal = Journal(copy / "journal.log")
    records, damage = list(journal.records()), list(journal.damage)
    whole = journal.next_of(records[-1].number) == (copy / "journal.log").stat().st_size
    journal.close()
    faults = [] if whole and not damage else [f"the journal does not read to its end: {damage}"]
    faults += [f"in the journal stands {one.result}" for one in records if one.result["status"] not in JUDGED]
    with Logbook(copy, rulebook.load()) as logbook:
        faults += [f"not entered on its views: record {number}" for number in logbook.left_out]
        for visit in visits:
            read: dict[str, Any] = {**logbook.visit(visit["id"])}
            faults += [f"{visit['id']} reads otherwise at {name}" for name in AS_FILED if read[name] != visit[name]]
    return faults + [f"set aside: {path.name}" for path in copy.rglob("*.unreadable-*")]


@contextmanager
def attacked(root: Path) -> Iterator[Attacked]:
    """A service in its own folder, whose commands find nothing else there either."""
    (root / "out").mkdir(parents=True)
    (root / "part.txt").write_bytes(b"layby-bundle 1 7e57 1/1\nend 0 " + b"0" * 64 + b"\n")
    service = Service(root / "layby", cwd=root).start()
    try:
        wait_for_key(service)
        yield Attacked(service, Visitor(service).first())
    finally:
        service.stop()
