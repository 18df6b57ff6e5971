"""Replies cut off at every request of a send: afterwards one undisturbed send has everything filed once.

A real Chromium through a proxy that cuts between it and a real `layby serve`; no answer is made up.
"""

from __future__ import annotations

import base64
import itertools
import json
import random
import re
from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.support.browser import Phone
from tests.support.drawn_photos import photo as drawn_photo
from tests.support.hands import filed
from tests.support.ops import JUNE_12, line_of
from tests.support.ops import Phone as Other
from tests.support.proxy import Proxy, Rule, Trouble
from tests.support.service import Service

SEED = 20260715
SAMPLE = 8

# What one send asks of the desk when 60 entries and a photo of two pieces wait, and how often before.
REQUESTS = (
    ("POST", "/pair", 0),
    ("POST", "/sync", 0),
    ("POST", "/sync", 1),
    ("GET", "/receipts", 0),
    ("GET", "/changes", 0),
    ("HEAD", "/blobs", 0),
    ("PATCH", "/blobs", 0),
    ("PATCH", "/blobs", 1),
    ("HEAD", "/blobs", 1),  # once more about a photo that the desk is said to hold
)
CUTS = {
    "the request": Trouble("cut"),
    "before the reply": Trouble("cut_answer", 0),
    "in its middle": Trouble("cut_answer", 0.5),
    "after it": Trouble("cut_answer", 1),
}
CASES = list(itertools.product(REQUESTS, CUTS))

WRITTEN = """async ([count, photo]) => {
  const { $store_outbox, $visit_capture } = await import('/page.js');
  const rulebook = await (await fetch('/rulebook.json')).json();
  const outbox = $store_outbox.openOutbox();
  const capture = $visit_capture.createCapture({ outbox, rulebook, device: await outbox.recall('device') });
  const visit = capture.newId();
  const page = await capture.open(visit, { started_at: capture.now() });
  const advice = (number) => ({ kind: 'advice.add', base: {}, body: { id: capture.newId(), text: `Look ${number}.` } });
  await capture.write(page, Array.from({ length: count - 2 }, (_, number) => advice(number)));
  const bytes = Uint8Array.from(atob(photo), (sign) => sign.charCodeAt(0)).buffer;
  await capture.addPhoto(page, 'arrival', { type: 'image/jpeg', bytes, thumb: new ArrayBuffer(8) });
  return visit;
}"""

HERE = """async () => {
  const outbox = (await import('/page.js')).$store_outbox.openOutbox();
  const own = await outbox.everyOp();
  return {
    device: await outbox.recall('device'),
    own: own.map((one) => one.id).sort(),
    unfiled: own.filter((one) => one.state !== 'filed').length,
    photos: await outbox.photoTally(),
  };
}"""

THEIRS = """async (visit) => {
  const outbox = (await import('/page.js')).$store_outbox.openOutbox();
  return (await outbox.opsOf(visit)).filter((one) => one.state === 'theirs').map((one) => one.id);
}"""


@pytest.fixture
def proxy(service: Service) -> Iterator[Proxy]:
    """The way between the phone and the desk."""
    with Proxy(service.port) as made:
        service.also_at(made.url)
        yield made


def once(request: tuple[str, str, int], trouble: Trouble) -> Rule:
    """A rule: this trouble for one numbered request of its kind, whatever comes after it; none for the others."""
    method, path, before = request
    count = itertools.count()

    def rule(asked: str, where: str) -> Trouble | None:
        if asked != method or not where.startswith(path):
            return None
        return trouble if next(count) == before else None

    return rule


def write_visit(page: Page, number: int) -> str:
    """A visit of 60 entries with a photo of two pieces, no two alike, written by the page's own capture; its id."""
    photo = base64.b64encode(drawn_photo(number, noise_rows=520)).decode()
    visit: str = page.evaluate(WRITTEN, [60, photo])
    return visit


