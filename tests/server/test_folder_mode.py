"""A logbook's folder that others can look into: `layby serve` and `layby check` say so, with what to type."""

from __future__ import annotations

import shlex
import sys
from pathlib import Path

import pytest

from server.process.folder_mode import command_to_shut
from tests.support import children
from tests.support.service import LAYBY, Service

SAID = "Other users of this computer can look into"


def check(folder: Path) -> children.CompletedProcess[str]:
    """What `layby check` finds."""
    return children.run([str(LAYBY), "--folder", str(folder), "check"])


@pytest.mark.parametrize("mode", [0o755, 0o750, 0o701, 0o770, 0o777])
def test_an_open_folder_is_said_until_it_is_shut(tmp_path: Path, mode: int) -> None:
    """Readable or enterable, by the group or by all; the suggested command shuts it, in a folder of any name."""
    folder = tmp_path / "my van's log"
    folder.mkdir()
    folder.chmod(mode)
    command = command_to_shut(folder)
    if sys.platform == "win32":
        assert command is None
        return
    assert command is not None
    children.run(shlex.split(command), check=True)
    assert folder.stat().st_mode & 0o777 == 0o700
    assert command_to_shut(folder) is None


def test_no_folder_is_none_that_is_open(tmp_path: Path) -> None:
    """It will be made for its owner alone."""
    assert command_to_shut(tmp_path / "none") is None
    (tmp_path / "file").write_text("")
    assert command_to_shut(tmp_path / "file" / "none") is None


@pytest.mark.parametrize("mode", [0o700, 0o755])
def test_the_service_and_the_check_warn(folder: Path, mode: int) -> None:
    """With a sentence and the exact command; the service runs anyway, and a closed folder isn't mentioned."""
    folder.mkdir(parents=True, exist_ok=True)
    folder.chmod(mode)
    is_open = mode != 0o700 and sys.platform != "win32"
    service = Service(folder).start()
    service.stop()
    told = service.log.read_text("utf-8")
    assert (SAID in told, f"chmod 700 {folder}" in told) == (is_open, is_open), told
    done = check(folder)
    assert (f"to fix: chmod 700 {folder}" in done.stdout, done.returncode) == (is_open, int(is_open)), done
