"""`python3 -m tests.shots`: pictures of every screen of the phone page, in sun and dusk, into .shots/ to be looked at.

Nothing is judged here; the pictures are for a person's eyes and are not kept in the repository.
"""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

from tests.browser import phone
from tests.conftest import Service
from tests.walk import walk

SHOTS = Path(__file__).resolve().parent.parent / ".shots"
THEMES = {"sun": "light", "dusk": "dark"}


def take(theme: str, scheme: str, ground: Path) -> None:
    """Walk through one visit in one theme and picture each screen, as seen and whole."""
    service = Service(ground / "layby").start()
    try:
        with phone(ground / "profile", color_scheme=scheme) as handset:
            page = handset.open(service.url)

            def look(name: str) -> None:
                page.evaluate("window.scrollTo(0, 0)")
                page.wait_for_timeout(450)
                page.screenshot(path=SHOTS / f"{theme}-{name}.png")
                page.screenshot(path=SHOTS / f"{theme}-{name}-whole.png", full_page=True)

            walk(page, look)
    finally:
        service.stop()


def main() -> None:
    """All screens in both themes."""
    shutil.rmtree(SHOTS, ignore_errors=True)
    SHOTS.mkdir()
    for theme, scheme in THEMES.items():
        with tempfile.TemporaryDirectory() as ground:
            take(theme, scheme, Path(ground))


if __name__ == "__main__":
    main()
