"""A desk at home: an authority for one name, its certificate, the name in the network, the page with both.

Certificates are checked by OpenSSL and by browsers, names by packets written by hand. No real phone was at hand.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
import shutil
import socket
import ssl
import stat
import struct
import time
import urllib.error
import urllib.request
import zipfile
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from axe_core_python.sync_playwright import Axe
from cryptography import x509
from cryptography.x509.oid import ExtendedKeyUsageOID
from playwright.sync_api import Page, expect

from server.home import authority, identity
from server.home.address import FOLDER, BadHomeFile, HomeAddress, known
from server.home.announcement import Announcement
from tests.support import children
from tests.support.browser import FLAGS, PATIENCE_MS, PHONE, borrowed, chromium, engine
from tests.support.name_questions import MARK, address_in, answer_to, question_for
from tests.support.service import LAYBY, PATIENCE_S, ROOT, Service, free_port
from tests.support.visitor import Visitor, wait_for_key

NAME = "layby.local"
NOW = datetime(2026, 6, 12, 8, tzinfo=UTC)
CERTUTIL = shutil.which("certutil")


class HomeService(Service):
    """`layby serve --home`, kept to this machine; asked by way of the desk's port for this computer."""

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self.page_port, self.desk_port = free_port(), free_port()
        Service.at.pop(self.url)
        self.url = f"http://127.0.0.1:{self.desk_port}"
        Service.at[self.url] = self

    def start(self, *more: str) -> Service:
        """Start it and wait until it has said that it is ready."""
        super().start("--home", "--host", "127.0.0.1", "--page-port", str(self.page_port),
                      "--desk-port", str(self.desk_port), *more)
        assert self.child is not None
        self.child.until(self.listens, "its port for phones")  # the one for this computer is there a little earlier
        return self

    @property
    def address(self) -> str:
        """Where phones open it."""
        return f"https://{NAME}:{self.port}"

    @property
    def page(self) -> str:
        """Where this machine finds the page with the certificate."""
        return f"http://127.0.0.1:{self.page_port}"


@pytest.fixture
def home(folder: Path) -> Iterator[HomeService]:
    """A desk at home, running."""
    service = HomeService(folder)
    service.start()
    yield service
    service.stop()


def settled(folder: Path, name: str | None = None, now: datetime = NOW) -> Path:
    """Where the files of a desk are that has just been given its address."""
    identity.settle(folder, name, 8765, now)
    return folder / FOLDER


def handshake(trusted: Path, files: tuple[Path, Path], name: str, at: datetime | None = None) -> None:
    """A TLS handshake in memory, checked by OpenSSL against one authority and one name."""
    client_context = ssl.create_default_context(cafile=str(trusted))
    server_context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    server_context.load_cert_chain(*files)
    sent, received = ssl.MemoryBIO(), ssl.MemoryBIO()
    client = client_context.wrap_bio(received, sent, server_hostname=name)
    server = server_context.wrap_bio(sent, received, server_side=True)
    for _ in range(4):
        for side in (client, server):
            with contextlib.suppress(ssl.SSLWantReadError):
                side.do_handshake()


def forged(folder: Path, name: str) -> tuple[Path, Path]:
    """What somebody with the authority's key could make: a certificate for another name."""
    other = folder.parent / "forged"
    shutil.copytree(folder, other)
    (other / authority.LEAF).unlink()
    authority.renew_leaf(other, name, datetime.now(UTC))
    return other / authority.LEAF, other / authority.LEAF_KEY


def test_a_phone_that_trusts_the_authority_takes_the_desk(tmp_path: Path) -> None:
    """By its name, and nobody else by any (RFC 5280, 4.2.1.10: name constraints)."""
    files = settled(tmp_path / "logbook", now=datetime.now(UTC))
    handshake(files / "authority.pem", (files / "desk.pem", files / "desk.key"), NAME)
    with pytest.raises(ssl.SSLCertVerificationError, match="permitted subtree"):
        handshake(files / "authority.pem", forged(files, "bank.example"), "bank.example")
    with pytest.raises(ssl.SSLCertVerificationError, match="mismatch"):
        handshake(files / "authority.pem", (files / "desk.pem", files / "desk.key"), "127.0.0.1")


