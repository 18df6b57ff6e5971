"""The press: a sheet that can't be printed costs only itself, and its child stays within its limits.

Real child processes; nothing is timed.
"""

from __future__ import annotations

import logging
import sys
import tempfile
from pathlib import Path
from typing import Any

import pytest

from reports.print_pool import Press, Unprintable, print_sheets
from sync.sheet.jobsheet import jobsheet
from tests.support.sheet_visits import DECLINED, judged

SHEETS_MOST = 100

@pytest.fixture
def data(rulebook: dict[str, Any]) -> dict[str, Any]:
    """A short sheet's data."""
    return jobsheet(DECLINED, judged(DECLINED, rulebook), rulebook)


def test_a_broken_sheet_does_not_stop_the_next(data: dict[str, Any]) -> None:
    """One child, three sheets, the middle one without its blocks."""
    with Press() as press:
        first = press.sheet(data)
        with pytest.raises(Unprintable) as refused:
            press.sheet({key: value for key, value in data.items() if key != "blocks"})
        assert refused.value.code == "press_refused"
        assert "blocks" in refused.value.detail
        assert press.sheet(data) == first
    assert first.startswith(b"%PDF-1.7")


def test_a_sheet_that_takes_too_long_is_given_up(data: dict[str, Any]) -> None:
    """The child is ended, the next sheet gets a fresh one."""
    with Press(patience_s=0.05) as press:
        with pytest.raises(Unprintable) as late:
            press.sheet(data)
        assert late.value.code == "press_timeout"
        press.patience_s = 60.0
        assert press.sheet(data).startswith(b"%PDF")


def test_a_child_leaves_no_folder_behind(
    data: dict[str, Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Neither one that printed and was ended, nor one that was given up: the renderer's typefaces go with it."""
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    with Press() as press:
        press.sheet(data)
        assert list(tmp_path.glob("layby-press-*/*"))
        press.patience_s = 0.001
        with pytest.raises(Unprintable):
            press.sheet(data)
        assert not list(tmp_path.iterdir())
        press.patience_s = 60.0
        press.sheet(data)
    assert not list(tmp_path.iterdir())


def print_on(press: Press, data: dict[str, Any]) -> None:
    """The same sheet again and again, because the system counts processor time in whole seconds."""
    for _ in range(SHEETS_MOST):
        press.sheet(data)


@pytest.mark.parametrize("limits", [{"memory_bytes": 60_000_000}, {"cpu_s": 0}], ids=["memory", "processor"])
def test_a_child_ends_at_its_limits(limits: dict[str, int], data: dict[str, Any]) -> None:
    """Too little memory or processor time ends that sheet with a reason, not this process."""
    assert sys.platform != "win32", "Windows knows no such limits"
    with Press(limits=limits) as press, pytest.raises(Unprintable) as ended:
        print_on(press, data)
    assert ended.value.code in ("press_died", "press_missing", "press_refused")


def test_many_sheets_come_back_in_their_order(data: dict[str, Any]) -> None:
    """Good and bad ones mixed, on two children, each reported when done."""
    told: dict[int, Any] = {}
    sheets = [data, {}, {**data, "paper": "Letter"}, {"blocks": []}]
    outcomes = print_sheets(sheets, told.__setitem__, workers=2)
    assert [isinstance(outcome, bytes) for outcome in outcomes] == [True, False, True, False]
    assert told == dict(enumerate(outcomes))
    assert outcomes[0] != outcomes[2]


def test_what_the_renderer_warns_of_is_logged(data: dict[str, Any], caplog: pytest.LogCaptureFixture) -> None:
    """A warning in the child isn't lost with it."""
    with caplog.at_level(logging.WARNING, "layby.press"), Press() as press:
        press.sheet({**data, "language": ""})
    assert "lang" in caplog.text


def test_a_child_finds_the_project_from_anywhere(
    data: dict[str, Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The folder in which a command is started doesn't matter."""
    monkeypatch.chdir(tmp_path)
    with Press() as press:
        assert press.sheet(data).startswith(b"%PDF")
