"""What services share for a while: changed by one at a time, and lost or kept as a whole."""

from __future__ import annotations

import threading

import pytest

from sync.records.postgres.database import Database
from sync.records.postgres.files import PostgresFiles
from sync.records.shared_state import SharedState
from tests.support.plain_files import PlainFiles
from tests.support.postgres import server
from tests.support.threads import join


@pytest.mark.parametrize("is_shared", [False, True])
def test_a_change_that_stops_half_way_is_none(is_shared: bool) -> None:
    """What was there stays, and what is read is nobody else's."""
    state = SharedState(PlainFiles() if is_shared else None, "x.json")
    with state.changing() as kept:
        kept["a"] = [1]
    with pytest.raises(LookupError), state.changing() as kept:
        kept["a"] = [kept.pop("a"), kept["none"]]
    state.read()["b"] = 3
    assert state.read() == {"a": [1]}


@pytest.mark.parametrize("content", [b"[]", b"{", b"\xff", b""])
def test_what_cannot_be_read_is_nothing(content: bytes) -> None:
    """It is set aside, and everybody starts anew."""
    files = PlainFiles()
    files.write("x.json", content)
    assert SharedState(files, "x.json").read() == {}
    assert list(files.aside.values()) == [content]


def test_no_change_is_lost_where_two_services_count() -> None:
    """Two connections of their own, four threads, fifty changes each."""
    url = server().fresh()
    databases = [Database(url), Database(url)]
    states = [SharedState(PostgresFiles(database), "x.json") for database in databases]

    def count(state: SharedState) -> None:
        for _ in range(50):
            with state.changing() as kept:
                kept["count"] = int(str(kept.get("count", 0))) + 1

    threads = [threading.Thread(target=count, args=(states[number % 2],), daemon=True) for number in range(4)]
    for thread in threads:
        thread.start()
    join(*threads)
    assert states[0].read() == {"count": 200}
    for database in databases:
        database.close()
