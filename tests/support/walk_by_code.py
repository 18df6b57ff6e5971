"""One invented visit on a phone of any language: keys and fields are found by the code of their words.

Nothing is asserted here; the caller looks at each screen.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from playwright.sync_api import Page, expect

from sync.language.words import Words
from tests.support import hands
from tests.support.walk import TWO_ENTRIES_MS, picture

Look = Callable[[str], None]

# What the invented people wrote; the vehicle's VIN is made up, with a correct check digit (49 CFR 565.15).
CUSTOMER, PLACE, MODEL, COMPLAINT = "M. Okafor", "Wren Lane 4", "Wren, azul", "Tibio en el tráfico"
TECHNICIAN, ITEM = "I. Varga", "Limpieza"
WRITTEN = " ".join((CUSTOMER, PLACE, MODEL, COMPLAINT, TECHNICIAN, ITEM))
BEFORE = {"ambient_c": "27.5", "humidity_pct": "46", "low_kpa_g": "180", "high_kpa_g": "1475", "vent_c": "5.1",
          "return_air_c": "24"}  # fmt: skip
AFTER = {"ambient_c": "29", "humidity_pct": "44", "low_kpa_g": "172", "high_kpa_g": "1150", "vent_c": "5"}
CONDITIONS = ("ambient_c", "humidity_pct")

# All that is folded away is opened, also what is folded within it.
OPEN = """() => {
  document.querySelectorAll('main details').forEach((one) => { one.open = true; });
  document.querySelectorAll('main [aria-controls][aria-expanded="false"]').forEach((one) => one.click());
}"""
# Every text on the screen, and every name that is spoken or stands in an empty field.
SHOWN = r"""() => {
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  const texts = [];
  while (walker.nextNode()) if (walker.currentNode.parentElement.checkVisibility()) texts.push(walker.currentNode.data);
  for (const name of ["aria-label", "placeholder", "title", "alt"]) {
    for (const one of document.querySelectorAll(`[${name}]`)) texts.push(one.getAttribute(name));
  }
  return [document.title, ...texts].filter((text) => /\p{L}{2}/u.test(text));
}"""
TOO_WIDE = """() => [...document.querySelectorAll('main *, header *, footer *, dialog *')]
  .filter(one => one.getClientRects().length > 0 && one.getBoundingClientRect().right > innerWidth + 0.5)
  .map(one => one.outerHTML.slice(0, 160))"""


class Hands:
    """A technician's hands that know no language: they find every label and key by the phone's words."""

    def __init__(self, page: Page, words: Words) -> None:
        self.page = page
        self.words = words

    def label(self, field: str) -> str:
        """The label of a field, by its scope and path."""
        return self.words.say(f"fields.{field}")

    def term(self, group: str, code: str) -> str:
        """A term as its own key shows it, with a capital."""
        word = self.words.term(group, code)
        return word[:1].upper() + word[1:]

    def press(self, code: str, within: str = "body") -> None:
        """Press a key."""
        self.page.locator(within).get_by_role("button", name=self.words.say(code), exact=True).first.click()

    def write(self, field: str, text: str) -> None:
        """Type into a field."""
        hands.write(self.page, self.label(field), text)

    def choose(self, field: str, group: str, code: str) -> None:
        """Tap a word of a choice."""
        hands.choose(self.page, self.label(field), self.words.term(group, code))

    def toggle(self, group: str, code: str) -> None:
        """Tap a piece of work, a move or a consent."""
        self.page.get_by_role("button", name=self.term(group, code), exact=True).click()

    def do(self, group: str, code: str, key: str) -> None:
        """Tap a piece of work or a move that has a caution, and a key of that."""
        self.toggle(group, code)
        self.press(f"phone.deed.{key}")

    def go_to(self, step: str) -> None:
        """Jump to a step."""
        hands.go_to(self.page, self.label(f"step.{step}"))

    def start(self) -> None:
        """Start a visit."""
        self.press("phone.day.start")
        expect(self.page.get_by_role("heading", level=1)).to_have_text(self.label("step.customer"))

    def clock(self, field: str, name: str) -> None:
        """Start the clock under a field."""
        words = {"label": self.label(field), "key": self.label(f"clock.{name}.start")}
        self.page.get_by_role("button", name=self.words.say("phone.clock.key", **words), exact=True).click()

    def photograph(self, role: str) -> None:
        """Give a role's key a photo and wait until it is there."""
        name = self.words.say("phone.photo.group", role=self.words.term("photo_role", role))
        group = self.page.get_by_role("group", name=name)
        file = {"name": "one.png", "mimeType": "image/png", "buffer": picture()}
        group.get_by_label(self.words.say("phone.photo.choose")).set_input_files(file)
        expect(group.get_by_role("img")).to_have_count(1)

    def read_off(self, readings: dict[str, str]) -> None:
        """Type the readings of a test."""
        for name, text in readings.items():
            self.write(f"tests.{'conditions' if name in CONDITIONS else 'readings'}.{name}", text)

    def fill_the_rest(self) -> None:
        """A number into every visible empty number field."""
        fields = self.page.locator("main input.number")
        for field in fields.all():
            if field.is_visible() and field.input_value() == "":
                field.fill("3")


