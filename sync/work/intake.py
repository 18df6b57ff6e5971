"""Intake: every operation, from the network or a file carried by hand, is judged here and filed once.

Nothing here knows HTTP or how records are kept; `schemas` checks shapes, and conflicts depend on what is already filed.
"""

from __future__ import annotations

from typing import TypeGuard, cast

from sync.errors import LaybyError
from sync.kernel import fold
from sync.kernel.json_tree import Json, JsonObject
from sync.kernel.operation import Op
from sync.language.reader import words_of
from sync.records import heads
from sync.records.heads import Heads
from sync.records.logbook import Logbook
from sync.records.pairing import Pairings
from sync.records.people import People
from sync.records.record import BY_BYTES, FiledRecord, actual_digest, found_by_digest, subject
from sync.records.store.interface import NONE, Entry, Record
from sync.wire import op_line
from sync.wire.faults import Fault, Scalar, fault, worded
from sync.wire.json_parsing import ParseFault, parse
from sync.wire.op_line import Outline
from sync.wire.responses import Results
from sync.wire.results import Problem, RepeatableResult, Result
from sync.wire.schemas import check_op

LINES_MOST = 50
BODY_MOST = 512_000
SCHEMA = 1
FAULTS_MOST = 200


class TooManyLines(LaybyError):
    """More op lines than a batch may hold."""

    code = "too_many_lines"


class Refusal(LaybyError):
    """Why one operation is refused or must wait; only its code and values are reported."""

    def __init__(self, code: str, **values: Scalar) -> None:
        self.code = code
        super().__init__(**values)


