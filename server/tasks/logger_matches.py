"""What the columns of loggers' files were matched to, by the header of the file, kept in a file beside the records.

A convenience: without the file, or with a broken one, columns are guessed and matched anew.
"""

from __future__ import annotations

import json
import logging
from pathlib import Path

from sync.disk.safe_files import write_whole

FILE = "logger_columns.json"

log = logging.getLogger("layby.loggers")


def known(folder: Path, header: str) -> list[str] | None:
    """What the columns under a header were matched to; None for a header that is not known.

    Args:
        folder: the logbook's [path]
        header: the names of the columns [text]

    Returns:
        what each column is [codes]
    """
    return _matches(folder).get(header)


def remember(folder: Path, header: str, match: list[str], most: int) -> None:
    """Remember a match; the oldest goes where there are too many.

    Args:
        folder: the logbook's [path]
        header: the names of the columns [text]
        match: what each column is [codes]
        most: how many headers are remembered [count]

    Raises:
        OSError: the disk did not take it; what was remembered stays.
    """
    before = _matches(folder)
    if before.get(header) == match:
        return
    matches = {**{name: one for name, one in before.items() if name != header}, header: match}
    kept = dict(list(matches.items())[-most:])
    write_whole(folder / FILE, json.dumps(kept, ensure_ascii=False, indent=1).encode())


def _matches(folder: Path) -> dict[str, list[str]]:
    try:
        content = json.loads((folder / FILE).read_text("utf-8"))
        return {str(name): [str(code) for code in match] for name, match in content.items()}
    except FileNotFoundError:
        return {}
    except (OSError, ValueError, AttributeError, TypeError, RecursionError) as error:
        log.warning("%s: %s", FILE, error)
        return {}
