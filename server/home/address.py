"""The desk's address at home, one name and one port, as it is kept beside the records.

It imports nothing slow, since every command that shows an address asks it.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

from sync.errors import LaybyError

FOLDER, FILE = "home", "address.json"
# The domain that multicast DNS answers for (RFC 6762).
DOMAIN = ".local"


class BadHomeFile(LaybyError):
    """A file of the desk's address or authority cannot be used; `file` and `why` tell."""

    code = "bad_home_file"


@dataclass(frozen=True)
class HomeAddress:
    """The name without its domain, and the port."""

    name: str
    port: int

    @property
    def host(self) -> str:
        """The whole name [text]."""
        return f"{self.name}{DOMAIN}"

    @property
    def url(self) -> str:
        """Where phones open Layby [text]."""
        return f"https://{self.host}:{self.port}"


def known(folder: Path) -> HomeAddress | None:
    """The address that was settled for a logbook, None where there is none.

    Args:
        folder: the logbook's [path]

    Returns:
        the address [HomeAddress or None]

    Raises:
        BadHomeFile: the file that holds it cannot be used.
    """
    file = folder / FOLDER / FILE
    try:
        content = json.loads(file.read_text("utf-8"))
        return HomeAddress(str(content["name"]), int(content["port"]))
    except FileNotFoundError:
        return None
    except (OSError, ValueError, KeyError, TypeError, RecursionError) as error:
        raise BadHomeFile(file=str(file), why=str(error)) from error
