"""Which cautions are read when: before the first reading, or before their deed (common practice, no source)."""

from __future__ import annotations

from sync.kernel import cautions

SPRAYED = {"work": [{"id": "w1", "code": "gap_cleaned"}]}
NITROGEN = {"refrigerant_moves": [{"id": "m1", "kind": "nitrogen_test"}]}
KNOWN = {"vehicle": {"refrigerant": "R134a", "powertrain": "combustion", "compressor": "variable"}}
OF_A_TEST = ["eyes_hands", "engine_running", "hoses_stopped", "circuit_closed"]


def test_before_the_first_reading_only_those_of_a_running_test_are_read(rulebook):
    """What is sprayed, pressed in or weighed later does not stand before the readings."""
    assert cautions.standing_cautions(KNOWN, rulebook) == OF_A_TEST
    assert cautions.standing_cautions({**KNOWN, **SPRAYED, **NITROGEN}, rulebook) == OF_A_TEST


def test_the_worse_case_is_taken_of_what_is_not_known(rulebook):
    """An unknown car may start by itself, and what is in it may burn."""
    assert set(cautions.standing_cautions({}, rulebook)) >= {"self_start", "flammable", "unknown_refrigerant"}


def test_each_deed_has_its_own(rulebook):
    """Cleaner, nitrogen, hoses and cylinders; a straightened fin has none."""
    found = {code: cautions.cautions_at(name, code, rulebook) for name, code in (
        ("work", "condenser_cleaned"), ("work", "fins_straightened"), ("refrigerant_moves", "nitrogen_test"),
        ("refrigerant_moves", "charged"), ("refrigerant_moves", "vacuum"))}
    assert found == {"condenser_cleaned": ["coil_cleaner"], "fins_straightened": [], "nitrogen_test": ["nitrogen"],
                     "charged": ["hoses_stopped", "cylinders"], "vacuum": ["hoses_stopped"]}


def test_a_cleaner_begins_its_clock_and_water_needs_none(rulebook):
    """Data of the deed; nitrogen has no clock that begins with it."""
    assert cautions.deed_at("work", "condenser_cleaned", rulebook)["clock"] == "dwell"
    assert cautions.deed_at("work", "condenser_cleaned", rulebook)["idle"] is True
    assert "clock" not in cautions.deed_at("refrigerant_moves", "nitrogen_test", rulebook)
    assert cautions.deed_at("work", "fins_straightened", rulebook) is None


def test_what_was_done_has_its_caution_on_the_sheet(rulebook):
    """All that fit, in the book's order."""
    fitting = cautions.cautions_for({**KNOWN, **SPRAYED, **NITROGEN}, rulebook)
    assert fitting == [*OF_A_TEST, "coil_cleaner", "nitrogen"]
    assert "coil_cleaner" not in cautions.cautions_for(KNOWN, rulebook)


def test_deeds_are_entries_that_there_are(rulebook):
    """Every code is of its list's vocabulary, every clock one of a field."""
    books = {"work": "work", "refrigerant_moves": "move"}
    rows = [row for fields in rulebook["fields"]["scopes"].values() for row in fields.values()]
    clocks = {row.get("clock") for row in rows}
    deeds = [deed for row in rulebook["cautions"]["cautions"] for deed in row.get("deeds", [])]
    assert deeds
    for deed in deeds:
        assert set(deed["codes"]) <= set(rulebook["vocabularies"][books[deed["list"]]])
        assert deed.get("clock") in {None, *clocks}
