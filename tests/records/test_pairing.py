"""Pairing: a code counts once, for a while and for few tries; only the hash of a token is kept; revoking ends it."""

from __future__ import annotations

import hashlib
import json
import re
import stat
import sys
import urllib.error
import urllib.request
from pathlib import Path
from typing import Any

import pytest

from sync.records.embedded.folder_files import FolderFiles
from sync.records.pairing import (
    FILE,
    AlreadyPaired,
    Claim,
    NoOffer,
    Pairings,
    ShortCodeVoid,
    UnknownDevice,
    WrongCode,
    WrongLongCode,
)
from tests.server.test_sync_routes import problem
from tests.support import children
from tests.support.service import LAYBY, ROOT, Service

NOW = 1_781_280_300_000
MINUTE = 60_000
DEVICE = "a1de0c0a57"


def claim(code: str, device: str = DEVICE, name: str = "Phone", token: str = "") -> Claim:
    """What a phone shows."""
    return Claim(code, device, name, token)


def wrong(code: str) -> str:
    """A different code of the same form."""
    return code[:-1] + ("1" if code[-1] != "1" else "2")


@pytest.fixture
def pairings(folder: Path) -> Pairings:
    """The pairings of a fresh folder."""
    return Pairings(FolderFiles(folder))


def layby(folder: Path, *words: str) -> children.CompletedProcess[str]:
    """`layby` on a folder, with its answer."""
    command = [str(LAYBY), "--folder", str(folder), *words]
    return children.run(command, cwd=ROOT)


# Codes ---------------------------------------------------------------------------------------------------------------


def test_a_code_has_128_bits_and_its_short_form_eight_digits(pairings: Pairings) -> None:
    """Each is fresh every time."""
    offers = [pairings.offer(NOW) for _ in range(20)]
    assert all(re.fullmatch(r"[0-9a-f]{32}", offer.code) for offer in offers)
    assert all(re.fullmatch(r"[0-9]{8}", offer.short) for offer in offers)
    assert len({offer.code for offer in offers}) == len({offer.short for offer in offers}) == 20


def test_a_code_is_taken_up_once(pairings: Pairings) -> None:
    """The second phone with the same code finds nothing open."""
    offer = pairings.offer(NOW)
    pairings.pair(claim(offer.code), NOW)
    with pytest.raises(NoOffer):
        pairings.pair(claim(offer.code, "beef"), NOW)
    with pytest.raises(NoOffer):
        pairings.pair(claim(offer.short, "beef"), NOW)
    assert [device["device"] for device in pairings.devices()] == [DEVICE]


def test_the_short_code_is_taken_as_it_is_typed(pairings: Pairings) -> None:
    """With a space or a dash in the middle."""
    offer = pairings.offer(NOW)
    assert pairings.pair(claim(f" {offer.short[:4]} {offer.short[4:]}"), NOW)[0]
    offer = pairings.offer(NOW)
    assert pairings.pair(claim(f"{offer.short[:4]}-{offer.short[4:]}", "beef"), NOW)[0]


def test_a_code_runs_out(pairings: Pairings) -> None:
    """The long one after ten minutes, the short one after five."""
    offer = pairings.offer(NOW)
    with pytest.raises(ShortCodeVoid):
        pairings.pair(claim(offer.short), NOW + 5 * MINUTE)
    with pytest.raises(NoOffer):
        pairings.pair(claim(offer.code), NOW + 10 * MINUTE)
    offer = pairings.offer(NOW)
    assert pairings.pair(claim(offer.short), NOW + 5 * MINUTE - 1)[0]
    offer = pairings.offer(NOW)
    assert pairings.pair(claim(offer.code, "beef"), NOW + 10 * MINUTE - 1)[0]


def test_five_wrong_tries_void_the_short_code_alone(folder: Path) -> None:
    """Counted in the records, so that a restart gives no further tries; the QR code still pairs its phone."""
    offer = Pairings(FolderFiles(folder)).offer(NOW)
    for left in (4, 3, 2, 1, 0):
        with pytest.raises(WrongCode) as caught:
            Pairings(FolderFiles(folder)).pair(claim(wrong(offer.short)), NOW)
        assert caught.value.values == {"left": left}
    with pytest.raises(ShortCodeVoid):
        Pairings(FolderFiles(folder)).pair(claim(offer.short), NOW)
    assert Pairings(FolderFiles(folder)).devices() == []
    assert Pairings(FolderFiles(folder)).pair(claim(offer.code), NOW)[0]


