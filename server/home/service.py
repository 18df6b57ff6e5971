"""What a desk that is served at home does besides: it renews its certificate, says its name and shows the certificate.

No form is served from here.
"""

from __future__ import annotations

import logging
import os
import signal
import sys
import threading
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from flask import Flask

from server.home import authority
from server.home.address import FOLDER, HomeAddress
from server.home.announcement import Announcement
from server.home.certificate_page import create_page
from server.home.plain_http import serve_plainly
from sync.disk.safe_files import remove, write_whole
from sync.language.words import Words

# Left by the process that ends to be begun again, so that one that a person ends stays ended.
AGAIN = "renew"
HERE = "127.0.0.1"
# A browser hands in files of phones; the desk's forms have their own, smaller limits [bytes].
UPLOAD_MOST = 32 * 1024 * 1024
# The clock is looked at this often, since a computer that sleeps counts no time [s].
LOOK_EVERY_S = 3600.0

log = logging.getLogger("layby.service")


@dataclass(frozen=True)
class HomeService:
    """The address at home, and the ports of the page with the certificate and of the desk for this computer alone."""

    address: HomeAddress
    page_port: int
    desk_port: int

    @property
    def page_url(self) -> str:
        """Where a phone finds the page with the certificate [text]."""
        return f"http://{self.address.host}:{self.page_port}"

    @property
    def desk_url(self) -> str:
        """The desk for this computer's own browser, which need not know the certificate [text]."""
        return f"http://{HERE}:{self.desk_port}"

    def tls(self, folder: Path) -> tuple[Path, Path]:
        """The desk's certificate and its key [PEM files]."""
        return folder / FOLDER / authority.LEAF, folder / FOLDER / authority.LEAF_KEY

    def renewed(self, folder: Path) -> bool:
        """Renew the certificate where the service ended for that.

        Args:
            folder: the logbook's [path]

        Returns:
            whether to serve again, with the new one [truth]

        Raises:
            BadHomeFile: a file of the authority cannot be used.
        """
        again = folder / FOLDER / AGAIN
        if not again.exists():
            return False
        remove(again)
        authority.renew_leaf(folder / FOLDER, self.address.host, datetime.now(UTC))
        return True


class Home:
    """What runs beside the service in its own process.

    Args of the constructor:
        folder: the logbook's [path]
        home: the address and the page's port [HomeService]
        host: where the service listens [text]
    """

    def __init__(self, folder: Path, home: HomeService, host: str) -> None:
        self.folder = folder
        self.home = home
        self.host = host
        self._announcement = Announcement(home.address, host)

    def start(self, app: Flask, books: Path | None) -> None:
        """Begin.

        Args:
            app: the desk's application [Flask]
            books: the rulebook's folder, the package's own when None [path]

        Raises:
            BadHomeFile: the authority's certificate cannot be read.
            OSError: a port is taken.
        """
        page = create_page(self.folder, self.home.address, books)
        serve_plainly(page, self.host, self.home.page_port, body_most=1)
        serve_plainly(app, HERE, self.home.desk_port, body_most=UPLOAD_MOST)
        self._announcement.start()
        threading.Thread(target=self._end_when_due, name="layby-renew", daemon=True).start()

    def lines(self, words: Words) -> list[str]:
        """What there is to know about it, for the terminal.

        Args:
            words: the book `commands` in the language of who started the service [Words]

        Returns:
            lines [texts]

        Raises:
            BadHomeFile: the authority's certificate cannot be read.
        """
        return [
            words.say("commands.serve.here", address=self.home.desk_url),
            words.say("commands.serve.home", page=self.home.page_url),
            f"  {authority.fingerprint(self.folder / FOLDER)}",
        ]

    def stop(self) -> None:
        """End what others would rely on."""
        self._announcement.stop()

    def _end_when_due(self) -> None:
        """Let the service begin again with a new certificate: the server reads its own only as it starts.

        Where a process cannot ask its parent to end, the certificate is renewed at the next start; it is then valid
        for two months more.
        """
        waiting = threading.Event()
        while sys.platform != "win32":
            due = authority.due_at(self.folder / FOLDER)
            left_s = 0.0 if due is None else (due - datetime.now(UTC)).total_seconds()
            if left_s <= 0:
                log.warning("the certificate of %s is renewed", self.home.address.host)
                write_whole(self.folder / FOLDER / AGAIN, b"")
                os.kill(os.getppid(), signal.SIGTERM)
                return
            waiting.wait(min(left_s + 1, LOOK_EVERY_S))
