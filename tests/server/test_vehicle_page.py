"""The desk's page of a vehicle over real HTTP: its maker's chart shown, entered, corrected, offered, removed.

Forms are filled in as the page shows them; the command line looks up what was filed. The charts are made up.
"""

from __future__ import annotations

import base64
import json
import re
from html import unescape
from typing import Any
from urllib.parse import quote

import pytest

from tests.server.test_login import layby
from tests.server.test_photo_routes import send
from tests.support.drawn_photos import digest, photo
from tests.support.ops import Phone, body_of
from tests.support.service import Service
from tests.support.visitor import Visitor, wait_for_key

PSI = 6.894757293168  # kPa; NIST SP 811 (2008), appendix B.8
CHART: dict[str, Any] = {
    "source": "Workshop manual, page 12", "rpm": 1500, "blower": "high", "windows": "open",
    "rows": [{"ambient_c": 30, "low_kpa_g": [150, 250], "vent_c": [7.5, 7.5]}, {"ambient_c": 35, "humidity_pct": 60}],
}


@pytest.fixture
def visitor(service: Service) -> Visitor:
    """Somebody signed in at the desk."""
    wait_for_key(service)
    return Visitor(service).first()


def file_car(service: Service, phone: Phone, identifier: str, **fields: Any) -> str:
    """File a visit of a vehicle; returns its id."""
    visit = phone.new_id()
    vehicle = {"id": identifier, "plate": identifier.upper(), "make": "Wren", "model": "Gannet", "year": 2008, **fields}
    setting = phone.op(visit, "visit.set", {"vehicle": vehicle, "units": {"technician": {"pressure": "psi"}}},
                       {**{f"/vehicle/{name}": None for name in vehicle}, "/units/technician/pressure": None})
    _, _, content = service.post("/sync", body_of(phone.opening(visit), setting), "application/x-ndjson")
    assert [result["status"] for result in json.loads(content)["results"]] == ["accepted"] * 2, content
    return visit


def cells(text: str) -> dict[str, str]:
    """The content of a page's form: inputs with text, and the chosen options."""
    inputs = {name: unescape(value) for name, value in re.findall(r'<input [^>]*?name="([^"]+)" value="([^"]*)"', text)}
    for name, options in re.findall(r'<select id="\w+" name="(\w+)">(.*?)</select>', text, re.DOTALL):
        chosen = re.findall(r'<option value="([^"]*)" selected', options)
        inputs[name] = chosen[0] if chosen else ""
    return {name: value for name, value in inputs.items() if value}


def faults(text: str) -> list[str]:
    """The sentences on a page that say what is wrong."""
    block = re.search(r'role="alert">(.*?)</div>', text, re.DOTALL)
    return [] if block is None else [unescape(one) for one in re.findall(r"<li>(.*?)</li>", block[1])]


def test_a_chart_is_entered_in_the_units_of_the_last_visit(service: Service, visitor: Visitor) -> None:
    """Found, opened, filled in with psi and a decimal comma; shown again that way; listed on the command line."""
    file_car(service, Phone(), "v1")
    _, _, text = visitor.ask("GET", "/desk/search?text=V1")
    assert '/desk/vehicle?id=v1" aria-label="Vehicle V1">Vehicle' in text
    _, _, text = visitor.ask("GET", "/desk/vehicle?id=v1")
    assert "2008 Wren Gannet V1" in text
    assert {name: value for name, value in cells(text).items() if name in ("pressure", "temperature")} == {
        "pressure": "psi", "temperature": "c"}
    typed = {"source": "Manual & page 12", "rpm": "1500", "blower": "high", "pressure": "psi", "temperature": "f",
             "ambient_c.0.0": "86", "low_kpa_g.0.0": "22", "low_kpa_g.0.1": "36,5", "ambient_c.3.0": "\u221240"}
    status, headers, _ = visitor.press("/desk/do/chart", id="v1", **typed)
    assert (status, headers["Location"]) == (303, "/desk/vehicle?id=v1&done=saved")
    status, _, text = visitor.ask("GET", headers["Location"])
    assert "Chart saved." in text
    assert "1 visit<" in text
    shown = cells(text)
    assert (shown["source"], shown["rpm"], shown["blower"]) == ("Manual & page 12", "1500", "high")
    assert (shown["low_kpa_g.0.0"], shown["low_kpa_g.0.1"]) == ("22", "36.5")
    # 86 °F are 30 °C, and -40 is the same in both: NIST SP 811 (2008), appendix B.8; the empty rows between are gone.
    assert (shown["ambient_c.0.0"], shown["ambient_c.1.0"]) == ("30", "-40")
    assert "chart: 2 rows, Manual & page 12" in layby(service, "card", "vehicle", "v1")


