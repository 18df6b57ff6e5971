"""Damaged folders of a logbook, and what is done with each: a start, then the commands that a person types.

A folder is damaged in one file at a time, by a seed; nothing here says what the commands should find in it.
"""

from __future__ import annotations

import contextlib
import io
import json
import logging
import random
import shutil
import time
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from server.app import create_app
from server.cli.main import main
from server.process import public_url
from server.settings import BadSettings
from server.tasks.catalogue import carry_out
from sync import rulebook
from sync.errors import LaybyError
from sync.records.embedded.folder_files import FolderFiles
from sync.records.logbook import Logbook
from sync.records.pairing import Claim, Pairings
from sync.records.passphrase import Passphrase
from sync.records.photos import PhotoStore
from sync.work import intake
from tests.hostile.words import JSON_TEXTS, SOUND_TEXTS, disturbed, hostile_json
from tests.support.drawn_photos import digest, photo
from tests.support.ops import Phone, body_of
from tests.support.sheet_visits import DECLINED, PAIR, SINGLE, operations
from tests.support.visitor import PASSPHRASE

EVENING = "2026-07-21"  # the evening of the one visit that is printed again if its entries are damaged
LOCK = "layby.lock"
# Files of one kind are counted together.
KINDS = ("journal.log", "checkpoint.json", "pages", "journal.proved", "sheets", "photos", "outgoing", "spool")
# A command as a person would type it; other output is in `carried`.
COMMANDS: dict[str, list[str]] = {
    "find": ["find", "418"], "check": ["check"], "devices": ["devices"],
    "backup": ["backup", "BACKUP"],
    "evening": ["evening", "--day", EVENING], "rebuild": ["rebuild"], "post": ["send"],
}  # fmt: skip
DOINGS = ["start", *COMMANDS]
# These may say that something must be fixed first, such as the settings; looking up and keeping safe never may.
MAY_REFUSE = ("devices", "rebuild", "evening", "post")


def sound_folder(place: Path) -> Path:
    """A logbook with a bit of everything: visits of several days, a photo, sheets approved and left as letters, phones
    paired and revoked, a passphrase, a refused line, a customer erased, settings.
    """
    picture = photo(3, 120, 90)
    with Logbook(place, rulebook.load()) as logbook:
        _file(logbook, PAIR, SINGLE, DECLINED, *(_later(SINGLE, days) for days in (7, 8, 9)))
        store = PhotoStore(FolderFiles(place))
        store.append(digest(picture), 0, len(picture), picture)
        store.append("0" * 64, 0, 5000, picture[:900])
        intake.receive(logbook, body_of({"id": 7}, Phone("beef").opening(PAIR["id"][:-1] + "9")), _now())
        for day in ("2026-07-14", EVENING):
            carry_out(logbook, "evening", {"day": day})
        carry_out(logbook, "approve", {"all": True})
        carry_out(logbook, "send", {})
        carry_out(logbook, "day", {"day": EVENING})
        carry_out(logbook, "erase", {"customer": "O. Lindqvist"})
    pairings = Pairings(FolderFiles(place))
    for device in ("7e57", "cafe"):
        pairings.pair(Claim(pairings.offer(_now()).code, device, f"phone {device}"), _now())
    pairings.revoke("cafe", _now())
    secret = Passphrase(FolderFiles(place))
    secret.set(secret.open_setting(_now()), PASSPHRASE, _now())
    (place / "settings.json").write_text(json.dumps(
        {"sheet": {"paper": "A4"}, "calibrations": [{"name": "scale", "until": "2027-03-31"}]}), "utf-8")
    (place / "service.json").write_text('{"pid": 1, "key": "x", "host": "127.0.0.1", "port": 9, "certificate": null}')
    return place


def _file(logbook: Logbook, *visits: dict[str, Any]) -> None:
    phone = Phone("7e57")
    for visit in visits:
        results = intake.receive(logbook, operations(visit, phone), _now())["results"]
        assert {one["status"] for one in results} == {"accepted"}, results


def _later(visit: dict[str, Any], days: int) -> dict[str, Any]:
    """The visit again, this many days later, with another customer and another car."""
    moved = datetime.fromisoformat(visit["started_at"]) + timedelta(days=days)
    number = f"{int(visit['id'][:8] + visit['id'][9:13], 16) + days * 86_400_000:012x}"
    named = {"customer": {"id": f"c{days}", "name": f"N. Other {days}"}, "vehicle": {"id": f"v{days}"}}
    return {**visit, **named, "id": f"{number[:8]}-{number[8:]}{visit['id'][13:]}", "started_at": moved.isoformat()}


def _now() -> int:
    return time.time_ns() // 1_000_000


# The damage ----------------------------------------------------------------------------------------------------------


