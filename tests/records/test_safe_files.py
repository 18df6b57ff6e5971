"""Safe files: whole through a crash at any moment; and one holder of a folder at a time."""

from __future__ import annotations

import ast
import os
import re
import sys
import textwrap
from pathlib import Path

import pytest
from tinydb import TinyDB, where

from sync.disk.folder_lock import FolderBusy, FolderLock
from sync.disk.safe_files import Unreadable, make_folder, set_aside, write_whole
from sync.records.embedded.view_files import SafeStorage
from tests.crash.disk import Call
from tests.crash.recorder import Recorder
from tests.support import children
from tests.support.service import PATIENCE_S

ROOT = Path(__file__).resolve().parents[2]


def running(code: str, *arguments: str) -> list[str]:
    """The command of another process of this environment that runs a few lines."""
    return [sys.executable, "-c", textwrap.dedent(code), *arguments]


def test_a_table_comes_back_as_it_was_written(tmp_path: Path) -> None:
    """TinyDB on the safe storage: insert, query, reopen."""
    path = tmp_path / "deep" / "page.json"
    with TinyDB(path, storage=SafeStorage) as database:
        database.insert({"plate": "ALD 4127", "note": "ÄÖ °C"})
    with TinyDB(path, storage=SafeStorage) as database:
        assert database.search(where("plate") == "ALD 4127") == [{"plate": "ALD 4127", "note": "ÄÖ °C"}]


def test_files_are_their_owners_alone(tmp_path: Path) -> None:
    """Nobody else on the machine reads a customer's address."""
    with TinyDB(tmp_path / "pages" / "page.json", storage=SafeStorage) as database:
        database.insert({"a": 1})
    assert (tmp_path / "pages" / "page.json").stat().st_mode & 0o077 == 0
    assert (tmp_path / "pages").stat().st_mode & 0o077 == 0


def test_a_folder_that_could_not_be_made_durable_is_made_anew(tmp_path: Path) -> None:
    """Its own sync failed: the next process must not find it and take it for durable."""
    with Recorder(tmp_path, failing=0) as recorder:
        with pytest.raises(OSError):
            make_folder(tmp_path / "sheets")
        assert not (tmp_path / "sheets").exists()
        make_folder(tmp_path / "sheets")
    assert recorder.events[-2:] == [Call("make", ("sheets",)), Call("sync_folder", ("",))]


@pytest.mark.parametrize("content", [b"", b"{", b"[]", b'{"a": 5}', b"\xff\x00"])
def test_a_file_of_another_form_is_told_and_not_replaced(tmp_path: Path, content: bytes) -> None:
    """Reading it is an error with a code; its bytes stay until somebody sets it aside."""
    path = tmp_path / "page.json"
    path.write_bytes(content)
    with pytest.raises(Unreadable) as caught:
        SafeStorage(path).read()
    assert caught.value.code == "unreadable"
    assert path.read_bytes() == content
    assert set_aside(path).read_bytes() == content
    assert SafeStorage(path).read() is None


def test_a_write_that_fails_leaves_the_old_content(tmp_path: Path) -> None:
    """A disk that takes no more: the process may write 100 kB and no larger file."""
    code = """
        import resource, signal, sys
        from pathlib import Path
        from sync.disk.safe_files import write_whole
        path = Path(sys.argv[1])
        write_whole(path, b"old" * 1000)
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, 100_000))
        try:
            write_whole(path, b"new" * 100_000)
        except OSError as error:
            print("refused", sorted(file.name for file in path.parent.iterdir()))
    """
    out = children.run(running(code, str(tmp_path / "file.json")), cwd=ROOT).stdout
    assert out == "refused ['file.json']\n"
    assert (tmp_path / "file.json").read_bytes() == b"old" * 1000


def test_a_kill_in_the_middle_of_writing_leaves_a_whole_file(tmp_path: Path) -> None:
    """Thirty writers killed at arbitrary moments: each time the file is one complete version."""
    path = tmp_path / "file.json"
    code = """
        import itertools, sys
        from pathlib import Path
        from sync.disk.safe_files import write_whole
        for number in itertools.count():
            write_whole(Path(sys.argv[1]), (str(number % 10) * 200_000).encode())
            if number == 2:
                print("going", flush=True)
    """
    for _ in range(30):
        with children.beside(running(code, str(path)), cwd=ROOT) as writer:
            assert writer.line() == "going"
            writer.kill()
        content = path.read_bytes()
        assert len(content) == 200_000
        assert len(set(content)) == 1


def test_a_second_holder_is_refused(tmp_path: Path) -> None:
    """In the same process and from another one, with the folder in the sentence."""
    lock = FolderLock(tmp_path / "layby")
    lock.take()
    with pytest.raises(FolderBusy) as caught:
        FolderLock(tmp_path / "layby").take()
    assert caught.value.values["folder"] == str(tmp_path / "layby")
    code = """
        import sys
        from pathlib import Path
        from sync.disk.folder_lock import FolderBusy, FolderLock
        try:
            FolderLock(Path(sys.argv[1])).take()
        except FolderBusy as error:
            print(error.code)
    """
    out = children.run(running(code, str(tmp_path / "layby")), cwd=ROOT).stdout
    assert out == "folder_busy\n"
    lock.give_back()
    FolderLock(tmp_path / "layby").take()


def test_a_killed_holder_leaves_no_lock(tmp_path: Path) -> None:
    """The system takes back the lock when the process dies."""
    code = """
        import sys, time
        from pathlib import Path
        from sync.disk.folder_lock import FolderLock
        lock = FolderLock(Path(sys.argv[1]))
        lock.take()
        print("held", flush=True)
        time.sleep(600)
    """
    with children.beside(running(code, str(tmp_path)), cwd=ROOT) as holder:
        assert holder.line() == "held"
        with pytest.raises(FolderBusy):
            FolderLock(tmp_path).take()
        holder.kill()
    FolderLock(tmp_path).take(patience_s=PATIENCE_S)


def test_a_left_over_new_file_is_in_nobodys_way(tmp_path: Path) -> None:
    """What a kill left beside a file is overwritten by the next write."""
    (tmp_path / ".file.json.new").write_bytes(b"half")
    write_whole(tmp_path / "file.json", b"whole")
    assert os.listdir(tmp_path) == ["file.json"]


def test_the_stock_storages_are_used_nowhere() -> None:
    """TinyDB's own file storage and its caching layer lose data under a crash or threads: no module names them."""
    for package in ("sync", "server", "reports"):
        for path in (ROOT / package).rglob("*.py"):
            code = path.read_text("utf-8")
            assert not re.search(r"JSONStorage|CachingMiddleware|tinydb\.middlewares", code), path
            for call in (node for node in ast.walk(ast.parse(code)) if isinstance(node, ast.Call)):
                if isinstance(call.func, ast.Name) and call.func.id == "TinyDB":
                    named = {word.arg: ast.unparse(word.value) for word in call.keywords}
                    assert named.get("storage") == "SafeStorage", f"{path}:{call.lineno}"
