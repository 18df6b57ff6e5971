"""The arguments of tasks over real HTTP: anything missing or of another kind is named, and nothing crashes."""

from __future__ import annotations

import http.client
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from server.tasks.arguments import ARGUMENTS
from server.tasks.catalogue import TASKS
from tests.support.ops import STARTED, Phone, body_of
from tests.support.service import LAYBY, PATIENCE_S, Service
from tests.support.visitor import wait_for_key

# What each task requires, as the commands of `layby` send it.
NEEDED: dict[str, dict[str, Any]] = {
    "sheet": {"visit": "x"}, "ledger": {"first": "2026-01-01"}, "receive": {"files": []}, "find": {"text": "x"},
    "aside": {"number": "x"}, "settle": {"what": "vehicle", "id": "x", "entry": "x"},
    "letter": {"visit": "x"}, "returned": {"visit": "x", "why": "x"},
    "backup": {"file": "x"}, "held": {"customer": "x"}, "export": {"customer": "x", "file": "x"},
    "erase": {"customer": "x"}, "card": {"what": "vehicle", "id": "x"}, "vehicle": {"id": "x"},
    "chart": {"id": "x", "chart": None}, "visit": {"id": "x"}, "customer": {"id": "x"}, "history": {"id": "x"},
    "mark": {"id": "x", "visit": "x", "test": "x", "healthy": True},
    "amend": {"visit": "x", "section": "x", "typed": {}, "why": "x"}, "merge": {"keep": "x", "drop": "y"},
    "revoke": {"device": "x"}, "setting": {"row": "x"}, "log": {"visit": "x", "test": "x"},
    "unlog": {"visit": "x", "test": "x", "number": "x"},
    "begin_people": {"person": "x"}, "invite": {"person": "x", "role": "owner"}, "invite_again": {"person": "x"},
    "change_role": {"person": "x", "role": "owner"}, "end_person": {"person": "x"},
    "phone_of": {"device": "x", "person": "x"}, "hand_over": {"visit": "x", "person": "x"},
}  # fmt: skip
ODD: tuple[Any, ...] = (
    None, True, False, 0, -1, 1.5, 2**53, "", "x", "\0", "/", "..", "/no/such/place/x", "9" * 5000, "0001-01-01",
    "9999-12-31", "2026-02-30", "-1-01-01", "019ebcb4-8d7c-7000-8000-000000000001", [], [[]], ["x"], ["\0"], [None],
    ["/no/such/place/x"], {}, {"x": "y"}, {"x": None}, {"year": "x"}, {"rows": []},
)  # fmt: skip


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    """A real service with a visit; at its end its log is free of crashes."""
    folder = tmp_path_factory.mktemp("desk")
    running = Service(folder / "layby", command=Path(LAYBY), cwd=folder).start()
    wait_for_key(running)
    phone = Phone("7e57")
    for started in (STARTED, "0001-01-01T10:00:00+00:00", "9999-12-31T10:00:00+00:00"):
        visit = phone.new_id()
        more = {"outcome": "return_needed", "technician": {"certificate_until": "0001-02"}}
        base = {"/outcome": None, "/technician/certificate_until": None}
        last = phone.op(visit, "visit.set", more, base)
        body = body_of(phone.opening(visit, started), phone.plate(visit, "LT 482"), last)
        told = json.loads(running.post("/sync", body)[2])["results"]
        assert [one["status"] for one in told] == ["accepted"] * 3, told
    yield running
    running.stop()
    assert "Traceback" not in running.log.read_text("utf-8", "replace")


def asked(desk: Service, name: str, arguments: Any) -> tuple[int, Any]:
    """A task requested with the owner's key; status and answer."""
    key = json.loads((desk.folder / "service.json").read_text())["key"]
    headers = {"Authorization": f"Bearer {key}", "Content-Type": "application/json"}
    connection = http.client.HTTPConnection("127.0.0.1", desk.port, timeout=PATIENCE_S)
    try:
        connection.request("POST", f"/desk/{name}", json.dumps(arguments).encode(), headers)
        answer = connection.getresponse()
        return answer.status, json.loads(answer.read())
    finally:
        connection.close()


@pytest.mark.parametrize("name", sorted(TASKS))
def test_what_is_missing_is_named(desk: Service, name: str) -> None:
    """422 with each argument's name in the sentence; a task that needs none is done."""
    status, answer = asked(desk, name, {})
    if name not in NEEDED:
        assert status == 200, answer
        return
    assert (status, answer["code"]) == (422, "bad_arguments"), answer
    assert all(argument in answer["detail"] for argument in NEEDED[name]), answer
    assert name in answer["detail"]


@pytest.mark.parametrize("name", sorted(TASKS))
def test_no_argument_of_another_kind_crashes_a_task(desk: Service, name: str) -> None:
    """Every argument with every odd value, beside valid ones: a result, or a fault with a sentence."""
    for argument in ARGUMENTS[name]:
        for odd in ODD:
            status, answer = asked(desk, name, {**NEEDED.get(name, {}), argument: odd})
            assert status < 500, (argument, odd, answer)
            assert "result" in answer or answer["detail"], (argument, odd, answer)


def test_all_faults_are_named_at_once(desk: Service) -> None:
    """With what each has to be, and a missing file by its name."""
    _, answer = asked(desk, "receive", {"files": ["/no/such/place/x"]})
    assert answer["code"] == "file_unusable"
    assert "/no/such/place/x" in answer["detail"]
    _, answer = asked(desk, "export", {"customer": 7})
    assert all(words in answer["detail"] for words in ("customer: string", "file: path")), answer


@pytest.mark.parametrize("name", ["evening", "look", "reminders", "day", "ledger"])
@pytest.mark.parametrize("day", ["0001-01-01", "0001-01-02", "9999-12-31"])
def test_the_calendars_ends_are_days_like_others(desk: Service, name: str, day: str) -> None:
    """At either end."""
    assert asked(desk, name, {"day": day, "first": day, "last": day})[0] == 200


@pytest.mark.parametrize(("first", "last", "status"), [
    ("0001-01-01", "9999-12-31", 422), ("2016-06-11", "2026-06-12", 422), ("2016-06-13", "2026-06-12", 200),
    ("2016-02-29", "2026-02-28", 200), ("9990-01-01", "9999-12-31", 200),
])  # fmt: skip
def test_a_ledger_covers_ten_years_at_most(desk: Service, first: str, last: str, status: int) -> None:
    """A longer one is refused at once, with a sentence."""
    found, answer = asked(desk, "ledger", {"first": first, "last": last})
    assert found == status, answer
    if status == 422:
        assert answer["code"] == "period_too_long"
        assert "ten years" in answer["detail"]