def test_wrong_long_codes_cost_the_offer_nothing(pairings: Pairings) -> None:
    """Nobody guesses 128 bits: strangers who try must not cancel what the owner has opened."""
    offer = pairings.offer(NOW)
    for number in range(200):
        with pytest.raises(WrongLongCode):
            pairings.pair(claim(f"{number:032x}"), NOW)
    assert pairings.pair(claim(offer.short), NOW)[0]


def test_four_wrong_tries_leave_the_fifth(pairings: Pairings) -> None:
    """A slip of the finger does no harm."""
    offer = pairings.offer(NOW)
    for _ in range(4):
        with pytest.raises(WrongCode):
            pairings.pair(claim(wrong(offer.short)), NOW)
    assert pairings.pair(claim(offer.short), NOW)[0]


def test_a_new_code_voids_the_one_before(pairings: Pairings) -> None:
    """Only the newest is open."""
    first, second = pairings.offer(NOW), pairings.offer(NOW)
    with pytest.raises(WrongLongCode):
        pairings.pair(claim(first.code), NOW)
    assert pairings.pair(claim(second.code), NOW)[0]


# Devices -------------------------------------------------------------------------------------------------------------


def test_a_token_names_its_device_until_it_is_revoked(pairings: Pairings) -> None:
    """By name or by id; its history stays on the list."""
    token, device = pairings.pair(claim(pairings.offer(NOW).code, name="Van"), NOW)
    assert len(token) >= 43  # 256 bits in base 64 (RFC 4648)
    assert pairings.device_of(token, NOW) == device
    assert pairings.device_of(wrong(token), NOW) is None
    assert pairings.device_of("", NOW) is None
    assert pairings.revoke("Van", NOW + 5)["revoked_at"] == NOW + 5
    assert pairings.device_of(token, NOW) is None
    assert pairings.devices() == [{**device, "revoked_at": NOW + 5}]
    with pytest.raises(UnknownDevice):
        pairings.revoke("Van", NOW)


def test_pairing_again_takes_the_present_token_and_replaces_it(pairings: Pairings) -> None:
    """One entry per device; the earlier token is worthless."""
    first, _ = pairings.pair(claim(pairings.offer(NOW).code), NOW)
    second, _ = pairings.pair(claim(pairings.offer(NOW).code, token=first), NOW)
    assert pairings.device_of(first, NOW) is None
    assert pairings.device_of(second, NOW) is not None
    assert [device["name"] for device in pairings.devices()] == ["Phone"]
    for shown in ("", first, wrong(second)):
        with pytest.raises(AlreadyPaired):
            pairings.pair(claim(pairings.offer(NOW).code, token=shown), NOW)
    assert pairings.device_of(second, NOW) is not None


def test_nobody_takes_over_a_paired_phones_id(pairings: Pairings) -> None:
    """Not with an open code and another phone's token; the code stays open, the phone stays as it was."""
    token, device = pairings.pair(claim(pairings.offer(NOW).code, name="Van"), NOW)
    other, _ = pairings.pair(claim(pairings.offer(NOW).code, "beef"), NOW)
    offer = pairings.offer(NOW)
    with pytest.raises(AlreadyPaired) as caught:
        pairings.pair(claim(offer.short, token=other), NOW)
    assert caught.value.values == {"name": "Van"}
    assert pairings.device_of(token, NOW) == device
    assert pairings.pair(claim(offer.short, "cafe"), NOW)[0]


def test_a_revoked_phone_is_paired_again_by_a_code_alone(pairings: Pairings) -> None:
    """Its owner has shut it out and may let it in again; its old token stays worthless."""
    first, _ = pairings.pair(claim(pairings.offer(NOW).code), NOW)
    pairings.revoke(DEVICE, NOW)
    second, _ = pairings.pair(claim(pairings.offer(NOW).code), NOW)
    assert (pairings.device_of(first, NOW), pairings.device_of(second, NOW) is None) == (None, False)