def test_all_that_is_wrong_is_said_at_once_and_what_was_typed_is_kept(service: Service, visitor: Visitor) -> None:
    """Each with its row and field; nothing is filed; once corrected and sent again, it is."""
    file_car(service, Phone(), "v1")
    typed = {"source": "x" * 201, "rpm": "fast", "pressure": "kpa", "temperature": "c", "ambient_c.0.0": "30",
             "low_kpa_g.0.0": "250", "low_kpa_g.0.1": "150", "high_kpa_g.0.0": "1,370", "high_kpa_g.0.1": "1570",
             "vent_c.1.0": "7.5", "humidity_pct.2.0": "<b>wet</b>"}
    status, _, text = visitor.press("/desk/do/chart", id="v1", **typed)
    assert status == 422
    starts = ["Engine speed, rpm: \"fast\"", "The source is longer than 200", "Row 1, Low side: 250 is above 150.",
              "Row 1, High side: \"1,370\" can be read two ways.", "Row 2, Vent: one end is missing.",
              "Row 2: the outside air", "Row 3, Humidity: \"<b>wet</b>\" isn't a number.", "Row 3: the outside air"]
    said = faults(text)
    assert len(said) == len(starts)
    assert all(any(sentence.startswith(start) for sentence in said) for start in starts), said
    assert "<b>wet" not in text
    assert typed.items() <= cells(text).items()
    assert "chart" not in layby(service, "card", "vehicle", "v1")
    status, _, text = visitor.press("/desk/do/chart", id="v1", source="Manual")
    assert (status, faults(text)[0][:22]) == (422, "The chart has no rows.")
    mended = {"source": "Manual", "ambient_c.0.0": "30", "low_kpa_g.0.0": "150", "low_kpa_g.0.1": "250"}
    assert visitor.press("/desk/do/chart", id="v1", pressure="kpa", temperature="c", **mended)[0] == 303


def test_a_chart_from_a_phone_is_shown_corrected_and_removed(service: Service, visitor: Visitor) -> None:
    """Saved as shown, it stays as it is on file; other phones are told about a corrected one, and about its removal."""
    file_car(service, Phone(), "v1", chart=CHART)
    shown = cells(visitor.ask("GET", "/desk/vehicle?id=v1")[2])
    assert (shown["low_kpa_g.0.0"], shown["humidity_pct.1.0"], shown["vent_c.0.1"]) == ("21.7557", "60", "7.5")
    del shown["form_token"]
    assert visitor.press("/desk/do/chart", **shown)[0] == 303
    in_kpa = {**shown, "pressure": "kpa", "low_kpa_g.0.0": "150", "low_kpa_g.0.1": "250"}
    assert visitor.press("/desk/do/chart", **in_kpa)[0] == 303
    assert "vehicle.set" not in (service.folder / "journal.log").read_text("utf-8", "replace")
    assert visitor.press("/desk/do/chart", **{**in_kpa, "low_kpa_g.0.1": "260"})[0] == 303
    assert cells(visitor.ask("GET", "/desk/vehicle?id=v1")[2])["rpm"] == "1500"
    corrected = {**CHART, "rows": [{**CHART["rows"][0], "low_kpa_g": [150, 260]}, CHART["rows"][1]]}
    journal = (service.folder / "journal.log").read_text("utf-8", "replace")
    [body] = re.findall(r'"kind": ?"vehicle.set".*?"body": ?(\{.*?\}), ?"at"', journal)
    assert json.loads(body)["chart"] == corrected
    status, headers, _ = visitor.press("/desk/do/chart", id="v1", pressure="kpa", temperature="c")
    assert (status, headers["Location"]) == (303, "/desk/vehicle?id=v1&done=removed")
    assert "chart" not in layby(service, "card", "vehicle", "v1")