def test_certificates_are_as_phones_ask(tmp_path: Path) -> None:
    """Apple, "Requirements for trusted certificates in iOS 13"; CA/Browser Forum, Baseline Requirements.

    A name in the subject alternative names, server authentication as extended key usage, SHA-2, at most 398 days. An
    authority has a common name, or iOS does not list it (common practice, no source).
    """
    files = settled(tmp_path / "logbook")
    leaf = x509.load_pem_x509_certificate((files / "desk.pem").read_bytes())
    extensions = leaf.extensions
    names = extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    assert names.get_values_for_type(x509.DNSName) == [NAME]
    assert list(extensions.get_extension_for_class(x509.ExtendedKeyUsage).value) == [ExtendedKeyUsageOID.SERVER_AUTH]
    assert leaf.not_valid_after_utc - leaf.not_valid_before_utc <= timedelta(days=397)
    assert leaf.signature_hash_algorithm is not None
    assert leaf.signature_hash_algorithm.name == "sha256"
    root = x509.load_pem_x509_certificate((files / "authority.pem").read_bytes())
    assert root.subject.rfc4514_string() == f"CN=Layby {NAME}"
    assert root.extensions.get_extension_for_class(x509.BasicConstraints).value.path_length == 0
    leaf.verify_directly_issued_by(root)


def test_keys_are_their_owners_alone_and_stay(tmp_path: Path) -> None:
    """Nobody else may read them; a start later nothing is new."""
    folder = tmp_path / "logbook"
    files = settled(folder)
    if os.name == "posix":
        modes = {stat.S_IMODE(file.stat().st_mode) for file in files.iterdir()}
        assert (modes, stat.S_IMODE(files.stat().st_mode)) == ({0o600}, 0o700)
    before = {file.name: file.read_bytes() for file in files.iterdir()}
    settled(folder, now=NOW + timedelta(days=30))
    assert {file.name: file.read_bytes() for file in files.iterdir()} == before


def test_no_backup_holds_a_key(home: HomeService, tmp_path: Path) -> None:
    """Who has the backup could pose as the desk with it."""
    archive = tmp_path / "backup.zip"
    children.run([str(LAYBY), "--folder", str(home.folder), "backup", str(archive)], cwd=ROOT, check=True)
    with zipfile.ZipFile(archive) as held:
        assert not [name for name in held.namelist() if name.startswith(FOLDER)]


@pytest.mark.parametrize(("days", "is_new"), [(0, False), (335, False), (338, True), (500, True)])
def test_the_certificate_is_renewed_ahead(tmp_path: Path, days: int, is_new: bool) -> None:
    """Two months before its end, under the same authority; phones notice nothing."""
    folder = tmp_path / "logbook"
    files = settled(folder)
    before, mark = (files / "desk.pem").read_bytes(), authority.fingerprint(files)
    settled(folder, now=NOW + timedelta(days=days))
    assert ((files / "desk.pem").read_bytes() != before) == is_new
    assert authority.fingerprint(files) == mark
    assert authority.ends_at(files) > NOW + timedelta(days=days + 59)  # type: ignore[operator]


def test_a_pair_that_was_cut_off_is_made_anew(tmp_path: Path) -> None:
    """A key without its certificate, after a power cut between the two."""
    files = settled(tmp_path / "logbook")
    shutil.copy(files / "authority.key", files / "desk.key")
    assert authority.ends_at(files) is None
    settled(tmp_path / "logbook")
    assert authority.ends_at(files) is not None


