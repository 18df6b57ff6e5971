"""What the service makes of its sources is made once for each state of them, and never read back damaged."""

from __future__ import annotations

import importlib.util
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from server.http import made as module
from server.http.made import made


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where Python keeps the byte code of the module now [folder]."""
    monkeypatch.setattr(sys, "pycache_prefix", str(tmp_path))
    monkeypatch.setattr(sys, "dont_write_bytecode", False)
    return Path(importlib.util.cache_from_source(str(module.__file__))).parent


def counting() -> tuple[Callable[[], str], list[str]]:
    """Something that makes a text, and what it has made so far."""
    texts: list[str] = []

    def make() -> str:
        texts.append(f"text {len(texts)}\r\n\nñ")
        return texts[-1]

    return make, texts


def test_it_is_made_once_for_each_state_of_its_sources(place: Path) -> None:
    """Sources are told apart one by one: the same letters in other files are other sources."""
    make, texts = counting()
    for sources in (["ab", "c"], ["ab", "c"], ["a", "bc"], ["a", "bc"]):
        text = made("page.js", sources, make)
    assert (len(texts), text) == (2, texts[1])
    assert [path.name for path in place.iterdir()] == ["page.js"]


@pytest.mark.parametrize("damage", [b"", b"x", b"\xff\xfe", None])
def test_a_damaged_file_is_made_again(place: Path, damage: bytes | None) -> None:
    """Cut off, overwritten, or with a byte changed."""
    make, texts = counting()
    made("page.js", ["a"], make)
    path = place / "page.js"
    path.write_bytes(path.read_bytes()[:-1] + b"!" if damage is None else damage)
    assert made("page.js", ["a"], make) == texts[1]
    assert made("page.js", ["a"], make) == texts[1]


def test_where_nothing_can_be_kept_it_is_made_each_time(place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file where the folder should be; and a person who wants no byte code."""
    make, texts = counting()
    place.parent.mkdir(parents=True)
    place.write_text("in the way")
    assert [made("page.js", ["a"], make), made("page.js", ["a"], make)] == texts
    place.unlink()
    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    made("page.js", ["a"], make)
    assert (len(texts), place.exists()) == (3, False)
