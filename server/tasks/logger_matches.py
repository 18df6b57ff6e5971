"""What the columns of loggers' files were matched to, by the header of the file, kept in a file beside the records.

A convenience: without the file, or with a broken one, columns are guessed and matched anew.
"""

from __future__ import annotations

import json
import logging

from sync.errors import NotOwn
from sync.records.store.files import Files

FILE = "logger_columns.json"

log = logging.getLogger("layby.loggers")


def known(files: Files, header: str) -> list[str] | None:
    """What the columns under a header were matched to; None for a header that is not known.

    Args:
        files: the logbook's [Files]
        header: the names of the columns [text]

    Returns:
        what each column is [codes]
    """
    return _matches(files).get(header)


def remember(files: Files, header: str, match: list[str], most: int) -> None:
    """Remember a match; the oldest goes where there are too many.

    Args:
        files: the logbook's [Files]
        header: the names of the columns [text]
        match: what each column is [codes]
        most: how many headers are remembered [count]

    Raises:
        OSError: the disk did not take it; what was remembered stays.
    """
    before = _matches(files)
    if before.get(header) == match:
        return
    matches = {**{name: one for name, one in before.items() if name != header}, header: match}
    kept = dict(list(matches.items())[-most:])
    files.write(FILE, json.dumps(kept, ensure_ascii=False, indent=1).encode())


def _matches(files: Files) -> dict[str, list[str]]:
    try:
        content = json.loads(files.read(FILE))
        return {str(name): [str(code) for code in match] for name, match in content.items()}
    except FileNotFoundError:
        return {}
    except (OSError, NotOwn, ValueError, AttributeError, TypeError, RecursionError) as error:
        log.warning("%s: %s", FILE, error)
        return {}