def send(page: Page) -> None:
    """Send by hand, and wait until the page reports the result."""
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#status")).to_have_text(re.compile("delivered to the desk|Nothing to send|doesn't answer"))


def paired(page: Page, service: Service, proxy: Proxy) -> None:
    """Show the desk's code, and wait until the page reports the result."""
    page.goto("about:blank")  # from one code to the next the address would differ only in its fragment
    page.goto(f"{proxy.url}/pair#{service.offer()}")
    # A browser that has heard nothing at all shows the code once more by itself, and then it is used up.
    words = re.compile(r"phone is paired\.|delivered to the desk\.|The desk doesn't answer\.|Show a new code at")
    expect(page.locator("#status, [role=alert]").filter(has_text=words)).to_have_count(1)


def receipts(service: Service, page: Page, device: str) -> list[str]:
    """The ids of the phone's entries that the desk has receipts for, asked as a phone asks."""
    script = """async ([device, after]) => {
      const { token } = await (await import('/page.js')).$store_outbox.openOutbox().recall('desk');
      const headers = { Authorization: `Bearer ${token}` };
      return (await fetch(`/receipts?device=${device}&after=${after}`, { headers })).json();
    }"""
    found: list[str] = []
    after: int | None = 0
    while after is not None:
        answer = page.evaluate(script, [device, after])
        found += [receipt["id"] for receipt in answer["receipts"]]
        after = answer.get("next")
    return found


def told_by_another(service: Service, visit: str, number: int) -> str:
    """Another device adds something to a filed visit; returns the id of its entry."""
    other = Other("bbbb", ms=JUNE_12 + number * 1000)
    other.seq = number * 10
    op = other.op(visit, "advice.add", {"id": other.new_id(), "text": "Rinse the face each spring."})
    answer = json.loads(service.post("/sync", line_of(op), "application/x-ndjson")[2])
    assert answer["results"][0]["status"] == "accepted", answer
    return str(op["id"])


def cases(share: int | None) -> list[Any]:
    """This many of the cases by chance, or all, in the order of the requests."""
    every = list(enumerate(CASES))
    return every if share is None else sorted(random.Random(SEED).sample(every, share))


@pytest.mark.parametrize("share", [SAMPLE, pytest.param(None, marks=pytest.mark.long)])
def test_a_reply_cut_off_anywhere_files_everything_once(
    handset: Phone, service: Service, proxy: Proxy, share: int | None
) -> None:
    """Each request of a send loses its reply in each way: after the next one all is filed once and nothing waits."""
    page = handset.open(proxy.url)
    visits = [write_visit(page, 0)]
    send(page)
    for number, (request, cut) in cases(share):
        said = told_by_another(service, visits[-1], number + 1)
        visits.append(write_visit(page, number + 1))
        proxy.met.clear()
        proxy.rule = once(request, CUTS[cut])
        (paired(page, service, proxy) if request[1] == "/pair" else send(page))
        assert proxy.count(CUTS[cut].way) == 1, (request, cut, proxy.met)
        proxy.rule = lambda method, path: None
        if request[1] == "/pair" and cut != "after it":
            paired(page, service, proxy)
            page.goto(proxy.url)
        send(page)
        here = page.evaluate(HERE)
        assert (here["unfiled"], here["photos"]) == (0, {"waiting": 0, "refused": 0}), (request, cut)
        assert sorted(receipts(service, page, here["device"])) == here["own"], (request, cut)
        assert page.evaluate(THEIRS, visits[-2]).count(said) == 1
    service.stop()
    for visit in visits:
        ops, kept = filed(service, visit)
        assert len({op["id"] for op in ops}) == len(ops)
        assert len([op for op in ops if op["device"] != "bbbb"]) == 60
        assert len(kept["photos"]) == 1
        photo = service.folder / "photos" / kept["photos"][0]["sha256"][:2] / kept["photos"][0]["sha256"]
        assert photo.exists()
