"""The passphrase: set by a key that counts once, kept as a slow hash, asked for and never revealed."""

from __future__ import annotations

import hashlib
import json
import stat
import sys
from pathlib import Path

import pytest

from sync.records.embedded.folder_files import FolderFiles
from sync.records.passphrase import FILE, NoSettingKey, Passphrase
from sync.records.secret import COST, PassphraseLength

NOW = 1_781_280_300_000
HOUR = 3_600_000
TEXT = "harbour lamp green van"


@pytest.fixture
def passphrase(folder: Path) -> Passphrase:
    """Of a fresh folder."""
    return Passphrase(FolderFiles(folder))


def test_nothing_fits_before_it_is_set(passphrase: Passphrase) -> None:
    """Not even the empty text."""
    assert passphrase.edition is None
    assert not passphrase.fits("")
    assert not passphrase.fits(TEXT)


def test_it_is_set_once_by_a_key(passphrase: Passphrase) -> None:
    """The key is used up; another key changes the passphrase, which then has another edition."""
    key = passphrase.open_setting(NOW)
    passphrase.set(key, TEXT, NOW)
    assert passphrase.fits(TEXT)
    assert not passphrase.fits(TEXT + " ")
    first = passphrase.edition
    with pytest.raises(NoSettingKey):
        passphrase.set(key, "another one for me", NOW)
    passphrase.set(passphrase.open_setting(NOW), "another one for me", NOW)
    assert passphrase.fits("another one for me")
    assert not passphrase.fits(TEXT)
    assert passphrase.edition not in (None, first)


def test_a_key_runs_out_and_a_newer_one_voids_it(passphrase: Passphrase) -> None:
    """After an hour; the passphrase that was set stays until then."""
    key = passphrase.open_setting(NOW)
    assert passphrase.opens_setting(key, NOW + HOUR - 1)
    assert not passphrase.opens_setting(key, NOW + HOUR)
    newer = passphrase.open_setting(NOW)
    assert not passphrase.opens_setting(key, NOW)
    assert not passphrase.opens_setting("", NOW)
    passphrase.set(newer, TEXT, NOW)
    passphrase.open_setting(NOW)
    assert passphrase.fits(TEXT)


@pytest.mark.parametrize("text", ["", "eleven char", "x" * 201])
def test_a_passphrase_of_the_wrong_length_is_refused(passphrase: Passphrase, text: str) -> None:
    """And the key still works."""
    key = passphrase.open_setting(NOW)
    with pytest.raises(PassphraseLength):
        passphrase.set(key, text, NOW)
    passphrase.set(key, TEXT, NOW)


def test_an_accent_may_be_written_either_way(passphrase: Passphrase) -> None:
    """As one character or as letter and accent (Unicode, normalisation form C)."""
    passphrase.set(passphrase.open_setting(NOW), "caf\u00e9 by the harbour", NOW)
    assert passphrase.fits("cafe\u0301 by the harbour")


def test_the_records_hold_a_slow_hash_and_no_secret(passphrase: Passphrase, folder: Path) -> None:
    """scrypt as RFC 7914 defines it, with 32 MB; the file is its owner's alone."""
    key = passphrase.open_setting(NOW)
    assert key not in (folder / FILE).read_text()
    passphrase.set(key, TEXT, NOW)
    stored = json.loads((folder / FILE).read_text())
    salt = bytes.fromhex(stored["salt"])
    assert stored["hash"] == hashlib.scrypt(TEXT.encode(), salt=salt, n=32768, r=8, p=1, maxmem=2**26, dklen=32).hex()
    assert 128 * COST["n"] * COST["r"] == 32 * 1024 * 1024  # RFC 7914, section 2: 128 * N * r octets
    assert len(salt) == 16
    assert TEXT not in json.dumps(stored)
    if sys.platform != "win32":
        assert stat.S_IMODE((folder / FILE).stat().st_mode) == 0o600


def test_unreadable_records_open_nothing(passphrase: Passphrase, folder: Path) -> None:
    """A damaged file is set aside: nobody gets in with any passphrase until the folder's owner sets another one."""
    passphrase.set(passphrase.open_setting(NOW), TEXT, NOW)
    sound = json.loads((folder / FILE).read_text())
    spoilt = [{}, {**sound, "salt": "zz"}, {**sound, "cost": {"n": 2**30, "r": 8, "p": 1}}, {**sound, "known": 5}]
    for content in spoilt:
        (folder / FILE).write_text(json.dumps(content))
        assert not passphrase.fits(TEXT)
        assert passphrase.edition is None
    assert list(folder.glob(f"{FILE}.unreadable-*"))
    passphrase.set(passphrase.open_setting(NOW), TEXT, NOW)
    assert passphrase.fits(TEXT)


def test_a_browser_is_remembered_until_the_passphrase_is_new(passphrase: Passphrase, folder: Path) -> None:
    """A key for setting another doesn't end it, the other passphrase does; only the mark's SHA-256 is kept."""
    passphrase.set(passphrase.open_setting(NOW), TEXT, NOW)
    mark = passphrase.remember()
    key = passphrase.open_setting(NOW)
    assert passphrase.remembers(mark)
    assert not passphrase.remembers("")
    content = (folder / FILE).read_text()
    assert (mark in content, hashlib.sha256(mark.encode()).hexdigest() in content) == (False, True)
    passphrase.set(key, TEXT, NOW)
    assert not passphrase.remembers(mark)


def test_a_few_browsers_are_remembered(passphrase: Passphrase) -> None:
    """If there are more, the ones that signed in last."""
    marks = [passphrase.remember() for _ in range(22)]
    assert [passphrase.remembers(mark) for mark in marks] == [False] * 2 + [True] * 20


def test_a_file_of_an_earlier_version_remembers_nobody(passphrase: Passphrase, folder: Path) -> None:
    """It has no marks, and opens as before."""
    passphrase.set(passphrase.open_setting(NOW), TEXT, NOW)
    stored = json.loads((folder / FILE).read_bytes())
    del stored["known"]
    (folder / FILE).write_text(json.dumps(stored))
    assert passphrase.fits(TEXT)
    assert passphrase.remembers(passphrase.remember())
