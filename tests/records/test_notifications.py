"""Notifications: numbered as they come, read from any number on, over the borders of their files."""

from __future__ import annotations

from pathlib import Path

from sync.records.notifications import Notifications


def test_notices_are_numbered_and_read_from_any_number(folder: Path) -> None:
    """Over several files, by another object over the same folder, at most as many as are wanted."""
    notifications = Notifications(folder)
    assert (notifications.last(), notifications.since(0, 10)) == (0, [])
    readers = [["aaaa"] if count % 2 else None for count in range(205)]
    numbers = [notifications.add({"kind": "sheet", "count": count}, readers[count]) for count in range(205)]
    assert numbers == list(range(1, 206))
    again = Notifications(folder)
    assert again.last() == 205
    assert [(number, notice["count"]) for number, notice, _ in again.since(0, 1000)] == [
        (count + 1, count) for count in range(205)
    ]
    assert [number for number, _, _ in again.since(98, 4)] == [99, 100, 101, 102]
    last = [(204, {"kind": "sheet", "count": 203}, ["aaaa"]), (205, {"kind": "sheet", "count": 204}, None)]
    assert again.since(203, 5) == last
    assert again.since(205, 5) == []
    assert all(path.stat().st_mode & 0o077 == 0 for path in again.folder.iterdir())
