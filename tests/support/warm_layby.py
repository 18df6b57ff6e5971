"""The command `layby`, imported once and then forked for each service that the tests start: what runs is the same.

A program of its own, which imports nothing of the tests. It reads a line of JSON for each command and writes two: the
process that runs it, and later how that ended; both with the number of the fork, counted from 0.
"""

from __future__ import annotations

import itertools
import json
import os
import select
import signal
import sys
from typing import Any

# Not this folder, whose names would stand in the way of others.
del sys.path[0]

forks: dict[int, int] = {}  # the number of each that runs, by pid
numbers = itertools.count()


def warm() -> None:
    """Import whatever a service needs, load what it loads a little later, and pack what a phone asks for first."""
    import server.app
    import server.body_limits
    import server.cli.main
    import server.http.app_shell
    import server.http.body_reader
    import server.long_routes
    import server.service
    from sync.physics import refrigerant

    refrigerant.critical_point("Water")
    for file in server.http.app_shell.AppShell().files.values():
        _ = file.packings


def say(**said: int) -> None:
    """One line for the tests."""
    sys.stdout.write(json.dumps(said) + "\n")
    sys.stdout.flush()


def commands() -> dict[str, Any] | None:
    """Fork for each command until there are no more; in a fork the command that it is to run, at the end None."""
    woken, wake = os.pipe()
    os.set_blocking(wake, False)
    signal.set_wakeup_fd(wake)
    signal.signal(signal.SIGCHLD, lambda *_: None)
    rest = b""
    while True:
        ready, _, _ = select.select([0, woken], [], [])
        if woken in ready:
            os.read(woken, 4096)
            reap()
        if 0 not in ready:
            continue
        piece = os.read(0, 1 << 16)
        if not piece:
            return None
        *lines, rest = (rest + piece).split(b"\n")
        for line in lines:
            wanted: dict[str, Any] = json.loads(line)
            if is_fork(wanted):
                return wanted


def reap() -> None:
    """Tell of each process that has ended."""
    while True:
        try:
            pid, status = os.waitpid(-1, os.WNOHANG)
        except ChildProcessError:
            return
        if not pid:
            return
        say(fork=forks.pop(pid), status=os.waitstatus_to_exitcode(status))


def is_fork(wanted: dict[str, Any]) -> bool:
    """Fork; whether this is the fork, which is in a group of its own before anybody hears of it."""
    begun, begin = os.pipe()
    pid = os.fork()
    if pid == 0:
        os.setsid()
        signal.set_wakeup_fd(-1)
        signal.signal(signal.SIGCHLD, signal.SIG_DFL)
        signal.signal(signal.SIGINT, signal.default_int_handler)
        nothing, out = os.open(os.devnull, os.O_RDONLY), os.open(wanted["log"], os.O_WRONLY | os.O_APPEND)
        for stream, onto in ((nothing, 0), (out, 1), (out, 2)):
            os.dup2(stream, onto)
        os.closerange(3, 256)
        os.chdir(wanted["cwd"])
        os.environ.clear()
        os.environ.update(wanted["env"])
        sys.argv = wanted["command"]
        return True
    os.close(begin)
    os.read(begun, 1)
    os.close(begun)
    forks[pid] = next(numbers)
    say(fork=forks[pid], pid=pid)
    return False


if __name__ == "__main__":
    warm()
    say(warm=os.getpid())
    if commands() is not None:
        from server.cli.main import main

        sys.exit(main())
