"""The contract of a store's files, checked on every kind: a folder's, and those of a database."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import psycopg
import pytest

from sync.errors import LaybyError
from sync.records.embedded.folder_files import FolderFiles
from sync.records.postgres.database import Database, DatabaseAway
from sync.records.postgres.files import PostgresFiles
from sync.records.store.files import Files, read_or_set_aside
from sync.records.store.split_files import MARK, PhotosAway, SplitFiles, with_photos
from tests.support.plain_files import PlainFiles
from tests.support.postgres import server

# Opens the same files once more.
Opener = Callable[[], Files]


@pytest.fixture(params=["folder", "postgres", "plain", "split"])
def opened(request: pytest.FixtureRequest, folder: Path) -> Iterator[Opener]:
    """What opens the same files as often as needed; none are there yet."""
    if request.param == "folder":
        folder.mkdir()
        yield lambda: FolderFiles(folder, floor_bytes=0)
        return
    if request.param == "plain":
        plain = PlainFiles()
        yield lambda: plain
        return
    if request.param == "split":
        plain, photos = PlainFiles(), FolderFiles(folder, floor_bytes=0)
        yield lambda: with_photos(plain, photos)
        return
    url, databases = server().fresh(), list[Database]()

    def opener() -> Files:
        databases.append(Database(url))
        return PostgresFiles(databases[-1])

    yield opener
    for database in databases:
        database.close()


@pytest.fixture
def files(opened: Opener) -> Files:
    """The files, empty."""
    return opened()


def test_what_was_written_is_read_by_whoever_opens_them(opened: Opener) -> None:
    """Whole, and replaced whole; any bytes under any folder."""
    one, other = opened(), opened()
    contents = {"settings.json": b"{}", "photos/ab/abcd": bytes(range(256)), "sheets/x-1.pdf": b""}
    for name, content in contents.items():
        one.write(name, b"before")
        one.write(name, content)
    assert {name: other.read(name) for name in contents} == contents
    assert {name: other.size(name) for name in contents} == {"settings.json": 2, "photos/ab/abcd": 256,
                                                             "sheets/x-1.pdf": 0}


def test_what_is_not_there_is_told_so(files: Files) -> None:
    """Neither a size nor a content; to remove it does no harm."""
    assert files.size("settings.json") is None
    with pytest.raises(FileNotFoundError):
        files.read("settings.json")
    files.remove("settings.json")
    assert files.names("sheets") == []


def test_names_are_those_of_one_folder_in_order(files: Files) -> None:
    """With what is below it, and only what begins as asked; a folder with a longer name is another."""
    for name in ("sheets/b-1", "sheets/a-2", "sheets/a-1", "sheets/below/c", "sheets2/a", "sheets-old/a", "logo"):
        files.write(name, b"")
    assert files.names("sheets") == ["sheets/a-1", "sheets/a-2", "sheets/b-1", "sheets/below/c"]
    assert files.names("sheets", "a-") == ["sheets/a-1", "sheets/a-2"]
    assert files.names("sheets", "%") == files.names("sheets", "_-") == []


def test_pieces_are_added_in_their_order(files: Files) -> None:
    """The first drops what was there."""
    files.write("photos/ab/abcd.part", b"torn")
    files.add("photos/ab/abcd.part", b"12", is_first=True)
    files.add("photos/ab/abcd.part", b"345", is_first=False)
    assert files.read("photos/ab/abcd.part") == b"12345"


@pytest.mark.parametrize("is_durable", [True, False])
def test_what_was_removed_is_gone(opened: Opener, is_durable: bool) -> None:
    """For everybody."""
    one, other = opened(), opened()
    one.write("spool/x.eml", b"To: n@mail.example")
    one.remove("spool/x.eml", is_durable=is_durable)
    one.settle()
    assert other.size("spool/x.eml") is None


def test_what_cannot_be_used_is_set_aside_under_a_name_of_its_own(files: Files) -> None:
    """And what takes its place is another content; the rest stays."""
    files.write("devices.json", b"{")
    files.write("settings.json", b"{}")
    assert read_or_set_aside(files, "devices.json", lambda content: int(content)) is None
    assert files.size("devices.json") is None
    files.write("devices.json", b"7")
    assert read_or_set_aside(files, "devices.json", int) == 7
    assert files.read("settings.json") == b"{}"


def test_what_was_set_aside_goes_if_it_holds_what_is_erased(opened: Opener) -> None:
    """And nothing else that was set aside."""
    files = opened()
    for name, content in (("a", b"of Ms Mark"), ("b", b"of nobody")):
        files.write(name, content)
        files.set_aside(name)
    before = _aside(files)
    files.clear([b"Mark", b"M%k"])
    assert [name.partition(".")[0] for name in before] == ["a", "b"]
    assert _aside(files) == before[1:]


def _aside(files: Files) -> list[str]:
    """The names under which something was set aside, told by the disk and by the database."""
    if isinstance(files, FolderFiles):
        return sorted(path.name for path in files.folder.glob("*.unreadable-*"))
    if isinstance(files, SplitFiles):
        return _aside(files.others)
    if isinstance(files, PlainFiles):
        return sorted(files.aside)
    assert isinstance(files, PostgresFiles)
    with psycopg.connect(files.database.url) as connection:
        return [name for (name,) in connection.execute("SELECT name FROM set_aside ORDER BY name").fetchall()]


def test_whoever_claims_a_file_is_alone(opened: Opener) -> None:
    """Another who has them open can claim it once the first has given it back, and others at any time."""
    one, other = opened(), opened()
    with one.claim("devices"), other.claim("settings"):
        one.write("devices.json", b"1")
    with other.claim("devices"):
        assert other.read("devices.json") == b"1"


def test_a_name_or_a_password_is_in_no_place(opened: Opener) -> None:
    """The place is shown to people."""
    files = opened()
    assert files.place
    assert "@" not in files.place


def test_a_database_that_is_away_takes_nothing() -> None:
    """It is told as such, and is no full disk."""
    database = Database("postgresql://layby@127.0.0.1:9/none", patience_s=1)
    files = PostgresFiles(database)
    try:
        with pytest.raises(DatabaseAway) as caught:
            files.write("settings.json", b"{}")
        assert files.refused(caught.value) is caught.value
        assert isinstance(caught.value, LaybyError)
    finally:
        database.close()


def test_photos_are_in_their_folder_and_nothing_else_is(folder: Path) -> None:
    """Those from before are found where they were; a folder that is another's, empty or not named is refused."""
    plain, photos = PlainFiles(), FolderFiles(folder, floor_bytes=0)
    plain.write("photos/aa/before", b"old")
    files = with_photos(plain, photos)
    files.write("photos/ab/new", b"new")
    files.write("settings.json", b"{}")
    assert (folder / "photos" / "ab" / "new").read_bytes() == b"new"
    assert plain.size("photos/ab/new") is None
    assert photos.size("settings.json") is None
    assert files.read("photos/aa/before") == b"old"
    assert files.names("photos") == ["photos/aa/before", "photos/ab/new"]
    files.remove("photos/aa/before")
    assert files.size("photos/aa/before") is None
    assert with_photos(plain, photos).read("photos/ab/new") == b"new"
    elsewhere = FolderFiles(folder.parent / "elsewhere", floor_bytes=0)
    for other in (None, elsewhere):
        with pytest.raises(PhotosAway):
            with_photos(plain, other)
    with pytest.raises(PhotosAway):
        with_photos(PlainFiles(), photos)
    (folder / MARK).unlink()
    with pytest.raises(PhotosAway):
        files.read("photos/ab/new")
    assert files.read("settings.json") == b"{}"
