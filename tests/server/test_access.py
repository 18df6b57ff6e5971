"""Who may do what at a desk that several people sign in at: every role at every route, over real HTTP.

Expected is what README.md and the page of people say: a technician sees the own visits and what all share about
vehicles and customers; the office all visits, letters and books; an owner also people, settings and backups.
"""

from __future__ import annotations

import json
import re

import pytest

from server.app import create_app
from tests.support.ops import Phone, body_of
from tests.support.service import Service
from tests.support.staff import OFFICE, ONE, OTHER, OWNER, Staff, joined, staff_of
from tests.support.visitor import Visitor

FOR_ALL = {
    ("GET", "/desk"), ("POST", "/desk/do/make"), ("POST", "/desk/do/approve"), ("POST", "/desk/do/mend"),
    ("POST", "/desk/do/send"), ("GET", "/desk/search"), ("GET", "/desk/vehicles"), ("GET", "/desk/vehicle"),
    ("GET", "/desk/customer"), ("POST", "/desk/do/chart"), ("POST", "/desk/do/mark"), ("GET", "/desk/visit"),
    ("POST", "/desk/do/amend"), ("POST", "/desk/do/sheet"), ("GET", "/desk/photo"), ("GET", "/desk/preview"),
    ("GET", "/desk/revision.pdf"), ("POST", "/desk/do/log"), ("POST", "/desk/do/unlog"), ("GET", "/desk/phones"),
    ("POST", "/desk/do/offer"), ("POST", "/desk/do/revoke"), ("POST", "/desk/do/own-passphrase"),
    ("GET", "/desk/passkeys"), ("POST", "/desk/do/passkey"), ("POST", "/desk/do/passkey-remove"),
}  # fmt: skip
FOR_OFFICE = {
    ("GET", "/desk/post"), ("GET", "/desk/letter"), ("GET", "/desk/letter.eml"), ("POST", "/desk/do/returned"),
    ("POST", "/desk/do/resend"), ("GET", "/desk/books"), ("GET", "/desk/books.pdf"), ("GET", "/desk/books.csv"),
    ("GET", "/desk/conflicts"), ("POST", "/desk/do/settle"), ("POST", "/desk/do/aside"), ("GET", "/desk/carry"),
    ("POST", "/desk/do/receive"), ("POST", "/desk/do/export"), ("POST", "/desk/do/hand-over"),
    ("POST", "/desk/do/phone-of"),
}  # fmt: skip
# The door answers everybody; signing out would end the walk.
NOT_WALKED = {"/desk/sign-in", "/desk/sign-in/passkey", "/desk/passkey.js", "/desk/sign-out", "/desk/passphrase",
              "/desk/desk.css", "/desk/first"}  # fmt: skip


@pytest.fixture(scope="module")
def staff(desk: Service, visitor: Visitor) -> Staff:
    """Everybody of the desk."""
    return staff_of(desk, visitor)


@pytest.fixture(scope="module")
def visits(desk: Service, staff: Staff) -> dict[str, str]:
    """A visit of each technician, by name, and one of a phone that nobody is signed in with."""
    made = {}
    for number, name in enumerate((ONE, OTHER, "")):
        phone = Phone(f"cab{number:03x}")
        visit = phone.new_id()
        opening = phone.opening(visit)
        if name:
            opening["body"]["technician"] = {"id": staff.ids[name], "name": name}
            opening["base"] |= {"/technician/id": None, "/technician/name": None}
        plate = phone.plate(visit, f"VAN {number}")
        content = desk.post("/sync", body_of(opening, plate), "application/x-ndjson")[2]
        assert {one["status"] for one in json.loads(content)["results"]} == {"accepted"}, content
        made[name] = visit
    return made


@pytest.fixture(scope="module")
def routes(tmp_path_factory: pytest.TempPathFactory) -> list[tuple[str, str]]:
    """Method and path of every page of the desk, by the application's own map."""
    app = create_app({"FOLDER": tmp_path_factory.mktemp("map") / "layby"})
    found = [(method, rule.rule) for rule in app.url_map.iter_rules() if rule.endpoint.startswith("deskpages.")
             for method in sorted((rule.methods or set()) - {"OPTIONS", "HEAD"})]
    app.extensions["layby"]["logbook"].close()
    return [(method, path) for method, path in found if path not in NOT_WALKED]


