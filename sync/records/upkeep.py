"""The upkeep of a logbook in the background: a thread that does what is due whenever nobody files.

Nothing here knows what is due.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable

from sync.errors import LaybyError

EVERY_S = 1.0

log = logging.getLogger("layby.logbook")


class Upkeep:
    """The thread, from `start` to `end`.

    Args of the constructor:
        work: does what is due; gets a function that says whether to stop [function of a function to bool]
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
        """End, once the current work has been given up; to be called once."""
        self._ended.set()
        self._thread.join()

    def _run(self) -> None:
        told = ""
        while not self._ended.wait(EVERY_S):
            try:
                self._work(self._ended.is_set)
                told = ""
            except LaybyError as error:
                # Such as a database that is away: said once, and not every second.
                if str(error) != told:
                    log.warning("the upkeep of the records waits: %s", error)
                told = str(error)
            except Exception:  # the views still have to be written, whatever this trips over
                # The next search will report it; here nobody is asking.
                log.exception("the upkeep of the records failed; it is tried again")
