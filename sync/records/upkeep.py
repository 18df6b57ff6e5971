"""The upkeep of a logbook, behind the work of the day: a thread that does what is due whenever nobody files.

Nothing here knows what is due.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable

EVERY_S = 1.0

log = logging.getLogger("layby.logbook")


class Upkeep:
    """The thread, from `start` to `end`.

    Args of the constructor:
        work: does what is due; given what says whether to give up [function of a function to bool]
    """

    def __init__(self, work: Callable[[Callable[[], bool]], None]) -> None:
        self._work = work
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._run, name="layby-upkeep", daemon=True)

    @property
    def is_over(self) -> bool:
        """Whether it was ended."""
        return self._ended.is_set()

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def end(self) -> None:
        """Come to an end, once what is being done is given up; to be called once."""
        self._ended.set()
        self._thread.join()

    def _run(self) -> None:
        while not self._ended.wait(EVERY_S):
            try:
                self._work(self._ended.is_set)
            except Exception:  # the views still have to be written, whatever this trips over
                # Whoever searches will be told; here nobody asks.
                log.exception("the upkeep of the records failed; it is tried again")
