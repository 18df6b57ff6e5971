"""The desk's page of a customer: card, visits, letters; the data saved, and erased once the name was typed."""

from __future__ import annotations

import html
import http.client
import io
import json
import re
import zipfile
from urllib.parse import urlencode

import pytest

from tests.server.test_login import layby
from tests.support.ops import Phone, body_of
from tests.support.service import PATIENCE_S, Service
from tests.support.visitor import Visitor, wait_for_key


@pytest.fixture
def visitor(service: Service) -> Visitor:
    """Somebody signed in at the desk."""
    wait_for_key(service)
    return Visitor(service).first()


def file_visit(service: Service, van: Phone, **customer: str) -> str:
    """A visit of a customer with a plate, whole enough to be sent."""
    visit = van.new_id()
    said = {"customer": customer, "vehicle": {"id": "v1", "plate": "LT 482"}, "outcome": "done",
            "technician": {"business": "Alder Coast Mobile Cooling"}}
    base = {f"/customer/{name}": None for name in customer} | {
        "/vehicle/id": None, "/vehicle/plate": None, "/outcome": None, "/technician/business": None}
    ops = van.opening(visit), van.op(visit, "visit.set", said, base)
    results = json.loads(service.post("/sync", body_of(*ops))[2])
    assert [one["status"] for one in results["results"]] == ["accepted"] * 2, results
    return visit


def plain(text: str) -> str:
    """A page as it reads."""
    return " ".join(html.unescape(re.sub(r"<[^>]*>", " ", text.split("<main")[1])).split())


def test_a_customer_is_shown_with_visits_and_letters(service: Service, visitor: Visitor) -> None:
    """Card, both visits with a link, the state of the letter, and the commands that do the same."""
    phone = Phone("7e57c0")
    first = file_visit(service, phone, id="c1", name="Ruth Okello", email="ruth@okello.example", phone="555-0177")
    second = file_visit(service, phone, id="c1", name="Ruth Okello", email="ruth@okello.example")
    layby(service, "evening", "--day", "2026-06-12")
    layby(service, "approve", first)
    layby(service, "send")
    _, _, text = visitor.ask("GET", "/desk/customer?id=c1")
    assert f"/desk/visit?id={first}" in text
    assert f"/desk/visit?id={second}" in text
    read = plain(text)
    assert "Phone 555-0177" in read
    assert "2 visits" in read
    assert "Revision 1: in the outbox" in read
    assert "to ruth@okello.example" in read
    for command in ("layby card customer c1", "layby export c1", "layby erase c1"):
        assert command in read
    assert "/desk/customer?id=c1" in visitor.ask("GET", f"/desk/visit?id={first}")[2]


def test_all_data_are_saved_as_one_file(service: Service, visitor: Visitor) -> None:
    """The file of the command, as a download; nothing of it stays behind in the folder."""
    phone = Phone("7e57c1")
    visit = file_visit(service, phone, id="c1", name="Ruth Okello")
    form = urlencode({"form_token": visitor.token(), "id": "c1"})
    before = {path.name for path in service.folder.iterdir()}
    connection = http.client.HTTPConnection("127.0.0.1", service.port, timeout=PATIENCE_S)
    connection.request("POST", "/desk/do/export", form, {
        "Cookie": visitor.cookie, "Content-Type": "application/x-www-form-urlencoded"})
    answer = connection.getresponse()
    content = answer.read()
    connection.close()
    assert answer.status == 200
    assert "attachment" in str(answer.headers["Content-Disposition"])
    names = zipfile.ZipFile(io.BytesIO(content)).namelist()
    assert any(visit in name for name in names)
    assert {path.name for path in service.folder.iterdir()} == before


def test_a_customer_is_erased_once_the_name_was_typed(service: Service, visitor: Visitor) -> None:
    """Another name erases nothing and stays typed; the right one, in any capitals, erases this customer alone."""
    phone = Phone("7e57c2")
    visit = file_visit(service, phone, id="c1", name="Ruth Okello")
    other = file_visit(service, phone, id="c2", name="June Castellane")
    status, _, text = visitor.press("/desk/do/erase", id="c1", name="June Castellane")
    assert (status, 'value="June Castellane"' in text) == (422, True)
    assert "nothing was erased" in text
    assert visitor.ask("GET", f"/desk/visit?id={visit}")[0] == 200
    status, headers, _ = visitor.press("/desk/do/erase", id="c1", name="  ruth  OKELLO ")
    assert (status, headers["Location"]) == (303, "/desk/search?done=erased")
    assert "Erased." in visitor.ask("GET", "/desk/search?done=erased")[2]
    assert visitor.ask("GET", f"/desk/visit?id={visit}")[0] == 404
    assert visitor.ask("GET", "/desk/customer?id=c1")[0] == 404
    assert visitor.ask("GET", f"/desk/visit?id={other}")[0] == 200


def test_a_customer_that_nobody_filed_is_told_in_a_sentence(visitor: Visitor) -> None:
    """As a page, for the page and for each of its forms."""
    assert visitor.ask("GET", "/desk/customer?id=nobody")[0] == 404
    for form in ("export", "erase"):
        assert visitor.press(f"/desk/do/{form}", id="nobody", name="x")[0] == 404
