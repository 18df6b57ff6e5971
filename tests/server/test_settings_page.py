"""The desk's page of settings: every row shown and changed, refused with all that is wrong, never overwritten unseen.

Plain requests on a real service; a real mail server; the look in Chromium, in both languages and both themes.
"""

from __future__ import annotations

import json
import re
import stat
from pathlib import Path
from typing import Any

import pytest
from aiosmtpd.smtp import AuthResult

from tests.reports.test_mail import Authority, Peer, listening
from tests.server.test_login import layby
from tests.support.browser import PATIENCE_MS, borrowed
from tests.support.desk_pages import faults_of, form_of, ill_sized, plain, read
from tests.support.drawn_photos import photo
from tests.support.ops import Phone, body_of
from tests.support.service import PATIENCE_S, Service, free_port
from tests.support.visitor import PASSPHRASE, Visitor

SET = "/desk/do/set"


@pytest.fixture(autouse=True)
def _nothing_set(desk: Service) -> None:
    """Each test begins with a desk on which nothing was ever set."""
    for name in ("settings.json", "mail-tried.json", "logo"):
        (desk.folder / name).unlink(missing_ok=True)


def kept(desk: Service) -> dict[str, Any]:
    """The settings as their file holds them."""
    tree: dict[str, Any] = json.loads((desk.folder / "settings.json").read_text("utf-8"))
    return tree


def opened(visitor: Visitor, row: str) -> dict[str, str]:
    """What a browser would send of the form of a row, unchanged."""
    status, _, text = visitor.ask("GET", f"/desk/settings?open={row}")
    assert status == 200, text
    return form_of(text, SET)


def put(visitor: Visitor, row: str, **typed: str) -> tuple[int, Any, str]:
    """A row opened, typed into and saved; the names have two underscores for a full stop."""
    return visitor.press(SET, **{**opened(visitor, row), **{name.replace("__", "."): text for name, text in
                                                            typed.items()}})


@pytest.mark.parametrize("case", [  # row, what is typed, where it stands in the file, what the page tells
    ("business.name", {"technician__business": " Alder Coast "}, "technician.business", "Alder Coast", "Alder Coast"),
    ("business.technician", {"technician__name": "Ines Varga", "technician__certificate_until": "2028-03-31"},
     "technician.certificate_until", "2028-03-31", "Ines Varga, valid until 31 March 2028"),
    ("business.reached", {"technician__phone": "555 0142", "technician__email": "desk@alder.example"},
     "technician.email", "desk@alder.example", "555 0142, desk@alder.example"),
    ("prices.tax", {"tax_pct": "8,25", "currency": "usd"}, "tax_pct", "8.25", "8.25 %, USD"),
    ("words.paper", {"sheet__paper": "Letter"}, "sheet.paper", "Letter", "Letter"),
    ("words.units", {"units__pressure": "psi", "units__temperature": "f"}, "units.pressure", "psi", "psi, °F"),
    ("instruments.hygrometer", {"instruments__hygrometer_pct": "3"}, "instruments.hygrometer_pct", 3.0, "± 3 %"),
    ("instruments.zero", {"zero__checked": "2026-07-01", "zero__again": "2027-07-01"}, "zero.again", "2027-07-01",
     "1 July 2026, again by 1 July 2027"),
])  # fmt: skip
def test_a_row_is_saved_as_soon_as_it_is_changed(
    desk: Service, visitor: Visitor, case: tuple[str, dict[str, str], str, Any, str]
) -> None:
    """It stands in the file, which only its owner can read, and on the row's line; saved again it is the same."""
    row, typed, path, value, told = case
    status, headers, _ = put(visitor, row, **typed)
    assert (status, headers["Location"]) == (303, f"/desk/settings?set=saved#part-{row.partition('.')[0]}")
    held: Any = kept(desk)
    for name in path.split("."):
        held = held[name]
    assert held == value
    assert stat.S_IMODE((desk.folder / "settings.json").stat().st_mode) == 0o600
    assert told in read(visitor, "/desk/settings")
    before = (desk.folder / "settings.json").read_bytes()
    assert visitor.press(SET, **opened(visitor, row))[0] == 303
    if row != "instruments.zero":  # a new check is offered there, of today
        assert (desk.folder / "settings.json").read_bytes() == before


