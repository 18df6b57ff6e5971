"""The service as the tests start, query and end it: a real `layby serve` on a loopback port, on its own folder.

No test lives here, and nothing here replaces a part of Layby: the service is the one a technician runs.
"""

from __future__ import annotations

import itertools
import json
import re
import socket
import sys
import tempfile
import threading
import urllib.error
import urllib.request
from functools import cache
from pathlib import Path
from typing import Any, ClassVar
from urllib.parse import parse_qs, urlsplit

from tests.support.children import PATIENCE_S, Child, Warm

ROOT = Path(__file__).resolve().parents[2]
# The routes that only a paired phone may use.
OF_PHONES = re.compile(r"/(sync|receipts|changes|blobs|bundles)\b")
LAYBY = Path(sys.executable).with_name("layby.exe" if sys.platform == "win32" else "layby")


def free_port() -> int:
    """A loopback port that nobody listens on, and that no other socket is given by chance while these tests run.

    It stays bound here without listening, so that connections are refused and a service that asks for exactly this port
    gets it: even between an end and the next start, when the system could give it to tests running beside these.
    """
    held = socket.socket()
    if sys.platform != "win32":
        held.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        held.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEPORT, 1)
    held.bind(("127.0.0.1", 0))
    port = int(held.getsockname()[1])
    if sys.platform == "win32":
        held.close()
    else:
        held.detach()
    return port


@cache
def warm() -> Warm | None:
    """The command `layby`, imported once in this process's tests and forked for each service; None where none forks."""
    return Warm(Path(__file__).with_name("warm_layby.py")) if sys.platform == "linux" else None


def layby(folder: Path, *words: str) -> tuple[int, str]:
    """A command of a person on a folder: its exit status, and all that it said."""
    with tempfile.TemporaryDirectory() as place:
        command = [str(LAYBY), "--folder", str(folder), *words]
        child = Child(command, log=Path(place) / "said", cwd=ROOT, warm=warm())
        try:
            return child.wait(), child.stdout.decode("utf-8", "replace")
        finally:
            child.forget()


