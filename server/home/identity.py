"""Who the desk is to its phones: an address, an authority that vouches for it and a certificate, settled once.

For a browser another name or port is another place with an empty notebook; so neither changes by itself.
"""

from __future__ import annotations

import json
import re
from dataclasses import asdict
from datetime import datetime
from pathlib import Path

from server.home import authority
from server.home.address import DOMAIN, FILE, FOLDER, HomeAddress, known
from sync.disk.safe_files import write_whole
from sync.errors import LaybyError

USUAL = "layby"
# A label of a host name (RFC 952, RFC 1123).
LABEL = re.compile(r"(?!-)[a-z0-9-]{1,63}(?<!-)")


class BadHomeName(LaybyError):
    """It is no name that a desk can have; `name` is what was given."""

    code = "bad_home_name"


class OtherAddress(LaybyError):
    """Phones know this desk by another address; `known` and `asked` are both, `folder` is where the first is kept."""

    code = "other_address"


def settle(folder: Path, name: str | None, port: int, now: datetime) -> HomeAddress:
    """Settle the address of a logbook's desk, and see that it has an authority and a certificate that lasts.

    Args:
        folder: the logbook's, made when missing [path]
        name: with or without its domain; the known one, else the usual one, when None [text or None]
        port: where the desk listens [number]
        now: the time [aware datetime]

    Returns:
        the address [HomeAddress]

    Raises:
        BadHomeName: it is no name of a host.
        OtherAddress: phones know the desk by another one.
        BadHomeFile: a file in the folder cannot be used.
    """
    before = known(folder)
    label = (name or (before.name if before else USUAL)).strip().lower().removesuffix(DOMAIN)
    if not LABEL.fullmatch(label):
        raise BadHomeName(name=name)
    address = HomeAddress(label, port)
    if before is not None and before != address:
        raise OtherAddress(known=before.url, asked=address.url, folder=str(folder / FOLDER))
    if before is None:
        authority.make_authority(folder / FOLDER, address.host, now)
    authority.renew_leaf(folder / FOLDER, address.host, now)
    if before is None:
        # Last: an address that is known has all that belongs to it.
        write_whole(folder / FOLDER / FILE, json.dumps(asdict(address)).encode("ascii"))
    return address
