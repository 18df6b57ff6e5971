"""A visit whose browser is killed between its steps: every word is there again, and the desk files the same visit.

A real Chromium that is ended by SIGKILL, a real `layby serve`; the steps are those of a technician's hands.
"""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Collection
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from playwright.sync_api import Page, expect

from tests.support.browser import Phone, phone
from tests.support.hands import choose, confirm_cautions, do, filed, go_to, sign, start_visit, write
from tests.support.service import Service
from tests.support.walk import photograph

SEED = 20260714
KILLS = 6
Act = Callable[[Page], None]


class Step(NamedTuple):
    """A hand action, on one of the visit's screens."""

    name: str
    screen: str
    act: Act


def typing(name: str, screen: str, label: str, text: str) -> Step:
    """A step that types into one field."""
    return Step(name, screen, lambda page: write(page, label, text))


def choosing(name: str, screen: str, group: str, word: str) -> Step:
    """A step that taps a word."""
    return Step(name, screen, lambda page: choose(page, group, word))


def _move(page: Page) -> None:
    do(page, "Charged")
    charged = page.get_by_role("group", name="Charged", exact=True)
    charged.get_by_label("Cylinder before", exact=True).fill("8000")
    charged.get_by_label("Cylinder after", exact=True).fill("7570")


def _trace(page: Page) -> None:
    page.get_by_role("button", name="Log these readings now").click()
    expect(page.locator(".settling")).to_contain_text("1 logged.")


def _charge(page: Page) -> None:
    page.get_by_text("nothing charged yet").click()
    page.get_by_role("button", name="Add a line").click()
    line = page.get_by_role("group", name="Line 1")
    line.get_by_label("Item").fill("Condenser cleaned and tested")
    line.get_by_label("Unit price, excl. tax").fill("85")


def _signature(page: Page) -> None:
    sign(page)
    page.get_by_role("button", name="Save the signature").click()
    expect(page.get_by_text("Signed by M. Okafor")).to_be_visible()


def _work(page: Page) -> None:
    do(page, "Condenser cleaned")


HERE, CAR, ROUND, BEFORE = "Customer and location", "Vehicle", "Visual check", "Before"
WORK, AFTER, END = "Work", "After", "Result"

STEPS = (
    typing("customer", HERE, "Customer", "M. Okafor"),
    typing("telephone", HERE, "Phone", "555-0123"),
    typing("place", HERE, "Vehicle location", "Wren Lane 4"),
    typing("plate", CAR, "Registration", "LT 482"),
    typing("model", CAR, "Model and colour", "blue estate"),
    choosing("refrigerant", CAR, "Refrigerant in the system", "R-134a"),
    Step("photo", CAR, lambda page: photograph(page, "arrival")),
    Step("caution", "Cautions", confirm_cautions),
    typing("complaint", ROUND, "Customer's complaint", "Cold on the road, warm in traffic."),
    choosing("sight", ROUND, "Condenser face", "dirty"),
    choosing("blower", BEFORE, "Blower", "low"),
    choosing("air", BEFORE, "Air", "recirculated"),
    typing("ambient", BEFORE, "Air at the condenser", "81.5"),
    typing("humidity", BEFORE, "Humidity", "46"),
    choosing("compressor", BEFORE, "Compressor", "steady"),
    typing("low side", BEFORE, "Low side", "26"),
    typing("high side", BEFORE, "High side", "214"),
    typing("no number", BEFORE, "Engine speed", "2x00"),
    typing("vent", BEFORE, "Centre vent", "5,2"),
    Step("trace", BEFORE, _trace),
    Step("work", WORK, _work),
    Step("move", WORK, _move),
    typing("high side after", AFTER, "High side", "167"),
    typing("vent after", AFTER, "Centre vent", "4.1"),
    typing("right number", BEFORE, "Engine speed", "2000"),
    choosing("ending", END, "Outcome", "done"),
    Step("charge", END, _charge),
    Step("signature", END, _signature),
)

# What is on the screen of a step: every field with its text, every key and whether it is pressed, every picture.
STANDING = """() => {
  const labels = (one) => [...(one.labels ?? [])].map((own) => own.textContent).join();
  const nameOf = (one) => one.getAttribute('aria-label') ?? labels(one);
  const fields = [...document.querySelectorAll('#page input, #page textarea, #page select')];
  const keys = [...document.querySelectorAll('#page [aria-pressed]')];
  return {
    fields: fields.filter((one) => one.type !== 'file').map((one) => [nameOf(one), one.value, one.checked ?? null]),
    keys: keys.map((one) => [one.textContent, one.getAttribute('aria-pressed')]),
    pictures: document.querySelectorAll('#page [role=img]').length,
  };
}"""