def test_every_role_reaches_its_routes_and_no_other(staff: Staff, routes: list[tuple[str, str]]) -> None:
    """403 with a sentence for whoever may not; anything but that, even if the form is empty, for whoever may."""
    assert set(routes) >= FOR_ALL | FOR_OFFICE
    may = {OWNER: set(routes), OFFICE: FOR_ALL | FOR_OFFICE, ONE: FOR_ALL}
    # Last, for it leads to another passphrase.
    for method, path in sorted(routes, key=lambda route: "own-passphrase" in route[1]):
        for name in (ONE, OFFICE, OWNER):
            if (name, path) == (OWNER, "/desk/do/restore"):
                continue
            status, _, text = staff[name].press(path) if method == "POST" else staff[name].ask("GET", path)
            where = f"{name}: {method} {path}: {status}"
            assert status != 500, where
            is_refused = status == 403 and "This page is for others at this desk" in text.replace("&#39;", "'")
            assert is_refused != ((method, path) in may[name]), where


def test_a_technician_sees_the_own_day_and_no_other(staff: Staff, visits: dict[str, str]) -> None:
    """The office sees everybody's or one's; asking for another's day changes nothing for a technician."""
    day = "/desk?day=2026-06-12"
    seen = {
        name: [plate for plate in ("VAN 0", "VAN 1", "VAN 2") if plate in staff[name].ask("GET", path)[2]]
        for name, path in ((OWNER, day), (OFFICE, day), (ONE, day), (OTHER, day))
    }
    assert seen == {OWNER: ["VAN 0", "VAN 1", "VAN 2"], OFFICE: ["VAN 0", "VAN 1", "VAN 2"],
                    ONE: ["VAN 0"], OTHER: ["VAN 1"]}
    assert "VAN 1" not in staff[ONE].ask("GET", f"{day}&of={staff.ids[OTHER]}")[2]
    of_one = staff[OFFICE].ask("GET", f"{day}&of={staff.ids[ONE]}")[2]
    assert "VAN 0" in of_one
    assert "VAN 1" not in of_one
    assert visits[""] in staff[OFFICE].ask("GET", day)[2]


def test_anothers_visit_reads_as_if_there_were_none(staff: Staff, visits: dict[str, str]) -> None:
    """By every way to it whose id could be guessed; and nothing of it changes."""
    other = visits[OTHER]
    ways = [f"/desk/visit?id={other}", f"/desk/preview?id={other}&page=1", f"/sheets/{other}.pdf",
            f"/desk/revision.pdf?id={other}&number=1", f"/desk/photo?id={other}&sha256={'a' * 64}"]
    answers = [staff[ONE].ask("GET", path) for path in ways]
    assert [status for status, _, _ in answers] == [404] * len(ways)
    forms = {"/desk/do/amend": {"id": other, "section": "customer", "why": "x"}, "/desk/do/sheet": {"id": other},
             "/desk/do/mend": {"id": other, "field": "outcome", "text": "done", "day": "2026-06-12"},
             "/desk/do/approve": {"sheet": [f"{visits[ONE]} {'0' * 64}", f"{other} {'0' * 64}"], "day": "2026-06-12"},
             "/desk/do/mark": {"id": "v1", "test": f"{other} b1", "healthy": "1"},
             "/desk/do/unlog": {"id": other, "test": "b1", "number": "1"}}
    for path, fields in forms.items():
        assert staff[ONE].press(path, **fields)[0] == 404, path
    # A second id behind an own one opens nothing either.
    assert staff[ONE].ask("GET", f"/desk/visit?id={visits[ONE]}&id={other}")[0] == 404
    assert staff[ONE].ask("GET", f"/desk/visit?id={visits[ONE]}")[0] == 200
    assert "done" not in staff[OWNER].ask("GET", f"/desk/visit?id={other}")[2].split('id="part-end"')[-1][:600]