def walk(page: Page, words: Words, look: Look) -> None:
    """Every screen from an empty day to a finished visit; `look` is called on each by name, everything unfolded."""
    at = Hands(page, words)

    def seen(name: str) -> None:
        page.evaluate(OPEN)
        page.evaluate(OPEN)
        look(name)

    expect(page.locator("#offline")).to_contain_text(words.say("phone.ready.ready"))
    seen("day, empty")
    _beside_the_visits(page, at, seen)
    at.start()
    _arrive(at, seen)
    _before(at, seen)
    _work(at, seen)
    _after(at, seen)
    _result(at, seen)


def _beside_the_visits(page: Page, at: Hands, seen: Look) -> None:
    """Settings, in kPa and °C; carrying by hand; pairing."""
    page.get_by_role("link", name=at.words.say("phone.page.settings"), exact=True).click()
    hands.write(page, at.words.say("phone.settings.name"), TECHNICIAN)
    for quantity, unit in (("pressure", "kpa"), ("temperature", "c"), ("mass", "g")):
        label, word = at.words.say(f"phone.settings.{quantity}"), at.words.unit(quantity, unit)
        hands.choose(page, label, word)
    page.get_by_label(at.words.say("phone.calibration.until.high_gauge")).fill("2021-03-31")
    seen("settings")
    at.press("phone.settings.carry")
    expect(page.get_by_role("heading", level=1)).to_have_text(at.words.say("phone.carry.title"))
    at.press("phone.carry.everything")
    seen("carry")
    page.goto(page.url.split("#")[0] + "pair")
    expect(page.get_by_role("heading", level=1)).to_have_text(at.words.say("phone.pairing.title"))
    at.press("phone.pairing.key")
    seen("pair")
    at.press("phone.page.back")


def _arrive(at: Hands, seen: Look) -> None:
    """Customer and location, vehicle, cautions, visual check."""
    at.write("visit.customer.name", CUSTOMER)
    at.write("visit.place.label", PLACE)
    at.write("visit.place.altitude_m", "610")
    at.toggle("consent", "work_agreed")
    seen("customer")
    at.go_to("vehicle")
    at.write("visit.vehicle.plate", "LT 482")
    at.write("visit.vehicle.vin", "1G4AH59H45G118341")
    at.write("visit.vehicle.model", MODEL)
    at.choose("visit.vehicle.powertrain", "powertrain", "hybrid")
    at.choose("visit.vehicle.refrigerant", "refrigerant", "R1234yf")
    at.choose("visit.vehicle.compressor", "compressor", "variable_external")
    at.photograph("arrival")
    seen("vehicle")
    at.go_to("before")
    seen("before, closed")
    _confirm(at, seen)
    at.go_to("look")
    at.write("visit.complaint", COMPLAINT)
    hands.choose(at.page, at.term("look", "face_clean"), at.words.term("look_fault", "face_clean"))
    at.press("phone.form.rest_ok")
    seen("look")
    at.page.locator("#foot .steps").click()
    seen("steps")
    at.press("phone.page.shut", "dialog")


