"""What this car would show if it were healthy: the fleet, the maker's chart, its own earlier test.

The combination of spreads is compared with the ordinary rule for normal quantities; limits are common practice, no
source.
"""

from __future__ import annotations

from datetime import date, timedelta
from math import sqrt

import pytest
from CoolProp.CoolProp import PropsSI

from sync.kernel import assessment
from sync.kernel.history import day_number
from tests.worlds.published import healthy_rows

SPLIT, LOW, VENT = "condenser_split_k", "low_saturation_c", "vent_c"


def judged(rulebook, conditions=None, visit=None, **vehicle):
    """One test of a car, judged."""
    settings = {"ambient_c": 28.0, "blower": "low", "air": "recirculated", "windows": "closed", "humidity_pct": 50.0}
    settings["rpm"] = 1500.0
    readings = {"return_air_c": 22.0}
    test = {"id": "t", "role": "single", "at": "2026-07-14T09:00:00+02:00", "readings": readings}
    test["conditions"] = {**settings, **(conditions or {})}
    car = {"refrigerant": "R134a", "compressor": "variable_external", **vehicle}
    whole = {"id": "v", "place": {"altitude_m": 100.0}, "vehicle": car, "tests": [test]}
    return assessment.assess(whole | (visit or {}), rulebook)["tests"][0]


def expected(rulebook, **more):
    """What a healthy car would show."""
    return judged(rulebook, **more)["expected"]


def healthy(at="2025-08-01T10:00:00+02:00", **more):
    """One earlier test marked healthy."""
    values = {SPLIT: {"value": 9.0, "u": 1.5}}
    settings = {"refrigerant": "R134a", "blower": "low", "air": "recirculated"}
    return {"at": at, **settings, "values": values, **more}


def chart(**more):
    """A maker's chart of two rows, with open windows."""
    rows = [
        {"ambient_c": 25.0, "low_kpa_g": [170.0, 210.0], "high_kpa_g": [1200.0, 1470.0], "vent_c": [8.0, 13.0]},
        {"ambient_c": 30.0, "low_kpa_g": [196.0, 240.0], "high_kpa_g": [1300.0, 1590.0], "vent_c": [14.5, 20.5]},
    ]
    rows = [{"inlet_c": 22.0, "humidity_pct": 50.0, **row} for row in rows]
    stated = {"rpm": 1500.0, "blower": "low", "air": "recirculated", "windows": "closed"}
    return {"source": "the maker's manual", **stated, "rows": rows, **more}


def middle(span):
    """The middle of a span."""
    return (span["low"] + span["high"]) / 2.0


def deviation(span):
    """The standard deviation of a span that holds 95 of 100."""
    return (span["high"] - span["low"]) / 4.0


def test_without_a_narrower_yardstick_the_fleet_stands_alone(rulebook):
    """One span, and nothing from a chart or an earlier test."""
    split = expected(rulebook)[SPLIT]
    assert (split["by"], split["chart"], split["history"], split["outside"]) == ("fleet", None, None, False)
    assert (split["low"], split["high"]) == pytest.approx((split["fleet"]["low"], split["fleet"]["high"]))


def test_the_fleet_holds_what_makers_print(rulebook):
    """The middles of published rows of good cars (sources in the rulebook's `yardsticks` book), 95 of 100."""
    inside = []
    for row in healthy_rows(rulebook):
        if row.end != "middle" or row.ambient is None:
            continue
        test = assessment.assess(row.visit, rulebook)["tests"][0]
        for name in (SPLIT, LOW):
            span = test["expected"][name]["fleet"]
            inside.append(span["low"] <= test["derived"][name]["value"] <= span["high"])
    assert len(inside) >= 36
    assert sum(inside) >= 0.95 * len(inside)


def test_an_earlier_healthy_test_moves_the_middle_and_narrows_the_spread(rulebook):
    """The rule for normal quantities: the variance is its own, less the gauges' common share, and 2.5 K in two years.
    """
    outside = {"air": "outside"}
    alone = expected(rulebook, conditions=outside)[SPLIT]
    split = expected(rulebook, conditions=outside, baseline={"entries": [healthy(**outside)]})[SPLIT]
    assert split["by"] == "history"
    assert split["history"] == {"value": pytest.approx(9.0), "at": "2025-08-01T10:00:00+02:00"}
    seen = (1.0 - 0.6) * 1.5**2 + 2.5**2
    weather = rulebook["distribution"]["weather"][1] ** 2
    fleet = deviation(alone) ** 2 - weather
    weight = fleet / (fleet + seen)
    assert middle(split) == pytest.approx(middle(alone) + weight * (9.0 - middle(alone)), abs=0.02)
    assert deviation(split) == pytest.approx(sqrt(fleet * (1.0 - weight) + weather), abs=0.02)