class Service:
    """A real `layby serve` on a free loopback port with its own folder; which `layby`, and where, can be chosen.

    `get` and `post` show a phone's token, as a paired phone does: that of the device which the query names, or which
    wrote the first line handed in, else that of one phone for all. The phone is paired the real way when first needed.
    Sheets are requested with the owner's key.
    """

    at: ClassVar[dict[str, Service]] = {}

    def __init__(self, folder: Path, command: Path = LAYBY, cwd: Path = ROOT) -> None:
        self.folder = folder
        self.command = command
        self.cwd = cwd
        self.port = self.desk_port = free_port()
        self.url = f"http://127.0.0.1:{self.port}"
        self.child: Child | None = None
        self.tokens: dict[str, str] = {}
        self.pairing = threading.Lock()
        Service.at[self.url] = self

    def also_at(self, url: str) -> None:
        """The service is also reached at another address, such as a proxy's; a phone that opens it pairs there."""
        Service.at[url] = self

    @property
    def log(self) -> Path:
        """What the service printed, both streams."""
        return self.folder.parent / f"{self.folder.name}-service.log"

    def start(self, *more: str) -> Service:
        """Start the service and wait until it answers; `more` are further words of the command."""
        command = [str(self.command), "--folder", str(self.folder), "serve", "--port", str(self.port), *more]
        child = self.child = Child(command, log=self.log, cwd=self.cwd, warm=warm() if self.command == LAYBY else None)
        child.until(lambda: self.answers() or child.ended(), "its first answer")
        if child.ended():
            child.fail("the service did not come up")
        return self

    def answers(self) -> bool:
        """Whether something speaks HTTP on the port."""
        try:
            with urllib.request.urlopen(self.url + "/rulebook.json", timeout=PATIENCE_S):
                return True
        except urllib.error.HTTPError:
            return True
        except (urllib.error.URLError, ConnectionError, TimeoutError):
            return False

    def stop(self) -> None:
        """End the service as Ctrl+C does, and wait until the port refuses connections."""
        if self.child is not None:
            self.child.terminate()
            self._wait_until_gone(self.child).forget()

    def kill(self) -> None:
        """End the service as a power cut does, including its worker, which soon notices that its parent is gone."""
        if self.child is not None:
            self.child.process.kill()
            self._wait_until_gone(self.child)

    def _wait_until_gone(self, child: Child) -> Child:
        child.wait()
        child.until(lambda: not self.listens(), f"port {self.port} to refuse")
        self.child = None
        return child

    def listens(self) -> bool:
        """Whether somebody accepts connections on the port."""
        with socket.socket() as trial:
            return trial.connect_ex(("127.0.0.1", self.port)) == 0

    def offer(self) -> str:
        """A fresh code for pairing, requested from the running service with its owner's key as `layby pair` does."""
        headers = {"Content-Type": "application/json", **self._owner()}
        status, _, content = self._ask(urllib.request.Request(self.url + "/desk/pair", b"{}", headers))
        assert status == 200, content
        return str(json.loads(content)["result"]["code"])

    def _owner(self) -> dict[str, str]:
        return {"Authorization": f"Bearer {json.loads((self.folder / 'service.json').read_text())['key']}"}

    def bearer(self, device: str = "7e57") -> dict[str, str]:
        """The header that a paired phone shows; pairs the device on first use."""
        with self.pairing:
            self._pair_once(device)
        return {"Authorization": f"Bearer {self.tokens[device]}"}

    def _pair_once(self, device: str) -> None:
        if device not in self.tokens:
            asked = json.dumps({"code": self.offer(), "device": device, "name": f"phone {device}"}).encode()
            headers = {"Content-Type": "application/json"}
            status, _, body = self._ask(urllib.request.Request(self.url + "/pair", asked, headers))
            assert status == 200, body
            self.tokens[device] = json.loads(body)["token"]

    def _shown(self, path: str, body: bytes = b"") -> dict[str, str]:
        """What `get` and `post` show: nothing for the page's own files or when a phone pairs."""
        url = urlsplit(path)
        if url.path.startswith("/sheets/"):
            return self._owner()
        if url.path == "/pair" or not OF_PHONES.match(url.path):
            return {}
        first = body.split(b"\n", 1)[0]
        wrote = {"/sync": re.search(rb'"device": ?"([0-9a-f]{4,64})"', first),
                 "/bundles": re.match(rb"layby-bundle 1 ([0-9a-f]{4,64}) ", first)}.get(url.path)
        device = parse_qs(url.query).get("device", [wrote[1].decode() if wrote else ""])[0]
        return self.bearer(device) if re.fullmatch("[0-9a-f]{4,64}", device) else self.bearer()

    def get(self, path: str) -> tuple[int, Any, bytes]:
        """GET: status, headers, body; an error status is an answer like any other."""
        return self._ask(urllib.request.Request(self.url + path, headers=self._shown(path)))

    def post(self, path: str, body: bytes, content_type: str = "text/plain; charset=utf-8") -> tuple[int, Any, bytes]:
        """POST: status, headers, body; an error status is an answer like any other."""
        headers = {"Content-Type": content_type, **self._shown(path, body)}
        return self._ask(urllib.request.Request(self.url + path, data=body, headers=headers, method="POST"))

    def _ask(self, request: urllib.request.Request) -> tuple[int, Any, bytes]:
        try:
            with urllib.request.urlopen(request, timeout=PATIENCE_S) as answer:
                return answer.status, answer.headers, answer.read()
        except urllib.error.HTTPError as error:
            with error:
                return error.code, error.headers, error.read()


def hand_in_day(service: Service, made: list[tuple[str, bytes]]) -> None:
    """Hand in the lines of a whole day, (device, line) in order, each by the phone that wrote it."""
    for _, own in itertools.groupby(made, key=lambda one: one[0]):
        lines = [line for _, line in own]
        for start in range(0, len(lines), 50):
            assert service.post("/sync", b"".join(lines[start : start + 50]))[0] == 200
