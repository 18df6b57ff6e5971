"""The desk's door: shut until a passphrase is set and shown, to forms of other pages, and to who tries too often."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.server.test_sync_routes import guarded
from tests.support import children
from tests.support.service import PATIENCE_S, Service
from tests.support.visitor import PASSPHRASE, Visitor, setting_key

BEHIND = ("/desk", "/desk/search?text=Okello", "/desk/post", "/desk/phones")
FORMS = ("make", "approve", "send", "offer", "revoke")


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    """A real service whose passphrase is set, for the tests that change nothing of it."""
    running = Service(tmp_path_factory.mktemp("desk") / "layby").start()
    wait_for_key(running)
    Visitor(running).first()
    yield running
    running.stop()


def wait_for_key(service: Service) -> None:
    """Until the service has said where the passphrase is set, a moment after it answers."""
    patience = time.monotonic() + PATIENCE_S
    while "/desk/passphrase?key=" not in service.log.read_text("utf-8"):
        assert time.monotonic() < patience
        time.sleep(0.02)


def layby(service: Service, *words: str) -> str:
    """A command on the service's folder; what it said."""
    command = [str(service.command), "--folder", str(service.folder), *words]
    return children.run(command, check=True).stdout


def test_the_first_start_shows_where_the_passphrase_is_set(service: Service) -> None:
    """The address works once; then the pages are open to that browser and shut to any other."""
    wait_for_key(service)
    visitor = Visitor(service)
    assert "No passphrase is set yet" in visitor.ask("GET", "/desk/sign-in")[2]
    key = setting_key(service.log.read_text("utf-8"))
    assert 'name="again"' in visitor.ask("GET", f"/desk/passphrase?key={key}")[2]
    assert "not good, or not any more" in visitor.ask("GET", "/desk/passphrase?key=x")[2]
    wrong = {"key": key, "passphrase": PASSPHRASE, "again": PASSPHRASE + "."}
    status, _, text = visitor.ask("POST", "/desk/passphrase", wrong)
    assert (status, "The two passphrases differ" in text) == (422, True)
    status, _, text = visitor.ask("POST", "/desk/passphrase", {"key": key, "passphrase": "short", "again": "short"})
    assert (status, "12 to 200 characters" in text) == (422, True)
    assert visitor.first().ask("GET", "/desk")[0] == 200
    assert visitor.ask("GET", "/desk/sign-in")[1]["Location"] == "/desk"
    other = Visitor(service)
    assert other.ask("GET", "/desk")[1]["Location"] == "/desk/sign-in"
    assert other.ask("POST", "/desk/passphrase", {**wrong, "again": PASSPHRASE})[0] == 403
    service.stop()
    said = service.log.read_text("utf-8").count("/desk/passphrase?key=")
    service.start()
    assert service.log.read_text("utf-8").count("/desk/passphrase?key=") == said
    assert visitor.ask("GET", "/desk")[0] == 303


def test_the_cookie_is_for_this_desk_alone(desk: Service) -> None:
    """Out of reach of scripts and of other sites, and gone with the browser."""
    visitor = Visitor(desk)
    status, headers, _ = visitor.ask("POST", "/desk/sign-in", {"passphrase": PASSPHRASE})
    assert (status, headers["Location"]) == (303, "/desk")
    parts = {part.strip() for part in visitor.set_cookie.split(";")[1:]}
    assert parts == {"HttpOnly", "SameSite=Strict", "Path=/"}
    assert len(visitor.cookie) > 43


@pytest.mark.parametrize("path", BEHIND)
def test_a_page_is_shut_to_who_is_not_signed_in(desk: Service, path: str) -> None:
    """It leads to the door and shows nothing; a cookie of another make is none."""
    for cookie in ("", "layby_desk=", "layby_desk=" + "x" * 43):
        visitor = Visitor(desk)
        visitor.cookie = cookie
        status, headers, text = visitor.ask("GET", path)
        assert (status, headers["Location"]) == (303, "/desk/sign-in")
        assert "I. Varga" not in text
        guarded(headers)