def test_a_changed_name_or_port_is_refused_with_what_it_means(tmp_path: Path) -> None:
    """To a phone it would be another, empty notebook."""
    folder = tmp_path / "logbook"
    settled(folder)
    for name, port in (("van2", 8765), (None, 9000)):
        with pytest.raises(identity.OtherAddress):
            identity.settle(folder, name, port, NOW)
    assert known(folder) == HomeAddress("layby", 8765)
    assert identity.settle(folder, "Layby.local", 8765, NOW) == HomeAddress("layby", 8765)
    done = children.run([str(LAYBY), "--folder", str(folder), "serve", "--home", "van2"], cwd=ROOT)
    assert (done.returncode, "another, empty notebook" in done.stderr) == (2, True)


@pytest.mark.parametrize("name", ["-van", "van 2", "a.b", "x" * 64, "vañ"])
def test_what_is_no_name_of_a_host_is_refused(tmp_path: Path, name: str) -> None:
    """RFC 1123, 2.1: letters, digits and hyphens, at most 63 of them."""
    with pytest.raises(identity.BadHomeName):
        settled(tmp_path / "logbook", name)
    assert not (tmp_path / "logbook").exists()


@pytest.mark.parametrize("content", [b"", b"[]", b'{"name": "layby"}', b'{"name": "layby", "port": "x"}'])
def test_a_broken_address_is_named(tmp_path: Path, content: bytes) -> None:
    """Not replaced: phones know the desk by what it said."""
    files = settled(tmp_path / "logbook")
    (files / "address.json").write_bytes(content)
    with pytest.raises(BadHomeFile):
        settled(tmp_path / "logbook")


def test_a_lost_authority_is_named(tmp_path: Path) -> None:
    """Another one would be a stranger to every phone."""
    files = settled(tmp_path / "logbook")
    (files / "authority.key").unlink()
    with pytest.raises(BadHomeFile):
        settled(tmp_path / "logbook", now=NOW + timedelta(days=400))


def test_the_service_answers_by_its_name(home: HomeService) -> None:
    """Over TLS under the name alone; plainly to this computer; commands find it."""
    context = ssl.create_default_context(cafile=str(home.folder / FOLDER / "authority.pem"))
    with socket.create_connection(("127.0.0.1", home.port), timeout=PATIENCE_S) as plain, \
            context.wrap_socket(plain, server_hostname=NAME) as secure:
        secure.sendall(f"GET /manifest.webmanifest HTTP/1.1\r\nHost: {NAME}:{home.port}\r\nConnection: close\r\n\r\n"
                       .encode())
        assert secure.recv(65536).startswith(b"HTTP/1.1 200")
    assert home.get("/desk")[0] in (200, 303)
    told = children.run([str(LAYBY), "--folder", str(home.folder), "pair", "--plain"], cwd=ROOT, check=True).stdout
    assert f"{home.address}/pair#" in told
    found = children.run([str(LAYBY), "--folder", str(home.folder), "check"], cwd=ROOT, check=True).stdout
    assert f"{home.address}, certificate until " in found


def fetched(address: str, host: str = NAME, method: str = "GET") -> tuple[int, bytes]:
    """An answer over plain http under some name."""
    request = urllib.request.Request(address, headers={"Host": host}, method=method)
    try:
        with urllib.request.urlopen(request, timeout=PATIENCE_S) as answer:
            return answer.status, answer.read()
    except urllib.error.HTTPError as error:
        with error:
            return error.code, error.read()


def test_the_plain_page_is_all_that_is_served_plainly(home: HomeService) -> None:
    """The public certificate and how to install it; no form, no desk, no key."""
    status, certificate = fetched(f"{home.page}/layby.crt", "192.0.2.7")
    mark = " ".join(re.findall("....", hashlib.sha256(certificate).hexdigest().upper()))
    assert status == 200
    until(lambda: mark in home.log.read_text("utf-8"))
    page = re.sub(r"<[^>]*>", "", fetched(home.page)[1].decode())
    assert mark in " ".join(page.split())
    assert b"PRIVATE KEY" not in certificate + page.encode()
    for path in ("/index.html", "/page.js", "/rulebook.json", "/desk", "/sync", "/pair", "/desk.key", "/static/x"):
        assert fetched(f"{home.page}{path}")[0] == 404
    assert fetched(home.page, method="POST")[0] == 405


