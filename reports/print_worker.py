"""The child of the press: limits itself and shuts itself off, then reads sheets from its input and prints them.

Once shut off, it reaches no network, writes no file and reads only what drawing needs. It ends when its input ends, so
it never outlives its parent for long.
"""

from __future__ import annotations

import json
import logging
import os
import site
import struct
import sys
import sysconfig
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import IO

from reports.confinement import confine
from reports.sheet_data import Sheet

LIMITS = {"memory_bytes": 1_000_000_000, "cpu_s": 60, "file_bytes": 64_000_000}
_FRAME = struct.Struct(">cI")
DIGEST = 64  # hex digits of a photo's SHA-256

# What drawing reads: typefaces and their settings, the libraries that draw, Python's own files, and the time zone.
READ = ("/usr/share/fonts", "/usr/local/share/fonts", "/usr/share/fontconfig", "/etc/fonts", "/var/cache/fontconfig",
        "~/.fonts", "~/.local/share/fonts", "~/.config/fontconfig", "~/.cache/fontconfig", "/usr/lib", "/usr/lib64",
        "/usr/local/lib", "/lib", "/lib64", "/etc/ld.so.cache", "/usr/share/zoneinfo", "/etc/localtime",
        "/dev/urandom")  # fmt: skip

log = logging.getLogger("layby.drawer")


def limit(limits: dict[str, int]) -> None:
    """Limit what this process may use, if the system has such limits (Windows doesn't).

    Args:
        limits: `memory_bytes` of address space and `file_bytes` of any one file [bytes]
    """
    if sys.platform == "win32":
        return
    import resource

    for which, value in ((resource.RLIMIT_AS, limits["memory_bytes"]), (resource.RLIMIT_FSIZE, limits["file_bytes"]),
                         (resource.RLIMIT_CORE, 0)):
        hard = resource.getrlimit(which)[1]
        bound = value if hard == resource.RLIM_INFINITY else min(value, hard)
        resource.setrlimit(which, (bound, hard))


def limit_next(cpu_s: int) -> None:
    """Give the next sheet its own share of processor time; beyond it the system ends this process.

    Args:
        cpu_s: processor time for one sheet [s]
    """
    if sys.platform == "win32":
        return
    import resource

    used = resource.getrusage(resource.RUSAGE_SELF)
    hard = resource.getrlimit(resource.RLIMIT_CPU)[1]
    resource.setrlimit(resource.RLIMIT_CPU, (int(used.ru_utime + used.ru_stime) + cpu_s, hard))


class _Notes(logging.Handler):
    """The renderer's log goes to the parent as notes."""

    def __init__(self, out: IO[bytes]) -> None:
        super().__init__(logging.WARNING)
        self.out = out

    def emit(self, record: logging.LogRecord) -> None:
        answer(self.out, b"N", record.getMessage().encode("utf-8", "replace"))


def answer(out: IO[bytes], kind: bytes, content: bytes) -> None:
    """One framed answer: a note N, a PDF P, a missing library M or an error E."""
    out.write(_FRAME.pack(kind, len(content)) + content)
    out.flush()


def readable() -> list[Path]:
    """What the child may still read once it is shut off: never a folder that could hold records [paths]."""
    python = (sysconfig.get_path("stdlib"), sysconfig.get_path("platstdlib"), *site.getsitepackages(),
              site.getusersitepackages())  # fmt: skip
    ours = (str(Path(__file__).parent), tempfile.gettempdir())
    return [Path(path).expanduser() for path in (*READ, *python, *ours)]


def ready() -> tuple[bytes, bytes] | None:
    """Load all that draws, with its typefaces, and shut this process off; or why it can't draw [kind and content]."""
    fault = _attempt(_load)
    confine(readable())
    return None if fault[0] == b"P" else fault


def _load() -> bytes:
    from reports import (
        photos,  # noqa: F401 loaded for what it imports
        sheet,
    )

    sheet.prepare()
    return b""


def printed(data: Sheet, pictures: dict[str, bytes]) -> tuple[bytes, bytes]:
    """A sheet's PDF, or why there is none [kind and content]."""
    from reports.sheet import render

    return _attempt(lambda: render(data, pictures))


def _attempt(work: Callable[[], bytes]) -> tuple[bytes, bytes]:
    """The result of a piece of work, or why there is none [kind and content]."""
    try:
        return b"P", work()
    except (ImportError, OSError) as error:
        # A shared library that can't be loaded shows as OSError from the renderer's import.
        return b"M", f"{type(error).__name__}: {error}".encode("utf-8", "replace")
    except Exception as error:  # noqa: BLE001 -- the border of this process: whatever went wrong is told, not lost
        return b"E", f"{type(error).__name__}: {error}".encode("utf-8", "replace")


def take_photo(content: bytes, pictures: dict[str, bytes]) -> None:
    """Take in one photo, preceded by its digest; one that can't be drawn is left out, and the sheet says so."""
    from reports.photos import Unusable, derived

    try:
        pictures[content[:DIGEST].decode("ascii")] = derived(content[DIGEST:])
    except Unusable as unusable:
        log.warning("a photo was left out: %s", unusable.code)


def main() -> None:
    """Answer questions until the input ends."""
    limits = {**LIMITS, **json.loads(sys.argv[1])}
    # The answers use the real output; anything a library prints goes to the error output instead.
    out = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    limit(limits)
    for name in ("weasyprint", log.name):
        logging.getLogger(name).handlers = [_Notes(out)]
    limit_next(limits["cpu_s"])
    fault = ready()
    questions, pictures = sys.stdin.buffer, dict[str, bytes]()
    while head := questions.read(_FRAME.size):
        limit_next(limits["cpu_s"])
        kind, size = _FRAME.unpack(head)
        content = questions.read(size)
        if kind == b"I":
            if fault is None:
                take_photo(content, pictures)
            continue
        # The parent of this process wrote it from a `Sheet`.
        answer(out, *(fault or printed(json.loads(content), pictures)))
        pictures.clear()


if __name__ == "__main__":
    main()