def test_a_range_is_typed_in_the_desks_units(desk: Service, visitor: Visitor) -> None:
    """250 psi are 1,723.69 kPa (NIST SP 811, appendix B.8: 1 psi = 6.894757 kPa); read in bar they are 17.24."""
    put(visitor, "words.units", units__pressure="psi", units__temperature="f")
    gauge = {"instruments__low_gauge__span_kpa": "250", "instruments__low_gauge__class_pct": "1.6"}
    put(visitor, "instruments.low_gauge", **gauge)
    assert kept(desk)["instruments"]["low_gauge"]["span_kpa"] == pytest.approx(250 * 6.894757, rel=1e-6)
    assert "0 to 250 psi, class 1.6" in read(visitor, "/desk/settings")
    put(visitor, "words.units", units__pressure="bar", units__temperature="c")
    assert "0 to 17.24 bar" in read(visitor, "/desk/settings")


def test_lines_are_added_changed_and_removed(desk: Service, visitor: Visitor) -> None:
    """Of the price list, and of the instruments that have no row of their own."""
    put(visitor, "prices.new", text="Condenser cleaning", unit_price="120")
    put(visitor, "prices.new", text="Test, no work", unit_price="40,00")
    put(visitor, "instruments.new", name="Scale", until="2027-03-31")
    assert kept(desk)["prices"] == [{"text": "Condenser cleaning", "unit_price": "120"},
                                    {"text": "Test, no work", "unit_price": "40.00"}]
    put(visitor, "prices.0", unit_price="125.50")
    text = read(visitor, "/desk/settings")
    assert "Condenser cleaning 125.50" in text
    assert "Scale calibrated until 31 March 2027" in text
    assert "Prices and tax 2 lines" in text
    row = opened(visitor, "prices.0")
    assert visitor.press("/desk/do/unset", row="prices.0", seen=row["seen"])[1]["Location"] == (
        "/desk/settings?set=removed#part-prices")
    assert [line["text"] for line in kept(desk)["prices"]] == ["Test, no work"]
    assert visitor.press("/desk/do/unset", row="business.name", seen="")[0] in (404, 409)


def test_a_line_of_the_price_list_is_put_on_a_bill(desk: Service, visitor: Visitor) -> None:
    """With the tax of the settings, and a reason that the desk writes."""
    put(visitor, "prices.new", text="Dye check", unit_price="15")
    put(visitor, "prices.tax", tax_pct="10", currency="USD")
    phone = Phone("7e57d0")
    visit = phone.new_id()
    assert desk.post("/sync", body_of(phone.opening(visit), phone.plate(visit, "LT 482")))[0] == 200
    text = visitor.ask("GET", f"/desk/visit?id={visit}&open=price")[2]
    assert "Dye check, 15" in plain(text)
    assert visitor.press("/desk/do/price", id=visit, row="prices.0")[0] == 303
    text = read(visitor, f"/desk/visit?id={visit}")
    assert "Total: 16.50" in text
    assert "From the price list." in text
    assert visitor.press("/desk/do/price", id=visit, row="prices.9")[0] == 404


def test_the_business_stands_in_for_what_a_visit_leaves_out(desk: Service, visitor: Visitor) -> None:
    """A sheet that lacked a business goes under the desk's; a visit that names its own keeps it."""
    phone = Phone("7e57d1")
    visits = [phone.new_id(), phone.new_id()]
    named = phone.op(visits[1], "visit.set", {"technician": {"business": "Van Two"}}, {"/technician/business": None})
    assert desk.post("/sync", body_of(*(phone.opening(visit) for visit in visits), named))[0] == 200
    lacking = "Enter the business name"
    assert lacking in visitor.ask("GET", f"/desk/visit?id={visits[0]}")[2]
    put(visitor, "business.name", technician__business="Alder Coast")
    assert lacking not in visitor.ask("GET", f"/desk/visit?id={visits[0]}")[2]
    assert "Van Two" in read(visitor, f"/desk/visit?id={visits[1]}")