def test_two_phones_never_bear_one_name(pairings: Pairings) -> None:
    """So that revoking by name ends the intended one; characters that no screen shows are left out."""
    for device in ("aaaa", "bbbb", "cccc"):
        pairings.pair(claim(pairings.offer(NOW).code, device, " Pho\nne\x07 "), NOW)
    assert [device["name"] for device in pairings.devices()] == ["Pho ne", "Pho ne 2", "Pho ne 3"]


def test_the_last_sight_is_noted_now_and_then(pairings: Pairings) -> None:
    """Not at each request, which would write the disk each time."""
    token, _ = pairings.pair(claim(pairings.offer(NOW).code), NOW)
    pairings.device_of(token, NOW + MINUTE)
    assert pairings.devices()[0]["last_seen"] == NOW
    pairings.device_of(token, NOW + 6 * MINUTE)
    assert pairings.devices()[0]["last_seen"] == NOW + 6 * MINUTE


def test_a_token_is_good_on_a_disk_that_takes_nothing(pairings: Pairings, folder: Path) -> None:
    """Noting when a phone was last seen isn't worth turning it away."""
    token, _ = pairings.pair(claim(pairings.offer(NOW).code), NOW)
    (folder / ".devices.json.new").mkdir()
    assert pairings.device_of(token, NOW + 6 * MINUTE) is not None
    assert pairings.devices()[0]["last_seen"] == NOW


def test_the_records_hold_no_secret(pairings: Pairings, folder: Path) -> None:
    """Of code and token only the SHA-256 (FIPS 180-4); the file is its owner's alone."""
    offer = pairings.offer(NOW)
    token, _ = pairings.pair(claim(offer.code), NOW)
    other = pairings.offer(NOW)
    content = (folder / FILE).read_text("utf-8")
    assert hashlib.sha256(token.encode()).hexdigest() in content
    assert not any(secret in content for secret in (token, offer.code, offer.short, other.code, other.short))
    if sys.platform != "win32":
        assert stat.S_IMODE((folder / FILE).stat().st_mode) == 0o600


def test_what_cannot_be_read_is_set_aside(
    pairings: Pairings, folder: Path, caplog: pytest.LogCaptureFixture
) -> None:
    """A damaged file is set aside and named: no phone is known until it is paired again, and everything else works."""
    pairings.pair(Claim(pairings.offer(NOW).code, "beef", "van"), NOW)
    devices = '{"offer": null, "devices": [{"device": 7}]}'
    for content in ("{", "[" * 100_000, "{}", '{"offer": 5, "devices": []}', devices):
        (folder / FILE).write_text(content)
        assert pairings.devices() == []
    assert len(list(folder.glob(f"{FILE}.unreadable-*"))) >= 1
    assert "set aside" in caplog.text
    assert pairings.pair(Claim(pairings.offer(NOW).code, "beef", "van"), NOW)[1]["name"] == "van"


# The commands --------------------------------------------------------------------------------------------------------


def test_a_phone_is_paired_listed_and_revoked_while_the_service_runs(service: Service) -> None:
    """The code of `layby pair` opens POST /pair once; `layby devices` lists it."""
    run = layby(service.folder, "pair")
    address = re.search(rf"http://127\.0\.0\.1:{service.port}/pair#([0-9a-f]{{32}})\n", run.stdout)
    assert address, run.stdout + run.stderr
    assert "▀" in run.stdout
    asked = {"code": address[1], "device": "beef", "name": "Van phone"}
    status, headers, content = service.post("/pair", json.dumps(asked).encode(), "application/json")
    assert status == 200, content
    assert headers["Cache-Control"] == "no-store"
    answer = json.loads(content)
    assert (answer["device"], answer["name"], set(answer)) == (
        "beef", "Van phone", {"token", "device", "name", "paired_at", "others", "person"},
    )
    problem(service.post("/pair", json.dumps(asked).encode(), "application/json"), 403, "no_pairing_offer")
    assert "Van phone: paired" in layby(service.folder, "devices").stdout
    assert "Everything it filed stays." in layby(service.folder, "devices", "--revoke", "Van phone").stdout
    assert "Van phone: revoked" in layby(service.folder, "devices").stdout
    again = layby(service.folder, "devices", "--revoke", "Van phone")
    assert (again.returncode, "Traceback" in again.stderr) == (2, False)


