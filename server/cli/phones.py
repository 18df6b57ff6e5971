"""The commands for access: phones paired, listed and revoked, and the passphrase of the desk's pages.

No code and no key is made here; the tasks do that, in whichever process holds the folder.
"""

from __future__ import annotations

import argparse
from datetime import datetime

from server.cli.language import say
from server.process.dispatch import desk, folder_of

Arguments = argparse.Namespace


def pair(arguments: Arguments) -> int:
    """Show a code, once, that pairs a phone with this desk."""
    from server.process import public_url, qr_code

    address = public_url.sound(arguments.address) if arguments.address else public_url.for_phones(folder_of(arguments))
    offer = desk(arguments, "pair", person=arguments.person)
    link = f"{address}/pair#{offer['code']}"
    if not arguments.plain:
        print(qr_code.in_characters(link))
    short = f"{offer['short'][:4]} {offer['short'][4:]}"
    print(f"{say('pair.camera', until=_clock(offer['code_until_ms']))}\n  {link}")
    print(f"{say('pair.digits', until=_clock(offer['short_until_ms']))}\n  {short}")
    return 0


def passphrase(arguments: Arguments) -> int:
    """Show an address, valid once and for an hour, where the passphrase of the desk's pages can be set."""
    from server.process import public_url

    key = desk(arguments, "new_passphrase")
    print(say("passphrase.set"))
    print(f"  {public_url.of_desk(folder_of(arguments))}/desk/passphrase?key={key}")
    return 0


def devices(arguments: Arguments) -> int:
    """List the paired phones, or revoke one."""
    if arguments.revoke:
        phone = desk(arguments, "revoke", device=arguments.revoke)
        print(say("devices.revoked", name=phone["name"]))
        return 0
    phones = desk(arguments, "devices")
    for device in phones:
        revoked = device["revoked_at"]
        state = say("devices.paired") if revoked is None else say("devices.revoked_on", day=_date(revoked))
        seen = say("devices.seen", paired=_date(device["paired_at"]), seen=_date(device["last_seen"]))
        print(f"{say('devices.line', name=device['name'], state=state)}\n       {seen}\n       {device['device']}")
    if not phones:
        print(say("devices.none"))
    return 0


def _date(at_ms: int) -> str:
    return f"{datetime.fromtimestamp(at_ms / 1000).astimezone():%Y-%m-%d %H:%M}"


def _clock(at_ms: int) -> str:
    return _date(at_ms)[11:]
