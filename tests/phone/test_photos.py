"""Photos on the phone: made small and upright, kept with their operation, struck, refused when there is no room.

A real Chromium and real picture files made here; what the store holds is read back through the page's own outbox.
"""

from __future__ import annotations

import base64
import hashlib
import io
import json
from pathlib import Path
from typing import Any

from PIL import Image
from playwright.sync_api import Page, expect

from tests.support.browser import Phone
from tests.support.hands import filed, go_to, ready_offline, saved, start_visit, to_day, write
from tests.support.service import Service

ORIENTATION = 0x0112  # Exif 2.3, tag of the picture's orientation; 6: turn a quarter clockwise
SOFTWARE = 0x0131
HOUR_MS = 3_600_000


def photograph(path: Path, width: int = 2400, height: int = 1800, shade: int = 90, grain: bool = False) -> Path:
    """A camera's file: lies on its side, left half dark, right half light (or grain all over), with metadata."""
    picture = Image.new("RGB", (width, height), (shade, shade, shade))
    picture.paste((230, 230, 230), (width // 2, 0, width, height))
    if grain:
        picture = Image.effect_noise((width, height), 90).convert("RGB")
    notes = Image.Exif()
    notes[ORIENTATION] = 6
    notes[SOFTWARE] = "a camera's notes"
    picture.save(path, "JPEG", exif=notes)
    return path


def take(page: Page, role: str, *files: Path) -> None:
    """Give a role's key the files as a camera would."""
    key = page.get_by_role("group", name=f"Photos, {role}").get_by_label("Choose")
    key.set_input_files([str(one) for one in files])


def shown(page: Page, role: str, count: int) -> None:
    """Wait until that many photos of a role are there."""
    expect(page.get_by_role("group", name=f"Photos, {role}").get_by_role("img")).to_have_count(count)


KEPT = """async () => {
  const outbox = (await import('/page.js')).$store_outbox.openOutbox();
  const found = [];
  for (const state of ['waiting', 'held', 'filed', 'refused', 'struck']) {
    for (const slip of await outbox.slipsIn(state)) {
      const photo = await outbox.photo(slip.sha256);
      const codes = photo === undefined ? null : new Uint8Array(photo.bytes);
      const bytes = codes === null ? null : btoa(codes.reduce((text, code) => text + String.fromCharCode(code), ''));
      const plain = photo?.bytes instanceof ArrayBuffer;
      found.push({ sha256: slip.sha256, state, reason: slip.reason, type: photo?.type, bytes, plain });
    }
  }
  return found;
}"""


OPS = """async (visit) => {
  const outbox = (await import('/page.js')).$store_outbox.openOutbox();
  return (await outbox.opsOf(visit)).map((one) => one.json);
}"""


def kept(page: Page) -> list[dict[str, Any]]:
    """Every photo that the phone's store knows, with its bytes if they are there."""
    found: list[dict[str, Any]] = page.evaluate(KEPT)
    return [{**one, "bytes": None if one["bytes"] is None else base64.b64decode(one["bytes"])} for one in found]


def test_a_photo_is_small_upright_and_kept_with_its_operation(handset: Phone, service: Service, tmp_path: Path) -> None:
    """1600 px at most, turned as the camera held it, without the camera's metadata, under the SHA-256 of its bytes."""
    page = handset.open(service.url)
    visit = start_visit(page)
    go_to(page, "Vehicle")
    take(page, "arrival", photograph(tmp_path / "camera.jpg"))
    shown(page, "arrival", 1)
    (photo,) = kept(page)
    assert photo["plain"]
    assert photo["type"] == "image/jpeg"
    assert photo["sha256"] == hashlib.sha256(photo["bytes"]).hexdigest()
    picture = Image.open(io.BytesIO(photo["bytes"]))
    assert (picture.format, picture.size) == ("JPEG", (1200, 1600))
    assert not picture.getexif()
    top, bottom = picture.getpixel((600, 100)), picture.getpixel((600, 1500))
    assert isinstance(top, tuple)
    assert isinstance(bottom, tuple)
    assert top[0] < 120 < 200 < bottom[0]  # turned clockwise, the left half is on top
    page.reload()
    shown(page, "arrival", 1)
    ops = [json.loads(line) for line in page.evaluate(OPS, visit)]
    assert [op["kind"] for op in ops] == ["visit.open", "photo.add"]
    assert ops[1]["body"]["sha256"] == photo["sha256"]
    assert ops[1]["body"]["role"] == "arrival"


def test_a_photo_can_be_struck_and_is_carried_no_more(handset: Phone, service: Service, tmp_path: Path) -> None:
    """Two taps strike it: the operation says so, it leaves the screen, and its bytes stay on the phone."""
    page = handset.open(service.url)
    ready_offline(page)
    visit = start_visit(page)
    go_to(page, "Vehicle")
    service.stop()
    take(page, "label", photograph(tmp_path / "one.jpg"), photograph(tmp_path / "two.jpg", shade=20))
    shown(page, "label", 2)
    page.get_by_role("button", name="Delete the photo").first.click()
    shown(page, "label", 2)
    page.get_by_role("button", name="Delete the photo").first.click()
    shown(page, "label", 1)
    assert sorted(one["state"] for one in kept(page)) == ["struck", "waiting"]
    assert all(one["bytes"] for one in kept(page))
    service.start()
    to_day(page)
    handset.pair(page, service)
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#tally")).to_contain_text("1 filed, 0 waiting")
    service.stop()
    ops, held = filed(service, visit)
    assert [op["kind"] for op in ops] == ["visit.open", "photo.add", "photo.add", "item.strike"]
    assert [photo["sha256"] for photo in held["photos"]] == [ops[2]["body"]["sha256"]]


def test_a_file_that_is_no_picture_is_refused_in_words(handset: Phone, service: Service, tmp_path: Path) -> None:
    """Nothing is kept of it and the page goes on."""
    page = handset.open(service.url)
    start_visit(page)
    go_to(page, "Vehicle")
    text = tmp_path / "note.jpg"
    text.write_text("no picture")
    take(page, "arrival", text)
    expect(page.locator("#status")).to_contain_text("can't read that picture")
    assert kept(page) == []
    write(page, "Registration", "LT 482")
    saved(page)


def test_a_full_phone_keeps_the_text_and_refuses_the_photo(lasting: Phone, service: Service, tmp_path: Path) -> None:
    """With little room left, a photo is refused with the reason, while texts are still saved."""
    page = lasting.open(service.url)
    ready_offline(page)
    visit = start_visit(page, "M. Okafor")
    saved(page)
    lasting.close()
    page = lasting.open("about:blank")
    assert lasting.context is not None
    devtools = lasting.context.new_cdp_session(page)
    used = devtools.send("Storage.getUsageAndQuota", {"origin": service.url})["usage"]
    devtools.send("Storage.overrideQuotaForOrigin", {"origin": service.url, "quotaSize": used + 600_000})
    page.goto(f"{service.url}/visit/{visit}/vehicle")
    take(page, "arrival", photograph(tmp_path / "camera.jpg", grain=True))
    expect(page.locator("#status")).to_contain_text("enough room on this phone for a picture")
    write(page, "Registration", "LT 482")
    saved(page)
    go_to(page, "Work")
    assert kept(page) == []
    assert json.loads(page.evaluate(OPS, visit)[-1])["body"] == {"vehicle": {"plate": "LT 482"}}


FULL = """async ([visit, bytes]) => {
  const { openOutbox } = (await import('/page.js')).$store_outbox;
  const { createCapture } = (await import('/page.js')).$visit_capture;
  const rulebook = await (await fetch('/rulebook.json')).json();
  const outbox = openOutbox();
  const capture = createCapture({ outbox, rulebook, device: await outbox.recall('device') });
  const page = await capture.open(visit, { started_at: capture.now() });
  const photo = crypto.getRandomValues(new Uint8Array(65536));
  const whole = new Uint8Array(bytes);
  for (let at = 0; at < bytes; at += photo.length) whole.set(photo, at);
  try {
    await capture.addPhoto(page, 'arrival', { type: 'image/jpeg', bytes: whole.buffer, thumb: new ArrayBuffer(8) });
    return 'kept';
  } catch (error) {
    return [error.code, (await outbox.opsOf(visit)).map((one) => one.kind), (await outbox.photoTally()).waiting];
  }
}"""


def test_a_photo_that_does_not_fit_leaves_no_operation_behind(lasting: Phone, service: Service) -> None:
    """Bytes and operation are one transaction: if the disk is full, neither is kept, and what was there stays."""
    page = lasting.open(service.url)
    ready_offline(page)
    visit = start_visit(page, "M. Okafor")
    go_to(page, "Vehicle")
    lasting.close()
    page = lasting.open("about:blank")
    assert lasting.context is not None
    devtools = lasting.context.new_cdp_session(page)
    devtools.send("Storage.overrideQuotaForOrigin", {"origin": service.url, "quotaSize": 1})
    page.goto(f"{service.url}/visit/{visit}/vehicle")
    code, kinds, photos = page.evaluate(FULL, [visit, 65536 * 16])
    assert code == "disk_full"
    assert kinds == ["visit.open", "visit.set"]
    assert photos == 0


OLDER = """async () => {
  const opened = new Promise((resolve, reject) => {
    const request = indexedDB.open('layby', 1);
    request.onupgradeneeded = () => {
      const database = request.result;
      const ops = database.createObjectStore('ops', { keyPath: 'id' });
      ops.createIndex('visit', 'visit');
      ops.createIndex('state_seq', ['state', 'seq']);
      ops.createIndex('seq', 'seq');
      database.createObjectStore('drafts', { keyPath: 'visit' });
      database.createObjectStore('visits', { keyPath: 'id' });
      database.createObjectStore('meta');
    };
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
  (await opened).close();
  const { openOutbox } = await import('/store/outbox.js');  // page.js would begin the whole page
  const { createCapture } = await import('/visit/capture.js');
  const rulebook = await (await fetch('/rulebook.json')).json();
  const outbox = openOutbox({ upgrades: [() => undefined] });
  const device = await outbox.recallOrMake('device', () => '00000000000000aa');
  const capture = createCapture({ outbox, rulebook, device });
  const id = capture.newId();
  const page = await capture.open(id, { started_at: capture.now() });
  const body = { customer: { name: 'M. Okafor' } };
  await capture.write(page, [{ kind: 'visit.set', base: { '/customer/name': null }, body }]);
  page.draft.fields['vehicle.plate'] = { text: 'LT 482', seen: {} };
  await capture.keepDraft(page);
  await outbox.close();
  return [id, (await outbox.pending(0, 9)).map((one) => one.digest)];
}"""


def test_a_waiting_outbox_of_the_first_version_is_all_there_in_the_new_one(handset: Phone, service: Service) -> None:
    """A database of the first schema with operations and a draft: opened by this page, filed as written."""
    page = handset.open(service.url + "/style.css", paired=False)  # of the same origin, and opens no database by itself
    visit, digests = page.evaluate(OLDER)
    assert len(digests) == 2
    page.goto(f"{service.url}/visit/{visit}/vehicle")
    expect(page.get_by_label("Registration", exact=True)).to_have_value("LT 482")
    assert page.evaluate("async () => (await indexedDB.databases()).map(one => one.version)") == [2]
    to_day(page)
    expect(page.locator("#tally")).to_contain_text("1 visit captured")
    handset.pair(page, service)
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#tally")).to_contain_text("1 filed, 0 waiting")
    service.stop()
    ops, held = filed(service, visit)
    assert [op["kind"] for op in ops] == ["visit.open", "visit.set", "visit.set"]
    assert held["customer"]["name"] == "M. Okafor"
    assert held["vehicle"]["plate"] == "LT 482"


def send(page: Page, photos: str = "") -> None:
    """Send with the day's button, and wait for the page's message about photos that still have to go."""
    send_once(page)
    if photos:
        expect(page.locator("#photos")).to_have_text(photos)
    else:
        expect(page.locator("#photos")).to_have_count(0)


def send_once(page: Page) -> None:
    """Send with the day's button, and wait until the page has reported the result."""
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#status")).not_to_have_text("Sending")


def with_photo(page: Page, ground: Path) -> str:
    """A visit with one large photo, back on the day; returns its id."""
    visit = start_visit(page)
    go_to(page, "Vehicle")
    take(page, "arrival", photograph(ground / "camera.jpg", grain=True))
    shown(page, "arrival", 1)
    to_day(page)
    return visit


def test_a_photo_follows_the_text_and_arrives_as_it_was_kept(handset: Phone, service: Service, tmp_path: Path) -> None:
    """The desk returns exactly the same bytes; the phone still has them, and says filed."""
    page = handset.open(service.url)
    asked: list[str] = []
    page.on("request", lambda request: asked.append(f"{request.method} {request.url.removeprefix(service.url)[:7]}"))
    visit = with_photo(page, tmp_path)
    send(page)
    expect(page.locator("#tally")).to_contain_text("1 filed, 0 waiting")
    (photo,) = kept(page)
    assert photo["state"] == "held"
    assert len(photo["bytes"]) > 2 * 256 * 1024  # more than two pieces
    assert service.get(f"/blobs/{photo['sha256']}")[2] == photo["bytes"]
    posted = [one for one in asked if one in {"POST /sync", "PATCH /blobs/"}]
    assert posted.index("POST /sync") < posted.index("PATCH /blobs/")
    page.goto(f"{service.url}/visit/{visit}/vehicle")
    expect(page.get_by_role("group", name="Photos, arrival").locator(".meaning")).to_contain_text("filed")


def test_a_photo_cut_off_goes_on_where_the_desk_stands(handset: Phone, service: Service, tmp_path: Path) -> None:
    """With the signal gone after one piece the text is filed; later only the rest of the photo is carried."""
    page = handset.open("about:blank")
    offsets: list[int] = []
    pieces = [1]  # the last is how many the signal lasts for

    def while_it_lasts(route: Any) -> None:
        if route.request.method == "PATCH":
            if len(offsets) == pieces[-1]:
                route.abort("connectionreset")
                return
            offsets.append(int(route.request.headers["upload-offset"]))
        route.fallback()

    page.route("**/blobs/*", while_it_lasts)
    handset.go(page, service.url)
    with_photo(page, tmp_path)
    send(page, "1 photo still to be sent.")
    expect(page.locator("#tally")).to_contain_text("1 filed, 0 waiting")
    assert offsets == [0]
    pieces.append(1000)
    send(page)
    (photo,) = kept(page)
    assert photo["state"] == "held"
    assert offsets[:2] == [0, 256 * 1024]
    assert service.get(f"/blobs/{photo['sha256']}")[2] == photo["bytes"]


def test_an_answer_lost_after_a_piece_sends_no_byte_wrongly(handset: Phone, service: Service, tmp_path: Path) -> None:
    """The desk took a piece, the answer was lost, the page goes on from the desk's own offset."""
    page = handset.open("about:blank")
    lost: list[int] = []

    def lose_one(route: Any) -> None:
        if route.request.method != "PATCH" or lost:
            route.fallback()
            return
        lost.append(route.fetch().status)
        route.abort("connectionreset")

    page.route("**/blobs/*", lose_one)
    handset.go(page, service.url)
    with_photo(page, tmp_path)
    send_once(page)  # one send by itself met the loss, this one repairs it; or the other way round
    send(page)
    (photo,) = kept(page)
    assert lost == [204]
    assert service.get(f"/blobs/{photo['sha256']}")[2] == photo["bytes"]


def test_bytes_go_a_week_after_they_were_carried_and_only_when_the_desk_has_them(
    handset: Phone, service: Service, tmp_path: Path
) -> None:
    """What the desk lost goes again; what it says again, seven days later, that it holds leaves the phone's store."""
    page = handset.open("about:blank")
    page.clock.install(time="2026-07-14T10:00:00+01:00")
    handset.go(page, service.url)
    visit = with_photo(page, tmp_path)
    send(page)
    page.clock.fast_forward(24 * HOUR_MS)
    send(page)
    (photo,) = kept(page)
    assert photo["state"] == "held"
    lost = service.folder / "photos" / photo["sha256"][:2] / photo["sha256"]
    lost.unlink()
    page.clock.fast_forward(145 * HOUR_MS)
    send(page)
    assert lost.read_bytes() == photo["bytes"]
    assert kept(page)[0]["bytes"] == photo["bytes"]
    page.clock.fast_forward(169 * HOUR_MS)
    send(page)
    (later,) = kept(page)
    assert (later["state"], later["bytes"]) == ("filed", None)
    page.goto(f"{service.url}/visit/{visit}/vehicle")
    shown(page, "arrival", 1)


ERASED = """async (visit) => {
  const outbox = (await import('/page.js')).$store_outbox.openOutbox();
  const told = { records: [], sheets: [], baselines: [], erased: [visit], cursor: '1', viewOf: () => ({}) };
  await outbox.absorb(told);
  return (await outbox.clocksOf(visit)) === undefined;
}"""


def test_what_was_erased_at_the_desk_leaves_no_photo_on_the_phone(
    handset: Phone, service: Service, tmp_path: Path
) -> None:
    """With the visit its photos go, bytes and small pictures, and its running times."""
    page = handset.open(service.url)
    visit = with_photo(page, tmp_path)
    send(page)
    assert len(kept(page)) == 1
    assert page.evaluate(ERASED, visit)
    assert kept(page) == []
