"""The sheet on the desk's page of a visit, as pictures of its pages: as it would print, made or not, kept or not.

A real service, the real press and a real browser without scripts.
"""

from __future__ import annotations

import http.client
import io

import pytest
from PIL import Image

from tests.server.test_login import layby
from tests.server.test_outbox_page import signed_in
from tests.server.test_visit_page import WHY, a_visit, opened, shown
from tests.support.browser import borrowed
from tests.support.ops import Phone
from tests.support.service import Service
from tests.support.visitor import Visitor


@pytest.fixture(scope="module")
def visit(desk: Service, visitor: Visitor) -> str:
    """A visit with one test, so that its sheet has two pages."""
    return a_visit(desk, Phone("7e57ab"))


def test_a_sheet_is_looked_at_before_it_is_made(desk: Service, visitor: Visitor, visit: str) -> None:
    """Two pages by pictures that hold ink; nothing is kept, so no revision is used up; then the visit changes."""
    with borrowed() as browser:
        page = signed_in(browser.new_context(java_script_enabled=False, locale="en-GB").new_page(), desk)
        address = f"{desk.url}/desk/visit?id={visit}"
        page.set_viewport_size({"width": 360, "height": 800})
        page.goto(address)
        sources = [str(one.get_attribute("src")) for one in page.locator(".preview").all()]
        pictures = [page.request.get(desk.url + source) for source in sources]
        assert [(one.status, one.headers["content-type"]) for one in pictures] == [(200, "image/webp")] * 2
        for answer in pictures:
            image = Image.open(io.BytesIO(answer.body())).convert("L")
            # ISO 216: the sides of A4 are 297 and 210 mm.
            assert image.height / image.width == pytest.approx(297 / 210, abs=0.01)
            low, high = image.getextrema()
            assert (low < 60, high) == (True, 255), "ink on white paper"
        box = page.locator(".preview").first.bounding_box()
        assert box is not None
        assert box["x"] + box["width"] <= 360
        assert page.evaluate("document.documentElement.scrollWidth") <= 360
        assert page.locator(".preview").first.get_attribute("alt") == "Page 1 of the sheet as revision 1 would print"
    assert not list((desk.folder / "sheets").glob("*"))
    before = picture(desk, visitor, visit)
    fields = {**opened(visitor, visit, "customer"), "customer.name": "Noor Halloran", "why": WHY}
    assert visitor.press("/desk/do/amend", **fields)[0] == 303
    assert picture(desk, visitor, visit) != before
    layby(desk, "sheet", visit)
    assert picture(desk, visitor, visit) != before
    assert "Open revision 1 (PDF)" in shown(visitor, visit)
    status, headers, text = visitor.ask("GET", f"/desk/revision.pdf?id={visit}&number=1")
    assert (status, headers["Content-Type"], text[:5]) == (200, "application/pdf", "%PDF-")
    assert visitor.ask("GET", f"/desk/revision.pdf?id={visit}&number=2")[0] == 404


def picture(desk: Service, visitor: Visitor, visit: str) -> bytes:
    """The first page as it is shown now."""
    connection = http.client.HTTPConnection("127.0.0.1", desk.port, timeout=60)
    connection.request("GET", f"/desk/preview?id={visit}", headers={"Cookie": visitor.cookie})
    answer = connection.getresponse()
    content = answer.read()
    connection.close()
    assert answer.status == 200
    return content


def test_what_is_not_there_is_told_in_a_sentence(desk: Service, visitor: Visitor, visit: str) -> None:
    """Another page, another visit; and nobody looks without a session."""
    for path in ("id=nobody", "id=019ebcb4-8d7c-7000-8000-000000000001", f"id={visit}&page=9", f"id={visit}&page=x"):
        assert visitor.ask("GET", f"/desk/preview?{path}")[0] == 404, path
    assert Visitor(desk).ask("GET", f"/desk/preview?id={visit}")[1]["Location"] == "/desk/sign-in"
