"""The store of photos: pieces in any sizes, wrong offsets, broken bytes, a full disk, a kill at any moment."""

from __future__ import annotations

import hashlib
import io
import os
import random
import sys
import threading
import time
from pathlib import Path

import pytest
from PIL import Image

from sync.errors import DiskFull
from sync.records.embedded.folder_files import FolderFiles
from sync.records.image_headers import NotAPhoto
from sync.records.photos import (
    PHOTO_BYTES,
    NotADigest,
    PhotoAltered,
    PhotoStore,
    PhotoTooLarge,
    TooManyPixels,
    WrongOffset,
    file_of,
)
from tests.support import children
from tests.support.service import ROOT
from tests.support.threads import join


def photo(seed: int = 1, size: tuple[int, int] = (120, 90)) -> bytes:
    """A noisy JPEG of a few kilobytes, another for each seed."""
    out = io.BytesIO()
    Image.frombytes("RGB", size, random.Random(seed).randbytes(size[0] * size[1] * 3)).save(out, "JPEG", quality=70)
    return out.getvalue()


def name_of(content: bytes) -> str:
    """What a photo is called (FIPS 180-4)."""
    return hashlib.sha256(content).hexdigest()


@pytest.fixture
def store(folder: Path) -> PhotoStore:
    """An empty store on a disk of any size."""
    return PhotoStore(FolderFiles(folder, floor_bytes=0))


def test_a_photo_counts_once_it_is_whole(store: PhotoStore, folder: Path) -> None:
    """In pieces of odd sizes; before the last one there is an offset but no photo. Only its owner can read it."""
    content = photo()
    sha, dice, end = name_of(content), random.Random(3), 0
    assert store.offset(sha) == (0, None)
    while end < len(content):
        assert store.bytes_of(sha) is None
        piece = content[end : end + dice.randint(1, 2000)]
        end = store.append(sha, end, len(content), piece)
        assert store.offset(sha) == (end, len(content))
    assert store.bytes_of(sha) == content
    path = folder / "photos" / sha[:2] / sha
    assert path == folder / file_of(sha)
    assert [one.name for one in path.parent.iterdir()] == [sha]
    assert path.stat().st_mode & 0o077 == 0
    assert store.append(sha, len(content), len(content), b"") == len(content)


def test_a_piece_that_does_not_fit_changes_nothing(store: PhotoStore) -> None:
    """Behind, ahead, sent twice: the true offset is reported and stays right."""
    content = photo()
    sha = name_of(content)
    store.append(sha, 0, len(content), content[:1000])
    for offset in (0, 500, 1001):
        with pytest.raises(WrongOffset) as caught:
            store.append(sha, offset, len(content), content[offset : offset + 100])
        assert (caught.value.values["offset"], store.offset(sha)) == (1000, (1000, len(content)))
    store.append(sha, 1000, len(content), content[1000:])
    assert store.bytes_of(sha) == content
    with pytest.raises(WrongOffset):
        store.append(sha, 0, len(content), content)


def test_bytes_of_another_hash_are_dropped(store: PhotoStore) -> None:
    """One bit is wrong: nothing of it is kept, and the true photo is accepted from its beginning."""
    content = photo()
    sha = name_of(content)
    broken = content[:500] + bytes([content[500] ^ 1]) + content[501:]
    with pytest.raises(PhotoAltered):
        store.append(sha, 0, len(content), broken)
    assert store.offset(sha) == (0, None)
    assert store.append(sha, 0, len(content), content) == len(content)


@pytest.mark.parametrize("content", [b"%PDF-1.7 " + b"x" * 300, b"<html>" * 50, b"GIF89a" + b"\x00" * 90])
def test_what_is_no_photo_is_not_kept(store: PhotoStore, content: bytes) -> None:
    """Whatever it is called."""
    with pytest.raises(NotAPhoto):
        store.append(name_of(content), 0, len(content), content)
    assert store.offset(name_of(content)) == (0, None)


def test_a_picture_of_too_many_pixels_is_not_kept(store: PhotoStore) -> None:
    """A few kilobytes that would unpack to 100 million pixels; 40 million are accepted."""
    for size, taken in (((10_000, 10_000), False), ((8000, 5000), True)):
        out = io.BytesIO()
        Image.new("1", size).save(out, "PNG")
        content = out.getvalue()
        if taken:
            assert store.append(name_of(content), 0, len(content), content) == len(content)
        else:
            with pytest.raises(TooManyPixels):
                store.append(name_of(content), 0, len(content), content)
            assert store.offset(name_of(content)) == (0, None)


def test_a_photo_over_the_limit_is_refused_at_its_first_piece(store: PhotoStore) -> None:
    """By its announced length, by no length, and by a piece that goes beyond it."""
    sha = name_of(b"")
    for length, chunk in ((PHOTO_BYTES + 1, b"x"), (0, b""), (5, b"sixsix")):
        with pytest.raises(PhotoTooLarge):
            store.append(sha, 0, length, chunk)
    assert store.offset(sha) == (0, None)