def test_what_all_share_is_seen_but_leads_to_no_visit_of_others(staff: Staff, visits: dict[str, str]) -> None:
    """The search finds every vehicle; the way to the visit is there for whoever may go it."""
    found = staff[ONE].ask("GET", "/desk/search?text=VAN")[2]
    assert all(plate in found for plate in ("VAN 0", "VAN 1", "VAN 2"))
    assert f"/desk/visit?id={visits[ONE]}" in found
    assert f"/desk/visit?id={visits[OTHER]}" not in found
    assert f"/sheets/{visits[OTHER]}.pdf" not in found
    # The id of another's visit stands nowhere.
    assert visits[OTHER] not in found
    assert staff[ONE].ask("GET", "/desk/find?text=VAN")[0] == 403
    assert visits[OTHER] in staff[OFFICE].ask("GET", "/desk/find?text=VAN")[2]


def test_a_visit_handed_over_is_the_others(staff: Staff, visits: dict[str, str], desk: Service) -> None:
    """The former technician sees it no more, the new one does, and the correction says who handed it over."""
    visit = visits[""]
    status, headers, text = staff[OFFICE].press("/desk/do/hand-over", id=visit, person=staff.ids[OTHER])
    assert (status, headers["Location"]) == (303, f"/desk/visit?id={visit}&done=handed_over"), text
    assert staff[OTHER].ask("GET", f"/desk/visit?id={visit}")[0] == 200
    assert staff[ONE].ask("GET", f"/desk/visit?id={visit}")[0] == 404
    again = staff[OFFICE].press("/desk/do/hand-over", id=visit, person=staff.ids[OTHER])
    assert again[1]["Location"].endswith("done=same")
    journal = (desk.folder / "journal.log").read_bytes()
    written = re.findall(rb'[0-9a-f]{64} ({"id".*visit\.set.*technician.*})', journal)
    [given] = [op for op in map(json.loads, written) if op["visit"] == visit]
    assert given["by"] == staff.ids[OFFICE]
    assert given["body"]["technician"] == {"id": staff.ids[OTHER], "name": OTHER}


def test_a_technician_handles_only_own_phones(staff: Staff, desk: Service) -> None:
    """A code that a technician asks for signs the phone in as them; others' phones can't be shut out by them."""
    tomas, device = staff[ONE], "feed01"
    code = tomas.press("/desk/do/offer", person=staff.ids[OTHER])[2].split("/pair#")[1].split("<")[0]
    body = json.dumps({"code": code, "device": device, "name": "Tomas's phone"}).encode()
    paired = json.loads(desk.post("/pair", body, "application/json")[2])
    assert paired["person"] == {"id": staff.ids[ONE], "name": ONE}
    assert "Tomas&#39;s phone" in tomas.ask("GET", "/desk/phones")[2]
    assert "Tomas&#39;s phone" not in staff[OTHER].ask("GET", "/desk/phones")[2]
    # As if there were no such phone.
    assert staff[OTHER].press("/desk/do/revoke", device=device)[0] == staff[OTHER].press("/desk/do/revoke")[0] == 422
    assert "Tomas&#39;s phone" in tomas.ask("GET", "/desk/phones")[2].split("shut out")[0]
    assert tomas.press("/desk/do/revoke", device=device)[0] == 303


def test_who_has_gone_is_let_in_no_more(staff: Staff, desk: Service) -> None:
    """At once, with every browser, and their phones too."""
    status, _, text = staff[OWNER].press("/desk/do/invite", name="Lee Marsh", role="technician")
    assert status == 200
    lee = joined(desk, text)
    assert lee.ask("GET", "/desk")[0] == 200
    identifier = text.split("New link for Lee Marsh")[0].rpartition('value="')[2].split('"')[0]
    assert staff[OWNER].press("/desk/do/end", id=identifier)[0] == 303
    assert lee.ask("GET", "/desk")[0] == 303
    assert "left on" in staff[OWNER].ask("GET", "/desk/people")[2]
