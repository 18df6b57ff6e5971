"""Walls around the process that draws: it may read the named folders, and reach nothing else on this machine.

Two Linux mechanisms that need no privileges: Landlock for files, seccomp for calls. Nothing here knows what is drawn.
Sources: the kernel's own pages, userspace-api/landlock.rst and userspace-api/seccomp_filter.rst; seccomp_rule_add(3).
"""

from __future__ import annotations

import ctypes
import errno
import logging
import os
import sys
from collections.abc import Callable, Iterable
from functools import partial
from pathlib import Path

# Landlock's three calls have the same numbers on every processor; the C library has no names for them.
CREATE_RULESET, ADD_RULE, RESTRICT_SELF = 444, 445, 446
RULE_PATH_BENEATH = 1
NO_NEW_PRIVS = 38
READ_FILE, READ_DIR = 1 << 2, 1 << 3
# Everything that can be done with files, TCP and processes outside, by the version of Landlock that first knew it.
FILES = {1: (1 << 13) - 1, 2: 1 << 13, 3: 1 << 14, 5: 1 << 15}
TCP = {4: 0b11}
OUTSIDE = {6: 0b11}

SECCOMP = "libseccomp.so.2"
ALLOW, REFUSE, UNKNOWN = 0x7FFF0000, 0x00050000 | errno.EACCES, 0x00050000 | errno.ENOSYS
# No socket of any kind, no other program, and no other process may be inspected or told to end; a thread isn't another
# process. Nor what Landlock leaves open: rights, owners and times of files, and, before its version 3, their lengths.
REFUSED_CALLS = (
    "socket", "io_uring_setup", "execve", "execveat", "fork", "vfork", "kill", "tkill", "pidfd_send_signal", "ptrace",
    "process_vm_readv", "process_vm_writev", "truncate", "chmod", "fchmodat", "fchmodat2", "chown", "lchown",
    "fchownat", "setxattr", "lsetxattr", "utime", "utimes", "futimesat", "utimensat",
)  # fmt: skip
NO_SUCH_CALL = -1  # of this library's edition
MASKED_EQUAL, CLONE_THREAD = 7, 0x00010000

log = logging.getLogger("layby.drawer")


class _Ruleset(ctypes.Structure):
    _fields_ = (("files", ctypes.c_uint64), ("tcp", ctypes.c_uint64), ("outside", ctypes.c_uint64))


class _Beneath(ctypes.Structure):
    _pack_ = 1
    _fields_ = (("allowed", ctypes.c_uint64), ("folder", ctypes.c_int32))


class _Comparison(ctypes.Structure):
    _fields_ = (("argument", ctypes.c_uint), ("kind", ctypes.c_int), ("mask", ctypes.c_uint64),
                ("value", ctypes.c_uint64))  # fmt: skip


def offered() -> tuple[bool, bool]:
    """Whether this system can shut a process off from files, and from calls such as for a socket [yes or no each]."""
    return _version() > 0, _library() is not None


def confine(readable: Iterable[Path]) -> None:
    """Shut this process off, for good, as far as the system can; what is already open stays open.

    A thread that already exists would not be confined, so call this before starting any.

    Args:
        readable: folders and files that may still be read; missing ones are left out [path each]
    """
    walls: tuple[Callable[[], None], ...] = (partial(_shut_files, readable), _shut_calls)
    for shut, is_offered in zip(walls, offered(), strict=True):
        try:
            if is_offered:
                shut()
        except OSError as refusal:
            # For example a container that forbids the call: drawing goes on, within the limits.
            log.info("not shut off: %s", refusal)


def _libc() -> ctypes.CDLL:
    libc = ctypes.CDLL(None, use_errno=True)
    libc.syscall.restype = ctypes.c_long
    return libc


def _done(result: int) -> int:
    """The result of a call; its failure as a system error."""
    if result < 0:
        number = ctypes.get_errno() or -result
        raise OSError(number, os.strerror(number))
    return result


def _version() -> int:
    """This system's version of Landlock; 0 if it has none [number]."""
    if sys.platform != "linux":
        return 0
    return max(0, int(_libc().syscall(CREATE_RULESET, None, ctypes.c_size_t(0), ctypes.c_uint32(1))))


def _known(rights: dict[int, int], version: int) -> int:
    return sum(bits for since, bits in rights.items() if since <= version)


def _shut_files(readable: Iterable[Path]) -> None:
    """Files through Landlock; from version 4 on also TCP, from 6 on other processes' signals and abstract sockets."""
    libc, version = _libc(), _version()
    rules = _Ruleset(*(_known(rights, version) for rights in (FILES, TCP, OUTSIDE)))
    ruleset = _done(libc.syscall(CREATE_RULESET, ctypes.byref(rules), ctypes.c_size_t(ctypes.sizeof(rules)), 0))
    for path in readable:
        if not path.exists():
            continue
        opened = os.open(path, os.O_PATH | os.O_CLOEXEC)
        beneath = _Beneath(READ_FILE | READ_DIR if path.is_dir() else READ_FILE, opened)
        _done(libc.syscall(ADD_RULE, ruleset, RULE_PATH_BENEATH, ctypes.byref(beneath), 0))
        os.close(opened)
    _done(libc.prctl(NO_NEW_PRIVS, 1, 0, 0, 0))
    _done(libc.syscall(RESTRICT_SELF, ruleset, 0))
    os.close(ruleset)


def _library() -> ctypes.CDLL | None:
    """The library that makes seccomp filters for any processor; None if it isn't installed."""
    if sys.platform != "linux":
        return None
    try:
        return ctypes.CDLL(SECCOMP, use_errno=True)
    except OSError:
        return None


def _shut_calls() -> None:
    """Calls through seccomp: those on the list fail. The C library is told that `clone3`, whose flags no filter can
    see, is unknown, so it uses `clone`, which may only make threads.
    """
    library = _library()
    if library is None:
        return
    library.seccomp_init.restype = ctypes.c_void_p
    library.seccomp_init.argtypes = (ctypes.c_uint32,)
    library.seccomp_rule_add_array.argtypes = (ctypes.c_void_p, ctypes.c_uint32, ctypes.c_int, ctypes.c_uint,
                                               ctypes.c_void_p)  # fmt: skip
    library.seccomp_load.argtypes = library.seccomp_release.argtypes = (ctypes.c_void_p,)
    filters = library.seccomp_init(ALLOW)
    no_thread = _Comparison(0, MASKED_EQUAL, CLONE_THREAD, 0)
    rules = [*((REFUSE, name, None) for name in REFUSED_CALLS), (UNKNOWN, "clone3", None), (REFUSE, "clone", no_thread)]
    for action, name, comparison in rules:
        number = library.seccomp_syscall_resolve_name(name.encode())
        if number == NO_SUCH_CALL:
            continue
        arguments = (0, None) if comparison is None else (1, ctypes.byref(comparison))
        _done(library.seccomp_rule_add_array(filters, action, number, *arguments))
    _done(library.seccomp_load(filters))
    library.seccomp_release(filters)