def test_another_length_for_the_same_name_begins_anew(store: PhotoStore) -> None:
    """Only one of the two can be right, and a sender that was wrong once must not be stuck for ever."""
    content = photo()
    sha = name_of(content)
    store.append(sha, 0, len(content) + 7, content[:1000])
    with pytest.raises(WrongOffset) as caught:
        store.append(sha, 1000, len(content), content[1000:])
    assert caught.value.values["offset"] == 0
    assert store.append(sha, 0, len(content), content) == len(content)


@pytest.mark.parametrize("name", ["", "abc", "../../etc/passwd", "A" * 64, "a" * 65, "a" * 63 + "\n"])
def test_a_name_that_is_no_hash_reaches_no_file(store: PhotoStore, name: str) -> None:
    """Neither to read nor to write."""
    for work in (lambda: store.offset(name), lambda: store.bytes_of(name), lambda: store.append(name, 0, 1, b"x")):
        with pytest.raises(NotADigest):
            work()


def test_a_full_disk_takes_no_piece(folder: Path) -> None:
    """The floor is more than any disk has; nothing is left behind."""
    store = PhotoStore(FolderFiles(folder, floor_bytes=1 << 60))
    with pytest.raises(DiskFull):
        store.append(name_of(photo()), 0, len(photo()), photo())
    assert store.offset(name_of(photo())) == (0, None)


@pytest.mark.parametrize("cut", [0, 5, 12, 13, 700])
def test_a_part_torn_by_a_power_cut_is_resumed_or_begun_anew(store: PhotoStore, folder: Path, cut: int) -> None:
    """Whatever length the file was left with, the reported offset leads to the complete photo."""
    content = photo()
    sha = name_of(content)
    store.append(sha, 0, len(content), content[:1000])
    part = (folder / file_of(sha)).with_name(f"{sha}.part")
    os.truncate(part, cut)
    end, _ = store.offset(sha)
    assert end == max(cut - 12, 0)
    store.append(sha, end, len(content), content[end:])
    assert store.bytes_of(sha) == content


def test_a_kill_before_the_proof_leaves_the_proof_to_the_next_question(store: PhotoStore, folder: Path) -> None:
    """All bytes are in the part: an intact one is complete when asked for, an altered one is gone."""
    content = photo()
    for last, whole in ((content[-1:], True), (bytes([content[-1] ^ 1]), False)):
        sha = name_of(content)
        store.append(sha, 0, len(content), content[:-1])
        with (folder / file_of(sha)).with_name(f"{sha}.part").open("ab") as part:
            part.write(last)
        assert store.offset(sha) == ((len(content), len(content)) if whole else (0, None))
        assert store.bytes_of(sha) == (content if whole else None)
        (folder / file_of(sha)).unlink(missing_ok=True)


def test_many_threads_make_one_photo(store: PhotoStore) -> None:
    """Each asks for the offset and sends from there; a late one is told."""
    content = photo(size=(300, 200))
    sha = name_of(content)

    def send() -> None:
        end = 0
        while end < len(content):
            end, _ = store.offset(sha)
            try:
                end = store.append(sha, end, len(content), content[end : end + 1500])
            except WrongOffset as late:
                end = late.values["offset"]

    threads = [threading.Thread(target=send, daemon=True) for _ in range(6)]
    for thread in threads:
        thread.start()
    join(*threads)
    assert store.bytes_of(sha) == content


WRITER = """
import sys
from pathlib import Path
from sync.records.embedded.folder_files import FolderFiles
from sync.records.photos import PhotoStore
store, content = PhotoStore(FolderFiles(Path(sys.argv[1]), floor_bytes=0)), Path(sys.argv[3]).read_bytes()
end, _ = store.offset(sys.argv[2])
print(end, flush=True)
for _ in range(12):  # in one life never all of it, so that each life is ended in the middle of the work
    end = store.append(sys.argv[2], end, len(content), content[end:end + 700])
    print(end, flush=True)
    if end == len(content):
        sys.exit()
sys.stdin.read()
"""


def test_a_killed_writer_has_lost_nothing_it_answered_for(tmp_path: Path, folder: Path, store: PhotoStore) -> None:
    """Killed again and again at seeded moments: what it reported as held is held, and the photo is completed."""
    content = photo(size=(400, 300))
    sha, dice, kills, said = name_of(content), random.Random(11), 0, 0
    (tmp_path / "photo.jpg").write_bytes(content)
    command = [sys.executable, "-c", WRITER, str(folder), sha, str(tmp_path / "photo.jpg")]
    while store.bytes_of(sha) is None:
        with children.beside(command, cwd=ROOT, stdin=children.PIPE) as writer:
            for _ in range(dice.randint(1, 9)):
                writer.line()
            time.sleep(dice.random() / 200)
            writer.kill()
            lines = writer.stdout.split()
        said = int(lines[-1]) if lines else said
        kills += 1
        end, _ = store.offset(sha)
        assert end >= said
    assert store.bytes_of(sha) == content
    assert kills >= 3
