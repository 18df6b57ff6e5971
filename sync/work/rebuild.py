"""Making views again from the journal: all of them, or one, while the logbook is open.

Nothing here knows what stands on a view. The journal is only read.
"""

from __future__ import annotations

import re
import shutil

from sync.errors import LaybyError
from sync.records.journal import Watch
from sync.records.locks import ALONE
from sync.records.logbook import Logbook
from sync.records.safe_files import sync_folder
from sync.records.view_cache import CHECKPOINT

STEPS = 10
_NAME = re.compile(r"[a-z]+(/[0-9a-z-]+)+")


class NoSuchView(LaybyError):
    """A view that is not there to be made again."""

    code = "no_such_view"


def rebuild(logbook: Logbook, tell: Watch) -> int:
    """Make all views again. Killed at any moment, the next start makes what is missing.

    Args:
        logbook: the open logbook [Logbook]
        tell: called about ten times with how far it is: bytes read, bytes of the journal [function]

    Returns:
        how many views there are now [count]
    """

    def take_away() -> None:
        # First the claim that the views are complete, then the views.
        (logbook.folder / CHECKPOINT).unlink(missing_ok=True)
        sync_folder(logbook.folder)
        shutil.rmtree(logbook.folder / "pages", ignore_errors=True)

    with ALONE, logbook.writing():
        logbook.made_anew(take_away, _stepwise(tell))
        logbook.flush()
        return sum(1 for _ in (logbook.folder / "pages").rglob("*.json"))


def _stepwise(tell: Watch) -> Watch:
    last = -1

    def watch(done: int, of: int) -> None:
        nonlocal last
        step = STEPS * done // of if of else STEPS
        if step > last:
            last = step
            tell(done, of)

    return watch


def rebuild_one(logbook: Logbook, name: str) -> None:
    """Make one view again.

    Args:
        logbook: the open logbook [Logbook]
        name: the view's path below `pages`, without its ending, such as days/2026-06-12 [text]

    Raises:
        NoSuchView: there is no such view.
    """
    with ALONE, logbook.writing():
        folder = name.rpartition("/")[0]
        # A name that leads out of the views would have a file of another kind written over.
        if not _NAME.fullmatch(name) or name not in logbook.view_names(folder):
            raise NoSuchView(name=name)
        logbook.make_again(name)
        logbook.flush()
