"""Requests made up by somebody else's code: schemathesis, from the service's own description, in its fuzzing phase.

It checks an answer against the statuses, types, headers and shapes that the description names. `exchange` says what
else every answer must be.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from typing import Any

import schemathesis
from hypothesis import strategies
from schemathesis.config import SchemathesisConfig
from schemathesis.engine import events, from_schema

from tests.hostile.exchange import Answer, Outcome, Request
from tests.hostile.words import bundle, op_lines, picture

# The schemathesis checks that the description can answer for. Left out are those that expect a body that fits its
# schema to be accepted and any other refused: op lines, parts and photos are described as plain text, which says too
# little about them. `exchange` takes care of anything above 499.
CHECKS = {
    "not_a_server_error": False, "status_code_conformance": True, "content_type_conformance": True,
    "response_headers_conformance": True, "response_schema_conformance": True, "missing_required_header": True,
    "unsupported_method": True, "ignored_auth": True, "positive_data_acceptance": False,
    "negative_data_rejection": False, "use_after_free": False, "ensure_resource_availability": False,
}  # fmt: skip
DEVICE = "7e57"


def _drawn(make: Any) -> Any:
    """Bodies of our own, drawn from its random numbers, where the description says too little about them."""
    return strategies.integers(0, 2**32).map(lambda number: make(random.Random(number)))


def _teach_bodies() -> None:
    """Op lines and parts for routes that take lines, pictures for those that take photos."""
    lines = _drawn(lambda dice: dice.choice((op_lines(dice, DEVICE, dice.choice((1, 3))), bundle(dice, DEVICE))))
    schemathesis.openapi.media_type("application/x-ndjson", lines)
    schemathesis.openapi.media_type("application/offset+octet-stream", _drawn(picture))


def _config(url: str, headers: dict[str, str], seed: int, each: int) -> SchemathesisConfig:
    off = {"enabled": False}
    return SchemathesisConfig.from_dict({
        "seed": seed, "headers": headers, "base-url": url, "request-timeout": 60, "continue-on-failure": True,
        "generation": {"max-examples": each, "no-shrink": True, "database": "none"}, "warnings": False,
        "phases": {"examples": off, "coverage": off, "stateful": off, "fuzzing": {"enabled": True}},
        "checks": {name: {"enabled": is_on} for name, is_on in CHECKS.items()},
        "output": {"sanitization": {"enabled": False}},
    })  # fmt: skip


def ask_as_described(url: str, caller: str, headers: dict[str, str], seed: int, count: int) -> Outcome:
    """About this many requests in all, shared among the operations of the description.

    Args:
        url: where the service answers [URL]
        caller: who is asking, as the counts name it [text]
        headers: what the caller shows [texts by name]
        seed: which requests [number]
        count: how many [count]

    Returns:
        the outcome; its faults are those of the checks and those that `exchange` knows [Outcome]
    """
    _teach_bodies()
    outcome = Outcome()
    paths = schemathesis.openapi.from_url(f"{url}/openapi.json").raw_schema["paths"]
    # The others can be asked in one way alone, which is one request.
    varied = sum(bool(operation.get("parameters") or operation.get("requestBody"))
                 for item in paths.values() for operation in item.values())
    schema = schemathesis.openapi.from_url(
        f"{url}/openapi.json", config=_config(url, headers, seed, max(1, count // varied)))  # fmt: skip
    for event in from_schema(schema).execute():
        if isinstance(event, events.ScenarioFinished):
            _note(outcome, caller, event)
        elif isinstance(event, (events.NonFatalError, events.FatalError)):
            outcome.faults.append(f"schemathesis gave up: {getattr(event, 'info', None) or event.exception}")
    return outcome


def _note(outcome: Outcome, caller: str, event: Any) -> None:
    """Count what one operation was asked and how it answered."""
    for interaction in event.recorder.interactions.values():
        answer = interaction.response
        method, path = interaction.request.method, event.label.partition(" ")[2]
        request = Request(f"described: {event.label} ({caller})", f"{method} {_route(path)}",
                          f"{method} {interaction.request.uri}".encode(), interaction.request.body or b"")
        kind = "" if answer is None else answer.headers.get("content-type", [""])[0]
        outcome.note(request, Answer(0, "", b"", 0.0) if answer is None else Answer(
            answer.status_code, kind, answer.content or b"", answer.elapsed))
    outcome.faults += [f"{event.label}: {text}" for text in _failures(event)]


def _route(path: str) -> str:
    return path.replace("{", "<").replace("}", ">")


def _failures(event: Any) -> Iterator[str]:
    for checks in event.recorder.checks.values():
        for check in checks:
            if check.failure_info is not None:
                failure = check.failure_info
                yield f"{check.name}: {failure.failure.message[:300]}\n  {failure.code_sample[:400]}"