def test_a_phone_that_is_paired_hears_of_the_others(service: Service) -> None:
    """Those whose token works, without their ids: of two earlier ones, the revoked one isn't named."""
    for device in ("beef", "feed"):
        service.bearer(device)
    assert layby(service.folder, "devices", "--revoke", "phone beef").returncode == 0
    asked = {"code": service.offer(), "device": "cafe", "name": "Van phone"}
    answer = json.loads(service.post("/pair", json.dumps(asked).encode(), "application/json")[2])
    assert [(other["name"], set(other)) for other in answer["others"]] == [("phone feed", {"name", "last_seen"})]


def test_a_code_may_be_made_before_the_service_starts(folder: Path) -> None:
    """It waits in the folder; the address is the requested one."""
    output = layby(folder, "pair", "--plain", "--address", "https://desk.alder-coast.example/").stdout
    address = re.search(r"https://desk\.alder-coast\.example/pair#([0-9a-f]{32})\n", output)
    assert address
    assert "▀" not in output
    service = Service(folder).start()
    asked = {"code": address[1], "device": "beef", "name": "Van phone"}
    assert service.post("/pair", json.dumps(asked).encode(), "application/json")[0] == 200
    service.stop()
    refused = layby(folder, "pair", "--address", "desk.example/path")
    assert refused.returncode == 2
    assert "desk.example/path" in refused.stderr


@pytest.mark.parametrize(
    "given",
    [[], "x", {}, {"code": "1"}, {"code": 1, "device": "beef", "name": "x"}, {"code": "1", "device": "B", "name": "x"},
     {"code": "1" * 65, "device": "beef", "name": "x"}, {"code": "1", "device": "beef", "name": ""},
     {"code": "1", "device": "de5c", "name": "the desk itself"}],
)  # fmt: skip
def test_a_claim_of_another_form_is_refused(service: Service, given: Any) -> None:
    """400 with a sentence, and it doesn't count as a try."""
    problem(service.post("/pair", json.dumps(given).encode(), "application/json"), 400, "bad_query")


def paired(service: Service, code: str, device: str, **headers: str) -> tuple[int, Any, bytes]:
    """What POST /pair answers."""
    body = json.dumps({"code": code, "device": device, "name": "x"}).encode()
    shown = {"Content-Type": "application/json", **headers}
    request = urllib.request.Request(f"{service.url}/pair", body, shown)
    try:
        with urllib.request.urlopen(request, timeout=60) as answer:
            return answer.status, answer.headers, answer.read()
    except urllib.error.HTTPError as error:
        with error:
            return error.code, error.headers, error.read()


def test_strangers_who_guess_do_not_keep_the_owners_phone_out(service: Service) -> None:
    """Thirty long codes cost nothing, five short ones cancel only the digits, and the answer says what still works."""
    said = layby(service.folder, "pair", "--plain").stdout
    code, short = re.search(r"#([0-9a-f]{32})", said), re.search(r"^  (\d{4} \d{4})$", said, re.MULTILINE)
    assert code
    assert short
    for number in range(30):
        problem(paired(service, f"{number:032x}", "0bad"), 403, "wrong_long_code")
    for _ in range(5):
        problem(paired(service, wrong(short[1]), "0bad"), 403, "wrong_pairing_code")
    refused = paired(service, short[1], "beef")
    problem(refused, 410, "short_code_void")
    assert "QR code" in json.loads(refused[2])["detail"]
    assert paired(service, code[1], "beef")[0] == 200


def test_a_paired_id_is_paired_anew_only_by_who_shows_its_token(service: Service) -> None:
    """409 says what to do; with the token as a bearer, or once it is revoked, the code pairs it."""
    shown = service.bearer("beef")
    for headers in ({}, service.bearer("cafe"), {"Authorization": "Bearer x"}):
        refused = paired(service, service.offer(), "beef", **headers)
        problem(refused, 409, "already_paired")
        assert "phone beef" in json.loads(refused[2])["detail"]
    assert service.get("/receipts?device=beef")[0] == 200
    assert paired(service, service.offer(), "beef", **shown)[0] == 200
    assert service.get("/receipts?device=beef")[0] == 401
    assert layby(service.folder, "devices", "--revoke", "beef").returncode == 0
    assert paired(service, service.offer(), "beef")[0] == 200