def test_all_that_is_wrong_is_said_at_once_beside_its_field(desk: Service, visitor: Visitor) -> None:
    """Nothing is saved, and what was typed still stands there."""
    put(visitor, "mail.server", smtp__host="mail.alder.example", smtp__from="desk@alder.example")
    before = kept(desk)
    wrong = {"smtp__host": "two words", "smtp__port": "70000"}
    status, _, text = put(visitor, "mail.server", **wrong)
    assert status == 422
    said = dict(re.findall(r'<span class="wrong" id="fault-([^"]*)">(.*?)</span>', text))
    assert set(said) == {"smtp.host", "smtp.port"}
    assert "name of a server" in said["smtp.host"]
    assert "from 1 to 65535" in said["smtp.port"]
    assert {name: text for name, text in form_of(text, SET).items() if name in ("smtp.host", "smtp.port")} == {
        name.replace("__", "."): typed for name, typed in wrong.items()}
    assert "Recorded now: mail.alder.example" in plain(text)
    assert kept(desk) == before


@pytest.mark.parametrize(("row", "name", "typed"), [
    ("business.reached", "technician.email", "nobody"), ("business.technician", "technician.certificate_until", "soon"),
    ("prices.tax", "currency", "DOLLARS"), ("prices.tax", "tax_pct", "much"), ("prices.tax", "tax_pct", "120"),
    ("prices.new", "text", ""), ("words.paper", "sheet.paper", "A0"), ("words.language", "sheet.language", "xx"),
    ("instruments.thermometer", "instruments.thermometer_c", "-1"), ("backup.into", "backup.into", "stick"),
    ("backup.into", "backup.into", "{folder}/inside"), ("backup.into", "backup.keep", "0"),
    ("mail.copy", "smtp.copy", "me@"), ("business.name", "technician.business", "x" * 201),
    ("business.name", "technician.business", "a\tb"),
])  # fmt: skip
def test_what_a_field_cannot_hold_is_refused(desk: Service, visitor: Visitor, row: str, name: str, typed: str) -> None:
    """With a sentence beside it."""
    fields = {**opened(visitor, row), name: typed.format(folder=desk.folder)}
    status, _, text = visitor.press(SET, **fields)
    assert (status, f'id="fault-{name}"' in text) == (422, True)
    assert not (desk.folder / "settings.json").exists()


def test_two_browsers_do_not_overwrite_each_other_unseen(desk: Service, visitor: Visitor) -> None:
    """The second is told what stands there now, keeps what it typed, and replaces it only when pressed again."""
    other = Visitor(desk)
    assert other.ask("POST", "/desk/sign-in", {"passphrase": PASSPHRASE})[0] == 303
    first, second = opened(visitor, "business.name"), opened(other, "business.name")
    assert visitor.press(SET, **{**first, "technician.business": "Alder Coast"})[0] == 303
    status, _, text = other.press(SET, **{**second, "technician.business": "Harbour Cooling"})
    assert (status, "Recorded now: Alder Coast" in text) == (409, True)
    again = form_of(text, SET)
    assert again["technician.business"] == "Harbour Cooling"
    assert kept(desk)["technician"]["business"] == "Alder Coast"
    assert other.press(SET, **again)[0] == 303
    assert kept(desk)["technician"]["business"] == "Harbour Cooling"
    stale = visitor.press("/desk/do/unset", row="backup.into", seen="0" * 16)
    assert stale[0] == 409


def test_a_password_is_kept_and_never_shown(desk: Service, visitor: Visitor) -> None:
    """Neither on the page nor by the command nor in a backup; an empty field is refused, and it can be taken away."""
    put(visitor, "mail.server", smtp__host="mail.alder.example", smtp__from="desk@alder.example")
    put(visitor, "mail.password", smtp__password="hush hush")
    assert kept(desk)["smtp"]["password"] == "hush hush"
    for path in ("/desk/settings", "/desk/settings?open=mail.password", "/desk/settings?open=mail.server"):
        assert "hush" not in visitor.ask("GET", path)[2]
    assert "hush" not in layby(desk, "settings")
    assert "kept in a file that only the desk can read" in read(visitor, "/desk/settings")
    assert put(visitor, "mail.password")[0] == 422
    assert kept(desk)["smtp"]["password"] == "hush hush"
    seen = opened(visitor, "mail.password")["seen"]
    assert visitor.press("/desk/do/unset", row="mail.password", seen=seen)[0] == 303
    assert "password" not in kept(desk)["smtp"]


