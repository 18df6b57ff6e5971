"""One invented visit, walked through on the phone page screen by screen; the caller looks at each screen.

Shared by the checks of the screens and by the pictures of them; nothing is asserted here.
"""

from __future__ import annotations

import io
import re
from collections.abc import Callable

from PIL import Image
from playwright.sync_api import Page, expect

from tests.support.hands import (
    choose,
    confirm_cautions,
    do,
    go_to,
    ready_offline,
    sign,
    start_visit,
    to_day,
    unfold,
    write,
)

Look = Callable[[str], None]

BEFORE = {"Air at the condenser": "81.5", "Humidity": "46", "Low side": "26", "High side": "214", "Centre vent": "41.2"}
TWO_ENTRIES_MS = 10_500  # what is logged sooner is one entry
AFTER = {"Air at the condenser": "84", "Humidity": "44", "Low side": "25", "High side": "167", "Centre vent": "41"}


def picture(paint: tuple[int, int, int] = (52, 66, 84)) -> bytes:
    """A made-up photo: a band of sky over a vehicle, dark unless it is painted otherwise [PNG]."""
    canvas = Image.new("RGB", (800, 600), (196, 208, 214))
    canvas.paste(paint, (90, 260, 710, 520))
    canvas.paste((120, 118, 110), (0, 520, 800, 600))
    held = io.BytesIO()
    canvas.save(held, "PNG")
    return held.getvalue()


def photograph(page: Page, role: str) -> None:
    """Give a role's key a photo and wait until it stands there."""
    group = unfold(page.get_by_role("group", name=f"Photos, {role}", include_hidden=True))
    group.get_by_label("Choose").set_input_files({"name": "one.png", "mimeType": "image/png", "buffer": picture()})
    expect(group.get_by_role("img")).to_have_count(1)


def settle(page: Page) -> None:
    """As for a person who has used the page before: a technician's name, psi and °F."""
    page.get_by_role("link", name="Settings").click()
    write(page, "Technician", "I. Varga")
    write(page, "Business", "Alder Coast Mobile Cooling")
    choose(page, "Pressures", "psi")
    choose(page, "Temperatures", "°F")
    choose(page, "Altitude", "m")
    page.get_by_label("High gauge, calibrated until").fill("2021-03-31")


def without_network(page: Page, look: Look) -> None:
    """The screens beside the visits: carrying by hand, and pairing."""
    page.get_by_role("button", name="Carry by hand").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("hand")
    look("carry")
    page.goto(page.url.split("#")[0] + "pair")
    expect(page.get_by_role("heading", level=1)).to_have_text("Pair this phone")
    look("pair")
    page.get_by_role("button", name="Back to all visits").click()


def judge(page: Page, look: Look) -> None:
    """The result as it is, then with everything unfolded; a signature; the question before setting aside."""
    go_to(page, "Result")
    choose(page, "Outcome", "done")
    look("result")
    page.get_by_text("What it means, and what to do").first.click()
    page.get_by_text("Missing in one test or both").click()
    sign(page)
    page.get_by_role("button", name="Close without finishing").click()
    look("result-open")
    page.get_by_role("button", name="Continue the visit").click()
    page.get_by_role("button", name="Save the signature").click()
    expect(page.get_by_text("Signed by")).to_be_visible()


def arrive(page: Page, look: Look) -> None:
    """Customer, location, vehicle, cautions, visual check."""
    write(page, "Customer", "M. Okafor")
    write(page, "Phone", "555-0123")
    write(page, "Vehicle location", "Wren Lane 4")
    write(page, "Altitude", "610")
    page.get_by_role("button", name="Work agreed").click()
    look("customer")
    go_to(page, "Vehicle")
    write(page, "Registration", "LT 482")
    write(page, "VIN", "1G4AH59H45G118341")
    write(page, "Model and colour", "blue estate")
    choose(page, "Powertrain", "combustion")
    choose(page, "Refrigerant in the system", "R-134a")
    photograph(page, "arrival")
    look("vehicle")
    go_to(page, "Before")
    look("closed")
    go_to(page, "Cautions")
    look("cautions")
    confirm_cautions(page)
    go_to(page, "Visual check")
    write(page, "Customer's complaint", "Cold on the road, warm in traffic.")
    choose(page, "Condenser fan", "turns")
    choose(page, "Condenser face", "dirty")
    look("look-round")
    page.locator("#foot .steps").click()
    look("steps")
    page.keyboard.press("Escape")


