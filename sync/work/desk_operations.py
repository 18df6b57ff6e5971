"""Operations that the desk itself writes, filed through the same intake as a phone's.

It knows no command and no page; the fold decides what an operation means.
"""

from __future__ import annotations

from typing import TypedDict

from sync.errors import LaybyError
from sync.kernel.books import Rulebook
from sync.kernel.fold import leaves
from sync.kernel.json_tree import Json, JsonObject
from sync.kernel.operation import Op
from sync.records.logbook import Logbook
from sync.records.receipts import next_seq
from sync.wire import op_line
from sync.wire.json_parsing import ParseFault, parse
from sync.wire.results import RepeatableResult
from sync.wire.schemas import schemas_of
from sync.work.acting import acting
from sync.work.intake import receive


class NotFiled(LaybyError):
    """The logbook didn't accept an operation of the desk."""

    code = "not_filed"


class NoSuchField(LaybyError):
    """A vehicle or customer has no such field, or the field can't hold the given value."""

    code = "no_such_field"


class NoSuchTest(LaybyError):
    """No visit of the vehicle has such a test."""

    code = "no_such_test"


class Batch:
    """Operations of the desk, numbered one after the other and filed in one piece; made and used within `writing()`.

    Numbering and filing belong together; otherwise operations of two desks could have the same number.

    Args of the constructor:
        logbook: where they are filed [Logbook]
        visit: the visit that they are of, None for what is said beside visits [UUIDv7 or None]
        when: now and the local offset [ms since 1970, minutes]
    """

    def __init__(self, logbook: Logbook, visit: str | None, when: tuple[int, int]) -> None:
        self.ops: list[Op] = []
        self._logbook, self._visit, self._when = logbook, visit, when
        self._seq = next_seq(logbook, op_line.DESK)

    def add(self, kind: str, body: JsonObject, base: dict[str, str | None] | None = None) -> str:
        """One more operation; its id [UUIDv7]."""
        at_ms, offset = self._when
        op: Op = {
            "id": op_line.new_id(at_ms), "device": op_line.DESK, "seq": self._seq + len(self.ops), "schema": 1,
            "visit": self._visit, "kind": kind, "base": base or {}, "body": body, "at": at_ms, "tz": offset,
        }
        if acting():
            op["by"] = acting()
        self.ops.append(op)
        return op["id"]

    def explain(self, why: str, most: int | None = None) -> None:
        """Add the note that says why; it names all operations so far, or so many [text, count]."""
        self.add("change.note", {"of": list[Json](op["id"] for op in self.ops[:most]), "why": why})

    def file(self) -> None:
        """File them all.

        Raises:
            NotFiled: the logbook refused one, or it has to wait for its visit; the reason says why.
        """
        lines = b"".join(op_line.line(op) for op in self.ops)
        for result in receive(self._logbook, lines, self._when[0], sender=op_line.DESK)["results"]:
            if result["status"] not in ("accepted", "conflict"):
                raise NotFiled(visit=self._visit or self.ops[0]["kind"], why=_why_not(result))


def _filed(logbook: Logbook, visit: str | None, kind: str, body: JsonObject, when: tuple[int, int]) -> str:
    """File one operation that sets nothing on top of another; its id [UUIDv7]."""
    batch = Batch(logbook, visit, when)
    added = batch.add(kind, body)
    batch.file()
    return added


def correct(logbook: Logbook, what: str, identifier: str, fields: JsonObject, when: tuple[int, int]) -> str:
    """Correct what is known of a vehicle or customer; if corrections conflicted, this one settles them.

    Args:
        logbook: where it is filed [object]
        what: "vehicle" or "customer" [text]
        identifier: its id [text]
        fields: what is known now, None for what is no longer known [JSON object]
        when: now and the local offset [ms since 1970, minutes]

    Returns:
        the operation's id [UUIDv7]

    Raises:
        NotFiled: the logbook refused it; the reason says why.
    """
    kind, body = f"{what}.set", JsonObject({**fields, "id": identifier})
    with logbook.writing():
        card = logbook.card_heads(what, identifier)
        heads = card["heads"] if card else {}
        pointers = [pointer for pointer, _ in leaves(body, kind, logbook.kinds)]
        base = {pointer: next(iter(heads.get(pointer) or []), None) for pointer in pointers}
        body["of"] = list[Json](sorted({head for pointer in pointers for head in heads.get(pointer, [])[1:]}))
        batch = Batch(logbook, None, when)
        added = batch.add(kind, body, base)
        batch.file()
        return added


