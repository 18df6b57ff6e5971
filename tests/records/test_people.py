"""The people of a desk: added, invited, signed in, gone; the rules that keep an owner, over a folder's real files."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from sync.records import secret
from sync.records.embedded.folder_files import FolderFiles
from sync.records.passphrase import NoSettingKey
from sync.records.people import INVITATION_MS, People
from sync.records.person import LastOwner, NoPersonName, PeopleSignIn, PersonNameTaken, UnknownPerson
from sync.records.secret import PassphraseLength

NOW = 1_781_280_300_000
OWN = "harbour lamp green van"
OTHER = "seven slow tall boats"


@pytest.fixture
def people(tmp_path: Path) -> People:
    """A desk whose first person is Ruth, who had its passphrase."""
    made = People(FolderFiles(tmp_path))
    made.begin("Ruth Okello", secret.of_passphrase(OWN), NOW)
    return made


def test_a_desk_of_one_person_has_nobody(tmp_path: Path) -> None:
    """No file is made by asking, and nobody signs in by name."""
    people = People(FolderFiles(tmp_path))
    assert people.everybody() == []
    assert people.sign_in("Ruth Okello", OWN) is None
    assert list(tmp_path.iterdir()) == []


def test_the_first_keeps_the_passphrase_of_the_desk(people: People) -> None:
    """Whatever the case of the name and the spaces in it; a second first is refused."""
    assert people.sign_in("  ruth  OKELLO ", OWN) == people.everybody()[0]
    assert people.sign_in("Ruth Okello", OTHER) is None
    assert people.sign_in("Tomas", OWN) is None
    with pytest.raises(PeopleSignIn, match="Ruth Okello"):
        people.begin("Tomas", secret.of_passphrase(OTHER), NOW)


def test_who_is_invited_chooses_a_passphrase_once(people: People) -> None:
    """Only with the key, only within the week, and the key is worth nothing afterwards."""
    key, invited = people.invite("Tomas", "technician", NOW)
    assert not invited["joined"]
    assert people.edition(invited["id"]) is None
    assert people.invited_by("x" * 43, NOW) is None
    assert people.invited_by(key, NOW + INVITATION_MS) is None
    with pytest.raises(PassphraseLength):
        people.join(key, "short", NOW)
    joined = people.join(key, OTHER, NOW + INVITATION_MS - 1)
    assert joined["id"] == invited["id"]
    assert joined["joined"]
    signed_in = people.sign_in("Tomas", OTHER)
    assert signed_in is not None
    assert signed_in["role"] == "technician"
    with pytest.raises(NoSettingKey):
        people.join(key, OWN, NOW)


def test_a_new_link_leaves_the_passphrase_until_it_is_used(people: People) -> None:
    """And then every session that knew the former has another edition to compare with."""
    ruth = people.everybody()[0]["id"]
    before = people.edition(ruth)
    key, _ = people.invite_again("Ruth Okello", NOW)
    assert people.sign_in("Ruth Okello", OWN)
    assert people.edition(ruth) == before
    people.join(key, OTHER, NOW)
    assert people.edition(ruth) not in (None, before)
    assert people.sign_in("Ruth Okello", OWN) is None


def test_names_are_taken_once_and_have_signs(people: People) -> None:
    """A name of somebody who has gone is free again."""
    for name, error in (("", NoPersonName), (" \u200b\n ", NoPersonName), ("x" * 61, NoPersonName),
                        ("RUTH okello", PersonNameTaken)):
        with pytest.raises(error):
            people.invite(name, "office", NOW)
    people.invite("Tomas", "office", NOW)
    people.end("Tomas", NOW)
    people.invite("Tomas", "office", NOW + 1)
    assert [one["name"] for one in people.active()] == ["Ruth Okello", "Tomas"]
    assert len(people.everybody()) == 3


def test_an_owner_who_can_sign_in_always_remains(people: People) -> None:
    """An owner who was invited but has no passphrase yet doesn't count."""
    people.invite("Tomas", "owner", NOW)
    for change in (lambda: people.end("Ruth Okello", NOW), lambda: people.change_role("Ruth Okello", "office")):
        with pytest.raises(LastOwner):
            change()
    key, _ = people.invite_again("Tomas", NOW)
    people.join(key, OTHER, NOW)
    people.end("Ruth Okello", NOW)
    assert people.sign_in("Ruth Okello", OWN) is None
    with pytest.raises(UnknownPerson, match="Tomas"):
        people.named("Ruth Okello")


def test_nothing_that_opens_is_kept_in_clear(people: People, tmp_path: Path) -> None:
    """Neither passphrase nor key nor mark stands in the file."""
    key, invited = people.invite("Tomas", "technician", NOW)
    people.join(key, OTHER, NOW)
    again, _ = people.invite_again("Tomas", NOW)
    mark = people.remember(invited["id"])
    kept = (tmp_path / "people.json").read_text("utf-8")
    assert all(clear not in kept for clear in (OWN, OTHER, key, again, mark))
    assert people.remembers(mark)
    assert not people.remembers(mark[:-1])


@pytest.mark.parametrize("spoil", [
    lambda tree: tree["people"][0].pop("secret"), lambda tree: tree["people"][0].update(role="king"),
    lambda tree: tree["people"][0].update(name=7), lambda tree: tree["people"][0]["secret"]["cost"].update(n=2**30),
    lambda tree: tree.update(people=None)])  # fmt: skip
def test_a_spoilt_file_lets_nobody_in(people: People, tmp_path: Path, spoil: object) -> None:
    """It is set aside and kept; the desk's single passphrase can be set again."""
    place = tmp_path / "people.json"
    tree = json.loads(place.read_text("utf-8"))
    spoil(tree)  # type: ignore[operator]
    place.write_text(json.dumps(tree), "utf-8")
    assert people.sign_in("Ruth Okello", OWN) is None
    assert people.everybody() == []
    assert not place.exists()
    assert [one.name for one in tmp_path.iterdir() if one.name.startswith("people.json")]