def read_off(page: Page, readings: dict[str, str]) -> None:
    """Type one test's readings."""
    for label, text in readings.items():
        write(page, label, text)


def walk(page: Page, look: Look) -> None:
    """The whole visit from an empty day to a finished one; `look` is called on each screen by its name."""
    ready_offline(page)
    look("day-empty")
    settle(page)
    look("settings")
    without_network(page, look)
    start_visit(page)
    arrive(page, look)
    go_to(page, "Before")
    for group, word in (("Blower", "low"), ("Air", "recirculated"), ("Condenser fan", "high"), ("Windows", "closed")):
        choose(page, group, word)
    page.get_by_role("button", name="Engine running: Start the engine timer").click()
    choose(page, "Compressor", "cycling")
    for name in ("It comes on", "It goes off", "It comes on"):
        page.get_by_role("button", name=name).click()
    look("tapping")
    write(page, "Engine speed", "1,8,0")
    read_off(page, BEFORE)
    choose(page, "Compressor", "steady")
    look("before")
    write(page, "Engine speed", "2000")
    go_to(page, "Work")
    page.get_by_role("button", name="Condenser cleaned").click()
    look("caution")
    page.get_by_role("button", name="Read. Start 10 minutes").click()
    write_first(page, "Minutes", "25")
    work = page.get_by_role("group", name="Condenser cleaned")
    mix = {"Parts of cleaner": "1", "Parts of water": "4", "Volume mixed": "2000", "Applications": "2"}
    for label, text in mix.items():
        work.get_by_label(label, exact=True).fill(text)
    do(page, "Charged")
    charged = page.get_by_role("group", name="Charged", exact=True)
    charged.get_by_label("Cylinder before", exact=True).fill("8000")
    charged.get_by_label("Cylinder after", exact=True).fill("7570")
    do(page, "Vacuum")
    write(page, "Vacuum reached", "60")
    look("work")
    work.get_by_role("button", name="Rinsed now", exact=True).click()
    go_to(page, "After")
    page.get_by_role("button", name="Same as before").click()
    write(page, "Rinsed", "20")
    read_off(page, AFTER)
    look("after")
    judge(page, look)
    page.get_by_text("nothing charged yet").click()
    page.get_by_role("button", name="Add a line").click()
    line = page.get_by_role("group", name="Line 1")
    line.get_by_label("Item").fill("Condenser cleaned and tested")
    line.get_by_label("Unit price, excl. tax").fill("85")
    line.get_by_label("Tax", exact=True).fill("20")
    write(page, "Currency", "EUR")
    look("price")
    go_to(page, "Before")
    for count, vent in enumerate(("44.0", "41.2"), start=1):
        page.wait_for_timeout(TWO_ENTRIES_MS if count > 1 else 0)
        write(page, "Centre vent", vent)
        page.get_by_role("button", name="Log these readings now").click()
        expect(page.locator(".settling")).to_contain_text(f"{count} logged.")
    look("settling")
    go_to(page, "Result")
    page.get_by_role("button", name="Finish the visit").click()
    expect(page.locator("#tally")).to_have_text(re.compile("1 visit captured"))
    start_visit(page)
    write(page, "Vehicle location", "Harbour car park, bay 3")
    to_day(page)
    expect(page.get_by_text("Harbour car park, bay 3")).to_be_visible()
    look("day")


def write_first(page: Page, label: str, text: str) -> None:
    """Type into the first visible field of that name."""
    page.locator("input:visible").and_(page.get_by_label(label, exact=True)).first.fill(text)