# What the phone has kept, and of how much room: whether something is lost, or is only not shown.
IN_STORE = """async () => {
  const outbox = (await import('/page.js')).$store_outbox.openOutbox();
  const [drafts, ops, desk] = await Promise.all([outbox.drafts(), outbox.everyOp(), outbox.recall('desk')]);
  const { usage, quota } = await navigator.storage.estimate();
  return JSON.stringify({ drafts, ops: ops.map((op) => op.json), paired: Boolean(desk), usage, quota });
}"""


# A finger that leaves the step for another, all in one moment.
LEAVING = """() => {
  document.querySelector('#foot .steps').click();
  document.querySelector('nav a:not([aria-current])').click();
}"""


def settled(page: Page) -> None:
    """Wait until the page says that this action is kept; an earlier message was about something earlier."""
    expect(page.locator("#status")).to_have_text(re.compile(r"^Saved on this phone at \d\d:\d\d:\d\d$"))


def taken(page: Page, step: Step) -> None:
    """Do a step, on its screen, until the page says that it is kept."""
    if page.get_by_role("heading", level=1).inner_text() != step.screen:
        go_to(page, step.screen)
    step.act(page)
    settled(page)


def die(handset: Phone, page: Page, leaving: bool) -> Page:
    """Kill the browser where it is, or at the moment a finger has left the step; then open the same screen."""
    url = page.url
    if leaving:
        page.evaluate(LEAVING)
    handset.kill()
    return handset.open(url)


def visited(handset: Phone, service: Service, killed: Collection[str], dice: random.Random) -> str:
    """A whole visit by hand, killed after the named steps; returns its id."""
    page = handset.open(service.url)
    visit = start_visit(page)
    for step in STEPS:
        taken(page, step)
        if step.name not in killed:
            continue
        before = page.evaluate(STANDING)
        page = die(handset, page, dice.random() < 0.5)
        expect(page.get_by_role("heading", level=1)).to_have_text(step.screen)
        assert page.evaluate(STANDING) == before, f"{step.name}, with this in the store: {page.evaluate(IN_STORE)}"
    go_to(page, END)
    page.get_by_role("button", name="Finish the visit").click()
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#tally")).to_have_text("1 visit captured, 1 filed, 0 waiting, 0 refused.")
    return visit


UUID = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[0-9a-f]{4}-[0-9a-f]{12}")
TIME = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d[+-]\d\d:\d\d")
OF_THE_MOMENT = ("s", "of", "digest")  # a trace's seconds; what a signature and a shown verdict bind: ids and times


def without_chance(value: Any, names: dict[str, str]) -> Any:
    """A visit with its ids by order of appearance, and without its times."""
    if isinstance(value, dict):
        plain = {key: one for key, one in value.items() if key not in OF_THE_MOMENT}
        return {without_chance(key, names): without_chance(one, names) for key, one in plain.items()}
    if isinstance(value, list):
        return [without_chance(one, names) for one in value]
    if isinstance(value, str):
        return TIME.sub("time", UUID.sub(lambda found: names.setdefault(found[0], f"id {len(names)}"), value))
    return value


def drawn(share: int | None) -> tuple[list[str], random.Random]:
    """The steps to kill after: this many by chance, or all."""
    dice = random.Random(SEED)
    names = [step.name for step in STEPS]
    return (names if share is None else dice.sample(names, share)), dice


def additions(ops: list[dict[str, Any]]) -> list[str]:
    """The kinds of the operations, except those that set fields: a step that is left earlier makes more of these."""
    return [op["kind"] for op in ops if not op["kind"].endswith(".set")]


@pytest.mark.parametrize("kills", [KILLS, pytest.param(None, marks=pytest.mark.long)])
def test_a_visit_killed_between_its_steps_is_the_visit(kills: int | None, service: Service, tmp_path: Path) -> None:
    """After each start the screen shows what was there; the desk's visit equals one from a phone never killed."""
    visits = []
    names, dice = drawn(kills)
    for profile, killed in (("whole", []), ("killed", names)):
        with phone(tmp_path / profile) as handset:
            visits.append(visited(handset, service, killed, dice))
            assert handset.complaints == []
    service.stop()
    whole, again = (filed(service, visit) for visit in visits)
    assert without_chance(again[1], {}) == without_chance(whole[1], {})
    assert additions(again[0]) == additions(whole[0])
    assert sorted(op["seq"] for op in again[0]) == list(range(1, len(again[0]) + 1))
