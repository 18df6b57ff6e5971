"""The press: sheets printed in child processes with limits on time, memory and files.

A sheet that can't be printed costs only itself; nothing here knows what a sheet says.
"""

from __future__ import annotations

import json
import logging
import os
import struct
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from queue import SimpleQueue
from types import TracebackType
from typing import IO

from reports.print_worker import LIMITS
from reports.sheet_data import Sheet

PATIENCE_S = 60.0
ROOT = Path(__file__).resolve().parents[1]
_FRAME = struct.Struct(">cI")
PhotoOf = Callable[[str], bytes | None]

log = logging.getLogger("layby.press")


class Unprintable(Exception):
    """Why a sheet could not be printed: a stable `code` and what the renderer said."""

    def __init__(self, code: str, detail: str = "") -> None:
        super().__init__(code, detail)
        self.code = code
        self.detail = detail


class Press:
    """One child process that prints one sheet after another; a dead child is replaced at the next sheet."""

    def __init__(self, patience_s: float = PATIENCE_S, limits: dict[str, int] | None = None) -> None:
        """Nothing starts before the first sheet.

        Args:
            patience_s: how long one sheet may take [s]
            limits: `memory_bytes`, `cpu_s`, `file_bytes` of the child [mapping]; the usual ones when None
        """
        self.patience_s = patience_s
        self.limits = {**LIMITS, **(limits or {})}
        self._child: subprocess.Popen[bytes] | None = None
        self._folder: tempfile.TemporaryDirectory[str] | None = None

    def __enter__(self) -> Press:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def sheet(self, data: Sheet, photo_of: PhotoOf | None = None) -> bytes:
        """The PDF of one sheet.

        Args:
            data: as for `reports.sheet.render` [Sheet]
            photo_of: gives the bytes of a photo by its digest; None if they are gone [callable or None]

        Returns:
            the PDF [bytes]

        Raises:
            Unprintable: `press_timeout`, `press_died`, `press_missing` (the renderer's libraries) or `press_refused`.
        """
        child = self._running()
        late = threading.Event()

        def give_up() -> None:
            late.set()
            child.kill()

        alarm = threading.Timer(self.patience_s, give_up)
        alarm.start()
        try:
            kind, answer = _answer_to(child, data, photo_of)
        except (OSError, EOFError) as error:
            status = self._buried()
            raise Unprintable("press_timeout" if late.is_set() else "press_died", str(status)) from error
        finally:
            alarm.cancel()
        return _pdf_of(kind, answer)

    def close(self) -> None:
        """End the child; harmless if none is running."""
        if self._child is not None:
            self._buried()

    def _running(self) -> subprocess.Popen[bytes]:
        if self._child is None:
            path = os.pathsep.join(part for part in (str(ROOT), os.environ.get("PYTHONPATH", "")) if part)
            # The renderer keeps its typefaces in a folder that a killed child can't remove, so the parent does.
            self._folder = tempfile.TemporaryDirectory(prefix="layby-press-")
            self._child = subprocess.Popen(
                [sys.executable, "-m", "reports.print_worker", json.dumps(self.limits)],
                stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
                env={**_harmless(), "PYTHONPATH": path, "TMPDIR": self._folder.name},
            )
        return self._child

    def _buried(self) -> int:
        """Close the pipes and the child behind them; returns its exit status."""
        child, self._child = self._child, None
        if child is None:
            return 0
        child.kill()
        for pipe in (child.stdin, child.stdout):
            _closed(pipe)
        status = child.wait()
        if self._folder is not None:
            self._folder.cleanup()
        return status


def _harmless() -> dict[str, str]:
    """The environment without Layby's own variables, such as the mail password; drawing needs none of them."""
    return {name: value for name, value in os.environ.items() if not name.startswith("LAYBY_")}


def _closed(pipe: IO[bytes] | None) -> None:
    try:
        if pipe is not None:
            pipe.close()
    except BrokenPipeError:
        log.debug("the child was gone before its pipe was closed")


def _answer_to(
    child: subprocess.Popen[bytes], data: Sheet, photo_of: PhotoOf | None
) -> tuple[bytes, bytes]:
    """One question and its answer over the pipes; the child may write notes first, which are logged."""
    if child.stdin is None or child.stdout is None:
        raise EOFError
    # One photo at a time, before the sheet: the child makes each small before it takes the next.
    for digest in photos_in(data) if photo_of else ():
        content = digest.encode("ascii") + ((photo_of(digest) if photo_of else None) or b"")
        child.stdin.write(_FRAME.pack(b"I", len(content)) + content)
    question = json.dumps(data).encode("ascii")
    child.stdin.write(_FRAME.pack(b"Q", len(question)) + question)
    child.stdin.flush()
    while True:
        kind, size = _FRAME.unpack(_exactly(child.stdout, _FRAME.size))
        answer = _exactly(child.stdout, size)
        if kind != b"N":
            return kind, answer
        log.warning("while printing: %s", answer.decode("utf-8", "replace"))


def photos_in(data: Sheet) -> list[str]:
    """The photos that a sheet shows, and its logo [digests]."""
    blocks = [*data["blocks"], *(data["technician"]["blocks"] if data["technician"] else [])]
    logo = data["heading"].get("logo")
    shown = [logo] if logo else []
    shown += [photo["sha256"] for block in blocks if block["kind"] == "pair" or block["kind"] == "photos"
              for photo in block["photos"]]
    return list(dict.fromkeys(shown))


def _exactly(pipe: IO[bytes], size: int) -> bytes:
    content = pipe.read(size)
    if len(content) != size:
        raise EOFError
    return content


def _pdf_of(kind: bytes, answer: bytes) -> bytes:
    if kind == b"P":
        return answer
    detail = answer.decode("utf-8", "replace")
    raise Unprintable("press_missing" if kind == b"M" else "press_refused", detail)


def print_sheets(
    sheets: Sequence[Sheet],
    done: Callable[[int, bytes | Unprintable], None] | None = None,
    photo_of: PhotoOf | None = None,
    workers: int | None = None,
) -> list[bytes | Unprintable]:
    """Print many sheets on the available cores; each ends in a PDF or in its own reason.

    Args:
        sheets: data as for `reports.sheet.render` [Sheet each]
        done: called with the index and outcome of each finished sheet, from several threads [callable or None]
        photo_of: gives the bytes of a photo by its digest, None if they are gone; from several threads [callable]
        workers: how many at a time; the number of cores if None [count]

    Returns:
        PDF or reason, in the order of the sheets [list]
    """
    count = max(1, min(workers or os.cpu_count() or 1, len(sheets)))
    presses: SimpleQueue[Press] = SimpleQueue()
    all_presses = [Press() for _ in range(count)]
    for press in all_presses:
        presses.put(press)

    def one(place: int) -> bytes | Unprintable:
        press = presses.get()
        try:
            outcome: bytes | Unprintable = press.sheet(sheets[place], photo_of)
        except Unprintable as reason:
            outcome = reason
        finally:
            presses.put(press)
        if done is not None:
            done(place, outcome)
        return outcome

    try:
        with ThreadPoolExecutor(count) as pool:
            return list(pool.map(one, range(len(sheets))))
    finally:
        for press in all_presses:
            press.close()
