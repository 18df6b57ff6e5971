"""Judgements of a running test, written by hand in the shape of an assessment: yardsticks, causes, evidence.

No test lives here. All figures are invented; only their order of magnitude is that of a car on a warm day.
"""

from __future__ import annotations

from typing import Any

ORDER = ["condenser_airflow", "overcharge", "non_condensables", "weak_compressor", "healthy"]
OWN_TEST_AT = "2026-05-03T10:00:00+02:00"


def figure(value: float, unit: str = "k") -> dict[str, Any]:
    """A derived value with a standard uncertainty of half a kelvin."""
    return {"value": value, "u": 0.5, "unit": unit}


def yardsticks(
    fleet: tuple[float, float], chart: tuple[float, float] | None = None, own: float | None = None, **changes: Any
) -> dict[str, Any]:
    """What a quantity is compared with; the narrowest given one counts, an own test to 2 K either way."""
    by, span = ("history", (own - 2.0, own + 2.0)) if own is not None else (
        ("chart", chart) if chart else ("fleet", fleet))
    return {
        "by": by, "low": span[0], "high": span[1], "fleet": {"low": fleet[0], "high": fleet[1]},
        "chart": {"low": chart[0], "high": chart[1]} if chart else None,
        "history": None if own is None else {"value": own, "at": OWN_TEST_AT}, "outside": False, **changes,
    }


def cause(name: str) -> dict[str, Any]:
    """A cause with no evidence for or against it."""
    return {"id": name, "fit": 0.2, "for": [], "against": []}


def row(code: str, on: dict[str, str], **values: float) -> dict[str, Any]:
    """Something that was measured or seen."""
    return {"code": code, "values": values, "on": on}


def ranking(*held: str, alone: bool = False, **changes: Any) -> dict[str, Any]:
    """The causes of one test: these held open, best first; or the one that stands alone."""
    hot = {name: "fits" for name in held if name != "healthy"}
    evidence = [row("condenser_split_k_high", hot, value=36.0, usual=25.0),
                row("no_face_dirty", {name: "against" if name == "condenser_airflow" else "silent" for name in held})]
    shows = [{"id": name, "code": f"subcooling_k_{'usual' if name == 'condenser_airflow' else 'high'}"}
             for name in held]
    check = {"what": "take_liquid_line", "minutes": 2.0, "separates": list(held), "gain": 3.0, "shows": shows}
    others = [name for name in ORDER if name not in held]
    return {"causes": [cause(name) for name in (*held, *others)], "undecided": [] if alone else list(held),
            "evidence": evidence, "range": [], "next_check": None if alone else check, **changes}
