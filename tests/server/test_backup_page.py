"""The desk's page of backups: made, listed, read back, restored apart, and the views rebuilt with its progress.

A real service and real files; the rebuild's page in Chromium, which loads it again by itself without scripts.
"""

from __future__ import annotations

import json
import re
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect

from tests.server.test_login import layby
from tests.support.browser import PATIENCE_MS, borrowed
from tests.support.desk_pages import form_of, ill_sized, plain, read
from tests.support.ops import Phone, body_of
from tests.support.service import Service
from tests.support.visitor import PASSPHRASE, Visitor, running_desk


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    """A real service with two visits on file."""
    with running_desk(tmp_path_factory.mktemp("desk")) as running:
        phone = Phone("7e57b0")
        for plate in ("LT 482", "ALD 4127"):
            visit = phone.new_id()
            known = phone.op(visit, "visit.set", {"vehicle": {"id": f"plate-{plate[:2]}"}}, {"/vehicle/id": None})
            assert running.post("/sync", body_of(phone.opening(visit), phone.plate(visit, plate), known))[0] == 200
        yield running


def choose(desk: Service, into: Path, **more: Any) -> None:
    """Let backups go there."""
    (desk.folder / "settings.json").write_text(json.dumps({"backup": {"into": str(into), **more}}), "utf-8")


def test_without_a_folder_the_page_asks_for_one(desk: Service, visitor: Visitor) -> None:
    """And no backup is made; the row of the settings takes a folder that doesn't exist yet."""
    (desk.folder / "settings.json").unlink(missing_ok=True)
    text = read(visitor, "/desk/backup")
    assert "No folder for backups is chosen yet." in text
    status, _, answer = visitor.press("/desk/do/backup")
    assert (status, "Choose one in the settings" in plain(answer)) == (422, True)
    page = visitor.ask("GET", "/desk/settings?open=backup.into")[2]
    fields = {**form_of(page, "/desk/do/set"), "backup.into": str(desk.folder.parent / "stick"), "backup.keep": "2"}
    assert visitor.press("/desk/do/set", **fields)[0] == 303
    text = read(visitor, "/desk/backup")
    assert f"Backups go into {desk.folder.parent / 'stick'}; the last 2 are kept." in text
    assert f"layby --folder {desk.folder} backup" in text


def test_a_backup_is_made_listed_and_read_back(desk: Service, visitor: Visitor, tmp_path: Path) -> None:
    """With its visits and size; the oldest go; a changed byte is named."""
    into = tmp_path / "stick"
    into.mkdir()
    choose(desk, into, keep=2)
    for name in ("layby-2026-06-10-0230.zip", "layby-2026-06-11-0230.zip"):
        (into / name).write_bytes(b"")
    (into / "letters.zip").write_bytes(b"of somebody else")
    status, _, text = visitor.press("/desk/do/backup")
    assert status == 200
    assert "Backed up: layby-" in plain(text)
    assert "1 older backup was removed." in plain(text)
    names = sorted(path.name for path in into.iterdir())
    assert names[:2] == ["layby-2026-06-11-0230.zip", names[1]]
    assert names[2:] == ["letters.zip"]
    shown = read(visitor, "/desk/backup")
    assert "2 backups" in shown
    assert re.search(r"today, \d\d:\d\d 2 visits, \d+ kB", shown)
    assert "Backup today, " in read(visitor, "/desk/settings")
    told = plain(visitor.press("/desk/do/read-back", name=names[1])[2])
    assert re.search(rf"{names[1]} is intact: all \d+ files", told)
    made = into / names[1]
    content = bytearray(made.read_bytes())
    with zipfile.ZipFile(made) as archive:
        start = archive.getinfo("journal.log").header_offset + 80
    content[start] ^= 1
    made.write_bytes(content)
    status, _, text = visitor.press("/desk/do/read-back", name=names[1])
    assert (status, "damaged" in plain(text)) == (422, True)
    assert visitor.press("/desk/do/read-back", name="letters.zip")[0] == 404
    assert visitor.press("/desk/do/read-back", name="../layby/journal.log")[0] == 404


