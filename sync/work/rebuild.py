"""Making views again from the journal: all of them, or one, while the logbook is open.

Nothing here knows what a view shows.
"""

from __future__ import annotations

import re
from typing import TypedDict

from sync.errors import LaybyError
from sync.records.locks import ALONE
from sync.records.logbook import Logbook
from sync.records.store.interface import Watch

STEPS = 10
_NAME = re.compile(r"[a-z]+(/[0-9a-z-]+)+")


class NoSuchView(LaybyError):
    """A view that doesn't exist and can't be made again."""

    code = "no_such_view"


class Rebuilt(TypedDict):
    """How many views there are now, and the files that hold damaged stretches of the journal."""

    views: int
    aside: list[str]


def rebuild(logbook: Logbook, tell: Watch) -> Rebuilt:
    """Make all views again, beside those in use, and set aside what doesn't read back from the journal.

    If it is killed at any moment, the next start makes what is missing.

    Args:
        logbook: the open logbook [Logbook]
        tell: called about ten times with how far it is: bytes read, bytes of the journal [function]

    Returns:
        what there is now [Rebuilt]
    """
    with logbook.claim(ALONE):
        logbook.look_through()
        aside = logbook.store.give_up()
        return {"views": logbook.made_beside(_stepwise(tell)), "aside": aside}


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
        name: the view's name, such as days/2026-06-12 [text]

    Raises:
        NoSuchView: there is no such view.
    """
    with logbook.claim(ALONE), logbook.writing():
        folder = name.rpartition("/")[0]
        # A name that leads out of the views would overwrite a file of another kind.
        if not _NAME.fullmatch(name) or name not in logbook.view_names(folder):
            raise NoSuchView(name=name)
        logbook.make_again(name)
        logbook.flush()