@pytest.mark.parametrize(
    "baseline",
    [
        {"entries": [healthy("2024-07-01T10:00:00+02:00")]},
        {"entries": [healthy("2026-08-01T10:00:00+02:00")]},
        {"entries": [healthy(blower="high")]},
        {"entries": [healthy(air="outside")]},
        {"entries": [healthy(refrigerant="R12")]},
        {"entries": [healthy()], "refrigerant_work_at": "2025-09-01T10:00:00+02:00"},
        {"entries": []},
    ],
)
def test_history_is_not_used_where_the_rules_forbid(rulebook, baseline):
    """Too old, in the future, other settings, other refrigerant, refrigerant work since."""
    assert expected(rulebook, baseline=baseline)[SPLIT]["by"] == "fleet"


@pytest.mark.parametrize(
    "work",
    [
        {"work": [{"id": "w", "code": "recharged"}]},
        {"refrigerant_moves": [{"id": "m", "kind": "charged", "grams": 200.0}]},
    ],
)
def test_history_is_not_used_after_work_on_the_refrigerant_in_the_same_visit(rulebook, work):
    """The test before the work is still compared with it; common practice, no source."""
    by = {}
    for role in ("before", "after"):
        conditions = {"ambient_c": 28.0, "blower": "low", "air": "recirculated"}
        test = {"id": "t", "role": role, "at": "2026-07-14T09:00:00+02:00", "conditions": conditions, "readings": {}}
        vehicle = {"refrigerant": "R134a", "baseline": {"entries": [healthy()]}}
        visit = {"id": "v", "place": {"altitude_m": 100.0}, "vehicle": vehicle, "tests": [test], **work}
        by[role] = assessment.assess(visit, rulebook)["tests"][0]["expected"][SPLIT]["by"]
    assert by == {"before": "history", "after": "fleet"}


def test_an_earlier_value_far_from_the_fleet_is_shown_and_not_taken_in(rulebook):
    """Beyond three deviations: it may have been read in a wrong unit, or the car wasn't well."""
    far = healthy(values={SPLIT: {"value": 75.0, "u": 1.0}})
    alone, split = expected(rulebook)[SPLIT], expected(rulebook, baseline={"entries": [far]})[SPLIT]
    assert split["outside"]
    assert split["by"] == "fleet"
    assert split["history"]["value"] == pytest.approx(75.0)
    assert (split["low"], split["high"]) == pytest.approx((alone["low"], alone["high"]))


def test_an_earlier_vent_counts_by_itself_only_where_its_parts_were_not_taken(rulebook):
    """Alone it narrows; beside the low side and its difference from it, which contain it, it adds nothing."""
    vent, parts = {VENT: {"value": 8.0, "u": 0.5}}, {
        LOW: {"value": 1.0, "u": 0.5}, "vent_over_evaporating_k": {"value": 7.0, "u": 0.7},
    }  # fmt: skip
    spans = [expected(rulebook)[VENT]]
    for values in (vent, parts, {**vent, **parts}):
        spans.append(expected(rulebook, baseline={"entries": [healthy(values=values)]})[VENT])
    assert [deviation(span) < deviation(spans[0]) for span in spans[1:]] == [True, True, True]
    assert (spans[1]["by"], spans[3]["by"]) == ("history", "history")
    assert (spans[3]["low"], spans[3]["high"]) == pytest.approx((spans[2]["low"], spans[2]["high"]))


def test_the_weather_of_the_earlier_test_is_allowed_for(rulebook):
    """The same value on a hotter day means that this car lies lower: its middle is carried to today."""
    cool = healthy(windows="closed")
    figures = {VENT: 8.0, LOW: 1.0, "ambient_c": 20.0}
    cool["values"] = {name: {"value": value, "u": 0.5} for name, value in figures.items()}
    hot = {**cool, "values": {**cool["values"], "ambient_c": {"value": 38.0, "u": 0.5}}}
    values = [expected(rulebook, baseline={"entries": [entry]})[VENT]["history"]["value"] for entry in (cool, hot)]
    assert values[0] > values[1]


def test_a_chart_is_read_between_its_rows(rulebook):
    """Half way between two rows, pressures by CoolProp's saturation at sea level, ambient off the high side."""
    spans = expected(rulebook, conditions={"ambient_c": 27.5, "windows": "closed"}, chart=chart())
    for name, ends, less in ((LOW, (183.0, 225.0), 0.0), (SPLIT, (1250.0, 1530.0), 27.5)):
        for end, kpa in zip(("low", "high"), ends, strict=True):
            boiling = PropsSI("T", "P", (kpa + 101.325) * 1000.0, "Q", 1, "R134a") - 273.15
            assert spans[name]["chart"][end] == pytest.approx(boiling - less, abs=0.3)
    assert (spans[VENT]["chart"]["low"], spans[VENT]["chart"]["high"]) == pytest.approx((11.25, 16.75), abs=0.05)
    assert spans[SPLIT]["by"] == "chart"


