"""Over TLS: phones and people reach the desk by its name with a certificate, commands recognise it by its hash.

A real certificate of an authority of the tests' own, a real service, real connections.
"""

from __future__ import annotations

import base64
import contextlib
import hashlib
import json
import socket
import ssl
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import trustme
from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from playwright.sync_api import expect

from server.process.endpoint import BadCertificate, Endpoint, OtherCertificate, certificate_hash
from tests.support import children
from tests.support.browser import FLAGS, PATIENCE_MS, PHONE, chromium, engine
from tests.support.ops import Phone, line_of
from tests.support.service import LAYBY, PATIENCE_S, ROOT, Service
from tests.support.visitor import PASSPHRASE, Visitor, setting_key, wait_for_key

NAME = "desk.alder-coast.example"


@pytest.fixture(scope="module")
def authority() -> trustme.CA:
    """An authority that the tests' own phone trusts."""
    return trustme.CA()


@pytest.fixture(scope="module")
def files(authority: trustme.CA, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """A certificate for the desk's name and for localhost, and its key."""
    ground = tmp_path_factory.mktemp("certificate")
    made = authority.issue_cert(NAME, "localhost")
    certificate, key = ground / "desk.pem", ground / "desk.key"
    for pem in made.cert_chain_pems:
        pem.write_to_path(str(certificate), append=True)
    made.private_key_pem.write_to_path(str(key))
    return certificate, key


@pytest.fixture
def trusting(authority: trustme.CA) -> ssl.SSLContext:
    """What a phone that trusts that authority checks."""
    context = ssl.create_default_context()
    authority.configure_trust(context)
    return context


class SecureService(Service):
    """A service over TLS; it is ready when its line is in the log."""

    def answers(self) -> bool:
        """Whether it has said that it is ready."""
        return "Layby is ready at " in self.log.read_text("utf-8")

    def offer(self) -> str:
        """A fresh code, from the command, which knows the certificate and shows the name that phones use."""
        command = [str(LAYBY), "--folder", str(self.folder), "pair", "--plain"]
        told = children.run(command, cwd=ROOT, check=True).stdout
        _, _, code = told.partition(f"https://{NAME}:{self.port}/pair#")
        assert code, told
        return code.split()[0]


@pytest.fixture
def secure(folder: Path, files: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch) -> Iterator[SecureService]:
    """`layby serve --certificate --key`, with the address that phones use."""
    service = SecureService(folder)
    monkeypatch.setenv("LAYBY_ADDRESS", f"https://{NAME}:{service.port}")
    service.start("--certificate", str(files[0]), "--key", str(files[1]))
    wait_for_key(service)
    yield service
    service.stop()


def asked(service: Service, context: ssl.SSLContext, path: str, host: str, **more: Any) -> tuple[int, Any, bytes]:
    """An answer over TLS, with the certificate checked for localhost and the request addressed to another name."""
    request = urllib.request.Request(f"https://localhost:{service.port}{path}", **more)
    request.add_header("Host", host)
    try:
        with urllib.request.urlopen(request, timeout=PATIENCE_S, context=context) as answer:
            return answer.status, answer.headers, answer.read()
    except urllib.error.HTTPError as error:
        with error:
            return error.code, error.headers, error.read()


def test_a_phone_pairs_and_files_over_tls(secure: Service, trusting: ssl.SSLContext) -> None:
    """Under the name in LAYBY_ADDRESS, which needs no further setting; another name is refused."""
    host = f"{NAME}:{secure.port}"
    claim = json.dumps({"code": secure.offer(), "device": "beef", "name": "Van phone"}).encode()
    json_type = {"Content-Type": "application/json"}
    status, _, content = asked(secure, trusting, "/pair", host, data=claim, headers=json_type)
    assert status == 200, content
    shown = {"Authorization": f"Bearer {json.loads(content)['token']}", "Content-Type": "text/plain"}
    phone = Phone("beef")
    line = line_of(phone.opening(phone.new_id()))
    status, _, content = asked(secure, trusting, "/sync", host, data=line, headers=shown)
    assert (status, json.loads(content)["results"][0]["status"]) == (200, "accepted")
    assert asked(secure, trusting, "/", "other.example")[0] == 421
    assert f"Layby is ready at https://{host}\n" in secure.log.read_text("utf-8")
    assert "without a certificate" not in secure.log.read_text("utf-8")


def test_the_page_works_offline_under_the_name(secure: Service, files: tuple[Path, Path], tmp_path: Path) -> None:
    """In a browser that trusts the certificate: paired by the address, kept by its worker, opened without the desk."""
    public = x509.load_pem_x509_certificate(files[0].read_bytes()).public_key()
    der = public.public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)
    trusted = base64.b64encode(hashlib.sha256(der).digest()).decode()
    flags = [f"--ignore-certificate-errors-spki-list={trusted}", f"--host-resolver-rules=MAP {NAME} 127.0.0.1"]
    address = f"https://{NAME}:{secure.port}"
    context = engine().chromium.launch_persistent_context(
        str(tmp_path / "profile"), executable_path=chromium(), args=[*FLAGS, *flags], timeout=PATIENCE_MS, **PHONE
    )
    page = context.pages[0]
    page.goto(f"{address}/pair#{secure.offer()}")
    expect(page.locator("#status")).to_have_text("This phone is paired.")
    expect(page.locator("#offline")).to_contain_text("works offline")
    secure.stop()
    page.goto(f"{address}/pair")
    expect(page.get_by_text(f"This phone is paired with {address}")).to_be_visible()
    context.close()


