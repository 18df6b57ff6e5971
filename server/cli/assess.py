"""A line of `layby assess`: a visit as JSON becomes its judgement, or the problem that hinders one.

Nothing here reads a file or prints.
"""

from __future__ import annotations

from importlib.metadata import version
from typing import Any, cast

from sync.kernel.books import Rulebook
from sync.physics import diagnosis
from sync.wire.faults import Fault, worded
from sync.wire.json_parsing import ParseFault, parse
from sync.wire.schemas import check_visit


def assessment_of(line: bytes, books: dict[str, Any]) -> dict[str, Any]:
    """The judgement of one line.

    Args:
        line: a visit of schema 1 [JSON, UTF-8]
        books: the rulebook [books by name]

    Returns:
        what `diagnose` gives; {visit: None, problem} where the line is no visit [JSON object]
    """
    rulebook = cast(Rulebook, books)
    try:
        visit = parse(line.strip())
    except ParseFault as error:
        return _no_visit(error.faults, rulebook)
    faults = check_visit(visit, rulebook)
    if faults:
        return _no_visit(faults, rulebook)
    # What has no fault of shape is a visit.
    return diagnosis.diagnose(cast(dict[str, Any], visit), books, version("layby"))


def _no_visit(faults: list[Fault], rulebook: Rulebook) -> dict[str, Any]:
    errors = worded(faults, rulebook["wording"])
    detail = "; ".join(f"{fault['pointer'] or 'the line'}: {fault['detail']}" for fault in errors)
    problem = {
        "type": "about:blank",
        "title": "Not a visit",
        "code": "no_visit_line",
        "detail": detail,
        "errors": errors,
    }
    return {"visit": None, "problem": problem}
