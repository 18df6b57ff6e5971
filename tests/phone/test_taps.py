"""How many taps a visit takes with one hand and no desk; what is counted stands in tests/support/counted_hand.py.

Without the service: it is stopped once the page says that it works offline. Every figure is made up.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from playwright.sync_api import Page, expect

from tests.support.browser import Phone
from tests.support.counted_hand import NEXT, CountedHand, InChromium
from tests.support.hands import at_rest, filed, ready_offline
from tests.support.service import Service
from tests.support.walk import picture

Photograph = Callable[[str], None]
HELD = {"Blower": "high", "Air": "recirculated", "Condenser fan": "high", "Windows": "open", "Bonnet open": "yes",
        "Rear system": "none", "In direct sun": "yes"}
USUAL_MOST, FULL_MOST = 35, 70  # taps besides digits and letters
USUAL_SCREENS, FULL_SCREENS = 18, 48  # as it is now


def usual_visit(hand: CountedHand, plate: str) -> None:
    """A new car whose condenser is cleaned between two tests: from the day to the end of the visit, signed."""
    hand.press("Start a visit")
    hand.write("Customer", "M. Okafor", "", "m.okafor@harbour.example")
    hand.press("Save, on to the vehicle")
    hand.write(plate, "ALD 4127")
    hand.press("R-134a", "Save, on to the cautions", "Read, everything is in place")
    hand.press("Save, on to the visual check", "Save, on to the test before")
    hand.write("Air at the condenser", "33", "2.9", "20", "14")
    hand.press("Save, on to the work", "Condenser cleaned", "Read. Start 10 minutes", "Rinsed now")
    hand.press("Save, on to the test after")
    hand.write("Air at the condenser", "33", "2.6", "15.5", "8")
    hand.press("Save, on to the result", "Price", "Add a line")
    hand.page.type("Condenser cleaned and tested")
    hand.write("Unit price, excl. tax", "85")
    hand.press("done", inside="Outcome")
    hand.press("Signature", "Sign here with a finger", "Save the signature", "Finish the visit")


def arrive(hand: CountedHand, photograph: Photograph) -> None:
    """The instruments in the settings; then customer, place, vehicle and cautions."""
    hand.press("Settings")
    hand.write("Low gauge, span", "1000", "1.6", "3500", "1.6", "0.5", "3")
    hand.press("Back to all visits", "Start a visit")
    hand.write("Customer", "M. Okafor", "555-0123", "m.okafor@harbour.example", "Wren Lane 4", "GB", "Bay 3", "120")
    hand.press("Work agreed", "Price agreed", "Save, on to the vehicle")
    hand.write("Registration", "ALD 4127", "1G4AH59H45G118341", "Wren", "Gannet", "", "84000", "R-134a", "430", "PAG")
    hand.press("combustion", "R-134a", "expansion valve")
    hand.press("variable", inside="Compressor")
    photograph("arrival")
    hand.press("Save, on to the cautions", "Read, everything is in place", "Save, on to the visual check")


def look_round(hand: CountedHand) -> None:
    """Two faults with notes, all others in order, the pressures at rest."""
    hand.write("Customer's complaint", "Cold on the road, warm in traffic.")
    for what, fault in (("Condenser face", "dirty"), ("Cabin filter", "clogged")):
        hand.press(fault, inside=what)
        hand.press(f"{what}, add a note")
        hand.page.type("Seeds and dust.")
    hand.press("All others inspected: ok")
    hand.press("quiet", inside="Compressor")
    hand.write("Engine off for", "9", "5.6", "5.6", "24", "24")
    hand.press("Save, on to the test before")


def take_before(hand: CountedHand, photograph: Photograph) -> None:
    """Readings, conditions one by one, humidity and lines, a photo, what was seen."""
    hand.press("Engine running: Start the engine timer")
    hand.write("Air at the condenser", "33", "2.9", "20", "14")
    hand.press("change")
    for group, word in HELD.items():
        hand.press(word, inside=group)
    hand.write("Engine speed", "1500")
    hand.press("Log these readings now")
    hand.page.see("1 logged")  # what is below moves down with it
    hand.press("More")
    hand.write("Return air", "27", "55", "48", "", "", "12", "46", "78")
    hand.press("steady")
    photograph("before")
    hand.press("Observations and notes", "condenser face dirty", "Save, on to the work")


def full_visit(hand: CountedHand, photograph: Photograph) -> None:
    """Every step touched, from the settings to the end of the visit."""
    arrive(hand, photograph)
    look_round(hand)
    take_before(hand, photograph)
    hand.press("Condenser cleaned", "Read. Start 10 minutes", "Rinsed now", "Charged", "Read")
    hand.write("Cylinder before", "8000", "7570")
    hand.press("virgin", "Save, on to the test after", "Same as before")
    hand.write("Air at the condenser", "33", "2.6", "15.5", "8")
    hand.press("More")
    hand.write("Return air", "26", "54", "48", "", "", "9", "42", "71")
    photograph("after")
    hand.press("Save, on to the result")
    hand.write("Advice for the customer", "Cabin filter soon.")
    hand.press("Price", "Add a line")
    hand.page.type(NEXT.join(["Condenser cleaned, charged", "185", "1", "20", "", "EUR"]))
    hand.press("card")
    hand.press("done", inside="Outcome")
    hand.write("Next visit", "In May")
    hand.press("Signature", "Sign here with a finger", "Save the signature", "Finish the visit")


def sent(page: Page, service: Service) -> dict[str, Any]:
    """The one visit of the day as the desk has it after a send."""
    visit = str(page.locator(".visits a").get_attribute("href")).split("/")[2]
    service.start()
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#tally")).to_contain_text("1 filed, 0 waiting")
    at_rest(page)
    service.stop()
    return filed(service, visit)[1]


def test_a_usual_visit(handset: Phone, service: Service) -> None:
    """At most 35; what was typed is what the desk then holds."""
    page = handset.open(service.url)
    ready_offline(page)
    service.stop()
    hand = CountedHand(InChromium(page))
    usual_visit(hand, "Registration")
    expect(page.get_by_role("button", name="Start a visit")).to_be_visible()
    assert hand.taps <= USUAL_MOST, hand.log
    assert hand.screens <= USUAL_SCREENS, hand.log
    kept = sent(page, service)
    assert [test["readings"]["vent_c"] for test in kept["tests"]] == [14, 8]
    assert kept["customer"]["email"] == "m.okafor@harbour.example"
    assert (kept["charges"][0]["unit_price"], kept["signature"]["sum"], kept["outcome"]) == ("85", "85.00", "done")
    assert [one["code"] for one in kept["work"]] == ["condenser_cleaned"]
    assert "coil_cleaner" in [one["code"] for one in kept["cautions"]]


def test_a_full_visit(handset: Phone, service: Service) -> None:
    """At most 70, with every step touched; each of them left its entries at the desk."""
    page = handset.open(service.url)
    ready_offline(page)
    service.stop()
    hand = CountedHand(InChromium(page))

    def photograph(role: str) -> None:
        """Press the key of the camera; what it takes then is handed over."""
        with page.expect_file_chooser() as chosen:
            hand.press("Take a photo", inside=f"Photos, {role}")
        colour = (40 * len(role), 60, 90)
        chosen.value.set_files({"name": "one.png", "mimeType": "image/png", "buffer": picture(colour)})
        group = page.get_by_role("group", name=f"Photos, {role}")
        expect(group.get_by_role("img")).to_have_count(1)

    full_visit(hand, photograph)
    expect(page.get_by_role("button", name="Start a visit")).to_be_visible()
    assert hand.taps <= FULL_MOST, hand.log
    assert hand.screens <= FULL_SCREENS, hand.log
    kept = sent(page, service)
    before, after = kept["tests"]
    assert (kept["instruments"]["high_gauge"], kept["vehicle"]["year"]) == ({"span_kpa": 3500, "class_pct": 1.6}, 2005)
    assert [one["note"] for one in kept["checks"] if one["state"] == "fault"] == ["Seeds and dust."] * 2
    assert set(after["conditions"]) >= {"rpm", "humidity_pct", *before["conditions"]} - {"running_min"}
    assert before["readings"].items() >= {"suction_line_c": 12, "liquid_line_c": 46, "discharge_line_c": 78}.items()
    assert kept["refrigerant_moves"][0]["grams"] == 430
    assert [one["role"] for one in kept["photos"]] == ["arrival", "before", "after"]
    assert (kept["charges"][0]["unit_price"], kept["currency"], kept["signature"]["sum"]) == ("185", "EUR", "222.00")
    assert kept.keys() >= {"complaint", "consent", "rests", "advice", "next_visit", "paid", "outcome", "ended_at"}
