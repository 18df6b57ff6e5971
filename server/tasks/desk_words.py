"""What both the terminal and the desk's pages describe: the state of a sheet, files carried by hand, a chart.

Nothing is done here; sentences come from the book `desk`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from server.tasks.messages import EveningRow, PartName
from sync.kernel.vehicle import Chart
from sync.language.words import Words
from sync.records.sheet_record import CAME_BACK, SheetRecord
from sync.wire.responses import Tally

# The reason of a letter that was left as a file and that no mail server has accepted.
LEFT = "left_as_file"


# The reasons of a letter that came back: a mail server refused it for good, it could never be handed over, or a person
# says so.
RETURNED = ("mail_refused", "mail_gave_up", CAME_BACK)
# The same once the visit has another address.
OTHER_ADDRESS = "address_changed"


def state_words(row: EveningRow, words: Words) -> str:
    """How a visit's sheet stands [text]."""
    return words.say(f"desk.state.{state_of_row(row)}")


def state_of_row(row: EveningRow) -> str:
    """How a visit's sheet stands [code of `desk.state`]."""
    code = row["reason"]["code"] if row["reason"] is not None else ""
    return "void" if code == "void" else _state(row["state"], code, bool(row["file"]))


def is_again(row: EveningRow) -> bool:
    """Whether a key may send a letter once more: it came back, and nothing but its address can be at fault."""
    code = row["reason"]["code"] if row["reason"] is not None else ""
    is_back = code in (*RETURNED, OTHER_ADDRESS) and row["state"] == "failed"
    return is_back and bool(row["file"]) and not set(row["lacks"]) - {"customer.email"}


def record_state(record: SheetRecord) -> str:
    """How one revision of a sheet stands [code of `desk.state`]."""
    reason = record["states"][-1].get("reason")
    return _state(record["states"][-1]["state"], reason["code"] if reason else "", bool(record["file"]))


def _state(state: str | None, reason: str, is_printed: bool) -> str:
    if state == "failed":
        return "returned" if reason in RETURNED else "ready" if is_printed else "draft"
    if state == "queued" or (state == "sent" and reason == LEFT):
        return "outbox"
    return {None: "draft", "made": "ready", "approved": "approved"}.get(state, "sent")


def outcome_of(tally: Tally, words: Words) -> str:
    """What happened to one file's entries and photos [sentences]."""
    entries, photos = _counts(tally["entries"], "entries", words), _counts(tally["photos"], "photos", words)
    sentences = [words.say("desk.carried.entries.list", list=entries) if entries
                 else words.say("desk.carried.entries.none")]
    if photos:
        sentences.append(words.say("desk.carried.photos.list", list=photos))
    if tally["repeats"]:
        sentences.append(words.say("desk.carried.known", count=tally["repeats"]))
    return " ".join(sentences)


def _counts(counts: Mapping[str, int], of: str, words: Words) -> str:
    return ", ".join(words.say(f"desk.carried.{of}.{status}", count=count) for status, count in counts.items() if count)


def faults_of(tally: Tally, words: Words) -> list[str]:
    """What is wrong in one file, one line each, the last with the number of those not listed [texts]."""
    lines = [words.say("desk.carried.line", line=fault["line"], detail=fault["detail"]) for fault in tally["faults"]]
    return [*lines, words.say("desk.carried.more", count=tally["more"])] if tally["more"] else lines


def missing_parts(files: Sequence[PartName], words: Words) -> list[str]:
    """Which parts were missing among the files, in words; no part needs another part to be filed."""
    present: dict[tuple[str, int], set[int]] = {}
    for file in files:
        part, parts = (int(number) for number in file["part"].split("/"))
        present.setdefault((file["device"], parts), set()).add(part)
    sentences = []
    for (device, parts), numbers in present.items():
        missing = [str(part) for part in range(1, parts + 1) if part not in numbers]
        if missing:
            sentences.append(words.say("desk.carried.missing", count=len(missing), parts=", ".join(missing), all=parts,
                                       device=device))
    return sentences


def chart_words(chart: Chart, words: Words) -> str:
    """A maker's chart on one line: its number of rows and its source [text]."""
    source = chart.get("source")
    return ", ".join([words.say("desk.vehicle.chart_rows", count=len(chart["rows"])), *([source] if source else [])])
