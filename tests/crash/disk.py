"""A disk in memory, written by the calls of `sync.disk`, and what a crash may leave on it.

Nothing here knows what a file holds. The model is POSIX's and no kinder: a write is durable once its file is synced, an
entry once its folder is; until then each may be there or not. (`fsync(2)`, `rename(2)`; what real file systems do here:
Pillai et al., "All File Systems Are Not Created Equal", OSDI 2014; failed syncs: Rebello et al., "Can Applications
Recover from fsync Failures?", USENIX ATC 2020. Both from memory.)
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

# A picture of a disk: the content of each file, None for each folder, by path.
Tree = dict[str, bytes | None]


class Call(NamedTuple):
    """One call of `sync.disk.calls`: its name, and its paths, its file's number, offsets and bytes."""

    name: str
    args: tuple[Any, ...]


@dataclass(eq=False)
class File:
    """What is durable of a file, what reads back, and what was written since its last sync: (offset, bytes), or
    (size, None) for a cut."""

    durable: bytes = b""
    now: bytes = b""
    pending: list[tuple[int, bytes | None]] = field(default_factory=list)

    def change(self, offset: int, piece: bytes | None) -> None:
        """Write, or cut."""
        self.now = changed(self.now, offset, piece)
        self.pending.append((offset, piece))


@dataclass(eq=False)
class Folder:
    """The entries of a folder that are durable, and the entries as they are now."""

    durable: dict[str, Node] = field(default_factory=dict)
    now: dict[str, Node] = field(default_factory=dict)


Node = File | Folder
# What one call changes in folders: in which, which name, and what is there afterwards.
Entries = list[tuple[Folder, str, Node | None]]

# Which pending entries are on the disk, and which pending bytes.
ENTRIES = ("none", "all", "some")
CONTENT = ("none", "all", "some writes", "a torn write", "zeros", "a lost beginning")


class Variant(NamedTuple):
    """What a crash leaves of unsynced data: one of ENTRIES, one of CONTENT."""

    entries: str
    content: str


# Only the process dies: everything reads back, and a later crash may still take what was not synced.
KILLED = Variant("all that reads back", "all that reads back")
POWER_CUTS = [Variant(entries, content) for entries in ENTRIES for content in CONTENT]
VARIANTS = [*POWER_CUTS, KILLED]
# After these a file may hold bytes that nobody wrote.
GARBLED = ("zeros", "a lost beginning")


def changed(content: bytes, offset: int, piece: bytes | None) -> bytes:
    """Bytes after one write, or one cut."""
    if piece is None:
        return content[:offset].ljust(offset, b"\0")
    return content[:offset].ljust(offset, b"\0") + piece + content[offset + len(piece) :]


def after_all(content: bytes, writes: list[tuple[int, bytes | None]]) -> bytes:
    """Bytes after some writes."""
    for offset, piece in writes:
        content = changed(content, offset, piece)
    return content


