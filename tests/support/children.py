"""Child processes of the tests: none outlives its patience, and a failing test shows the child's output.

The only test file that starts processes; no test lives here, and nothing here knows Layby.
"""

from __future__ import annotations

import atexit
import contextlib
import json
import os
import signal
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from subprocess import DEVNULL, PIPE, CompletedProcess, Popen
from typing import IO, Any

import pytest

__all__ = ["PATIENCE_S", "PIPE", "Child", "CompletedProcess", "beside", "end_all", "run"]

PATIENCE_S = 120  # a machine with other work is slow, which isn't the child's fault
PAUSE_S = 0.002
Word = str | os.PathLike[str]


class Child:
    """A process in its own group, with everything it starts.

    Its streams are files, so that neither a full pipe nor a grandchild that keeps one open can block a reader.

    Args of the constructor:
        command: program and arguments
        patience_s: how long each wait for it may take before it is killed and the test fails [s]
        log: where both streams go, appended; otherwise they are kept apart until the child is forgotten
        warm: forks it instead of starting the program anew; then only with `log` and the option `cwd`
        options: further options of `subprocess.Popen`
    """

    running: set[Child] = set()  # noqa: RUF012 - of all, so that `end_all` leaves none

    def __init__(
        self, command: Sequence[Word], patience_s: float = PATIENCE_S, log: Path | None = None,
        warm: Warm | None = None, **options: Any
    ) -> None:
        _give_back_interrupt()
        self.command = [os.fspath(word) for word in command]
        self.patience_s = patience_s
        self._out: IO[bytes] = log.open("a+b") if log else tempfile.TemporaryFile()  # noqa: SIM115 - `forget` closes it
        self._err: IO[bytes] = self._out if log else tempfile.TemporaryFile()  # noqa: SIM115 - the same
        self._read = 0
        streams = {"stdin": DEVNULL, "stdout": self._out, "stderr": self._err}
        self.process: Popen[bytes] | Forked
        if warm is not None and log is not None:
            self.process = warm.fork(self.command, log, options["cwd"])
        else:
            self.process = Popen(self.command, start_new_session=True, **{**streams, **options})
        Child.running.add(self)

    @property
    def pid(self) -> int:
        """The process's number, and its group's."""
        return self.process.pid

    @property
    def stdout(self) -> bytes:
        """Its output so far."""
        return _content(self._out)

    @property
    def stderr(self) -> bytes:
        """Its error output so far."""
        return _content(self._err)

    def ended(self) -> bool:
        """Whether it has ended."""
        return self.process.poll() is not None

    def line(self) -> str:
        """Its next line without the line end, empty if there is none; fails if it ended badly instead."""
        self.until(lambda: b"\n" in self.stdout[self._read :] or self.ended(), "its next line")
        line, end, _ = self.stdout[self._read :].partition(b"\n")
        if not end and self.process.returncode:
            self.fail("ended before its next line")
        self._read += len(line) + 1
        return line.decode()

    def wait_for(self, words: str) -> str:
        """Its whole output once it contains these words; fails if it ends without them."""
        self.until(lambda: words.encode() in self.stdout or self.ended(), repr(words))
        said = self.stdout.decode("utf-8", "replace")
        if words not in said:
            self.fail(f"ended without saying {words!r}")
        return said

    def wait(self) -> int:
        """Wait for its end; returns its exit status."""
        self.until(self.ended, "its end")
        return int(self.process.returncode)

    def until(self, holds: Callable[[], bool], what: str) -> None:
        """Wait until something holds that the child has to bring about."""
        end = time.monotonic() + self.patience_s
        while not holds():
            if time.monotonic() > end:
                self.fail(f"not within {self.patience_s} s: {what}")
            time.sleep(PAUSE_S)

    def fail(self, reason: str) -> None:
        """End it with everything it started, and fail the test with its output."""
        self.kill()
        pytest.fail(f"{reason}; {self.told()}", pytrace=True)

    def told(self) -> str:
        """The command and both streams, for a person."""
        said, complained = (stream.decode("utf-8", "backslashreplace") for stream in (self.stdout, self.stderr))
        errors = "" if self._err is self._out else f"--- it complained:\n{complained}"
        return f"{' '.join(self.command)}\n--- it said:\n{said}{errors}"

    def send_signal(self, number: int) -> None:
        """Send a signal only to the process itself."""
        self.process.send_signal(number)

    def terminate(self) -> None:
        """Ask only the process itself to end."""
        self.process.terminate()

    def kill(self) -> None:
        """End it and everything it started at once."""
        if hasattr(os, "killpg"):
            if not (self.ended() and _is_running(self.pid)):
                with contextlib.suppress(ProcessLookupError):
                    os.killpg(self.pid, signal.SIGKILL)
        else:
            self.process.kill()
        self.process.wait(timeout=PATIENCE_S)

    def forget(self) -> None:
        """End what is left of it, and close its streams."""
        self.kill()
        Child.running.discard(self)
        for stream in (self._out, self._err, self.process.stdin):
            if stream is not None:
                stream.close()


