"""A desk restored from an older backup: the phones give back what it lost, and nobody has to know about it.

Two real Chromium profiles against a real `layby serve`, whose folder is replaced by what `layby restore` made.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from playwright.sync_api import Page, expect

from tests.phone.test_photos import photograph, shown, take
from tests.support import children
from tests.support.browser import Phone
from tests.support.hands import filed, go_to, start_visit, to_day, write
from tests.support.service import Service


def layby(service: Service, folder: Path, *words: str) -> None:
    """A command on a folder."""
    children.run([str(service.command), "--folder", str(folder), *words], check=True, cwd=service.cwd)


def visited(page: Page, name: str, camera: Path | None = None) -> str:
    """A visit for a customer, with a photo if a camera's file is given; back on the day."""
    visit = start_visit(page, name)
    go_to(page, "Vehicle")
    write(page, "Registration", "LT 482")
    if camera is not None:
        take(page, "arrival", camera)
        shown(page, "arrival", 1)
    to_day(page)
    return visit


def send(page: Page, count: int) -> None:
    """One tap on "Send now", after which everything is filed, including photos."""
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#status")).not_to_have_text("Sending")
    visits = "1 visit" if count == 1 else f"{count} visits"
    expect(page.locator("#tally")).to_have_text(f"{visits} captured, {count} filed, 0 waiting, 0 refused.")
    expect(page.locator("#photos")).to_have_count(0)


def standing(service: Service, visits: list[str]) -> dict[str, Any]:
    """What a stopped desk holds of visits: the ids of their entries, and the resulting visits."""
    held = {visit: filed(service, visit) for visit in visits}
    return {visit: (sorted(op["id"] for op in ops), kept) for visit, (ops, kept) in held.items()}


def photos_of(service: Service) -> dict[str, bytes]:
    """Every complete photo of a desk, by name."""
    files = (service.folder / "photos").glob("*/*")
    return {file.name: file.read_bytes() for file in files if len(file.name) == 64}


def test_phones_refill_a_desk_restored_from_an_older_backup(
    lasting: Phone, service: Service, folder: Path, tmp_path: Path
) -> None:
    """Visits, later entries of an older visit and a photo that no backup holds: one send from each phone suffices."""
    second = Phone(tmp_path / "second")
    one, other = lasting.open(service.url), second.open(service.url)
    visits = [visited(one, "M. Okafor", photograph(tmp_path / "one.jpg")), visited(other, "R. Lindqvist")]
    send(one, 1)
    send(other, 1)
    layby(service, folder, "backup", str(tmp_path / "evening.zip"))
    for page, name in ((one, "L. Moreau"), (other, "K. Adeyemi")):
        page.get_by_role("list").get_by_role("link").first.click()
        go_to(page, "Visual check")
        write(page, "Customer's complaint", f"Said after the backup, to {name}.")
        to_day(page)
    visits += [visited(one, "L. Moreau", photograph(tmp_path / "two.jpg", shade=20)), visited(other, "K. Adeyemi")]
    send(one, 2)
    send(other, 2)
    service.stop()
    before, pictures = standing(service, visits), photos_of(service)
    folder.rename(folder.with_name("lost"))
    layby(service, folder, "restore", str(tmp_path / "evening.zip"))
    assert len(photos_of(service)) == 1
    service.start()
    for page, said in ((one, "5 entries delivered to the desk. 1 photo"), (other, "4 entries")):
        send(page, 2)
        expect(page.locator("#status")).to_have_text(f"{said} delivered to the desk.")
    second.close()
    service.stop()
    assert standing(service, visits) == before
    assert photos_of(service) == pictures
    assert len(pictures) == 2
