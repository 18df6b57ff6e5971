"""The address at which phones reach this desk: chosen by its owner, else where the running service listens.

Nothing here makes an address reachable.
"""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from pathlib import Path

from server import settings
from server.home import address as home_address
from server.process import remote
from server.process.records_at import files_at
from server.settings import BadSettings
from sync.records.store.files import Files

USUAL = "http://127.0.0.1:8765"
# A scheme, a name or IP address, perhaps a port, and nothing after it.
FORM = re.compile(r"https?://([A-Za-z0-9.-]+|\[[0-9A-Fa-f:]+\])(:[0-9]{1,5})?")


def chosen(folder: Path, files: Files, environment: Mapping[str, str] | None = None) -> str | None:
    """The address that the owner set, in LAYBY_ADDRESS, else as `address` in the folder's settings.json.

    Else the one that `layby serve --home` settled; None without.

    Args:
        folder: the service's own [path]
        files: of the logbook, with its settings [Files]
        environment: the variables; the process's own if None [mapping]

    Returns:
        such as https://desk.example:8765 [text]

    Raises:
        BadSettings: it isn't such an address.
        BadHomeFile: the one at home cannot be read.
    """
    variables = os.environ if environment is None else environment
    address = variables.get("LAYBY_ADDRESS") or settings.load(files, variables)["address"]
    if address:
        return sound(str(address))
    home = home_address.known(folder)
    return home.url if home else None


def chosen_at(folder: Path) -> str | None:
    """The same, for a desk whose logbook isn't open here [text or None]."""
    with files_at(folder) as files:
        return chosen(folder, files)


def sound(address: str) -> str:
    """An address without the slash at its end [text].

    Raises:
        BadSettings: it has no scheme, or has a path or anything else that doesn't belong there.
    """
    bare = address.strip().rstrip("/")
    if not FORM.fullmatch(bare):
        raise BadSettings(setting="address", value=address)
    return bare


def host_of(address: str | None) -> set[str]:
    """The name in an address, which the desk therefore answers to; empty if none is set [names]."""
    match = FORM.fullmatch(address or "")
    return {match[1].lower()} if match else set()


def for_phones(folder: Path) -> str:
    """The address to show to a phone [text]."""
    return chosen_at(folder) or of_desk(folder)


def of_desk(folder: Path) -> str:
    """The address of the service running on the folder, for this computer; the usual one if none runs [text].

    Over TLS it is the address that its owner set, if that is an https address, because the certificate is for that
    name.
    """
    note = remote.read_note(folder)
    return shown(note.listening.address if note else USUAL, chosen_at(folder))


def shown(listening: str, address: str | None) -> str:
    """The address for this computer, from where a service listens and the address that its owner set [text]."""
    return address if address and listening.startswith("https:") and address.startswith("https:") else listening