def test_the_cookie_is_secure_over_tls(secure: Service, trusting: ssl.SSLContext) -> None:
    """A browser then never shows it over a plain connection; the same when signing out."""
    visitor = Visitor(secure, trusting)
    key = setting_key(secure.log.read_text("utf-8"))
    fields = {"key": key, "passphrase": PASSPHRASE, "again": PASSPHRASE}
    assert visitor.ask("POST", "/desk/passphrase", fields)[0] == 303
    parts = {part.strip() for part in visitor.set_cookie.split(";")[1:]}
    assert parts == {"HttpOnly", "SameSite=Strict", "Path=/", "Secure"}
    assert visitor.ask("GET", "/desk")[0] == 200
    visitor.press("/desk/sign-out")
    assert "Secure" in visitor.set_cookie


def test_a_plain_request_gets_nothing_over_tls(secure: Service) -> None:
    """No page, and the service stays up."""
    with socket.create_connection(("127.0.0.1", secure.port), timeout=PATIENCE_S) as connection:
        found = b""
        with contextlib.suppress(ConnectionError):  # it may just end
            connection.sendall(b"GET /rulebook.json HTTP/1.1\r\nHost: localhost\r\n\r\n")
            found = connection.recv(65536)
    assert b"200" not in found
    assert Endpoint("127.0.0.1", secure.port, hash_of(secure)).connection(5).close() is None


def hash_of(service: Service) -> str:
    """The hash of the certificate that the service left beside the records."""
    return str(json.loads((service.folder / "service.json").read_text())["certificate"])


def test_a_command_gives_its_key_to_the_right_certificate_only(secure: Service, files: tuple[Path, Path]) -> None:
    """The note holds the SHA-256 of the certificate's DER form (FIPS 180-4); nothing is sent to another one."""
    first = files[0].read_text().split("-----END CERTIFICATE-----")[0] + "-----END CERTIFICATE-----\n"
    right = hashlib.sha256(ssl.PEM_cert_to_DER_cert(first)).hexdigest()
    assert hash_of(secure) == right == certificate_hash(*files)
    with pytest.raises(OtherCertificate):
        Endpoint("127.0.0.1", secure.port, "0" * 64).connection(5)
    note = secure.folder / "service.json"
    note.write_text(note.read_text().replace(right, "0" * 64))
    command = [str(LAYBY), "--folder", str(secure.folder), "devices"]
    done = children.run(command, cwd=ROOT)
    assert (done.returncode, "Traceback" in done.stderr) == (2, False)
    assert "Another Layby is using" in done.stderr


def test_serving_a_network_without_a_certificate_is_warned_of(folder: Path) -> None:
    """In a sentence; commands still find the service. Serving only this computer, or over TLS, says nothing."""
    service = Service(folder).start("--host", "0.0.0.0")
    command = [str(LAYBY), "--folder", str(folder), "devices"]
    done = children.run(command, cwd=ROOT)
    service.stop()
    assert done.returncode == 0, done.stderr
    assert "Without a certificate, everything crosses the network unencrypted" in service.log.read_text("utf-8")


def test_what_cannot_be_served_with_is_told_before_anything_starts(
    folder: Path, files: tuple[Path, Path], authority: trustme.CA, tmp_path: Path
) -> None:
    """No such file, a key of another certificate, no certificate at all; and one without the other."""
    other = tmp_path / "other.key"
    authority.issue_cert("other.example").private_key_pem.write_to_path(str(other))
    empty = tmp_path / "empty.pem"
    empty.write_text("")
    for certificate, key in ((files[0], other), (tmp_path / "none.pem", files[1]), (empty, files[1])):
        with pytest.raises(BadCertificate):
            certificate_hash(certificate, key)
    words = [str(LAYBY), "--folder", str(folder), "serve", "--certificate", str(files[0])]
    for more, said in ((["--key", str(other)], "can't be used"), ([], "go together")):
        done = children.run([*words, *more])
        assert (done.returncode, said in done.stderr, "Traceback" in done.stderr) == (2, True, False)
    assert not (folder / "journal.log").exists()