def test_the_desks_own_port_is_this_computers(home: HomeService) -> None:
    """It listens on the loopback address, whatever the service listens on."""
    assert fetched(f"http://127.0.0.1:{home.desk_port}/desk", "127.0.0.1")[0] == 200
    other = next((line for line in _listening(home.desk_port) if line != "127.0.0.1"), None)
    assert other is None


def _listening(port: int) -> list[str]:
    """The addresses that somebody listens on at a port, as Linux tells (proc(5)); nothing elsewhere."""
    table = Path("/proc/net/tcp")
    rows = [line.split() for line in table.read_text().splitlines()[1:]] if table.exists() else []
    return [socket.inet_ntoa(struct.pack("<I", int(row[1].split(":")[0], 16))) for row in rows
            if row[3] == "0A" and int(row[1].split(":")[1], 16) == port]


def test_silent_connections_hold_nobody_up(home: HomeService) -> None:
    """Twenty on each port, in the middle of a handshake or before a word."""
    silent = [socket.create_connection(("127.0.0.1", port), timeout=PATIENCE_S)
              for port in (home.port, home.page_port, home.desk_port) for _ in range(20)]
    try:
        began = time.monotonic()
        assert fetched(home.page)[0] == 200
        assert home.get("/manifest.webmanifest")[0] == 200
        context = ssl.create_default_context(cafile=str(home.folder / FOLDER / "authority.pem"))
        with socket.create_connection(("127.0.0.1", home.port), timeout=PATIENCE_S) as plain, \
                context.wrap_socket(plain, server_hostname=NAME):
            pass
        assert time.monotonic() - began < PATIENCE_S
    finally:
        for connection in silent:
            connection.close()


def until(found: Callable[[], Any]) -> Any:
    """Ask until there is something."""
    ends = time.monotonic() + PATIENCE_S
    while time.monotonic() < ends:
        result = found()
        if result:
            return result
    raise AssertionError("nothing came")


def test_the_name_is_answered_for_in_the_network() -> None:
    """With this computer's address, as long as it runs, and no other name."""
    name = b"layby-" + str(os.getpid()).encode()
    announcement = Announcement(HomeAddress(name.decode(), 8765), "127.0.0.1")
    announcement.start()
    try:
        answer = until(lambda: answer_to(question_for(name, b"local"), 1.0))
        identifier, _, _, answers = struct.unpack(">4H", answer[:8])
        assert (identifier, answers) == (MARK, 1)
        assert address_in(answer) == "127.0.0.1"
        assert answer_to(question_for(name + b"x", b"local"), 1.0) is None
    finally:
        announcement.stop()
    assert answer_to(question_for(name, b"local"), 1.0) is None


def test_a_running_desk_renews_its_certificate(folder: Path) -> None:
    """It begins again by itself with the new one, and ends when it is told to."""
    service = HomeService(folder)
    identity.settle(folder, None, service.port, datetime.now(UTC))
    files = folder / FOLDER
    # A certificate that is due a few seconds from now.
    (files / "desk.pem").unlink()
    due_in = timedelta(seconds=6)
    authority.renew_leaf(files, NAME, datetime.now(UTC) - timedelta(days=397 - 60 - 1) + due_in)
    before = (files / "desk.pem").read_bytes()
    service.start()
    assert (files / "desk.pem").read_bytes() == before
    until(lambda: (files / "desk.pem").read_bytes() != before)
    until(lambda: service.log.read_text("utf-8").count("Layby is ready at ") == 2)
    context = ssl.create_default_context(cafile=str(files / "authority.pem"))
    with socket.create_connection(("127.0.0.1", service.port), timeout=PATIENCE_S) as plain, \
            context.wrap_socket(plain, server_hostname=NAME) as secure:
        shown = secure.getpeercert(binary_form=True)
    assert shown == ssl.PEM_cert_to_DER_cert((files / "desk.pem").read_text())
    service.stop()
    assert not (files / "renew").exists()