def merge(logbook: Logbook, keep: str, drop: str, when: tuple[int, int]) -> str:
    """Say that one customer was entered under two ids; from now on, everything under `drop` shows under `keep`.

    Args:
        logbook: where it is filed [object]
        keep: the id that remains [text]
        drop: the other id [text]
        when: now and the local offset [ms since 1970, minutes]

    Returns:
        the operation's id [UUIDv7]

    Raises:
        NotFiled: the logbook refused it; the reason says why.
    """
    body: JsonObject = {"keep": keep, "drop": drop}
    with logbook.writing():
        return _filed(logbook, None, "customer.merge", body, when)


class Mark(TypedDict):
    """Whether a test of a vehicle's visit showed it healthy, and so serves later ones as a yardstick."""

    vehicle: str
    visit: str
    test: str
    healthy: bool


def mark(logbook: Logbook, said: Mark, when: tuple[int, int]) -> str:
    """Say of a test whether it showed the vehicle healthy.

    Args:
        logbook: where it is filed [object]
        said: of which test, and what [Mark]
        when: now and the local offset [ms since 1970, minutes]

    Returns:
        the operation's id [UUIDv7]

    Raises:
        UnknownVisit: nothing of the visit is filed.
        NoSuchTest: the visit is of another vehicle, or has no such test.
        NotFiled: the logbook refused it; the reason says why.
    """
    with logbook.writing():
        visit = logbook.visit(said["visit"])
        is_of_it = (visit.get("vehicle") or {}).get("id") == said["vehicle"]
        if not is_of_it or all(test["id"] != said["test"] for test in visit.get("tests") or []):
            raise NoSuchTest(test=said["test"][:80])
        body: JsonObject = {"vehicle": said["vehicle"], "visit": said["visit"], "test": said["test"],
                            "healthy": said["healthy"]}
        return _filed(logbook, None, "baseline.mark", body, when)


def value_of(what: str, name: str, text: str, rulebook: Rulebook) -> Json:
    """A field of a vehicle or customer, from what a person typed.

    Args:
        what: "vehicle" or "customer" [text]
        name: the field [text]
        text: what was typed; nothing clears the field [text]
        rulebook: all books [Rulebook]

    Returns:
        a text, number, truth value, or None [JSON value]

    Raises:
        NoSuchField: none has that name, or it needs another kind of value.
    """
    content = schemas_of(rulebook).shapes.bodies[f"{what}.set"].get(name) if name not in ("id", "of") else None
    if not isinstance(content, str):
        raise NoSuchField(what=what, name=name)
    if text == "":
        return None
    if content.startswith(("number", "whole", "oneof", "truth")):
        try:
            return parse(text.encode("utf-8"))
        except ParseFault as error:
            raise NoSuchField(what=what, name=name) from error
    return text


def write(logbook: Logbook, visit: str, kind: str, body: JsonObject, when: tuple[int, int]) -> str:
    """File one operation that sets nothing on top of another.

    Args:
        logbook: where it is filed [object]
        visit: the visit's id [UUIDv7]
        kind: what it does, such as "sheet.approve" [code]
        body: its body [JSON object]
        when: now and the local offset [ms since 1970, minutes]

    Returns:
        the operation's id [UUIDv7]

    Raises:
        NotFiled: the logbook refused it, or it has to wait for its visit.
    """
    with logbook.writing():
        return _filed(logbook, visit, kind, body, when)


class Settling(TypedDict):
    """What settles entries that disagree: their ids, the values that count, and the entry that each value is of."""

    of: list[str]
    set: JsonObject
    base: dict[str, str | None]


def settle(logbook: Logbook, visit: str, said: Settling, why: str, when: tuple[int, int]) -> str:
    """Settle what entries of a visit disagree about, with the reason why.

    Args:
        logbook: where it is filed [object]
        visit: the visit's id [UUIDv7]
        said: what counts [Settling]
        why: the reason, kept with the visit [text]
        when: now and the local offset [ms since 1970, minutes]

    Returns:
        the operation's id [UUIDv7]

    Raises:
        NotFiled: the logbook refused it; the reason says why.
    """
    body: JsonObject = {"of": list[Json](said["of"]), "set": said["set"]}
    with logbook.writing():
        batch = Batch(logbook, visit, when)
        settled = batch.add("conflict.settle", body, said["base"])
        batch.explain(why)
        batch.file()
        return settled


def _why_not(result: RepeatableResult) -> str:
    """Why an operation was not filed [text]."""
    problem = result.get("problem")
    if problem is None:
        return result["status"]
    faults = [f"{fault['pointer']}: {fault['detail']}" for fault in problem.get("errors") or []]
    return "; ".join(faults) or problem["detail"]
