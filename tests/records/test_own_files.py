"""Own files: a file in the folder is read; where a link or a name leads elsewhere, it isn't, and it is named."""

from __future__ import annotations

from pathlib import Path

import pytest

from sync.disk.own_files import content_of
from sync.errors import NotOwn
from sync.records.embedded.folder_files import FolderFiles
from sync.records.photos import PhotoStore, file_of
from tests.records.test_photos import name_of, photo


@pytest.fixture
def outside(tmp_path: Path) -> Path:
    """A file that is not the logbook's."""
    path = tmp_path / "outside" / "secret"
    path.parent.mkdir()
    path.write_bytes(b"nobody's business")
    return path


def test_a_file_of_the_folder_is_read(folder: Path) -> None:
    """At any depth; a missing file is reported as missing."""
    (folder / "a" / "b").mkdir(parents=True)
    (folder / "a" / "b" / "c").write_bytes(b"mine")
    assert content_of(folder, folder / "a" / "b" / "c") == b"mine"
    with pytest.raises(FileNotFoundError):
        content_of(folder, folder / "a" / "none")


def test_no_link_is_followed(folder: Path, outside: Path) -> None:
    """Whether the link is the file or a folder on the way; even if it leads back into the folder."""
    (folder / "a").mkdir(parents=True)
    (folder / "own").write_bytes(b"mine")
    (folder / "a" / "file").symlink_to(outside)
    (folder / "a" / "gone").symlink_to(outside.with_name("none"))
    (folder / "a" / "own").symlink_to(folder / "own")
    (folder / "way").symlink_to(outside.parent)
    for name in ("a/file", "a/gone", "a/own", "way/secret"):
        with pytest.raises(NotOwn) as caught:
            content_of(folder, folder / name)
        assert caught.value.values == {"file": name}


def test_no_name_leads_out(folder: Path, outside: Path) -> None:
    """As a damaged table of records may hold one."""
    folder.mkdir(parents=True, exist_ok=True)
    for path in (folder / "sheets" / ".." / ".." / "outside" / "secret", outside, folder / "sheets" / str(outside)):
        with pytest.raises(NotOwn):
            content_of(folder, path)


def test_a_folder_that_is_reached_by_a_link_is_its_owners(folder: Path, tmp_path: Path) -> None:
    """A person who keeps the logbook on another disk has made that link."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "own").write_bytes(b"mine")
    (tmp_path / "layby-link").symlink_to(folder)
    assert content_of(tmp_path / "layby-link", tmp_path / "layby-link" / "own") == b"mine"


def test_a_photo_that_is_a_link_is_none(folder: Path, outside: Path, caplog: pytest.LogCaptureFixture) -> None:
    """What it leads to is handed to no phone and printed on no sheet; the log names it."""
    store, name = PhotoStore(FolderFiles(folder)), name_of(photo())
    path = folder / file_of(name)
    path.parent.mkdir(parents=True)
    path.symlink_to(outside)
    assert store.bytes_of(name) is None
    assert name in caplog.text
