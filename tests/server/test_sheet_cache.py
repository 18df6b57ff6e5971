"""A finished sheet is used again, and made again after anything it rests on has changed."""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

import pytest

from server.tasks import sheet_data
from server.tasks.sheet_data import inputs_of
from sync.records.photos import PhotoStore
from tests.records.test_photos import name_of, photo
from tests.server.test_evening import Desk, desk  # noqa: F401 -- the fixture is used by its name
from tests.support.ops import line_of, uuid7
from tests.support.sheet_visits import PAIR, STARTED_MS, operations

CHOSEN = {"language": "en", "paper": "A4"}
EARLIER = {**copy.deepcopy(PAIR), "id": uuid7(STARTED_MS - 86_400_000, 5), "started_at": "2026-07-10T09:00:00-07:00"}


@pytest.fixture
def worked(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The visits whose sheets were worked out, in order."""
    visits: list[str] = []
    real: Callable[..., Any] = sheet_data._worked_out

    def noted(logbook: Any, visit: Any, *more: Any) -> Any:
        visits.append(visit["id"])
        return real(logbook, visit, *more)

    monkeypatch.setattr(sheet_data, "_worked_out", noted)
    return visits


CHANGES: dict[str, Callable[[Desk], None]] = {
    "an entry": lambda at: at.file(line_of(at.phone.op(PAIR["id"], "advice.add", {"id": "a9", "text": "wash"}))),
    "an earlier visit of the vehicle": lambda at: at.file(operations(EARLIER, at.phone)),
    "a photo that comes": lambda at: _bring(at),
}


def _bring(at: Desk) -> None:
    content = photo(7)
    PhotoStore(at.logbook.files).append(name_of(content), 0, len(content), content)


@pytest.mark.parametrize("change", CHANGES)
def test_a_sheet_is_worked_out_anew_after_a_change_alone(desk: Desk, worked: list[str], change: str) -> None:  # noqa: F811
    """Asked twice it is the same; after the change it is another one, or the same one worked out again."""
    added = {"sha256": name_of(photo(7)), "role": "before"}
    desk.file(line_of(desk.phone.op(PAIR["id"], "photo.add", added)))
    first = inputs_of(desk.logbook, PAIR["id"], desk.rulebook, CHOSEN)
    again = inputs_of(desk.logbook, PAIR["id"], desk.rulebook, CHOSEN)
    assert (again, worked) == (first, [PAIR["id"]])
    again.reason = {"code": "void", "values": {}}
    CHANGES[change](desk)
    later = inputs_of(desk.logbook, PAIR["id"], desk.rulebook, CHOSEN)
    assert worked == [PAIR["id"]] * 2
    assert (later.reason, later.revision != first.revision) == (None, True)


def test_other_settings_and_another_rulebook_are_another_question(desk: Desk, worked: list[str]) -> None:  # noqa: F811
    """Each is worked out for itself; another visit's entries change nothing."""
    inputs_of(desk.logbook, PAIR["id"], desk.rulebook, CHOSEN)
    inputs_of(desk.logbook, PAIR["id"], desk.rulebook, {**CHOSEN, "paper": "letter"})
    inputs_of(desk.logbook, PAIR["id"], {**desk.rulebook, "hash": "0" * 64}, {**CHOSEN, "paper": "letter"})
    assert len(worked) == 3
    desk.file(line_of(desk.phone.opening(desk.phone.new_id())))
    inputs_of(desk.logbook, PAIR["id"], {**desk.rulebook, "hash": "0" * 64}, {**CHOSEN, "paper": "letter"})
    assert len(worked) == 3