class Guarded(Peer):
    """A mail server that wants one user with one password (RFC 4954)."""

    def authenticate(self, server: Any, session: Any, envelope: Any, mechanism: str, data: Any) -> AuthResult:
        """Whether the password is right."""
        return AuthResult(success=data.password == b"right", handled=False)


# Its own kind of encryption is off: the whole connection is encrypted here.
@pytest.mark.filterwarnings("ignore:Requiring AUTH while not requiring TLS")
def test_the_mail_is_tried_on_the_page(desk: Service, visitor: Visitor, tmp_path: Path) -> None:
    """A wrong password is named as such; with the right one the server takes it, and the list says since when."""
    authority, peer = Authority(tmp_path), Guarded()
    with listening(peer, ssl_context=authority.context, authenticator=peer.authenticate, auth_required=True,
                   auth_require_tls=False) as port:
        (desk.folder / "settings.json").write_text(json.dumps({"smtp": {
            "host": "127.0.0.1", "port": port, "security": "tls", "ca_file": str(authority.file), "user": "ines",
            "from": "desk@alder.example", "timeout_s": PATIENCE_S, "copy": "books@alder.example"}}), "utf-8")
        fields = {**opened(visitor, "mail.password"), "smtp.password": "wrong"}
        assert visitor.press("/desk/do/try", **fields)[1]["Location"] == "/desk/settings#part-mail"
        text = read(visitor, "/desk/settings")
        assert "The test message wasn't sent: 535" in text
        assert "doesn't accept the user name or the password" in text
        assert "Mail doesn't work, tried" in text
        visitor.press("/desk/do/try", **{**opened(visitor, "mail.password"), "smtp.password": "right"})
        text = read(visitor, "/desk/settings")
        assert re.search(r"The mail server took the test message in \d+ seconds? \(today, \d\d:\d\d\)", text)
        assert "Mail works, tried" in text
        assert [letter.rcpt_tos for letter in peer.taken] == [["desk@alder.example"]]
        assert "A test message was sent" in layby(desk, "send", "--test")
        put(visitor, "mail.sender", smtp__from="Alder Coast <office@alder.example>")
        assert "Mail not tried yet" in read(visitor, "/desk/settings"), "the old test says nothing about the new sender"
    visitor.press("/desk/do/try")
    assert "Nothing answers there at this port." in read(visitor, "/desk/settings")


def test_what_keeps_the_mail_from_going_is_told_apart(desk: Service, visitor: Visitor, tmp_path: Path) -> None:
    """No server of the name, another encryption, a certificate of somebody else, no server at all."""
    authority, peer = Authority(tmp_path), Peer()
    with listening(peer, ssl_context=authority.context) as secured, listening(peer) as clear:
        for host, port, told in (("nowhere.invalid", 465, "There is no server of this name."),  # RFC 6761, section 6.4
                                 ("127.0.0.1", secured, "The server's certificate isn't trusted."),
                                 ("127.0.0.1", clear, "The server speaks another encryption at this port."),
                                 ("127.0.0.1", free_port(), "Nothing answers there at this port.")):
            (desk.folder / "settings.json").write_text(json.dumps({"smtp": {
                "host": host, "port": port, "from": "desk@alder.example", "timeout_s": PATIENCE_S}}), "utf-8")
            visitor.press("/desk/do/try")
            assert told in read(visitor, "/desk/settings")
    (desk.folder / "settings.json").unlink()
    visitor.press("/desk/do/try")
    text = read(visitor, "/desk/settings")
    assert "No mail server is set." in text
    assert "Mail none, letters are left as files" in text


def test_the_command_shows_and_changes_the_same(desk: Service, visitor: Visitor) -> None:
    """A row at a time; what it can't take it says."""
    assert layby(desk, "settings", "business.name", "technician.business=Alder Coast").strip() == "Saved."
    assert "technician.business: Alder Coast" in layby(desk, "settings")
    assert "Alder Coast" in read(visitor, "/desk/settings")
    layby(desk, "settings", "prices.new", "text=Dye check", "unit_price=15")
    assert layby(desk, "settings", "prices.0", "--remove").strip() == "Saved."
    assert kept(desk)["prices"] == []


