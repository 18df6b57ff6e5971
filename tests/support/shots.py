"""`python3 -m tests.support.shots`: pictures of every screen of the phone and the desk, in sun and dusk, into .shots/.

Nothing is judged here; the pictures are for a person's eyes and are not kept in the repository.
"""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

from playwright.sync_api import Page

from demo import phone as demo_phone
from sync import rulebook
from tests.server.test_pages import walk_of_the_desk
from tests.support.browser import phone
from tests.support.service import Service, hand_in_day
from tests.support.visitor import PASSPHRASE, setting_key
from tests.support.walk import Look, walk

SHOTS = Path(__file__).resolve().parents[2] / ".shots"
THEMES = {"sun": "light", "dusk": "dark"}


def take(theme: str, scheme: str, ground: Path) -> None:
    """Walk through one visit in one theme and take a picture of each screen, as seen and whole."""
    service = Service(ground / "layby").start()
    try:
        with phone(ground / "profile", color_scheme=scheme) as handset:
            page = handset.open(service.url)

            def look(name: str) -> None:
                page.evaluate("window.scrollTo(0, 0)")
                page.wait_for_timeout(450)
                page.screenshot(path=SHOTS / f"{theme}-{name}.png")
                page.screenshot(path=SHOTS / f"{theme}-{name}-whole.png", full_page=True)

            page.goto(f"{service.url}/pair#0000")
            look("pairing")
            page.goto(service.url)
            walk(page, look)
            desk(page, service, look)
    finally:
        service.stop()


def desk(page: Page, service: Service, look: Look) -> None:
    """The desk's pages with an invented day on them, on a desk's screen."""
    scenario = demo_phone.load_day()
    hand_in_day(service, demo_phone.whole_day(rulebook.load(), scenario).made)
    page.set_viewport_size({"width": 1100, "height": 800})
    page.goto(f"{service.url}/desk/passphrase?key={setting_key(service.log.read_text('utf-8'))}")
    page.get_by_label("New passphrase").fill(PASSPHRASE)
    page.get_by_label("Repeat it").fill(PASSPHRASE)
    look("desk-passphrase")
    page.get_by_role("button", name="Set passphrase").click()
    walk_of_the_desk(page, service, str(scenario["day"]), lambda name: look(f"desk-{name.replace(' ', '-')}"))


def main() -> None:
    """All screens in both themes."""
    shutil.rmtree(SHOTS, ignore_errors=True)
    SHOTS.mkdir()
    for theme, scheme in THEMES.items():
        with tempfile.TemporaryDirectory() as ground:
            take(theme, scheme, Path(ground))


if __name__ == "__main__":
    main()
