"""The desk's door: shut until a passphrase is set and shown, to other sites' forms, and to those who try too often."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.server.test_sync_routes import guarded
from tests.support import children
from tests.support.service import Service
from tests.support.visitor import PASSPHRASE, Visitor, running_desk, setting_key, wait_for_key

BEHIND = ("/desk", "/desk/search?text=Okello", "/desk/post", "/desk/books", "/desk/conflicts", "/desk/phones")
FORMS = ("make", "approve", "send", "offer", "revoke")


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    """A real service whose passphrase is set, for the tests that change nothing of it."""
    with running_desk(tmp_path_factory.mktemp("desk")) as running:
        Visitor(running).first()
        yield running


def layby(service: Service, *words: str) -> str:
    """A command on the service's folder; what it said."""
    command = [str(service.command), "--folder", str(service.folder), *words]
    return children.run(command, check=True).stdout


def test_the_first_start_shows_where_the_passphrase_is_set(service: Service) -> None:
    """The address works once; then the pages are open to that browser and shut to any other."""
    wait_for_key(service)
    visitor = Visitor(service)
    assert visitor.ask("GET", "/desk/sign-in")[1]["Location"] == "/desk/first"
    key = setting_key(service.log.read_text("utf-8"))
    assert 'name="again"' in visitor.ask("GET", f"/desk/passphrase?key={key}")[2]
    assert "This link is invalid or has expired." in visitor.ask("GET", "/desk/passphrase?key=x")[2]
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
    """Out of reach of scripts and other sites, and gone when the browser closes."""
    visitor = Visitor(desk)
    status, headers, _ = visitor.ask("POST", "/desk/sign-in", {"passphrase": PASSPHRASE})
    assert (status, headers["Location"]) == (303, "/desk")
    parts = {part.strip() for part in visitor.set_cookie.split(";")[1:]}
    assert parts == {"HttpOnly", "SameSite=Strict", "Path=/"}
    assert len(visitor.cookie) > 43


@pytest.mark.parametrize("path", BEHIND)
def test_a_page_is_shut_to_who_is_not_signed_in(desk: Service, path: str) -> None:
    """It leads to the door and shows nothing; an invalid cookie doesn't count."""
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
        assert (status, "come from a page of this desk" in text) == (403, True)
        guarded(headers)
    fields = {"form_token": visitor.token()}
    assert visitor.ask("POST", f"/desk/do/{name}", fields, Sec_Fetch_Site="cross-site")[0] == 403
    assert layby(desk, "devices") == before


def test_a_page_of_another_site_cannot_sign_a_browser_in(desk: Service) -> None:
    """If the browser says who sent the form."""
    visitor = Visitor(desk)
    assert visitor.ask("POST", "/desk/sign-in", {"passphrase": PASSPHRASE}, Sec_Fetch_Site="cross-site")[0] == 403
    assert visitor.cookie == ""


def test_signing_out_ends_the_session(desk: Service) -> None:
    """Here too, so that a copied cookie opens nothing."""
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
        assert (status, "Wrong passphrase." in text) == (403, True)
    status, headers, text = visitor.ask("POST", "/desk/sign-in", {"passphrase": PASSPHRASE})
    assert status == 429
    assert 1 <= int(headers["Retry-After"]) <= 300
    assert re.search(r"Try again in \d+\u00a0s", text)


WRONG = {"passphrase": "not this one at all"}
RIGHT = {"passphrase": PASSPHRASE}


def tried(service: Service, fields: dict[str, str], **headers: str) -> int:
    """The status that a fresh browser gets at the door."""
    return int(Visitor(service).ask("POST", "/desk/sign-in", fields, **headers)[0])


def strangers(service: Service) -> None:
    """Use up all the tries that everybody shares, each from another address behind a proxy."""
    told = [tried(service, WRONG, X_Forwarded_For=f"198.51.100.{number}") for number in range(21)]
    assert told == [403] * 20 + [429], "a header that names ever new addresses gets no more than all have"


def test_strangers_do_not_lock_out_the_owner_at_the_machine(service: Service) -> None:
    """A caller on this computer, through no proxy, has their own tries; a header that claims it gives none."""
    wait_for_key(service)
    Visitor(service).first()
    strangers(service)
    assert tried(service, RIGHT, X_Forwarded_For="192.0.2.1") == 429
    assert tried(service, RIGHT, Forwarded="for=127.0.0.1") == 429
    assert tried(service, RIGHT) == 303
    assert [tried(service, WRONG) for _ in range(6)] == [403] * 5 + [429]


def test_callers_behind_a_proxy_are_told_apart(service: Service) -> None:
    """Five wrong tries hold up the phone that made them, not the one beside it."""
    wait_for_key(service)
    Visitor(service).first()
    for number in range(5):
        assert tried(service, WRONG, X_Forwarded_For=f"10.0.0.{number}, 192.0.2.1") == 403
    assert tried(service, RIGHT, X_Forwarded_For="192.0.2.1") == 429
    assert tried(service, RIGHT, X_Forwarded_For="192.0.2.2") == 303


def test_a_browser_that_was_signed_in_is_held_back_by_its_own_tries_alone(service: Service) -> None:
    """Until there is a new passphrase; what it keeps opens no page by itself."""
    wait_for_key(service)
    away = {"X_Forwarded_For": "192.0.2.9"}
    Visitor(service).first()
    headers = Visitor(service).ask("POST", "/desk/sign-in", RIGHT, **away)[1]
    cookie = headers.get_all("Set-Cookie")[1]
    parts = {part.strip() for part in cookie.split(";")}
    assert {"HttpOnly", "SameSite=Strict", "Path=/desk", f"Max-Age={400 * 24 * 3600}"} <= parts
    known = {"Cookie": cookie.split(";")[0]}
    assert Visitor(service).ask("GET", "/desk", **known)[0] == 303
    strangers(service)
    service_file = (service.folder / "passphrase.json").read_text()
    assert known["Cookie"].split("=")[1] not in service_file, "of the mark only its hash is kept"
    assert tried(service, RIGHT, **away, Cookie="layby_known=" + "x" * 43) == 429
    assert [tried(service, WRONG, **away, **known) for _ in range(4)] == [403] * 4
    again = Visitor(service).ask("POST", "/desk/sign-in", RIGHT, **away, **known)
    assert (again[0], len(again[1].get_all("Set-Cookie"))) == (303, 1)
    assert [tried(service, WRONG, **away, **known) for _ in range(2)] == [403, 429]
    fresh = {"key": setting_key(layby(service, "passphrase")), "passphrase": PASSPHRASE, "again": PASSPHRASE}
    assert Visitor(service).ask("POST", "/desk/passphrase", fresh, **away)[0] == 303
    other = Visitor(service).ask("POST", "/desk/sign-in", RIGHT, **away, **known)
    assert (other[0], "Try again in" in other[2]) == (429, True)


def test_the_address_for_setting_the_passphrase_takes_any_number_of_tries(service: Service) -> None:
    """Its key has 256 bits: strangers who try don't keep the owner from using it."""
    wait_for_key(service)
    for _ in range(40):
        fields = {"key": "x" * 43, "passphrase": PASSPHRASE, "again": PASSPHRASE}
        assert Visitor(service).ask("POST", "/desk/passphrase", fields)[0] == 403
    assert Visitor(service).first().ask("GET", "/desk")[0] == 200


def test_a_sheet_is_for_its_owner(desk: Service, folder: Path) -> None:
    """401 without session and key, and for a paired phone's token too."""
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
