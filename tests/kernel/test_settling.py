"""Settled or not, from traces made of exact exponentials; the rule of settling is common practice, no source."""

from __future__ import annotations

import pytest

from sync.kernel import settling


def trace_of(ends=(5.0, 1100.0, 22.0), starts=(20.0, 1500.0, 31.0), ratio=0.5, minutes=10):
    """Vent, high side and return air approach their ends by `ratio` every two minutes, with a point every 30 s."""
    points = []
    for step in range(minutes * 2 + 1):
        left = ratio ** (step / 4)
        vent, high, air = (end + (start - end) * left for end, start in zip(ends, starts, strict=True))
        points.append({"s": step * 30.0, "vent_c": vent, "high_kpa_g": high, "return_air_c": air})
    return points


def levelled(rulebook, trace, air="recirculated", running="steady"):
    """The answer for one trace."""
    test = {"id": "t", "trace": trace, "conditions": {"air": air}, "readings": {"running": running}}
    return settling.levelled_of(test, rulebook)


def test_without_a_trace_nothing_is_said(rulebook):
    """None, not a guess."""
    assert settling.levelled_of({"id": "t"}, rulebook) is None


def test_a_flat_trace_is_settled(rulebook):
    """After many two-minute steps nothing moves."""
    found = levelled(rulebook, trace_of(ratio=0.2, minutes=15))
    assert found["settled"] is True
    assert found["wait_s"] == 0
    assert found["heading_for"] == pytest.approx(5.0, abs=0.05)


def test_a_falling_trace_is_not_settled_and_knows_where_it_is_heading(rulebook):
    """An exact geometric approach is extrapolated exactly (Aitken)."""
    found = levelled(rulebook, trace_of(ratio=0.5, minutes=6))
    assert found["settled"] is False
    assert found["heading_for"] == pytest.approx(5.0, abs=1e-6)
    # The slowest decides: return air 9 K * 0.5**n; its change within a window equals what is left afterwards.
    assert found["wait_s"] in (120.0, 240.0)


def test_a_flat_vent_over_a_falling_high_side_is_not_settled(rulebook):
    """At the freeze floor the vent is flat while the high side still falls (common practice, no source)."""
    trace = trace_of(ends=(4.0, 1000.0, 22.0), starts=(4.0, 1600.0, 22.0), ratio=0.6, minutes=6)
    assert levelled(rulebook, trace)["settled"] is False


def test_return_air_counts_on_recirculation_only(rulebook):
    """With outside air the cabin doesn't matter."""
    trace = trace_of(ends=(5.0, 1000.0, 20.0), starts=(5.0, 1000.0, 34.0), ratio=0.6, minutes=6)
    assert levelled(rulebook, trace)["settled"] is False
    assert levelled(rulebook, trace, air="outside")["settled"] is True


def test_a_vent_alone_proves_nothing_when_flat_and_something_when_moving(rulebook):
    """One flat reading says nothing about the others; a moving one is proof enough."""
    flat = [{"s": point["s"], "vent_c": 5.0} for point in trace_of()]
    assert levelled(rulebook, flat) is None
    moving = [{"s": point["s"], "vent_c": 20.0 - point["s"] / 100} for point in trace_of()]
    assert levelled(rulebook, moving)["settled"] is False


def test_a_trace_shorter_than_two_minutes_has_to_go_on(rulebook):
    """The wait is what is missing."""
    found = levelled(rulebook, trace_of(minutes=1))
    assert found["settled"] is False
    assert found["wait_s"] == 60.0


def test_points_sparser_than_the_window_do_not_hide_a_fall(rulebook):
    """Vents of 9, 6 and 5.2 °C some two minutes apart are still falling."""
    trace = [{"s": s, "vent_c": vent, "high_kpa_g": 1100.0} for s, vent in ((0.0, 9.0), (125.0, 6.0), (250.0, 5.2))]
    assert levelled(rulebook, trace, air="outside")["settled"] is False


def test_a_cycling_system_is_judged_by_whole_cycle_means(rulebook):
    """A saw-tooth of 4 K around a constant mean counts as settled."""
    trace = [
        {"s": s * 10.0, "vent_c": 6.0 + (s % 6) * 0.8, "high_kpa_g": 1100.0 + (s % 6) * 30.0, "return_air_c": 22.0}
        for s in range(49)
    ]
    assert levelled(rulebook, trace, running="cycling")["settled"] is True
    assert levelled(rulebook, trace, running="steady")["settled"] is False


def test_points_that_step_back_in_time_are_left_out(rulebook):
    """A frozen page may log the same second twice."""
    trace = trace_of(ratio=0.2, minutes=15)
    assert levelled(rulebook, [*trace, {**trace[-1], "vent_c": 90.0}])["settled"] is True


def test_a_trace_that_begins_a_rounding_after_the_window_is_read_from_its_beginning():
    """A span halved twice may come out before the first point; what doesn't move heads for where it is."""
    for begin in (1e-9, 0.1, 0.3, 7.7):
        for end in (59.7, 60.0, 61.1, 120.0 + 1e-9, 180.0 / 7.0):
            middle = (begin + end) / 2.0
            assert settling.heading(([begin, middle, end], [5.0, 5.0, 5.0]), 120.0) == (5.0, 0.0)


def apart(seconds, vents, highs):
    """A trace of entries by hand."""
    return [{"s": s, "vent_c": vent, "high_kpa_g": high} for s, vent, high in zip(seconds, vents, highs, strict=True)]


def test_two_entries_within_ten_seconds_are_one(rulebook):
    """A second tap mends the first: 9 °C that was meant as 5 is no fall; two entries alone prove nothing."""
    assert levelled(rulebook, apart((0.0, 9.9), (9.0, 5.0), (1100.0, 1100.0)), air="outside") is None
    mended = apart((0.0, 6.0, 130.0), (9.0, 5.0, 5.0), (1100.0, 1100.0, 1100.0))
    assert levelled(rulebook, mended, air="outside")["settled"] is True
    first = apart((0.0, 11.0, 119.0), (9.0, 5.0, 5.0), (1100.0, 1100.0, 1100.0))
    assert levelled(rulebook, first, air="outside")["settled"] is False


def test_only_what_moved_is_called_not_settled(rulebook):
    """A flat minute proves nothing either way; a minute in which the vent fell by 2 K does."""
    assert levelled(rulebook, apart((0.0, 60.0), (5.0, 5.1), (1100.0, 1105.0)), air="outside") is None
    moved = levelled(rulebook, apart((0.0, 60.0), (7.0, 5.0), (1100.0, 1105.0)), air="outside")
    assert (moved["settled"], moved["wait_s"]) == (False, 60.0)
    swing = apart((0.0, 30.0, 60.0), (5.0, 8.0, 5.0), (1000.0, 1200.0, 1000.0))
    assert levelled(rulebook, swing, air="outside", running="cycling") is None
