"""The port of a service: claimed among this user's services, and tested to be free before listening on it.

Nothing here listens or serves.
"""

from __future__ import annotations

import logging
import os
import socket
import sys
import tempfile
import time
from pathlib import Path

from filelock import FileLock, Timeout

from sync.errors import LaybyError

# How long a killed service may need until the system has released its port and its lock.
PATIENCE_S = 3.0

log = logging.getLogger("layby.service")


class PortTaken(LaybyError):
    """Somebody else is answering on the port."""

    code = "port_taken"


def hold_port(port: int, patience_s: float = PATIENCE_S) -> FileLock | None:
    """Claim a port among this user's services for as long as the process lives.

    Two services that start at the same moment would both find it free, and both would get it.

    Args:
        port: the port [number]
        patience_s: how long to wait for it to be released [s]

    Returns:
        the claim; None if the system's folder for such files can't be written

    Raises:
        PortTaken: another service has claimed it.
    """
    user = os.getuid() if hasattr(os, "getuid") else 0
    claim = FileLock(Path(tempfile.gettempdir()) / f"layby-{user}-port-{port}.lock", mode=0o600)
    try:
        claim.acquire(timeout=patience_s)
    except Timeout as error:
        raise PortTaken(port=port) from error
    except OSError as error:
        log.warning("port %d could not be claimed: %s", port, error)
        return None
    return claim


def check_port(host: str, port: int, patience_s: float = PATIENCE_S) -> None:
    """Check that nobody is listening on a port.

    The server shares its port between workers, so a second service would start beside the first and take every other
    request; a plain bind reveals it.

    Args:
        host: the address to listen on [text]
        port: the port [number]
        patience_s: how long to wait for it to become free [s]

    Raises:
        PortTaken: it is in use, or this user may not use it.
    """
    until = time.monotonic() + patience_s
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    while True:
        with socket.socket(family, socket.SOCK_STREAM) as trial:
            if sys.platform == "win32":
                trial.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)
            else:
                trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                trial.bind((host, port))
                return
            except OSError as error:
                if time.monotonic() > until:
                    raise PortTaken(port=port) from error
        time.sleep(0.05)
