"""A visitor of the desk's pages who uses plain requests: keeps the cookie, fills in forms, follows no redirect.

No test lives here.
"""

from __future__ import annotations

import http.client
import re
import ssl
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from tests.support.service import PATIENCE_S, Service

PASSPHRASE = "harbour lamp green van"


class Visitor:
    """One browser without scripts; `cookie` is what it shows."""

    def __init__(self, service: Service, tls: ssl.SSLContext | None = None, host: str = "localhost") -> None:
        self.service = service
        self.tls = tls
        self.host = host
        self.cookie = ""
        self.set_cookie = ""

    def ask(self, method: str, path: str, fields: Any = None, **headers: str) -> tuple[int, Any, str]:
        """Status, headers and text of an answer; `fields` make a form, bytes are sent as they are."""
        if self.tls is None:
            connection = http.client.HTTPConnection("127.0.0.1", self.service.desk_port, timeout=PATIENCE_S)
        else:
            connection = http.client.HTTPSConnection(self.host, self.service.port, timeout=PATIENCE_S, context=self.tls)
        shown = {name.replace("_", "-"): value for name, value in headers.items()}
        shown |= {"Cookie": self.cookie} if self.cookie else {}
        if fields is not None:
            shown.setdefault("Content-Type", "application/x-www-form-urlencoded")
        body = fields if fields is None or isinstance(fields, bytes) else urlencode(fields, doseq=True)
        try:
            connection.request(method, path, body, shown)
            answer = connection.getresponse()
            text = answer.read().decode("utf-8", "replace")
        finally:
            connection.close()
        self.set_cookie = answer.headers.get("Set-Cookie", "")
        if self.set_cookie:
            self.cookie = self.set_cookie.split(";")[0]
        return answer.status, answer.headers, text

    def token(self) -> str:
        """The token in a form of the page."""
        found = re.search(r'name="form_token" value="([^"]+)"', self.ask("GET", "/desk/phones")[2])
        assert found, "the page has no form of somebody who is signed in"
        return found[1]

    def press(self, path: str, **fields: Any) -> tuple[int, Any, str]:
        """Send a form of a page, as its button does."""
        return self.ask("POST", path, {"form_token": self.token(), **fields})

    def upload(self, path: str, content: bytes | None, **fields: str) -> tuple[int, Any, str]:
        """Send a form with a file, as its button does; None where no file was chosen."""
        parts = [f'name="{name}"\r\n\r\n{text}'.encode() for name, text in
                 {"form_token": self.token(), **fields}.items()]
        name = "" if content is None else "chosen.file"
        parts.append(f'name="file"; filename="{name}"\r\n\r\n'.encode() + (content or b""))
        body = b"".join(b"--edge-of-form\r\nContent-Disposition: form-data; " + part + b"\r\n" for part in parts)
        kind = "multipart/form-data; boundary=edge-of-form"
        return self.ask("POST", path, body + b"--edge-of-form--\r\n", Content_Type=kind)

    def first(self) -> Visitor:
        """Set the passphrase at the address that the service showed when it started, and sign in."""
        key = setting_key(self.service.log.read_text("utf-8"))
        fields = {"key": key, "passphrase": PASSPHRASE, "again": PASSPHRASE}
        assert self.ask("POST", "/desk/passphrase", fields)[0] == 303
        return self


def setting_key(said: str) -> str:
    """The key in the newest address for setting the passphrase, as a person would read it."""
    found = re.findall(r"/desk/passphrase\?key=(\S+)", said)
    assert found, said
    return str(found[-1])


def wait_for_key(service: Service) -> None:
    """Until the service has said where the passphrase is set, a moment after it answers."""
    patience = time.monotonic() + PATIENCE_S
    while "/desk/passphrase?key=" not in service.log.read_text("utf-8"):
        assert time.monotonic() < patience
        time.sleep(0.02)


@contextmanager
def running_desk(place: Path) -> Iterator[Service]:
    """A real service on a fresh folder in this place, which then has logged no crash."""
    running = Service(place / "layby").start()
    wait_for_key(running)
    yield running
    running.stop()
    assert "Traceback" not in running.log.read_text("utf-8", "replace")
