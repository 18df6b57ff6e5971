"""What the logbook gives, by its types: until its own signatures say them, this is the one place that does.

Nothing here reads a file or looks anything up.
"""

from __future__ import annotations

from typing import cast

from sync.kernel.books import Rulebook
from sync.kernel.operation import Op
from sync.kernel.visit import Visit
from sync.records.logbook import Logbook


def visit_of(logbook: Logbook, visit_id: str) -> Visit:
    """A visit as it is filed; each operation of it was held to the shape of its kind before it was filed."""
    return cast(Visit, logbook.visit(visit_id))


def ops_of(logbook: Logbook, visit_id: str) -> list[Op]:
    """The operations of a visit as they are filed."""
    return cast(list[Op], logbook.ops(visit_id))


def rulebook_of(logbook: Logbook) -> Rulebook:
    """The rulebook that the logbook was opened with; a test holds the committed one to its type."""
    return cast(Rulebook, logbook.rulebook)