def trust(authority_file: Path, owner: Path) -> None:
    """Install an authority for a user of the system, as Chromium looks it up on Linux."""
    database = owner / ".pki" / "nssdb"
    database.mkdir(parents=True)
    assert CERTUTIL is not None
    children.run([CERTUTIL, "-d", f"sql:{database}", "-N", "--empty-password"], check=True)
    children.run([CERTUTIL, "-d", f"sql:{database}", "-A", "-t", "C,,", "-n", "layby", "-i", str(authority_file)],
                 check=True)


@contextlib.contextmanager
def phone_of(owner: Path, address: str = "127.0.0.1", program: str | Path | None = None) -> Iterator[Page]:
    """A browser of somebody, in which the name leads to an address: Chromium on Linux asks nobody by multicast."""
    owner.mkdir(exist_ok=True)
    context = engine().chromium.launch_persistent_context(
        str(owner / "profile"), executable_path=program or chromium(), timeout=PATIENCE_MS,
        args=[*FLAGS, f"--host-resolver-rules=MAP {NAME} {address}"], env={**os.environ, "HOME": str(owner)},
        locale="en-GB", **PHONE)
    try:
        yield context.pages[0]
    finally:
        context.close()


@pytest.mark.skipif(CERTUTIL is None, reason="certutil is not here; `python3 tests` installs it on Debian")
def test_the_form_works_offline_where_the_authority_is_installed(home: HomeService, tmp_path: Path) -> None:
    """A person who took the certificate from the page opens Layby by its name, and again without the desk."""
    status, certificate = fetched(f"{home.page}/layby.crt")
    assert status == 200
    (tmp_path / "layby.crt").write_bytes(certificate)
    trust(tmp_path / "layby.crt", tmp_path / "owner")
    code = home.offer()
    with phone_of(tmp_path / "owner") as page:
        page.goto(f"{home.address}/pair#{code}")
        expect(page.locator("#status")).to_have_text("This phone is paired.")
        expect(page.locator("#offline")).to_contain_text("works offline")
        home.stop()
        page.goto(home.address)
        expect(page.locator("#offline")).to_contain_text("works offline")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize(("language", "title"), [("en-GB", "Connect a phone"), ("es-ES", "Conectar un teléfono")])
def test_the_page_tells_a_phone_what_to_do(home: HomeService, scheme: Any, language: str, title: str) -> None:
    """Readable by everybody (axe-core), in both languages, on a small phone; every step has its drawing."""
    with borrowed() as browser:
        context = browser.new_context(**{**PHONE, "viewport": {"width": 320, "height": 640}}, locale=language,
                                      color_scheme=scheme)
        page = context.new_page()
        page.goto(home.page)
        expect(page.get_by_role("heading", level=1)).to_contain_text(title)
        assert page.locator("ol li svg").count() == page.locator("ol li").count() == 9
        assert page.evaluate("document.documentElement.scrollWidth") <= 320
        results = Axe().run(page)
        assert [one["id"] for one in results["violations"]] == []


def test_the_desk_shows_what_to_compare(home: HomeService) -> None:
    """On the page of the phones, to who is signed in."""
    wait_for_key(home)
    visitor = Visitor(home).first()
    _, _, content = visitor.ask("GET", "/desk/phones")
    text = " ".join(re.sub(r"<[^>]*>", " ", content).split())
    assert authority.fingerprint(home.folder / FOLDER) in text
    assert f"http://{NAME}:{home.page_port}" in text
