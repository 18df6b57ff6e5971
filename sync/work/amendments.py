"""Corrections at the desk: what a person typed over a part of a visit, filed as operations with the reason why.

All that is wrong is said at once and nothing is filed then. Two hands never overwrite each other unseen: a form carries
the mark of what it showed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import cast

from sync.errors import LaybyError
from sync.kernel.books import Rulebook
from sync.kernel.fold import leaves, plain, put, rule_of
from sync.kernel.json_tree import Json, JsonObject
from sync.kernel.operation import Op
from sync.kernel.visit import Visit
from sync.language.reader import words_of
from sync.language.words import Words
from sync.records.logbook import Logbook
from sync.wire import op_line
from sync.wire.schemas import check_op
from sync.work.desk_operations import Batch
from sync.work.typed_values import Unreadable, is_same, local_time, value_of
from sync.work.visit_sections import (
    NEW,
    REMOVED,
    SORT,
    Field,
    at,
    fields_of,
    items_of,
    label_of,
    mark_of,
    parts_of,
    typed_name,
)

WHY_MOST = 1000


class ChangedMeanwhile(LaybyError):
    """What a form showed is not what stands there any more."""

    code = "changed_meanwhile"


class Unamended(LaybyError):
    """A correction that was not filed; `faults` are all its faults, each of them a sentence with its place."""

    code = "unamended"

    def __init__(self, sentences: list[str]) -> None:
        self.sentences = sentences
        super().__init__(faults="; ".join(sentences))


@dataclass
class Amendment:
    """A correction as it was asked for: of which part, what was typed by the names of its fields, and why.

    `seen` is the mark of what the form showed, None where nobody showed any.
    """

    section: str
    typed: Mapping[str, str]
    why: str
    seen: str | None = None


@dataclass
class _Content:
    """An operation to be: what it does, what it says, and what its faults are called."""

    kind: str
    body: JsonObject
    labels: dict[str, str] = field(default_factory=dict)


def amend(logbook: Logbook, visit_id: str, asked: Amendment, when: tuple[int, int]) -> int:
    """File a correction of a visit with its reason, in one piece.

    Args:
        logbook: where it is filed [Logbook]
        visit_id: the visit [UUIDv7]
        asked: the correction [Amendment]
        when: now and the local offset [ms since 1970, minutes]

    Returns:
        how many operations it took beside the note; 0 where nothing was different, and nothing is filed [count]

    Raises:
        UnknownVisit: nothing of it is filed. UnknownSection: it has no such part.
        ChangedMeanwhile: somebody else changed what the form showed.
        Unamended: something typed cannot be taken, or the reason is missing.
    """
    rulebook = logbook.rulebook
    with logbook.writing():
        visit = logbook.visit(visit_id)
        if asked.seen not in (None, mark_of(fields_of(asked.section, visit, rulebook))):
            raise ChangedMeanwhile
        reading = _Reading(visit, asked, rulebook, when[0])
        contents = reading.contents()
        if not contents and not reading.faults:
            return 0
        _look_at_why(asked.why, reading)
        batch = Batch(logbook, visit_id, when)
        _fill(batch, logbook, visit_id, [*contents, *_settled(contents, logbook, visit_id)])
        batch.explain(asked.why.strip())
        reading.faults += _faults(batch.ops, contents, rulebook)
        if reading.faults:
            raise Unamended(reading.faults)
        batch.file()
        return len(batch.ops) - 1


class _Reading:
    """The reading of one form; what is wrong gathers in `faults`."""

    def __init__(self, visit: Visit, asked: Amendment, rulebook: Rulebook, at_ms: int) -> None:
        self.at_ms = at_ms
        self.visit = visit
        self.asked = asked
        self.rulebook = rulebook
        self.words: Words = words_of(rulebook)
        self.faults: list[str] = []
        self.fields = fields_of(asked.section, visit, rulebook, extra=True)

    def contents(self) -> list[_Content]:
        """The operations that what was typed comes to."""
        contents = [self.of_visit()]
        for scope, item in parts_of(self.asked.section, self.visit)[1]:
            contents += self.of_item(scope, item)
        return [content for content in contents if content is not None]

    def changed(self, scope: str, item: str | None) -> list[Field]:
        """The fields in which something else was typed than stands there."""
        return [one for one in self.fields if (one.scope, one.item) == (scope, item)
                and not is_same(one.row, self.asked.typed.get(one.name, one.text), one.text)]

    def of_visit(self) -> _Content | None:
        changed = self.changed("visit", None)
        content = _Content("visit.set", {})
        for one in changed:
            self.set(content, one)
            if one.unit is not None:
                self.keep_typed(content, one)
        return content if changed else None

    def of_item(self, scope: str, item: str) -> list[_Content]:
        """What became of an item of a list: taken out, added, set, or replaced where its kind cannot be set."""
        strike = _Content("item.strike", {"list": scope, "id": item})
        if item != NEW and self.asked.typed.get(f"{scope}.{item}.{REMOVED}"):
            return [strike]
        changed = self.changed(scope, item)
        if not changed:
            return []
        setting = _kind_of(scope, "set_item", self.rulebook)
        if item != NEW and setting:
            return [self.filled(_Content(setting, {"id": item}), changed)]
        old = next((one for one in items_of(self.visit, scope) if one["id"] == item), {})
        body: JsonObject = {**old, "id": op_line.new_id(self.at_ms)}
        added = self.filled(_Content(_kind_of(scope, "add", self.rulebook), body), changed)
        self.take_over_typed(added, item, changed)
        # What was cleared is not there in what is added.
        added.body = cast(JsonObject, _without_nulls(added.body))
        return [added] if item == NEW else [strike, added]

    def filled(self, content: _Content, changed: list[Field]) -> _Content:
        for one in changed:
            self.set(content, one)
            if one.unit is not None:
                self.keep_typed(content, one)
        return content

    def set(self, content: _Content, one: Field) -> None:
        """Put what was typed into a field where it belongs; the pointer of its faults is known by the field's name."""
        where = self.where(one)
        content.labels["/body/" + one.path.replace(".", "/")] = where
        text = self.asked.typed[one.name]
        if one.row["type"] == "time":
            text = local_time(text.strip(), one.text or self.visit["started_at"])
        try:
            put(content.body, one.path.split("."), value_of(one.row, text, one.unit, where, self.rulebook))
        except Unreadable as error:
            self.faults.append(self.words.error(error))

    def where(self, one: Field) -> str:
        holder = next((each for each in items_of(self.visit, one.scope) if each["id"] == one.item), {})
        return label_of(one, self.words, str(at(holder, SORT.get(one.scope, "")) or ""))

    def keep_typed(self, content: _Content, one: Field) -> None:
        """What was typed beside what it came to, as the phone keeps it."""
        text = self.asked.typed[one.name].strip()
        name = one.path if one.item is None else one.path.rpartition(".")[2]
        kept = cast(JsonObject, content.body.setdefault("typed", {}))
        kept[name] = {"text": text, "unit": one.unit} if text else None

    def take_over_typed(self, added: _Content, item: str, changed: list[Field]) -> None:
        """What was once typed into the fields of an item that were not changed, for the item that replaces it."""
        typed = self.visit.get("typed") or {}
        names = {one.path for one in changed}
        for one in self.fields:
            entry = typed.get(typed_name(one.path, item))
            if one.item == item and one.path not in names and entry is not None:
                kept = cast(JsonObject, added.body.setdefault("typed", {}))
                kept[one.path.rpartition(".")[2]] = cast(Json, entry)