def test_a_chart_narrows_by_its_range_and_what_it_leaves_open(rulebook):
    """A rectangular range has half its width over root three; 1.5 K more, 3 K where the settings differ."""
    outside = {"ambient_c": 25.0, "air": "outside", "blower": "medium"}
    alone = expected(rulebook, conditions=outside)[SPLIT]
    only_high = {"ambient_c": 25.0, "high_kpa_g": [1200.0, 1470.0], "humidity_pct": 50.0}
    spread = {}
    for blower in ("medium", "high"):
        table = chart(rows=[only_high], blower=blower, air="outside")
        spread[blower] = expected(rulebook, conditions={**outside, "windows": "closed"}, chart=table)[SPLIT]
    weather = rulebook["distribution"]["weather"][1] ** 2
    fleet = deviation(alone) ** 2 - weather
    half = (spread["medium"]["chart"]["high"] - spread["medium"]["chart"]["low"]) / 2.0
    for blower, open_k in (("medium", 1.5), ("high", 3.0)):
        seen = half**2 / 3.0 + open_k**2
        wanted = sqrt(fleet * seen / (fleet + seen) + weather)
        assert deviation(spread[blower]) == pytest.approx(wanted, rel=0.05)
    assert deviation(spread["medium"]) < deviation(spread["high"]) < deviation(alone)


@pytest.mark.parametrize(("ambient", "by"), [(19.0, "fleet"), (20.5, "chart"), (34.5, "chart"), (36.0, "fleet")])
def test_a_chart_is_used_at_most_five_kelvin_beyond_its_rows(rulebook, ambient, by):
    """Rows at 25 and 30 °C."""
    assert expected(rulebook, conditions={"ambient_c": ambient}, chart=chart())[SPLIT]["by"] == by


def test_the_narrowest_names_itself_and_nothing_ever_widens(rulebook):
    """A chart added to the fleet, an earlier test added to both."""
    entry = healthy(values={SPLIT: {"value": 22.0, "u": 1.0}, LOW: {"value": 1.0, "u": 0.8}})
    steps = [{}, {"chart": chart()}, {"chart": chart(), "baseline": {"entries": [entry]}}]
    spans = [expected(rulebook, **step)[SPLIT] for step in steps]
    assert [span["by"] for span in spans] == ["fleet", "chart", "history"]
    assert deviation(spans[0]) > deviation(spans[1]) > deviation(spans[2])
    assert spans[2]["chart"] == spans[1]["chart"]


@pytest.mark.parametrize(
    ("conditions", "codes"),
    [
        ({"ambient_c": 10.0}, []),
        ({"ambient_c": 45.0}, []),
        ({"ambient_c": 4.0}, ["ambient_low"]),
        ({"ambient_c": 48.0}, ["ambient_high"]),
        ({"ambient_c": None}, ["ambient_not_recorded"]),
        ({"rpm": 3200.0}, ["speed_high"]),
    ],
)
def test_outside_their_validity_the_yardsticks_widen_and_say_so(rulebook, conditions, codes):
    """10 to 45 °C, up to 2,500 rpm; never silent."""
    judgement = judged(rulebook, conditions=conditions)
    assert judgement["range"] == codes
    if codes:
        assert deviation(judgement["expected"][SPLIT]) > 1.3 * deviation(expected(rulebook)[SPLIT])
    assert judgement["causes"] != []


def test_up_to_three_thousand_metres(rulebook):
    """Beyond that it widens too."""
    codes = [judged(rulebook, visit={"place": {"altitude_m": height}})["range"] for height in (2900.0, 3200.0)]
    assert codes == [[], ["altitude_high"]]


@pytest.mark.parametrize(
    ("refrigerant", "there"), [("R1234yf", True), ("R12", True), ("R152a", False), ("R744", False), ("other", False)]
)
def test_yardsticks_by_refrigerant(rulebook, refrigerant, there):
    """The same kelvins for R-1234yf, half the confidence for R-12, none for R-152a and R-744; it says why."""
    judgement = judged(rulebook, refrigerant=refrigerant)
    assert (SPLIT in judgement["expected"]) == there
    assert (judgement["range"] == []) == there
    if refrigerant == "R12":
        assert deviation(judgement["expected"][SPLIT]) > 1.3 * deviation(expected(rulebook)[SPLIT])


def test_days_are_those_of_the_calendar():
    """Against Python's own calendar over 200 years."""
    day = date(1900, 1, 1)
    while day.year < 2100:
        assert day_number(day.isoformat() + "T23:59:59+14:00") == (day - date(1970, 1, 1)).days
        day += timedelta(days=17)