def test_the_chart_of_a_car_alike_fills_the_form_and_no_more(service: Service, visitor: Visitor) -> None:
    """The same make, model and year apart from capitals and spaces; not another year; filed only once saved."""
    file_car(service, Phone("aaaa"), "v1", chart=CHART)
    file_car(service, Phone("bbbb"), "v2", make="WREN ", model="gan net")
    file_car(service, Phone("cccc"), "v3", year=2009)
    assert "Fill in the chart" not in visitor.ask("GET", "/desk/vehicle?id=v3")[2]
    _, _, text = visitor.ask("GET", "/desk/vehicle?id=v2")
    assert "Fill in the chart of the same make, model and year: 2 rows, Workshop manual, page 12" in text
    assert "ambient_c.0.0" not in cells(text)
    _, _, text = visitor.ask("GET", "/desk/vehicle?id=v2&use=0")
    filled = {name: value for name, value in cells(text).items() if name != "form_token"}
    assert filled["ambient_c.1.0"] == "35"
    assert "chart" not in layby(service, "card", "vehicle", "v2")
    assert visitor.press("/desk/do/chart", **filled)[0] == 303
    _, _, text = visitor.ask("GET", "/desk/vehicle?id=v2")
    assert "Fill in the chart" not in text
    assert "chart: 2 rows" in layby(service, "card", "vehicle", "v2")
    for use in ("1", "-1", "x", "9" * 30):
        assert visitor.ask("GET", f"/desk/vehicle?id=v2&use={use}")[0] == 200


def test_what_is_known_of_a_vehicle_is_said_in_words(service: Service, visitor: Visitor) -> None:
    """The label's charge was typed in ounces: whole grams; both refrigerants by their names."""
    file_car(service, Phone(), "v1", refrigerant="R134a", label_refrigerant="R1234yf", charge_spec_g=459.262274625)
    _, _, text = visitor.ask("GET", "/desk/vehicle?id=v1")
    facts = dict(re.findall(r"<dt>(.*?)</dt><dd>(.*?)</dd>", text))
    shown = [facts[name] for name in ("Charge, g", "Refrigerant", "Refrigerant on the label")]
    assert shown == ["459", "R-134a", "R-1234yf"]


def test_a_vehicle_that_is_not_on_file_has_no_page(visitor: Visitor) -> None:
    """Reported with a sentence, and nothing is filed for it."""
    for identifier in ("nobody", "", "x" * 500, "../../etc"):
        status, _, text = visitor.ask("GET", f"/desk/vehicle?id={identifier}")
        assert (status, "on file. Find one of its visits" in text) == (404, True)
    assert visitor.press("/desk/do/chart", id="nobody", **{"ambient_c.0.0": "30"})[0] == 404
    outsider = Visitor(visitor.service)
    assert outsider.ask("GET", "/desk/vehicle?id=v1")[0] == 303
    assert outsider.ask("POST", "/desk/do/chart", {"id": "v1"})[0] == 303


@pytest.mark.parametrize("number", ["9" * 5000, "²", "٣", "-1", "x"])
def test_a_chart_is_offered_by_its_number_alone(service: Service, visitor: Visitor, number: str) -> None:
    """Any other word in the address offers none, even a number longer than any list."""
    file_car(service, Phone("aaaa"), "v1")
    status, _, text = visitor.ask("GET", f"/desk/vehicle?id=v1&use={quote(number)}")
    assert (status, cells(text).get("source")) == (200, None)


def test_a_photographed_chart_is_shown_beside_its_form(service: Service, visitor: Visitor) -> None:
    """The photo with the role of a chart, and no other."""
    phone = Phone()
    visit = file_car(service, phone, "v1")
    chart, other = photo(1), photo(2)
    adds = [phone.op(visit, "photo.add", {"sha256": digest(content), "role": role, "at": "2026-07-14T09:00:00+02:00"})
            for content, role in ((chart, "chart"), (other, "label"))]
    _, _, content = service.post("/sync", body_of(*adds), "application/x-ndjson")
    assert [result["status"] for result in json.loads(content)["results"]] == ["accepted"] * 2, content
    for one in (chart, other):
        assert send(service, digest(one), (0, len(one)), one)[0] == 204
    _, _, text = visitor.ask("GET", "/desk/vehicle?id=v1")
    held = [base64.b64decode(one) for one in re.findall(r'src="data:image/jpeg;base64,([^"]+)"', text)]
    assert held == [chart]