@pytest.mark.parametrize("name", FORMS)
def test_a_form_counts_only_from_a_page_of_this_desk(desk: Service, name: str) -> None:
    """Without a session, without its token, with another's, sent by another site: nothing is done."""
    assert Visitor(desk).ask("POST", f"/desk/do/{name}", {})[1]["Location"] == "/desk/sign-in"
    visitor, other = Visitor(desk), Visitor(desk)
    for one in (visitor, other):
        one.ask("POST", "/desk/sign-in", {"passphrase": PASSPHRASE})
    before = layby(desk, "devices")
    for fields in ({}, {"form_token": ""}, {"form_token": other.token()}):
        status, headers, text = visitor.ask("POST", f"/desk/do/{name}", fields)
        assert (status, "did not come from this desk" in text) == (403, True)
        guarded(headers)
    fields = {"form_token": visitor.token()}
    assert visitor.ask("POST", f"/desk/do/{name}", fields, Sec_Fetch_Site="cross-site")[0] == 403
    assert layby(desk, "devices") == before


def test_a_page_of_another_site_cannot_sign_a_browser_in(desk: Service) -> None:
    """Where the browser says who sent the form."""
    visitor = Visitor(desk)
    assert visitor.ask("POST", "/desk/sign-in", {"passphrase": PASSPHRASE}, Sec_Fetch_Site="cross-site")[0] == 403
    assert visitor.cookie == ""


def test_signing_out_ends_the_session(desk: Service) -> None:
    """Here, too, so that a copied cookie opens nothing."""
    visitor = Visitor(desk)
    visitor.ask("POST", "/desk/sign-in", {"passphrase": PASSPHRASE})
    shown = visitor.cookie
    assert visitor.press("/desk/sign-out")[1]["Location"] == "/desk/sign-in"
    assert "Max-Age=0" in visitor.set_cookie or "1970" in visitor.set_cookie
    visitor.cookie = shown
    assert visitor.ask("GET", "/desk")[0] == 303


def test_the_passphrase_is_set_anew_by_the_command(service: Service) -> None:
    """`layby passphrase` shows an address; after it the old one opens nothing and all sessions have ended."""
    wait_for_key(service)
    visitor = Visitor(service).first()
    said = layby(service, "passphrase")
    assert f"http://127.0.0.1:{service.port}/desk/passphrase?key=" in said
    assert visitor.ask("GET", "/desk")[0] == 200
    fresh = {"key": setting_key(said), "passphrase": "another one for me", "again": "another one for me"}
    other = Visitor(service)
    assert other.ask("POST", "/desk/passphrase", fresh)[0] == 303
    assert visitor.ask("GET", "/desk")[0] == 303
    assert visitor.ask("POST", "/desk/sign-in", {"passphrase": PASSPHRASE})[0] == 403
    assert other.ask("GET", "/desk")[0] == 200


def test_many_wrong_passphrases_are_held_back(service: Service) -> None:
    """Five, then 429 with the time to wait, even for the right one."""
    wait_for_key(service)
    Visitor(service).first()
    visitor = Visitor(service)
    for _ in range(5):
        status, _, text = visitor.ask("POST", "/desk/sign-in", {"passphrase": "not this one at all"})
        assert (status, "This is not the passphrase." in text) == (403, True)
    status, headers, text = visitor.ask("POST", "/desk/sign-in", {"passphrase": PASSPHRASE})
    assert status == 429
    assert 1 <= int(headers["Retry-After"]) <= 300
    assert re.search(r"Wait \d+ seconds", text)


def test_a_sheet_is_for_its_owner(desk: Service, folder: Path) -> None:
    """401 without session and key; not for the token of a paired phone either."""
    path = "/sheets/019ebcb4-8d7c-7000-8000-000000000001.pdf"
    assert Visitor(desk).ask("GET", path)[0] == 401
    assert Visitor(desk).ask("GET", path, Authorization=desk.bearer()["Authorization"])[0] == 401
    assert desk.get(path)[0] == 404
    visitor = Visitor(desk)
    visitor.ask("POST", "/desk/sign-in", {"passphrase": PASSPHRASE})
    assert visitor.ask("GET", path)[0] == 404


def test_the_log_keeps_no_passphrase(desk: Service) -> None:
    """Nor any session or token."""
    visitor = Visitor(desk)
    visitor.ask("POST", "/desk/sign-in", {"passphrase": PASSPHRASE})
    token = desk.bearer()["Authorization"].split()[1]
    said = desk.log.read_text("utf-8")
    assert not any(secret in said for secret in (PASSPHRASE, visitor.cookie.split("=", 1)[1], token))
