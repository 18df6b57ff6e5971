"""How far the journal is proved to be on the disk, and how the rest is made durable before anything in it counts.

A process that was killed inside its own fsync, or whose fsync failed, leaves records that read well from the system's
memory while the disk may lack them; a second fsync may be reported as good without them. So a start trusts only what
was noted as proved, and writes whatever lies beyond it again, into a new file.
"""

from __future__ import annotations

import json
import logging
from pathlib import Path

from sync.disk.safe_files import set_aside, write_whole
from sync.records.embedded.journal import Journal

NAME = "journal.proved"

log = logging.getLogger("layby.journal")


class Proof:
    """The note beside a journal: up to which byte it was proved to be on the disk. A clean end proves all of it.

    Args of the constructor:
        folder: where the journal is [path]
    """

    def __init__(self, folder: Path) -> None:
        self.path = folder / NAME
        self._noted: int | None = None

    def read(self) -> int:
        """Up to where it was proved; 0 if nobody can tell [bytes]."""
        try:
            end = int(json.loads(self.path.read_bytes())["end"])
        except FileNotFoundError:
            return 0
        except IsADirectoryError:
            log.warning("a folder lies where the journal's end is noted; set aside as %s", set_aside(self.path).name)
            return 0
        except (ValueError, KeyError, TypeError, RecursionError):
            log.warning("the note of the journal's end cannot be read; the journal is rewritten")
            return 0
        # It needs no second note, which a full disk wouldn't take.
        self._noted = end
        return end

    def note(self, end: int) -> None:
        """Note how far the journal is proved.

        Raises:
            OSError: the disk didn't take it; the next start proves more than it needs to.
        """
        if end != self._noted:
            write_whole(self.path, json.dumps({"end": end}).encode("ascii"))
            self._noted = end

    def settle(self, journal: Journal) -> None:
        """Make durable what a former process may have left unfinished, before anybody gets an answer from it.

        Raises:
            DiskFull, OSError: the disk didn't take it; nothing beyond the noted point may be promised.
        """
        end = self.read()
        if journal.size > end:
            journal.rewrite()
        elif journal.size < end:
            log.warning("the journal is shorter than it was; entries that phones still have come back from them")
        self.note(journal.size)