def test_a_folder_that_cannot_be_made_is_told(desk: Service, visitor: Visitor, tmp_path: Path) -> None:
    """Below a file: a sentence, not a crash."""
    (tmp_path / "file").write_bytes(b"")
    choose(desk, tmp_path / "file" / "stick")
    status, _, text = visitor.press("/desk/do/backup")
    assert (status, "could not be written" in plain(text)) == (422, True)
    assert visitor.ask("GET", "/desk/backup")[0] == 200


def test_a_backup_is_restored_into_a_folder_of_its_own(desk: Service, visitor: Visitor, tmp_path: Path) -> None:
    """The logbook in use is refused and stays; the new one has both visits, and the page says how to take it up."""
    into, new = tmp_path / "stick", tmp_path / "new logbook"
    choose(desk, into)
    visitor.press("/desk/do/backup")
    (name,) = (path.name for path in into.iterdir())
    before = {path.name for path in desk.folder.iterdir()}
    for folder, told in ((str(desk.folder), "isn't empty"), ("new", "isn't a whole path"), ("", "isn't a whole path")):
        status, _, text = visitor.press("/desk/do/restore", name=name, folder=folder)
        assert (status, told in plain(text)) == (422, True)
        assert form_of(text, "/desk/do/restore")["folder"] == folder
    assert {path.name for path in desk.folder.iterdir()} == before
    status, _, text = visitor.press("/desk/do/restore", name=name, folder=str(new))
    assert status == 200
    assert f"layby --folder '{new}' serve" in plain(text)
    assert "stop this service and start it on that folder" in plain(text)
    told = layby(Service(new), "find", "LT")
    assert "LT 482" in told
    status, _, text = visitor.press("/desk/do/restore", name=name, folder=str(new))
    assert (status, "isn't empty" in plain(text)) == (422, True)


def test_the_command_backs_up_where_the_settings_say(desk: Service, tmp_path: Path) -> None:
    """Without a file or a folder, and as many stay as they say."""
    choose(desk, tmp_path / "stick", keep=1)
    assert "read back and compared" in layby(desk, "backup")
    assert len(list((tmp_path / "stick").glob("layby-*.zip"))) == 1


def test_views_are_rebuilt_and_the_page_follows(desk: Service, visitor: Visitor) -> None:
    """Begun by a key; the page loads itself again until it is done, without scripts, and the visits are all there."""
    assert "No rebuild is under way." in read(visitor, "/desk/rebuild")
    with borrowed() as browser:
        page = browser.new_context(java_script_enabled=False, locale="en-GB").new_page()
        page.set_default_timeout(PATIENCE_MS)
        page.goto(f"{desk.url}/desk/sign-in")
        page.locator("#passphrase").fill(PASSPHRASE)
        page.locator("button.main").click()
        page.wait_for_url("**/desk")
        page.goto(f"{desk.url}/desk/rebuild")
        page.get_by_role("button", name="Rebuild now").click()
        expect(page.get_by_role("status")).to_contain_text("Done:", timeout=PATIENCE_MS)
        assert page.locator("meta[http-equiv=refresh]").count() == 0, "it is done, so the page rests"
        page.goto(f"{desk.url}/desk/vehicles")
        assert page.locator(".list > li").count() == 2
    assert "LT 482" in read(visitor, "/desk/search?text=LT482")


def test_the_pages_fit_a_phone_and_a_desk_in_both_languages(desk: Service, visitor: Visitor, tmp_path: Path) -> None:
    """With a backup on the list, at 100 and 200 %."""
    choose(desk, tmp_path / "a stick with a rather long name in the van")
    visitor.press("/desk/do/backup")
    found: list[str] = []
    with borrowed() as browser:
        for language in ("en-GB", "es-MX"):
            page = browser.new_context(bypass_csp=True, locale=language).new_page()
            page.set_default_timeout(PATIENCE_MS)
            page.goto(f"{desk.url}/desk/sign-in")
            page.locator("#passphrase").fill(PASSPHRASE)
            page.locator("button.main").click()
            page.wait_for_url("**/desk")
            for path in ("backup", "rebuild", "vehicles"):
                page.goto(f"{desk.url}/desk/{path}")
                found += ill_sized(page, f"{language}, {path}")
    assert found == []
