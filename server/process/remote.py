"""Handing over: a command works on the folder itself, or gives its work to the service that holds the folder.

Nothing here knows what the work is.
"""

from __future__ import annotations

import http.client
import json
import os
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from server.process.endpoint import Endpoint
from sync.disk.folder_lock import FolderBusy
from sync.disk.safe_files import remove, write_whole
from sync.errors import LaybyError
from sync.language.reader import language

NOTE = "service.json"
PATIENCE_S = 600


@dataclass(frozen=True)
class Note:
    """Where a running service takes commands: its process, the key to show, where it listens."""

    pid: int
    key: str
    listening: Endpoint


class HandedBack(LaybyError):
    """The running service couldn't do the work; `status`, `said` and `detail` are its answer."""

    code = "handed_back"


def leave_note(folder: Path, listening: Endpoint, key: str) -> None:
    """Note beside the records, readable only by their owner, where the running service accepts commands."""
    note = {"pid": os.getpid(), "key": key, **asdict(listening)}
    write_whole(folder / NOTE, json.dumps(note).encode("ascii"))


def remove_note(folder: Path) -> None:
    """The service of this process accepts no more commands."""
    note = read_note(folder)
    if note is not None and note.pid == os.getpid():
        remove(folder / NOTE)


def read_note(folder: Path) -> Note | None:
    """Where a running service accepts commands, or None if no service says so [Note or None]."""
    try:
        note = json.loads((folder / NOTE).read_bytes())
        listening = Endpoint(str(note["host"]), int(note["port"]), note["certificate"])
        return Note(int(note["pid"]), str(note["key"]), listening)
    except (FileNotFoundError, ValueError, KeyError, TypeError, OverflowError, RecursionError):
        return None


def run_or_hand_over(folder: Path, name: str, arguments: Mapping[str, Any], work: Callable[[], Any]) -> Any:
    """Do the work here; if a service holds the folder, let it do the same.

    Args:
        folder: the records [path]
        name: the service's name for the work: one of the tasks [text]
        arguments: what it needs to know [JSON object]
        work: does it here; opens the logbook before anything else, and is given up if that is taken [function]

    Returns:
        the result of the work; from the service, the same by way of JSON [JSON value]

    Raises:
        FolderBusy: the folder is held by a process that accepts no commands.
        HandedBack: the service refused or failed.
    """
    try:
        return work()
    except FolderBusy:
        note = read_note(folder)
        if note is None:
            raise
        return _hand_over(note, name, arguments, folder)


def _hand_over(note: Note, name: str, arguments: Mapping[str, Any], folder: Path) -> Any:
    # Under a name that the service always answers to, whatever phones call it, and in the language of the command.
    headers = {"Authorization": f"Bearer {note.key}", "Content-Type": "application/json", "Host": "localhost",
               "Accept-Language": language()}
    try:
        connection = note.listening.connection(PATIENCE_S)
    except OSError as error:
        raise FolderBusy(folder=str(folder)) from error
    try:
        connection.request("POST", f"/desk/{name}", json.dumps(arguments).encode("ascii"), headers)
        response = connection.getresponse()
        answer = json.loads(response.read())
    except (ConnectionError, http.client.HTTPException, ValueError) as error:
        # The note is from a service that is gone, and nobody or something else answers on its port.
        raise FolderBusy(folder=str(folder)) from error
    finally:
        connection.close()
    if response.status == 401:
        # Another folder's service has the port of one that is gone from this folder.
        raise FolderBusy(folder=str(folder))
    if response.status != 200:
        raise HandedBack(status=response.status, said=answer.get("code"), detail=answer.get("detail"))
    return answer["result"]