class _Batch:
    """The judging of one batch: what is filed, and what this batch adds to it before anything is written."""

    def __init__(self, logbook: Logbook, received_ms: int, sender: str | None) -> None:
        self.logbook = logbook
        self.sender = sender
        self.received_ms = received_ms
        self.words = words_of(logbook.rulebook)
        self.erased = logbook.erased
        self.answers: list[Entry] = []
        self.records: dict[str, FiledRecord] = {}
        self.results: dict[str, Result] = {}
        self.lines: dict[str, Result] = {}
        self.drafts: dict[tuple[str, str], Heads] = {}
        # Who may have made what each device wrote.
        self.persons: dict[str, set[str]] = {}
        self.has_people = True

    def judge(self, line: bytes) -> RepeatableResult:
        """The result for one line; what must be filed is noted in `answers`."""
        claimed, json_bytes = op_line.parts(line)
        if op_line.digest(json_bytes) != claimed:
            outline = op_line.outline(json_bytes)
            return self._refused(line, outline["id"], claimed, [fault("", "damaged", claimed)])
        if len(json_bytes) > op_line.OP_BYTES:
            faults = [fault("", "op_too_large", len(json_bytes))]
            return self._refused_once(line, claimed, op_line.outline(json_bytes), faults)
        try:
            op = parse(json_bytes)
        except ParseFault as error:
            return self._refused_once(line, claimed, op_line.outline_of(error.tree), error.faults)
        return self._judge_op(line, claimed, op)

    def _judge_op(self, line: bytes, digest: str, op: Json) -> RepeatableResult:
        op_id = _id_in(op)
        answer = self._erased(op_id, digest, _names_in(op)) if isinstance(op, dict) else None
        if answer is not None:
            return answer
        answer = self._earlier_answer(line, digest, op_id, op.get("device") if isinstance(op, dict) else None)
        if answer is not None:
            return answer
        schema = op.get("schema") if isinstance(op, dict) else None
        if _is_newer(schema):
            return self._deferred(op_id, digest, "newer_schema", schema=schema)
        faults = check_op(op, self.logbook.rulebook, self._is_from_before(op))
        if faults:
            return self._refused(line, op_id, digest, faults)
        # Without a fault of shape, it is an operation.
        whole = cast(Op, op)
        if not self._may_sign(whole):
            return self._refused(line, op_id, digest, [fault("/by", "not_its_person", whole["by"])])
        return self._placed(line, digest, whole)

    def _placed(self, line: bytes, digest: str, op: Op) -> RepeatableResult:
        draft = self._draft(*subject(op, self.logbook.kinds))
        unseen = self._unseen_visit(op, draft)
        if unseen is not None:
            return self._deferred(op["id"], digest, "visit_not_seen", visit=unseen)
        missing = heads.not_seen(draft, op)
        if missing:
            return self._deferred(op["id"], digest, "base_not_seen", base=", ".join(missing))
        result: Result = {"id": op["id"], "status": "accepted", "digest": digest}
        filed = FiledRecord(Record(NONE, self.received_ms, result, line, ""), self.logbook.kinds, op)
        if heads.disagrees(draft, filed):
            result["status"] = "conflict"
        heads.enter(draft, filed)
        self.records[op["id"]] = filed
        return self._note(line, result)

    def _is_from_before(self, op: Json) -> bool:
        """Whether an operation's visit was accepted by an earlier version although its id is outside the calendar."""
        visit = op.get("visit") if isinstance(op, dict) else None
        if not isinstance(visit, str) or not op_line.is_beyond_calendar(visit) or not op_line.is_id(visit):
            return False
        return self._draft("visit", visit)["opened"]

    # What is known already, here or earlier in the batch ------------------------------------------------------------

    def _earlier(self, op_id: str) -> Result | None:
        return self.results.get(op_id) or self.logbook.lookup(op_id)

    def _line(self, digest: str) -> Result | None:
        return self.lines.get(digest) or self.logbook.lookup_line(digest)

    def _draft(self, what: str, identifier: str) -> Heads:
        """The heads of a visit or card as this batch changes them; a copy, as nothing holds before it is journalled."""
        key = (what, identifier)
        if key not in self.drafts:
            logbook = self.logbook
            filed = logbook.visit_heads(identifier) if what == "visit" else logbook.card_heads(what, identifier)
            self.drafts[key] = heads.new_heads() if filed is None else heads.draft_of(filed)
        return self.drafts[key]

    def _unseen_visit(self, op: Op, draft: Heads) -> str | None:
        """The visit that an operation needs and whose opening isn't filed yet, or None."""
        if op["visit"] is not None:
            return None if draft["opened"] or heads.opens(op, self.logbook.kinds) else op["visit"]
        visit = fold.unwrapped(op, self.logbook.kinds)["body"].get("visit")
        return None if visit is None or self._draft("visit", str(visit))["opened"] else str(visit)

    def _erased(self, op_id: str | None, digest: str, names: list[Json]) -> RepeatableResult | None:
        """The answer for something that was erased here or belongs to it: none of it is stored again. Else None."""
        if not self.erased:
            return None
        if self.erased.holds(op_id) or self.erased.holds(digest):
            return {"id": op_id, "status": "accepted", "digest": digest, "repeat": True}
        if any(self.erased.holds(name) and not self._is_back(str(name)) for name in names):
            return self._deferred(op_id, digest, "visit_erased")
        return None

    def _is_back(self, name: str) -> bool:
        """Whether an erased vehicle or customer is in a visit again: a sold car has an id made from its number."""
        register = self.logbook.search
        return any(register.visits_of(what, {name}) for what in ("vehicle", "customer"))

    # The four answers -----------------------------------------------------------------------------------------------

    def _note(self, line: bytes, result: Result) -> RepeatableResult:
        self.answers.append(Entry(self.received_ms, result, line))
        if result["id"] is None or found_by_digest(result):
            self.lines[actual_digest(line)] = result
        else:
            self.results[result["id"]] = result
        return {**result, "repeat": False}

    def _earlier_answer(self, line: bytes, digest: str, op_id: str | None, device: Json) -> RepeatableResult | None:
        """The earlier answer for the operation, or why it isn't accepted in this form; None if it must be judged."""
        earlier = None if op_id is None else self._earlier(op_id)
        if earlier is not None and earlier["digest"] == digest:
            return {**earlier, "repeat": True}
        if not self._may_bring(device) and op_line.is_device(device):
            return self._refused(line, op_id, digest, [fault("/device", "not_its_own", device)])
        return None if earlier is None else self._refused(line, op_id, digest, [fault("/id", "id_reused", op_id)])

    def _may_sign(self, op: Op) -> bool:
        """Whether an operation's device was ever signed in as the person who is said to have made it."""
        person = op.get("by")
        if person is None:
            return True
        if op["device"] not in self.persons:
            # The desk writes for whoever is signed in there; a device that was never paired came by hand.
            paired = None if op["device"] == op_line.DESK else Pairings(self.logbook.files).persons_of(op["device"])
            everybody = {one["id"] for one in People(self.logbook.files).everybody()}
            self.persons[op["device"]] = everybody if paired is None or not everybody else set(paired)
            self.has_people = bool(everybody)
        # A desk that lost its people can't tell, and must still get what phones made for it.
        return person in self.persons[op["device"]] or not self.has_people

    def _may_bring(self, device: Json) -> bool:
        """Whether the sender may hand in what a device wrote: its own only; by hand any phone's, never the desk's."""
        return device != op_line.DESK if self.sender is None else device == self.sender

    def _refused_once(self, line: bytes, digest: str, outline: Outline, faults: list[Fault]) -> RepeatableResult:
        answer = self._earlier_answer(line, digest, outline["id"], outline["device"])
        return self._refused(line, outline["id"], digest, faults) if answer is None else answer

    def _refused(self, line: bytes, op_id: str | None, digest: str, faults: list[Fault]) -> RepeatableResult:
        if self.erased:
            visit = op_line.outline(op_line.parts(line)[1])["visit"]
            answer = self._erased(op_id, actual_digest(line), [visit])
            if answer is not None:
                return {**answer, "digest": digest}
        errors = worded(faults[:FAULTS_MOST], self.words)
        code = errors[0]["code"] if errors[0]["code"] in BY_BYTES else "shape"
        value = errors[0]["value"]
        detail = self._sentence(code, count=len(faults), value=value, found=value)
        problem: Problem = {"code": code, "detail": detail, "errors": errors}
        result: Result = {"id": op_id, "status": "rejected", "digest": digest, "problem": problem}
        earlier = self._line(actual_digest(line)) if found_by_digest(result) else None
        return self._note(line, result) if earlier is None else {**earlier, "repeat": True}

    def _deferred(self, op_id: str | None, digest: str, code: str, **values: Scalar) -> RepeatableResult:
        problem: Problem = {"code": code, "detail": self._sentence(code, **values)}
        return {"id": op_id, "status": "deferred", "digest": digest, "repeat": False, "problem": problem}

    def _sentence(self, code: str, **values: Scalar) -> str:
        return self.words.error(Refusal(code, **values))


