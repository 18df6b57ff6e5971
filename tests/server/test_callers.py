"""Callers: who a try counts against, by where it came from and what a proxy says; addresses as in RFC 5737."""

from __future__ import annotations

import pytest
from flask import Request
from werkzeug.test import EnvironBuilder

from server.http.callers import Caller, caller_of


def asked(remote: str, **headers: str) -> Caller:
    """Who a request with these headers counts against."""
    shown = {name.replace("_", "-"): value for name, value in headers.items()}
    environ = EnvironBuilder(headers=shown, environ_base={"REMOTE_ADDR": remote}).get_environ()
    return caller_of(Request(environ))


@pytest.mark.parametrize("remote", ["127.0.0.1", "127.8.0.1", "::1", "[::1]", "::ffff:127.0.0.1"])
def test_who_asks_at_the_machine_stands_apart(remote: str) -> None:
    """Only without a proxy; with one, the request is somebody else's."""
    assert asked(remote).is_apart
    for header in ("X_Forwarded_For", "Forwarded"):
        assert not asked(remote, **{header: "127.0.0.1"}).is_apart
        assert not asked(remote, **{header: ""}).is_apart


@pytest.mark.parametrize("remote", ["192.0.2.1", "2001:db8::1", "", "unix", "127.0.0.1.example", "::ffff:192.0.2.1"])
def test_nobody_else_does(remote: str) -> None:
    """Whatever a header says."""
    assert not asked(remote).is_apart
    assert not asked(remote, X_Forwarded_For="127.0.0.1").is_apart


@pytest.mark.parametrize("header", [
    {"X_Forwarded_For": "192.0.2.7"}, {"X_Forwarded_For": "198.51.100.9, 192.0.2.7"},
    {"X_Forwarded_For": "198.51.100.9,192.0.2.7:4711"}, {"Forwarded": "for=192.0.2.7"},
    {"Forwarded": "for=198.51.100.9;proto=https, for=192.0.2.7;by=203.0.113.4"},
    {"Forwarded": 'proto=https;For="192.0.2.7:4711"'},
])  # fmt: skip
def test_the_last_address_that_a_proxy_names_counts(header: dict[str, str]) -> None:
    """Those before it are what the caller wrote themselves."""
    assert asked("127.0.0.1", **header) == ("192.0.2.7 by 127.0.0.1", False)


def test_who_forges_the_header_is_not_taken_for_somebody_else() -> None:
    """A direct caller who names another's address uses up none of their tries, behind the proxy or directly."""
    forged = asked("203.0.113.5", X_Forwarded_For="192.0.2.7")
    assert forged not in (asked("192.0.2.7"), asked("127.0.0.1", X_Forwarded_For="192.0.2.7"))


def test_an_ipv6_network_is_one_caller() -> None:
    """A /64 is what one house gets (RFC 6177); the next one is another caller."""
    assert asked("2001:db8::1") == asked("[2001:db8::ffff]") == asked("2001:db8::2%eth0")
    assert asked("2001:db8:0:1::1") != asked("2001:db8::1")
    assert asked("::ffff:192.0.2.1") == asked("192.0.2.1")
    named = [asked("::1", Forwarded=f'for="{text}"').name for text in ("[2001:db8::1]", "[2001:db8::9]:4711")]
    assert named == ["2001:db8::/64 by ::1"] * 2


def test_what_is_no_address_is_one_caller_and_short() -> None:
    """RFC 7239 lets a proxy hide its callers; noise of any length is cut."""
    assert asked("127.0.0.1", Forwarded="for=_hidden").name == "_hidden by 127.0.0.1"
    assert asked("127.0.0.1", Forwarded="by=_me").name == " by 127.0.0.1"
    assert len(asked("127.0.0.1", X_Forwarded_For="x" * 9000).name) < 100