def test_what_there_is_not_is_told_in_a_sentence(visitor: Visitor) -> None:
    """A row, and a field of a row."""
    assert visitor.ask("GET", "/desk/settings?open=mail.none")[0] == 404
    assert visitor.press(SET, row="journal", seen="")[0] == 404
    assert visitor.press(SET, **{**opened(visitor, "business.name"), "smtp.host": "x"})[0] == 404


def test_settings_that_cannot_be_read_are_told(desk: Service, visitor: Visitor) -> None:
    """As a page with a sentence; they are not replaced."""
    (desk.folder / "settings.json").write_text("{", "utf-8")
    status, _, text = visitor.ask("GET", "/desk/settings")
    assert (status, "settings.json" in text) == (422, True)
    assert visitor.press(SET, row="business.name", seen="", **{"technician.business": "x"})[0] == 422
    assert (desk.folder / "settings.json").read_text("utf-8") == "{"


@pytest.mark.parametrize("name", ["set", "unset", "try", "price", "logo", "backup", "read-back", "restore", "rebuild"])
def test_a_form_counts_only_from_a_page_of_this_desk(desk: Service, visitor: Visitor, name: str) -> None:
    """Without a session it leads to the door; without its token, or sent by another site, nothing is done."""
    assert Visitor(desk).ask("POST", f"/desk/do/{name}", {})[1]["Location"] == "/desk/sign-in"
    row = {"row": "business.name", "technician.business": "Forged"}
    assert visitor.ask("POST", f"/desk/do/{name}", {"form_token": "guessed", **row})[0] == 403
    forged = {"form_token": visitor.token(), **row}
    assert visitor.ask("POST", f"/desk/do/{name}", forged, Sec_Fetch_Site="cross-site")[0] == 403
    assert not (desk.folder / "settings.json").exists()


@pytest.mark.parametrize("path", ["settings", "backup", "rebuild", "vehicles"])
def test_a_page_is_shut_to_who_is_not_signed_in(desk: Service, visitor: Visitor, path: str) -> None:
    """It leads to the door."""
    assert visitor.ask("GET", f"/desk/{path}")[0] == 200
    assert Visitor(desk).ask("GET", f"/desk/{path}")[1]["Location"] == "/desk/sign-in"


def test_the_page_is_whole_in_both_languages(desk: Service, visitor: Visitor) -> None:
    """axe-core in sun and dusk, once; on a phone and on a desk, at 200 %, in each: a row open, refused, the rest."""
    put(visitor, "prices.new", text="Condenser cleaning", unit_price="120")
    put(visitor, "instruments.new", name="Scale", until="2020-03-31")
    (desk.folder / "logo").write_bytes(photo(5, 640, 160))
    found: list[str] = []
    with borrowed() as browser:
        for language, wrong in (("en-US", faults_of), ("es-ES", ill_sized)):
            page = browser.new_context(bypass_csp=True, locale=language).new_page()
            page.set_default_timeout(PATIENCE_MS)
            page.goto(f"{desk.url}/desk/sign-in")
            page.locator("#passphrase").fill(PASSPHRASE)
            page.locator("button.main").click()
            page.wait_for_url("**/desk")
            page.goto(f"{desk.url}/desk/settings?open=mail.server")
            assert page.locator("html").get_attribute("lang") == language
            found += wrong(page, f"{language}, server open")
            page.get_by_role("textbox").first.fill("two words")
            with page.expect_navigation():
                page.locator(".setting.open button.main").click()
            assert page.locator(".wrong").count() == 2, "the sender is missing as well"
            assert page.get_by_role("textbox").first.input_value() == "two words"
            found += wrong(page, f"{language}, refused")
            page.goto(f"{desk.url}/desk/settings?open=business.logo")
            assert page.locator("img.logo").evaluate("one => one.naturalWidth") == 640
            found += wrong(page, f"{language}, logo")
            page.goto(f"{desk.url}/desk/settings?open=prices.0")
            found += wrong(page, f"{language}, a price")
            for path in ("backup", "rebuild", "vehicles"):
                page.goto(f"{desk.url}/desk/{path}")
                found += wrong(page, f"{language}, {path}")
    assert found == []
