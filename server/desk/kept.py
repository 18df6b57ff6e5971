"""Where this logbook is kept, for a person at its computer, and whether it is the demo's.

Nothing here decides who may be told.
"""

from __future__ import annotations

from typing import TypedDict

from server.http.sync_routes import logbook

# The folder in which the demo keeps its invented day.
DEMO = ".demo"


class Kept(TypedDict):
    """The folder or the database of the logbook [text], and whether it is the demo's."""

    folder: str
    is_demo: bool


def kept() -> Kept:
    """Where the logbook of this service is [Kept]."""
    place = logbook().files.place
    return {"folder": place, "is_demo": place.endswith(DEMO)}