class Warm:
    """A program that has imported everything already and forks for each command, as tests/support/warm_layby.py does.

    Args of the constructor:
        program: the program [path]
    """

    def __init__(self, program: Path) -> None:
        self._child = Child([sys.executable, program], stdin=PIPE)
        self._child.line()
        self._heard: list[Forked] = []
        self._statuses: dict[int, int] = {}  # by the number of the fork, since the system gives a pid again
        self._lock = threading.Lock()
        Child.running.discard(self._child)
        atexit.register(self._child.forget)

    def fork(self, command: list[str], log: Path, cwd: Word) -> Forked:
        """Run a command in a fork, with the environment as it is now."""
        wanted = {"command": command, "log": str(log), "cwd": os.fspath(cwd), "env": dict(os.environ)}
        with self._lock:
            stdin = self._child.process.stdin
            assert stdin is not None
            stdin.write(json.dumps(wanted).encode() + b"\n")
            stdin.flush()
            self._child.until(lambda: self._hear() or self._child.ended(), "a fork")
            if not self._heard:
                self._child.fail("ended before it forked")
            return self._heard.pop()

    def status_of(self, fork: int) -> int | None:
        """How a fork ended, by its number; None while it runs [exit status, or the number of a signal below 0]."""
        with self._lock:
            self._hear()
            return self._statuses.get(fork)

    def _hear(self) -> bool:
        """Take in what it said; whether a fork waits to be taken."""
        child = self._child
        *lines, _ = child.stdout[child._read :].split(b"\n")
        for line in lines:
            child._read += len(line) + 1
            said = json.loads(line)
            if "status" in said:
                self._statuses[said["fork"]] = said["status"]
            else:
                self._heard.append(Forked(self, said["fork"], said["pid"]))
        return bool(self._heard)


class Forked:
    """A process that a warm program forked, with what a child needs of `subprocess.Popen`."""

    stdin = None

    def __init__(self, warm: Warm, fork: int, pid: int) -> None:
        self.warm = warm
        self.fork = fork
        self.pid = pid
        self.returncode: int | None = None

    def poll(self) -> int | None:
        """Its exit status, None while it runs."""
        if self.returncode is None:
            self.returncode = self.warm.status_of(self.fork)
        return self.returncode

    def wait(self, timeout: float) -> int:
        """Wait for its end."""
        end = time.monotonic() + timeout
        while (status := self.poll()) is None:
            assert time.monotonic() < end, f"process {self.pid} goes on"
            time.sleep(PAUSE_S)
        return status

    def send_signal(self, number: int) -> None:
        """Send a signal, unless it has ended."""
        if self.poll() is None:
            with contextlib.suppress(ProcessLookupError):
                os.kill(self.pid, number)

    def terminate(self) -> None:
        """Ask it to end."""
        self.send_signal(signal.SIGTERM)

    def kill(self) -> None:
        """End it at once."""
        self.send_signal(signal.SIGKILL)


def run(
    command: Sequence[Word],
    given: str | bytes | None = None,
    check: bool = False,
    text: bool = True,
    patience_s: float = PATIENCE_S,
    **options: Any,
) -> CompletedProcess[Any]:
    """Run a command to its end, both streams caught.

    Args:
        command: program and arguments
        given: its standard input
        check: fail the test if its exit status isn't 0
        text: whether the streams come as text; otherwise as bytes
        patience_s: how long it may take before it is killed and the test fails [s]
        options: further options of `subprocess.Popen`

    Returns:
        the result of the standard library's own `run`: exit status and streams
    """
    with tempfile.TemporaryFile() as stdin:
        stdin.write(given.encode() if isinstance(given, str) else given or b"")
        stdin.seek(0)
        child = Child(command, patience_s, stdin=stdin, **options)
        try:
            status = child.wait()
            if check and status:
                child.fail(f"exit status {status}")
            streams: list[Any] = [child.stdout, child.stderr]
        finally:
            child.forget()
    return CompletedProcess(child.command, status, *[stream.decode() if text else stream for stream in streams])


@contextlib.contextmanager
def beside(command: Sequence[Word], patience_s: float = PATIENCE_S, **options: Any) -> Iterator[Child]:
    """A child beside the test. On leaving it is asked to end; if it doesn't, within its patience, the test fails.

    Args:
        command: program and arguments
        patience_s: how long each wait for it may take, including the one on leaving [s]
        options: `log`, and further options of `subprocess.Popen`
    """
    child = Child(command, patience_s, **options)
    try:
        yield child
        if not child.ended():
            child.terminate()
            child.wait()
    finally:
        child.forget()


def end_all() -> None:
    """End every child that a failed test has left running."""
    for child in list(Child.running):
        child.forget()


def _is_running(pid: int) -> bool:
    """Whether a process has this number. Once a child has ended that is a stranger: the system gives numbers again,
    but never one that a group still bears.
    """
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True


def _content(stream: IO[bytes]) -> bytes:
    """The whole content of a file that somebody else writes to."""
    return os.pread(stream.fileno(), os.fstat(stream.fileno()).st_size, 0)


def _give_back_interrupt() -> None:
    """Make sure that children heed Ctrl+C, even if these tests were started in the background and ignore it themselves.

    A process that ignores a signal passes that on to its children; one with a handler, even an empty one, doesn't.
    """
    ignored = signal.getsignal(signal.SIGINT) is signal.SIG_IGN
    if ignored and threading.current_thread() is threading.main_thread():
        signal.signal(signal.SIGINT, lambda *_: None)
