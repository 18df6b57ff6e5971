"""Two computers on one cable: network namespaces of Linux, one for a desk and one for a phone.

Needs the right to make them (root) and `ip` of iproute2. No test lives here, and nothing here knows Layby.
"""

from __future__ import annotations

import contextlib
import os
import shlex
import shutil
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from tests.support import children

IP = shutil.which("ip") or shutil.which("ip", path="/usr/sbin:/sbin")
# RFC 5737: for documentation, never routed.
DESK, PHONE = "192.0.2.1", "192.0.2.2"


def not_permitted() -> str:
    """Why there can be no two hosts here; empty if there can."""
    if sys.platform != "linux" or IP is None or os.geteuid() != 0:
        return "network namespaces need Linux, iproute2 and root"
    tried = f"layby-try-{os.getpid()}"
    made = children.run([IP, "netns", "add", tried]).returncode == 0
    if made:
        children.run([IP, "netns", "del", tried])
    return "" if made else "this machine lets nobody make a network namespace"


@dataclass(frozen=True)
class Host:
    """One of the two.

    name: of its namespace
    address: on the cable [IPv4]
    """

    name: str
    address: str

    def within(self, *words: str | os.PathLike[str]) -> list[str]:
        """The words of a command that runs another on this host."""
        return [str(IP), "netns", "exec", self.name, *(os.fspath(word) for word in words)]

    def wrapper(self, program: str | os.PathLike[str], place: Path) -> Path:
        """A program that runs another one on this host, for who can only start a file [path]."""
        place.write_text(f'#!/bin/sh\nexec {shlex.join(self.within(program))} "$@"\n')
        place.chmod(0o755)
        return place


@contextlib.contextmanager
def two_hosts() -> Iterator[tuple[Host, Host]]:
    """A desk and a phone that reach each other and nobody else, until they are no longer needed."""
    mark = os.getpid()
    hosts = Host(f"layby-desk-{mark}", DESK), Host(f"layby-phone-{mark}", PHONE)
    ends = f"lbd{mark}", f"lbp{mark}"
    try:
        for host in hosts:
            _ip("netns", "add", host.name)
        _ip("link", "add", ends[0], "type", "veth", "peer", "name", ends[1])
        for host, end in zip(hosts, ends, strict=True):
            _ip("link", "set", end, "netns", host.name)
            _ip("-n", host.name, "link", "set", end, "name", "cable")
            _ip("-n", host.name, "address", "add", f"{host.address}/24", "dev", "cable")
            for device in ("lo", "cable"):
                _ip("-n", host.name, "link", "set", device, "up")
        yield hosts
    finally:
        for host in hosts:
            children.run([str(IP), "netns", "del", host.name])


def cut(host: Host) -> None:
    """Pull the cable out at one end."""
    _ip("-n", host.name, "link", "set", "cable", "down")


def _ip(*words: str) -> None:
    children.run([str(IP), *words], check=True)
