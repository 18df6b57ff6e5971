"""Long work runs in the background: while a rebuild, backup, export or erasure writes, a phone's entries are taken in.

No clock decides: the long work is held at a moment in the middle until the phone has its answer.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from sync.disk import calls
from sync.records.logbook import Logbook
from sync.records.receipts import receipts
from sync.work import backup, customer_export, erasure, rebuild
from sync.work.intake import receive
from tests.support.ops import JUNE_12, Phone, line_of
from tests.support.threads import join

Books = dict[str, Any]


@pytest.fixture
def logbook(folder: Path, rulebook: Books) -> Iterator[Logbook]:
    """Two customers' visits of one phone."""
    with Logbook(folder, rulebook, floor_bytes=0) as opened:
        phone = Phone("beef")
        for name in ("N. Example", "S. Example"):
            visit = phone.new_id()
            body = {"customer": {"name": name}}
            for op in (phone.opening(visit), phone.op(visit, "visit.set", body, {"/customer/name": None})):
                receive(opened, line_of(op), JUNE_12)
        opened.flush()
        yield opened


WORK: dict[str, tuple[str, Callable[[Logbook, Path], object]]] = {
    "rebuild": (".pages.new", lambda logbook, _: rebuild.rebuild(logbook, lambda done, of: None)),
    "backup": (".b.zip.new", lambda logbook, place: backup.back_up(logbook, place / "b.zip", JUNE_12)),
    "export": (".e.zip.new", lambda logbook, place: customer_export.export(logbook, "N. Example", place / "e.zip", 5)),
    "erase": (".journal.log.new", lambda logbook, _: erasure.erase(logbook, "N. Example", 5)),
}


@pytest.mark.parametrize("name", WORK)
def test_a_phone_is_answered_in_the_midst_of_it(
    logbook: Logbook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    """Its entry is filed and its receipts are told while the work's first file is written; both finish complete."""
    moment, work = WORK[name]
    phone = Phone("a1de")
    visit = phone.new_id()
    real, answers = calls.create, []

    def ask() -> None:
        [result] = receive(logbook, line_of(phone.opening(visit)), JUNE_12)["results"]
        answers.append((result["status"], len(receipts(logbook, "a1de", 0)["receipts"])))

    def create(path: Path, fresh: bool = False) -> int:
        if moment in str(path) and not answers:
            asking = threading.Thread(target=ask, daemon=True)
            asking.start()
            join(asking)
        return real(path, fresh)

    monkeypatch.setattr(calls, "create", create)
    work(logbook, tmp_path)
    assert answers == [("accepted", 1)]
    monkeypatch.undo()
    assert logbook.visit(visit)["id"] == visit
    assert [one["id"] for one in receipts(logbook, "a1de", 0)["receipts"]] == [logbook.ops(visit)[0]["id"]]
    if name == "erase":
        assert [row["customer"] for row in logbook.search.find("Example")["visits"]] == ["S. Example"]