def _without_nulls(value: Json) -> Json:
    if not isinstance(value, dict):
        return value
    return {name: _without_nulls(inner) for name, inner in value.items() if inner is not None}


def _kind_of(scope: str, does: str, rulebook: Rulebook) -> str:
    """The kind of operation that adds or sets an item of a list, "" where there is none [code]."""
    rules = rulebook["kinds"]["kinds"]
    return next((kind for kind, rule in rules.items() if rule["does"] == does and rule["list"] == scope), "")


def _look_at_why(why: str, reading: _Reading) -> None:
    if not why.strip():
        reading.faults.append(reading.words.say("errors.why_missing"))
    elif len(why.strip()) > WHY_MOST:
        reading.faults.append(reading.words.say("errors.why_long", limit=WHY_MOST))


def _settled(contents: list[_Content], logbook: Logbook, visit_id: str) -> list[_Content]:
    """What settles the fields in which two entries stood against each other; it is taken out of the settings."""
    heads = (logbook.visit_heads(visit_id) or {"heads": {}})["heads"]
    settling: JsonObject = {}
    of: set[str] = set()
    for content in contents:
        for pointer, value in leaves(content.body, content.kind, logbook.kinds):
            if len(heads.get(pointer) or []) > 1:
                put(settling, pointer.split("/")[1:], value)
                of |= set(heads[pointer])
    return [_Content("conflict.settle", {"of": list[Json](sorted(of)), "set": settling})] if of else []


def _fill(batch: Batch, logbook: Logbook, visit_id: str, contents: list[_Content]) -> None:
    """The operations, each on top of what it sets anew."""
    heads = (logbook.visit_heads(visit_id) or {"heads": {}})["heads"]
    latest: dict[str, str] = {}
    for content in contents:
        does = rule_of(content.kind, logbook.kinds)["does"]
        pointers = [pointer for pointer, _ in leaves(content.body, content.kind, logbook.kinds)]
        is_setting = does in ("set", "set_item", "settle")
        base = {pointer: latest.get(pointer) or next(iter(heads.get(pointer) or []), None) for pointer in pointers}
        latest |= dict.fromkeys(pointers, batch.add(content.kind, content.body, base if is_setting else {}))


def _faults(ops: list[Op], contents: list[_Content], rulebook: Rulebook) -> list[str]:
    """What the shapes of the wire find wrong with the operations, each with what its field is called [sentences]."""
    words, sentences = words_of(rulebook), list[str]()
    for op, content in zip(ops, contents, strict=False):
        for one in check_op(cast(Json, op), rulebook, visit_on_file=True):
            pointer = plain(one["pointer"])
            where = next((label for start, label in content.labels.items() if pointer.startswith(start)), "")
            if where:
                sentences.append(words.say("desk.visit.fault", where=where, detail=one["detail"]))
            elif not pointer.startswith("/body/why"):
                sentences.append(f"{pointer}: {one['detail']}")
    return sentences
