"""A desk at home and a phone as two hosts on one cable: the name, the plain page, the form without the desk.

The phone is Chromium in a network namespace; no real phone was at hand.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Error, Page, expect

from tests.server.test_home import CERTUTIL, NAME, phone_of, trust
from tests.support import children, two_hosts
from tests.support.browser import chromium
from tests.support.service import LAYBY, ROOT
from tests.support.two_hosts import Host

LACKING = two_hosts.not_permitted() or ("" if CERTUTIL else "certutil is not here")
FORM, PLAIN, OWN = 8765, 8780, 8766  # the ports of the form, of the plain page, and of the desk for its own computer
FETCH = "import sys, urllib.request as asked; sys.stdout.buffer.write(asked.urlopen(sys.argv[1]).read())"


@pytest.fixture
def hosts() -> Iterator[tuple[Host, Host]]:
    """The desk's computer and the phone."""
    with two_hosts.two_hosts() as both:
        yield both


def refusal(page: Page, address: str) -> str:
    """Why a browser doesn't open an address, in a page of its own."""
    other = page.context.new_page()
    with pytest.raises(Error) as error:
        other.goto(address)
    other.close()
    return str(error.value)


@pytest.mark.skipif(bool(LACKING), reason=LACKING)
def test_a_phone_on_the_same_network_reaches_the_desk(hosts: tuple[Host, Host], tmp_path: Path) -> None:
    """By the name that it asked for; before the certificate it is told what to do, after it works without the desk."""
    desk, phone = hosts
    layby = desk.within(LAYBY, "--folder", tmp_path / "logbook")
    ports = ("--port", str(FORM), "--page-port", str(PLAIN), "--desk-port", str(OWN))
    service = children.Child([*layby, "serve", "--home", *ports], log=tmp_path / "service.log", cwd=ROOT)
    service.wait_for("Layby is ready at ")
    ask = phone.within(sys.executable, "-m", "tests.support.name_questions", NAME, phone.address)
    address = children.run(ask, check=True, cwd=ROOT).stdout.strip()
    assert address == desk.address
    program = phone.wrapper(chromium(), tmp_path / "chromium-of-the-phone")
    with phone_of(tmp_path / "stranger", address, program) as page:
        assert "ERR_CERT_AUTHORITY_INVALID" in refusal(page, f"https://{NAME}:{FORM}")
        assert "ERR_INVALID_HTTP_RESPONSE" in refusal(page, f"http://{NAME}:{FORM}")
        assert "ERR_CONNECTION_REFUSED" in refusal(page, f"http://{NAME}:{OWN}/desk")
        page.goto(f"http://{address}:{PLAIN}")
        expect(page.get_by_role("heading", level=1)).to_contain_text("Connect a phone")
        assert page.locator("ol li").count() == 9
    fetch = phone.within(sys.executable, "-c", FETCH, f"http://{address}:{PLAIN}/layby.crt")
    (tmp_path / "layby.crt").write_bytes(children.run(fetch, check=True, text=False).stdout)
    trust(tmp_path / "layby.crt", tmp_path / "owner")
    offer = children.run([*layby, "pair"], check=True, cwd=ROOT).stdout
    link = re.search(r"https://\S+/pair#\S+", offer)
    assert link is not None, offer
    with phone_of(tmp_path / "owner", address, program) as page:
        page.goto(link[0])
        expect(page.locator("#status")).to_have_text("This phone is paired.")
        expect(page.locator("#offline")).to_contain_text("works offline")
        two_hosts.cut(phone)
        page.goto(f"https://{NAME}:{FORM}")
        expect(page.locator("#offline")).to_contain_text("works offline")
    service.terminate()
    service.wait()
    service.forget()
