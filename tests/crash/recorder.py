"""The recorder of a run: every call that changes a file, and every promise given, in order.

It sits at the border to the system, on the functions of `sync.disk.calls`, and passes everything through to them;
nothing here knows what a file or a promise means.
"""

from __future__ import annotations

import errno
from collections.abc import Callable
from pathlib import Path
from types import TracebackType
from typing import Any, NamedTuple

from sync.disk import calls
from tests.crash.disk import Call

_OF_PATHS = ("replace", "remove", "make", "remove_folder")
_OF_HANDLES = ("write", "cut")
SYNCS = ("sync", "sync_folder")


class Fact(NamedTuple):
    """Something that was sent, begun or promised: what, about what, and its value."""

    what: str
    key: Any
    value: Any = None


Event = Call | Fact


class Recorder:
    """Records below one folder while it is entered. One thread.

    Args of the constructor:
        top: the folder; calls elsewhere pass through and aren't recorded [path]
        failing: the sync that fails, once, with EIO; None if none does [count from 0]
    """

    def __init__(self, top: Path, failing: int | None = None) -> None:
        self.top = top
        self.events: list[Event] = []
        self.syncs = 0
        self._failing = failing
        self._numbers: dict[int, int] = {}
        self._files = 0
        self._real: dict[str, Callable[..., Any]] = {}

    def note(self, what: str, key: Any, value: Any = None) -> None:
        """Note what was sent, begun or promised, at its place among the calls."""
        self.events.append(Fact(what, key, value))

    def __enter__(self) -> Recorder:
        for name in (*_OF_PATHS, *_OF_HANDLES, *SYNCS, "create"):
            self._real[name] = getattr(calls, name)
            setattr(calls, name, self._wrapped(name))
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        for name, real in self._real.items():
            setattr(calls, name, real)

    def _wrapped(self, name: str) -> Callable[..., Any]:
        if name == "create":
            return self._create
        if name == "sync_folder":
            return lambda folder: self._sync(name, folder, self._below(folder))
        if name == "sync":
            return lambda handle: self._sync(name, handle, self._numbers.get(handle))
        if name in _OF_HANDLES:
            return lambda handle, *more: self._of_handle(name, handle, *more)
        return lambda *paths: self._of_paths(name, *paths)

    def _below(self, path: Path) -> str | None:
        """A path below the top, "" for the top; None if it is elsewhere."""
        if not path.is_relative_to(self.top):
            return None
        relative = path.relative_to(self.top).as_posix()
        return "" if relative == "." else relative

    def _create(self, path: Path, fresh: bool = False) -> int:
        handle: int = self._real["create"](path, fresh)
        self._numbers.pop(handle, None)
        below = self._below(path)
        if below is not None:
            self._files += 1
            self._numbers[handle] = self._files
            self.events.append(Call("create", (below, fresh, self._files)))
        return handle

    def _of_handle(self, name: str, handle: int, *more: Any) -> None:
        self._real[name](handle, *more)
        if handle in self._numbers:
            plain = [bytes(one) if isinstance(one, memoryview) else one for one in more]
            self.events.append(Call(name, (self._numbers[handle], *plain)))

    def _of_paths(self, name: str, *paths: Path) -> None:
        self._real[name](*paths)
        self.events.append(Call(name, tuple(self._below(path) for path in paths)))

    def _sync(self, name: str, what: Any, key: Any) -> None:
        """A folder above the top doesn't count, nor does a handle that was opened before."""
        if key is None:
            self._real[name](what)
            return
        self.syncs += 1
        if self.syncs - 1 == self._failing:
            self.events.append(Call(f"{name}_fails", (key,)))
            raise OSError(errno.EIO, "Input/output error")
        self._real[name](what)
        self.events.append(Call(name, (key,)))
