"""Callers of the desk's door: who a try at the passphrase counts against.

Nothing here lets anybody in, and a header gains its sender nothing but their own count.
"""

from __future__ import annotations

import ipaddress
from typing import NamedTuple

from flask import Request

NAME_MOST = 64

Address = ipaddress.IPv4Address | ipaddress.IPv6Address


class Caller(NamedTuple):
    """Who a try counts against; one who is `apart` is held up only by their own tries, not by everybody's."""

    name: str
    is_apart: bool


def caller_of(incoming: Request) -> Caller:
    """Who is asking, by the address that the request came from and by the one that a proxy names.

    A caller on this machine itself, through no proxy, is apart: they could just as well read the folder, and strangers
    must not lock the owner out.

    Args:
        incoming: the request [Request]

    Returns:
        the caller; the last address that a proxy names is kept separate for each proxy, because a sender who writes the
        header themselves could otherwise use up somebody else's tries [Caller]
    """
    remote, behind = network_of(incoming.remote_addr or ""), _named_by_proxy(incoming)
    if behind is None:
        return Caller(remote, is_here(remote))
    return Caller(f"{network_of(behind)} by {remote}", False)


def network_of(address: str) -> str:
    """The caller behind an address: itself, or for IPv6 its 64-bit network, because one house has all of that.

    Args:
        address: an IP address, perhaps in brackets and with a port [text]

    Returns:
        address or network; any other text is one caller by itself [text]
    """
    caller = _parsed(address)
    if caller is None:
        return address.strip()[:NAME_MOST]
    if isinstance(caller, ipaddress.IPv6Address) and not caller.is_loopback:
        return str(ipaddress.ip_network((caller, 64), strict=False))
    return str(caller)


def _named_by_proxy(incoming: Request) -> str | None:
    """The address that the last proxy says it was asked from, "" if it says none; None without a proxy.

    Each proxy appends its own, so only the last isn't the caller's to choose (RFC 7239, section 4).
    """
    plain, worded = incoming.headers.get("X-Forwarded-For"), incoming.headers.get("Forwarded")
    if plain is not None:
        return plain.rpartition(",")[2]
    if worded is None:
        return None
    pairs = (pair.partition("=") for pair in worded.rpartition(",")[2].split(";"))
    return next((value.strip().strip('"') for name, _, value in pairs if name.strip().lower() == "for"), "")


def _without_port(address: str) -> str:
    if address.startswith("["):
        return address[1:].partition("]")[0]
    return address.partition(":")[0] if address.count(":") == 1 else address


def is_here(remote: str) -> bool:
    """Whether an address is this machine's own."""
    caller = _parsed(remote)
    return caller is not None and caller.is_loopback


def is_address(text: str) -> bool:
    """Whether a text is an IP address, perhaps in brackets and with a port."""
    return _parsed(text) is not None


def _parsed(text: str) -> Address | None:
    """The address in a text; an IPv4 address also if written as IPv6; None if there is none."""
    try:
        address = ipaddress.ip_address(_without_port(text.strip()).partition("%")[0])
    except ValueError:
        return None
    return (address.ipv4_mapped or address) if isinstance(address, ipaddress.IPv6Address) else address