def _id_in(op: Json) -> str | None:
    identifier = op.get("id") if isinstance(op, dict) else None
    return identifier if op_line.is_id(identifier) else None


def _names_in(op: JsonObject) -> list[Json]:
    """The ids of the visit and the cards that an operation names, whatever its shape."""
    body = op.get("body") if op.get("visit") is None else None
    if isinstance(body, dict) and isinstance(body.get("body"), dict):
        body = body["body"]
    cards = [body.get(key) for key in ("id", "keep", "drop", "vehicle", "visit")] if isinstance(body, dict) else []
    return [op.get("visit"), *cards]


def _is_newer(schema: Json) -> TypeGuard[int]:
    return isinstance(schema, int) and not isinstance(schema, bool) and schema > SCHEMA


def take(
    logbook: Logbook, lines: list[bytes], received_at_ms: int, sender: str | None = None
) -> list[RepeatableResult]:
    """Judge and file op lines: one fsync, then the answers.

    Args:
        logbook: the open logbook [Logbook]
        lines: framed op lines without line feeds [list of bytes]
        received_at_ms: when they came in [ms since 1970]
        sender: the device that hands them in, which must own them; None for what is carried by hand, which may come
            from any device but the desk [lower-case hex or None]

    Returns:
        {id, status, digest, repeat, problem?} for each line, in order [list of RepeatableResult]

    Raises:
        DiskFull, JournalFailed: nothing was filed.
    """
    with logbook.writing():
        # A repeat is promised too, and nobody may promise what the disk didn't take.
        logbook.check_promises()
        batch = _Batch(logbook, received_at_ms, sender)
        results = [batch.judge(line) for line in lines]
        logbook.file(batch.answers, batch.records)
    return results


def receive(logbook: Logbook, body: bytes, received_at_ms: int, sender: str | None = None) -> Results:
    """Take in one batch.

    Args:
        logbook: the open logbook [Logbook]
        body: 1 to 50 op lines [bytes]
        received_at_ms: when it came in [ms since 1970]
        sender: as for `take` [lower-case hex or None]

    Returns:
        {"results": [...]}, one for each line, in order [Results]

    Raises:
        NotLines, TooManyLines: the body isn't a batch; nothing was filed.
        DiskFull, JournalFailed: nothing was filed.
    """
    lines = op_line.split(body)
    if len(lines) > LINES_MOST:
        raise TooManyLines(count=len(lines), limit=LINES_MOST)
    return {"results": take(logbook, lines, received_at_ms, sender)}
