"""Whether a running test has settled, from its trace: settled or not, where the vent is heading, how long to wait.

Limits are rulebook data; times are seconds after the test's start.
"""

from __future__ import annotations

from typing import cast

from sync.kernel.books import Rulebook, SettlingLimits
from sync.kernel.interpolation import between
from sync.kernel.judgement import Levelled
from sync.kernel.visit import Test, TracePoint

Points = list[dict[str, float]]
Channel = tuple[list[float], list[float]]


def _channel(trace: list[TracePoint], name: str, one_entry_s: float) -> Channel:
    """The points that hold this reading, in rising time; what steps back in time is left out.

    Of those that lie too close to be two, the last one counts, at the time of the first.
    """
    times: list[float] = []
    values: list[float] = []
    latest = 0.0
    for point in cast(Points, trace):
        value = point.get(name)
        if value is None or (len(times) > 0 and not point["s"] > latest):
            continue
        latest = float(point["s"])
        if len(times) > 0 and latest - times[-1] < one_entry_s:
            values[-1] = float(value)
        else:
            times.append(latest)
            values.append(float(value))
    return times, values


def _mean(channel: Channel, low: float, high: float) -> float | None:
    total, count = 0.0, 0
    for i in range(len(channel[0])):
        if low <= channel[0][i] <= high:
            total = total + channel[1][i]
            count = count + 1
    return None if count == 0 else total / count


def _at(channel: Channel, time: float) -> float:
    """The value at a time within the channel; a time that rounding puts before the start counts as the start."""
    times, values = channel
    return between(times, values, time if time > times[0] else times[0])


def _change(channel: Channel, window: float, cycling: bool) -> float | None:
    """Largest difference within the last window, or between whole-cycle means; None if the trace is too short."""
    end = channel[0][-1]
    if cycling:
        newer, older = _mean(channel, end - window, end), _mean(channel, end - 2.0 * window, end - window)
        if newer is None or older is None or not end - channel[0][0] >= 1.5 * window:
            return None
        return abs(newer - older)
    if not end - channel[0][0] >= window:
        return None
    # Points may be sparser than the window: where it began counts as well.
    return _spread(channel, end - window, _at(channel, end - window))


def _spread(channel: Channel, since: float, first: float) -> float:
    """How far the values since a time lie apart, with the one that they begin at."""
    lowest = highest = first
    for i in range(len(channel[0])):
        if channel[0][i] >= since:
            if channel[1][i] < lowest:
                lowest = channel[1][i]
            if channel[1][i] > highest:
                highest = channel[1][i]
    return highest - lowest


def _has_moved(channel: Channel, allowed: float, cycling: bool) -> bool:
    """Whether a trace that is too short to be called settled has moved already; a cycling one swings as it is."""
    return not cycling and _spread(channel, channel[0][0], channel[1][0]) >= allowed


def heading(channel: Channel, window: float) -> tuple[float, float]:
    """Where a channel is heading if it continues to settle as it has.

    Args:
        channel: times and values, at least one [s, any]
        window: the spacing of the three values used [s]

    Returns:
        the value it settles at, and the ratio of its last two changes, 0 if it doesn't approach a value [any, 1]

    Source: Aitken's delta-squared extrapolation of a geometric approach.
    """
    times, values = channel
    end = times[-1]
    step = window
    if (end - times[0]) / 2.0 < step:
        step = (end - times[0]) / 2.0
    if not step > 0.0:
        return values[-1], 0.0
    oldest = _at(channel, end - 2.0 * step)
    middle = _at(channel, end - step)
    first, second = middle - oldest, values[-1] - middle
    if first == 0.0 or not 0.0 < second / first < 0.95:
        return values[-1], 0.0
    ratio = second / first
    return values[-1] + second * ratio / (1.0 - ratio), ratio


def _wait(change: float, limit: float, ratio: float, limits: SettlingLimits) -> float:
    """How long until the change within a window falls below the limit."""
    wait = limits["window_s"]
    if not 0.0 < ratio < 1.0:
        return float(wait)
    left = change * ratio
    while left >= limit and wait < limits["longest_wait_s"]:
        left = left * ratio
        wait = wait + limits["window_s"]
    return float(wait)


def levelled_of(test: Test, rulebook: Rulebook) -> Levelled | None:
    """Settled or not, from the trace.

    Every reading that was logged has to be flat; when one that is needed was not logged, or not for long enough,
    flatness proves nothing and the answer is None. Only what moved is called not settled.

    Args:
        test: the test [JSON object]
        rulebook: the rulebook [books by name]

    Returns:
        {settled, heading_for, wait_s}; None without a trace or if it can't tell [truth, °C, s]

    Source: the rulebook's `checks_at_rest` book (common practice, no source).
    """
    trace = test.get("trace") or []
    limits = rulebook["checks_at_rest"]["settling"]
    vent = _channel(trace, "vent_c", limits["one_entry_s"])
    if len(vent[0]) == 0:
        return None
    cycling = (test.get("readings") or {}).get("running") == "cycling"
    recirculated = (test.get("conditions") or {}).get("air") == "recirculated"
    complete, settled, wait = True, True, 0.0
    for name, limit, needed in (
        ("vent_c", limits["vent_k"], True),
        ("high_kpa_g", limits["high_share"], True),
        ("return_air_c", limits["return_k"], recirculated),
    ):
        if not needed:
            continue
        channel = vent if name == "vent_c" else _channel(trace, name, limits["one_entry_s"])
        if len(channel[0]) < 2:
            complete = False
            continue
        change = _change(channel, limits["window_s"], cycling)
        allowed = limit * abs(channel[1][-1]) if name == "high_kpa_g" else limit
        if change is None:
            complete = False
            if not _has_moved(channel, allowed, cycling):
                continue
            settled = False
            longer = limits["window_s"] - (channel[0][-1] - channel[0][0])
        elif change < allowed:
            continue
        else:
            settled = False
            longer = _wait(change, allowed, heading(channel, limits["window_s"])[1], limits)
        if longer > wait:
            wait = longer
    if settled and not complete:
        return None
    return {"settled": settled, "heading_for": heading(vent, limits["window_s"])[0], "wait_s": wait}
