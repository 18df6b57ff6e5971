"""Handing over: a command works on the folder itself, or gives its work to the service that holds the folder.

Nothing here knows what the work is.
"""

from __future__ import annotations

import http.client
import json
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

from sync.errors import LaybyError
from sync.storage import FolderBusy, write_whole

NOTE = "service.json"
PATIENCE_S = 600


class HandedBack(LaybyError):
    """The running service could not do the work; `status`, `said` and `detail` are what it answered."""

    code = "handed_back"


def leave_note(folder: Path, port: int, key: str) -> None:
    """Say beside the records, for their owner's eyes only, where the running service takes commands."""
    write_whole(folder / NOTE, json.dumps({"pid": os.getpid(), "port": port, "key": key}).encode("ascii"))


def remove_note(folder: Path) -> None:
    """The service of this process takes no more commands."""
    note = read_note(folder)
    if note is not None and note["pid"] == os.getpid():
        (folder / NOTE).unlink(missing_ok=True)


def read_note(folder: Path) -> dict[str, Any] | None:
    """Where a running service takes commands: {pid, port, key}, or None where no service says so [JSON object]."""
    try:
        note = json.loads((folder / NOTE).read_bytes())
        return {"pid": int(note["pid"]), "port": int(note["port"]), "key": str(note["key"])}
    except (FileNotFoundError, ValueError, KeyError, TypeError):
        return None


def run_or_hand_over(folder: Path, name: str, arguments: dict[str, Any], work: Callable[[], Any]) -> Any:
    """Do the work here, or where a service holds the folder, let it do the same.

    Args:
        folder: the records [path]
        name: what the service knows the work by: evening, approve, send or receive [text]
        arguments: what it needs to know [JSON object]
        work: does it here; opens the logbook before anything else, and is given up if that is taken [function]

    Returns:
        what the work returns; from the service, the same by way of JSON [JSON value]

    Raises:
        FolderBusy: the folder is held by a process that takes no commands.
        HandedBack: the service refused or failed.
    """
    try:
        return work()
    except FolderBusy:
        note = read_note(folder)
        if note is None:
            raise
        return _hand_over(note, name, arguments, folder)


def _hand_over(note: dict[str, Any], name: str, arguments: dict[str, Any], folder: Path) -> Any:
    connection = http.client.HTTPConnection("127.0.0.1", note["port"], timeout=PATIENCE_S)
    headers = {"Authorization": f"Bearer {note['key']}", "Content-Type": "application/json"}
    try:
        connection.request("POST", f"/desk/{name}", json.dumps(arguments).encode("ascii"), headers)
        response = connection.getresponse()
        said = json.loads(response.read())
    except (ConnectionError, http.client.HTTPException, ValueError) as error:
        # The note is of a service that is gone, and nobody or something else answers on its port.
        raise FolderBusy(folder=str(folder)) from error
    finally:
        connection.close()
    if response.status == 401:
        # Another folder's service has the port of one that is gone from this folder.
        raise FolderBusy(folder=str(folder))
    if response.status != 200:
        raise HandedBack(status=response.status, said=said.get("code"), detail=said.get("detail"))
    return said["result"]
