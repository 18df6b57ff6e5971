"""What the digest of a shown verdict covers: one text, the same byte for byte for the desk's judgement and the phone's.

Nothing here judges, compares or words anything; each side calculates the hash itself.
"""

from __future__ import annotations

from sync.kernel.json_tree import Json, JsonObject
from sync.kernel.primitives import names_in_order, number_text, quoted

# Left out, so that the digest says whether the verdict differs and not who reached it: the editions, which travel
# beside the digest, and what only the desk calculates.
BESIDE = ("rulebook", "app", "cycle")
DESK_ONLY = ("ideal_cop", "specific_work_kj_kg")


def canonical(value: Json) -> str:
    """JSON in the single form of RFC 8785: names sorted, no spaces, numbers as `number_text` writes them.

    Args:
        value: None, truth value, number, text, list or object of these [JSON value]

    Returns:
        its text [characters]

    Raises:
        ValueError: it contains a number that isn't finite.

    Source: RFC 8785, section 3.2.
    """
    if isinstance(value, dict):
        entries = [quoted(name) + ":" + canonical(value[name]) for name in names_in_order(value)]
        return "{" + ",".join(entries) + "}"
    if isinstance(value, (list, tuple)):
        return "[" + ",".join([canonical(one) for one in value]) + "]"
    if isinstance(value, str):
        return quoted(value)
    if value is None:
        return "null"
    if isinstance(value, bool):
        return "true" if value else "false"
    return number_text(value)


def shown_text(assessment: JsonObject) -> str:
    """The text that represents a verdict as shown; `verdict.shown` carries its SHA-256 as `digest`.

    Args:
        assessment: what `assess` or `diagnose` gives [JSON object]

    Returns:
        the canonical text without the editions and the desk's own figures [characters]

    Raises:
        ValueError: it contains a number that isn't finite.

    Source: design of the tool.
    """
    shown = {name: value for name, value in assessment.items() if name not in BESIDE}
    tests: list[Json] = []
    rows = assessment["tests"]
    if isinstance(rows, list):
        for test in rows:
            tests.append(_without_the_desks_own(test))
    shown["tests"] = tests
    return canonical(shown)


def _without_the_desks_own(test: Json) -> Json:
    if not isinstance(test, dict):
        return test
    derived = test["derived"]
    if not isinstance(derived, dict):
        return test
    figures: JsonObject = {name: figure for name, figure in derived.items() if name not in DESK_ONLY}
    return {**test, "derived": figures}