class Disk:
    """The disk. `apply` plays one call on it, `left` is what a crash leaves.

    Args of the constructor:
        tree: what is on it from the beginning, durably [Tree]
        failed_sync: whether all or half is lost of what a failed sync didn't write ["lost" or "half"]
    """

    def __init__(self, tree: Tree | None = None, failed_sync: str = "lost") -> None:
        self.top = Folder()
        self.failed_sync = failed_sync
        self.lies = False
        self._files: dict[int, File] = {}
        self._pending: list[Entries] = []
        for path, content in sorted((tree or {}).items()):
            folder, name = self._place(path)
            folder.durable[name] = folder.now[name] = Folder() if content is None else File(content, content)

    def _folder_of(self, path: str) -> tuple[Folder, str] | None:
        *folders, name = path.split("/")
        place: Node | None = self.top
        for one in folders:
            place = place.now.get(one) if isinstance(place, Folder) else None
        return (place, name) if isinstance(place, Folder) else None

    def _place(self, path: str) -> tuple[Folder, str]:
        place = self._folder_of(path)
        assert place is not None, f"no folder for {path}"
        return place

    def node(self, path: str) -> Node | None:
        """What is at a path now."""
        place = self._folder_of(path)
        return None if place is None else place[0].now.get(place[1])

    def stands_at(self, path: str) -> Node | None:
        """What is durably at a path."""
        node: Node | None = self.top
        for name in path.split("/"):
            node = node.durable.get(name) if isinstance(node, Folder) else None
        return node

    def is_at(self, number: int, path: str) -> bool:
        """Whether an open file is the one at a path now."""
        return self._files[number] is self.node(path)

    def apply(self, call: Call) -> None:
        """Play one call."""
        getattr(self, f"_{call.name}")(*call.args)

    def _enter(self, *entries: tuple[Folder, str, Node | None]) -> None:
        for folder, name, node in entries:
            if node is None:
                folder.now.pop(name, None)
            else:
                folder.now[name] = node
        self._pending.append(list(entries))

    # The calls ------------------------------------------------------------------------------------------------------

    def _create(self, path: str, fresh: bool, number: int) -> None:
        folder, name = self._place(path)
        file = folder.now.get(name)
        if file is None:
            file = File()
            self._enter((folder, name, file))
        elif fresh:
            assert isinstance(file, File)
            file.change(0, None)
        assert isinstance(file, File)
        self._files[number] = file

    def _write(self, number: int, offset: int, content: bytes) -> None:
        self._files[number].change(offset, content)

    def _cut(self, number: int, size: int) -> None:
        self._files[number].change(size, None)

    def _sync(self, number: int) -> None:
        if not self.lies:
            file = self._files[number]
            file.durable = after_all(file.durable, file.pending)
            file.pending = []

    def _sync_fails(self, number: int) -> None:
        """What it didn't write reads back until the crash, and no later sync writes it."""
        file = self._files[number]
        if self.failed_sync == "half":
            whole = [one for one in file.pending if one[1] is not None]
            half = [(offset, piece[: len(piece) // 2]) for offset, piece in whole if piece is not None]
            file.durable = after_all(file.durable, half)
        file.pending = []

    def _replace(self, source: str, target: str) -> None:
        (old_folder, old), (new_folder, new) = self._place(source), self._place(target)
        self._enter((old_folder, old, None), (new_folder, new, old_folder.now[old]))

    def _remove(self, path: str) -> None:
        place = self._folder_of(path)
        if place is not None and place[1] in place[0].now:
            self._enter((*place, None))

    def _make(self, path: str) -> None:
        folder, name = self._place(path)
        if name not in folder.now:
            self._enter((folder, name, Folder()))

    _remove_folder = _remove

    def _sync_folder(self, path: str) -> None:
        node = self.node(path) if path else self.top
        for entries in [] if self.lies else [one for one in self._pending if any(where is node for where, *_ in one)]:
            _put(entries, _durable_names)
            self._pending.remove(entries)

    def _sync_folder_fails(self, path: str) -> None:
        """File systems that keep a journal of names stop once they cannot write it: a later sync is not falsely good,
        so what it did not write stays pending."""
        node = self.node(path) if path else self.top
        mine = [one for one in self._pending if any(where is node for where, *_ in one)]
        for entries in mine[: len(mine) // 2 if self.failed_sync == "half" else 0]:
            _put(entries, _durable_names)
            self._pending.remove(entries)

    # A crash --------------------------------------------------------------------------------------------------------

    def left(self, variant: Variant, dice: random.Random) -> Tree:
        """What a crash now may leave [Tree]."""
        if variant == KILLED:
            return _tree(self.top, lambda folder: folder.now, lambda file: file.now)
        copies: dict[Folder, dict[str, Node]] = {}

        def names_of(folder: Folder) -> dict[str, Node]:
            return copies.setdefault(folder, dict(folder.durable))

        for entries in self._pending:
            if variant.entries == "all" or (variant.entries == "some" and dice.random() < 0.5):
                _put(entries, names_of)
        return _tree(self.top, names_of, lambda file: _left_of(file, variant.content, dice))


def _tree(top: Folder, names_of: Callable[[Folder], dict[str, Node]], bytes_of: Callable[[File], bytes]) -> Tree:
    tree: Tree = {}
    pending = [("", top)]
    while pending:
        prefix, folder = pending.pop()
        for name, node in sorted(names_of(folder).items()):
            tree[prefix + name] = bytes_of(node) if isinstance(node, File) else None
            if isinstance(node, Folder):
                pending.append((f"{prefix}{name}/", node))
    return tree


def _put(entries: Entries, names_of: Callable[[Folder], dict[str, Node]]) -> None:
    for folder, name, node in entries:
        if node is None:
            names_of(folder).pop(name, None)
        else:
            names_of(folder)[name] = node


def _durable_names(folder: Folder) -> dict[str, Node]:
    return folder.durable


def _left_of(file: File, content: str, dice: random.Random) -> bytes:
    """What a crash leaves of a file's bytes."""
    writes = file.pending
    if content == "none" or not writes:
        return file.durable
    if content == "all":
        return after_all(file.durable, writes)
    first = dice.randrange(len(writes))
    offset, piece = writes[first]
    before = after_all(file.durable, writes[:first])
    if content == "some writes" or piece is None:
        return before
    at = dice.randrange(len(piece) + 1)
    if content == "a torn write":
        return changed(before, offset, piece[:at])
    if content == "a lost beginning":
        return changed(before, offset, bytes(at) + piece[at:])
    return changed(before, offset, bytes(len(piece)))


def write_out(tree: Tree, place: Path) -> None:
    """Write a picture of a disk into a folder."""
    for path, content in sorted(tree.items()):
        if content is None:
            (place / path).mkdir(mode=0o700)
        else:
            (place / path).write_bytes(content)


def read_in(place: Path, left_out: tuple[str, ...] = ()) -> Tree:
    """The picture of a folder's content, except files with some names."""
    return {
        path.relative_to(place).as_posix(): path.read_bytes() if path.is_file() else None
        for path in place.rglob("*") if path.name not in left_out
    }