def _confirm(at: Hands, seen: Look) -> None:
    """Read and confirm the cautions that fit."""
    at.go_to("cautions")
    seen("cautions")
    at.press("phone.visit.confirm")
    expect(at.page.get_by_text(at.words.say("phone.cautions.to_confirm"), exact=True)).to_have_count(0)
    seen("cautions, confirmed")


def _before(at: Hands, seen: Look) -> None:
    """The first test: its conditions, a cycling compressor's taps, readings, some of them doubtful, and settling."""
    at.go_to("before")
    for name, code in (("blower", "low"), ("air", "recirculated"), ("fan", "high"), ("windows", "closed")):
        at.choose(f"tests.conditions.{name}", name, code)
    at.choose("tests.conditions.mode", "mode", "cooling")
    at.clock("tests.conditions.running_min", "running")
    at.choose("tests.readings.running", "running", "cycling")
    for key in ("on", "off", "on"):
        at.press(f"phone.taps.{key}")
    at.write("tests.conditions.rpm", "1,8,0")
    seen("before, a slip")
    at.write("tests.conditions.rpm", "2000")
    at.choose("tests.readings.running", "running", "steady")
    at.read_off({**BEFORE, "high_kpa_g": "14.75"})
    seen("before, doubtful")
    at.read_off(BEFORE)
    for count, vent in enumerate(("6.0", "5.1"), start=1):
        at.page.wait_for_timeout(TWO_ENTRIES_MS if count > 1 else 0)
        at.write("tests.readings.vent_c", vent)
        at.press("phone.settling.log")
        words = at.words.say("phone.settling.logged", count=count)
        expect(at.page.locator(".settling")).to_contain_text(words)
    at.page.evaluate(OPEN)
    hands.choose(at.page, at.label("tests.observed"), at.words.term("observed", "drain_dry"))
    seen("before")


def _work(at: Hands, seen: Look) -> None:
    """Cleaning, a charge, a vacuum, with every question about them."""
    at.go_to("work")
    at.toggle("work", "condenser_cleaned")
    seen("work, a caution")
    at.press("phone.deed.no_clock")
    at.toggle("work", "other")
    at.do("move", "charged", "read")
    for code in ("identified", "vacuum", "oil_added"):
        at.toggle("move", code)
    seen("work, no clock")
    at.clock("work.cleaner.dwell_min", "dwell")
    seen("work")
    at.press("fields.clock.dwell.stop")
    at.fill_the_rest()
    seen("work, filled in")


def _after(at: Hands, seen: Look) -> None:
    """The second test, with the settings of the first."""
    at.go_to("after")
    at.press("phone.conditions.key_before")
    at.write("tests.conditions.rpm", "2000")
    at.write("tests.conditions.running_min", "12")
    at.write("tests.conditions.rinsed_min_ago", "20")
    at.choose("tests.readings.running", "running", "steady")
    at.read_off(AFTER)
    seen("after")


def _result(at: Hands, seen: Look) -> None:
    """The result; a bill, a signature, and the question before a visit is closed without finishing."""
    page, say = at.page, at.words.say
    at.go_to("result")
    at.choose("visit.outcome", "outcome", "done")
    seen("result")
    at.press("phone.bill.add")
    line = page.get_by_role("group", name=say("phone.form.line", number=1))
    for name, text in (("text", ITEM), ("unit_price", "85"), ("tax_pct", "20")):
        line.get_by_label(at.label(f"charges.{name}"), exact=True).fill(text)
    at.press("phone.visit.aside")
    seen("result, with a bill")
    at.press("phone.visit.aside_no")
    page.locator("button.help").first.click()
    expect(page.get_by_role("dialog")).to_be_visible()
    seen("help")
    at.press("terms.help.close", "dialog")
    at.press("phone.visit.finish")
    tally = say("phone.day.tally", count=1, filed=0, waiting=1, refused=0)
    expect(page.locator("#tally")).to_have_text(re.compile(re.escape(tally)))
    seen("day")