def damage(folder: Path, seed: int) -> str:
    """Damage one file of a folder; returns what was done to which [text]."""
    dice = random.Random(f"folder {seed}")
    files = sorted(path for path in folder.rglob("*") if path.is_file() and path.name != LOCK)
    journal = folder / "journal.log"
    path = journal if dice.random() < 0.3 else dice.choice(files)
    content = path.read_bytes()
    ways: list[Callable[[], bytes]] = [
        lambda: disturbed(dice, content), lambda: disturbed(dice, content), lambda: content[: dice.randrange(
            len(content) + 1)], lambda: content + dice.randbytes(dice.choice((1, 300))), lambda: bytes(len(content)),
    ]  # fmt: skip
    ways += [lambda: content + content, lambda: content.replace(b"0", b"1", dice.choice((1, 50)))]
    if path.suffix == ".json":
        ways += [lambda: _tree(dice, content)] * 5 + [lambda: _text(dice)] * 3
    way = dice.randrange(len(ways))
    path.write_bytes(ways[way]())
    return f"{path.relative_to(folder).as_posix()} by way {way} of seed {seed}"


def _tree(dice: random.Random, content: bytes) -> bytes:
    """JSON of the same shape with something hostile somewhere in it."""
    return hostile_json(dice, json.loads(content or b"{}"))


def _text(dice: random.Random) -> bytes:
    return dice.choice((*JSON_TEXTS, *SOUND_TEXTS, "", '{"_default": 5}', '{"_default": {"1": 7}}')).encode(
        "utf-8", "surrogatepass")


def kind_of(what: str) -> str:
    """The kind of file, for the counts [text]."""
    top = what.split(" ")[0].split("/")[0]
    return top if top in KINDS or top.endswith(".json") else "other"


# What is done with it ------------------------------------------------------------------------------------------------


def came_of(name: str, folder: Path, more: Sequence[str] = ()) -> tuple[str, str]:
    """Do one of DOINGS, or another command, with a folder.

    Args:
        name: which [text]
        folder: the logbook's [path]
        more: further words of the command [texts]

    Returns:
        the outcome: "done", "told" (there is something to look at), "refused" (it couldn't be done, with a sentence),
        "trace", or "logged trace" if only the log has one; and what a person was told [texts]
    """
    if name == "start":
        return _came(lambda: _start(folder))
    words = [str(folder.parent / "backup.zip") if word == "BACKUP" else word for word in COMMANDS.get(name, [name])]
    return _came(lambda: main(["--folder", str(folder), *words, *more]))


def _start(folder: Path) -> int:
    """What a service does before it answers: the application, the address, the key for the passphrase."""
    with contextlib.suppress(BadSettings):  # the service says so and goes on without an address
        public_url.chosen_at(folder)
    app = create_app({"FOLDER": folder})
    try:
        return 0 if Passphrase(FolderFiles(folder)).edition else 1
    finally:
        app.extensions["layby"]["logbook"].close()


def _came(work: Callable[[], int]) -> tuple[str, str]:
    """The outcome, and what a person was told; a trace that was only logged is noticed too."""
    heard, said = _Traces(), io.StringIO()
    logging.getLogger("layby").addHandler(heard)
    try:
        with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
            status = work()
    except LaybyError as error:
        return "refused", str(error)[:300]
    except Exception as error:  # noqa: BLE001 anything that comes through is what we are looking for
        return "trace", _where(error)
    finally:
        logging.getLogger("layby").removeHandler(heard)
    if heard.seen:
        return "logged trace", heard.seen[0]
    return ("done", "told", "refused")[status], said.getvalue()[-300:]


class _Traces(logging.Handler):
    """Hears the logged traces, which a command leaves on the terminal."""

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.seen: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        if record.exc_info and record.exc_info[1]:
            self.seen.append(f"{record.getMessage()[:80]}: {_where(record.exc_info[1])}")


def _where(error: BaseException) -> str:
    """An error with the last place in our own code that it came through [text]."""
    place, trace = "", error.__traceback__
    while trace is not None:
        name = Path(trace.tb_frame.f_code.co_filename)
        if name.parts[-3:-2] and {"sync", "server", "reports"} & set(name.parts[-4:]):
            place = f"{name.parent.name}/{name.name}:{trace.tb_frame.f_code.co_name}"
        trace = trace.tb_next
    return f"{type(error).__name__} in {place}: {str(error)[:120]}"


def try_damage(sound: Path, place: Path, seed: int) -> tuple[str, list[tuple[str, str, str]]]:
    """Damage a copy of an intact folder and do three things with it, one after another.

    Args:
        sound: the folder to copy [path]
        place: an empty folder for the copy and what is made from it [path]
        seed: which damage and which actions [number]

    Returns:
        what was damaged; for each action its name, its outcome and what was said, as from `came_of` [texts]
    """
    folder = place / "logbook"
    shutil.copytree(sound, folder)
    what = damage(folder, seed)
    names = random.Random(f"doings {seed}").sample(DOINGS, 3)
    return what, [(name, *came_of(name, folder)) for name in names]
