"""The desk's first start: the passphrase, where things are kept, and then one step after the other until all are done.

Real services, each of them fresh; the pages in Chromium without scripts.
"""

from __future__ import annotations

import json
from pathlib import Path

from playwright.sync_api import Page

from tests.support.browser import PATIENCE_MS, borrowed
from tests.support.desk_pages import faults_of, ill_sized, plain, read
from tests.support.ops import Phone, body_of
from tests.support.service import Service
from tests.support.visitor import PASSPHRASE, Visitor, setting_key, wait_for_key


def press(page: Page, role: str, name: str) -> None:
    """Press what leads to another page, and wait for it."""
    with page.expect_navigation():
        page.get_by_role(role, name=name, exact=True).click()  # type: ignore[arg-type]  # a role


def test_a_desk_is_set_up_step_by_step(service: Service) -> None:
    """From the first page to the last step: passphrase by the link, business, phone; the next step on every page."""
    wait_for_key(service)
    link = f"{service.url}/desk/passphrase?key={setting_key(service.log.read_text('utf-8'))}"
    with borrowed() as browser:
        page = browser.new_context(java_script_enabled=False, locale="en-GB").new_page()
        page.set_default_timeout(PATIENCE_MS)
        page.goto(f"{service.url}/desk")
        assert page.url.endswith("/desk/first")
        main = page.locator("main")
        assert str(service.folder) in main.inner_text()
        assert "never touches this logbook" in main.inner_text()
        for key, told in (("guessed", "This link is invalid"), (link, "")):
            page.get_by_label("Link for setting the passphrase").fill(key)
            page.get_by_label("New passphrase").fill(PASSPHRASE)
            page.get_by_label("Repeat it").fill(PASSPHRASE)
            press(page, "button", "Set passphrase")
            assert told in main.inner_text()
        assert page.url.endswith("/desk/first")
        assert "Next: enter the name of your business." in main.inner_text()
        page.goto(f"{service.url}/desk/search")
        press(page, "link", "Enter the business")
        page.get_by_label("Name of the business").fill("Alder Coast Mobile Cooling")
        press(page, "button", "Save")
        page.goto(f"{service.url}/desk")
        assert "Next: pair a phone" in main.inner_text()
        press(page, "link", "Pair a phone")
        assert page.url.endswith("/desk/phones")
        service.bearer("7e57")
        page.goto(f"{service.url}/desk/first")
        assert "Everything is set up." in main.inner_text()
        page.goto(f"{service.url}/desk")
        assert page.locator(".ahead").count() == 0


def test_only_this_computer_is_told_where_things_are(service: Service) -> None:
    """Through a proxy nothing of the folder is shown, and no form: the key is what opens it, wherever it is shown."""
    wait_for_key(service)
    visitor = Visitor(service)
    assert visitor.ask("GET", "/desk")[1]["Location"] == "/desk/sign-in"
    assert visitor.ask("GET", "/desk/sign-in")[1]["Location"] == "/desk/first"
    assert str(service.folder) in read(visitor, "/desk/first")
    for header in ({"X_Forwarded_For": "192.0.2.7"}, {"Forwarded": "for=192.0.2.7"}):
        status, _, text = visitor.ask("GET", "/desk/first", **header)
        assert (status, str(service.folder) in text, "<form" in text) == (200, False, False)
        assert "It is set on the desk's own computer" in plain(text)
        _, _, text = visitor.ask("GET", "/desk/passphrase?key=guessed", **header)
        assert str(service.folder) not in text
        fields = {"key": "guessed", "passphrase": PASSPHRASE, "again": PASSPHRASE}
        status, _, text = visitor.ask("POST", "/desk/passphrase", fields, **header)
        assert (status, str(service.folder) in text) == (403, False)
    fields = {"key": "", "passphrase": PASSPHRASE, "again": PASSPHRASE}
    assert visitor.ask("POST", "/desk/passphrase", fields)[0] == 403, "being on this computer is not enough"
    assert visitor.ask("POST", "/desk/passphrase", fields, Sec_Fetch_Site="cross-site")[0] == 403
    visitor.first()
    assert Visitor(service).ask("GET", "/desk/first")[1]["Location"] == "/desk/sign-in"


def test_a_logbook_with_visits_names_no_next_step(service: Service) -> None:
    """Whoever has worked with it needs no first steps; a new passphrase leads to the day."""
    wait_for_key(service)
    visitor = Visitor(service).first()
    assert "Next: enter the name of your business." in read(visitor, "/desk/search")
    phone = Phone("7e57")
    assert service.post("/sync", body_of(phone.opening(phone.new_id())))[0] == 200
    assert "Next:" not in read(visitor, "/desk/search")
    (service.folder / "settings.json").write_text("[]", "utf-8")
    assert visitor.ask("GET", "/desk/first")[0] == 200, "settings that can't be read are the other page's business"


def test_the_demo_says_that_it_is_apart(tmp_path: Path) -> None:
    """Its folder bears the name by which the demo's set-up calls it."""
    demo = Service(tmp_path / ".demo").start()
    try:
        wait_for_key(demo)
        assert "This is the demo with its invented day." in read(Visitor(demo), "/desk/first")
    finally:
        demo.stop()


def test_the_pages_are_whole_in_both_languages(service: Service) -> None:
    """axe-core in sun and dusk, once; on a phone and on a desk, at 200 %, in each language."""
    wait_for_key(service)
    link = f"{service.url}/desk/passphrase?key={setting_key(service.log.read_text('utf-8'))}"
    found: list[str] = []
    with borrowed() as browser:
        for language, wrong in (("es-ES", ill_sized), ("en-GB", faults_of)):
            page = browser.new_context(bypass_csp=True, locale=language).new_page()
            page.set_default_timeout(PATIENCE_MS)
            for path in (f"{service.url}/desk/first", link):
                page.goto(path)
                found += wrong(page, f"{language}, {path}")
        page.locator("#passphrase").fill(PASSPHRASE)
        page.locator("#again").fill(PASSPHRASE)
        with page.expect_navigation():
            page.locator("button.main").click()
        found += faults_of(page, "steps")
        page.goto(f"{service.url}/desk")
        found += faults_of(page, "the day with its next step")
    assert found == []
    assert json.loads((service.folder / "passphrase.json").read_bytes())["salt"]
