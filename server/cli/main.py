"""The command `layby`: reads its arguments, calls the code that does the work, prints the answer.

No work is done here. The commands import anything slow only when they need it, so that `--help` answers at once.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path
from typing import TypedDict, cast

from server.cli.argument_words import add, translate_parser
from server.cli.autostart import autostart
from server.cli.database import database, move
from server.cli.evening import approve, day, evening, ledger, returned, send, sheet
from server.cli.language import COMMANDS, OPTION, language_of, say
from server.cli.language import error as said
from server.cli.lookup import amend, card, conflicts, find, log, merge, settle
from server.cli.people import handover, people
from server.cli.phones import devices, pair, passphrase
from server.cli.records import backup, erase, export, rebuild, receive, restore
from server.cli.settings import settings
from server.process.dispatch import desk, folder_of
from server.process.records_at import has_records
from server.tasks.backup_place import KEPT
from sync import rulebook as books
from sync.errors import DiskFull, LaybyError
from sync.kernel.books import Rulebook
from sync.kernel.judgement import Assessment
from sync.kernel.visit import Visit
from sync.language.reader import reading, words_of
from sync.records.person import ROLES
from sync.wire.faults import Fault

PORT = 8765
HOST = "127.0.0.1"
EVERYWHERE = "0.0.0.0"
Arguments = argparse.Namespace


class LineProblem(TypedDict):
    """Why a line isn't a visit, as problem details (RFC 9457)."""

    type: str
    title: str
    code: str
    detail: str
    errors: list[Fault]


class NoVisit(TypedDict):
    """What replaces a judgement if a line isn't a visit."""

    visit: None
    problem: LineProblem


class HalfCertificate(LaybyError):
    """A certificate without its key, or a key without its certificate."""

    code = "half_certificate"


class TwoCertificates(LaybyError):
    """A certificate was given to a desk that makes its own."""

    code = "two_certificates"


class ReadableNetwork(LaybyError):
    """The service answers other machines without TLS, and everybody in between can read it."""

    code = "readable_network"


class OsFault(LaybyError):
    """What the system refused to do with a file; `why` is the system's word."""

    code = "os_fault"


def serve(arguments: Arguments) -> int:
    """Serve the phone page and take in what phones send, until stopped."""
    from server import service

    if bool(arguments.certificate) != bool(arguments.key):
        raise HalfCertificate
    if arguments.home is not None:
        if arguments.certificate:
            raise TwoCertificates
        return _serve_at_home(arguments)
    host = arguments.host or HOST
    tls = (Path(arguments.certificate), Path(arguments.key)) if arguments.certificate else None
    if tls is None and host not in ("127.0.0.1", "::1", "localhost"):
        print(say("fault", text=said(ReadableNetwork())), file=sys.stderr, flush=True)
    service.serve(folder_of(arguments), host, arguments.port, service.Serving(tls=tls))
    return 0


def _serve_at_home(arguments: Arguments) -> int:
    """Serve over https under a name in the technician's own network, with a certificate that is made here."""
    from server import service
    from server.home import identity
    from server.home.service import HERE, HomeService
    from server.process.port import check_port

    folder, host = folder_of(arguments), arguments.host or EVERYWHERE
    own = identity.settle(folder, arguments.home or None, arguments.port, datetime.now(UTC))
    home = HomeService(own, arguments.page_port or arguments.port - 1, arguments.desk_port or arguments.port - 2)
    check_port(host, home.page_port)
    check_port(HERE, home.desk_port)
    service.serve(folder, host, arguments.port, service.Serving(tls=home.tls(folder), home=home))
    return 0


def _lines(files: list[str]) -> Iterator[bytes]:
    if not files:
        yield from sys.stdin.buffer
    for name in files:
        with Path(name).open("rb") as lines:
            yield from lines


def _judged(line: bytes, loaded: Rulebook) -> Assessment | NoVisit:
    from sync.physics import diagnosis
    from sync.wire import json_parsing, schemas

    try:
        visit = json_parsing.parse(line.strip())
    except json_parsing.ParseFault as error:
        return _no_visit(error.faults, loaded)
    faults = schemas.check_visit(visit, loaded)
    if faults:
        return _no_visit(faults, loaded)
    # Without a fault of shape, it is a visit.
    return diagnosis.diagnose(cast(Visit, visit), loaded, version("layby"))


def _no_visit(faults: list[Fault], loaded: Rulebook) -> NoVisit:
    from sync.wire.faults import worded

    errors = worded(faults, words_of(loaded))
    detail = "; ".join(say("assess.fault", pointer=fault["pointer"] or say("assess.line"), detail=fault["detail"])
                       for fault in errors)
    problem: LineProblem = {
        "type": "about:blank",
        "title": say("assess.not_a_visit"),
        "code": "no_visit_line",
        "detail": detail,
        "errors": errors,
    }
    return {"visit": None, "problem": problem}


def assess(arguments: Arguments) -> int:
    """Read visits, one JSON object per line, and write one line of judgement for each."""
    # A test checks the committed rulebook against its type.
    loaded = books.load()
    status = 0
    for line in _lines(arguments.files):
        if not line.strip():
            continue
        result = _judged(line, loaded)
        if result["visit"] is None:
            status = 1
        print(json.dumps(result, ensure_ascii=False, allow_nan=False), flush=True)
    return status


def rulebook(arguments: Arguments) -> int:
    """Make the rulebook's tables again, or compare the existing ones with a rebuild."""
    from sync.physics import build_tables

    if arguments.check:
        build_tables.check()
        for name, share in sorted(build_tables.drift().items()):
            print(say("rulebook.share", name=name, share=f"{share:.0%}"))
        print(say("rulebook.agrees", edition=books.load()["hash"][:12]))
        return 0
    changed = build_tables.build()
    print(say("rulebook.written", names=", ".join(changed)) if changed else say("rulebook.unchanged"))
    print(say("rulebook.edition", edition=books.load()["hash"][:12]))
    return 0


def check(arguments: Arguments) -> int:
    """Say whether this machine has everything Layby needs, with the remedy if it doesn't."""
    from server.cli import check

    status = check.run(folder_of(arguments))
    return status if status else _check_records(arguments)


def _check_records(arguments: Arguments) -> int:
    """Read every record once and say what is wrong, if the machine has everything needed to open them."""
    if not has_records(folder_of(arguments)):
        return 0
    found = desk(arguments, "troubles", all=True)
    for remark in found:
        print(f"{say('check.records')}  {remark['text']}")
    if not found:
        print(say("check.all_read"))
    return 1 if found else 0


Adder = Callable[[Callable[[Arguments], int]], argparse.ArgumentParser]


def _parser() -> argparse.ArgumentParser:
    translate_parser()
    parser = argparse.ArgumentParser(prog="layby", description=say("about"))
    add(parser, "--folder", "folder", "folder")
    add(parser, OPTION, "lang", "language", blanks={"languages": ", ".join(books.languages(COMMANDS))})
    add(parser, "--version", "version", action="version", version=f"layby {version('layby')}")
    commands = parser.add_subparsers(metavar=say("value.command"), required=True)

    def command(work: Callable[[Arguments], int]) -> argparse.ArgumentParser:
        description = say(f"help.{work.__name__}")
        parser = commands.add_parser(work.__name__, help=description.rstrip("."), description=description)
        parser.set_defaults(work=work)
        return parser

    _add_service(command)
    _add_records(command)
    _add_evening(command)
    _add_books_and_cards(command)
    _add_phones(command)
    add(command(rulebook), "--check", "check", action="store_true")
    command(check)
    return parser


def _add_service(command: Adder) -> None:
    of_autostart = command(autostart)
    for parser in (command(serve), of_autostart):
        _add_serving(parser)
    add(of_autostart, "--backup-to", "backup_to", "folder")
    add(of_autostart, "--keep", "kept", "count", type=int, default=KEPT, blanks={"count": str(KEPT)})
    add(of_autostart, "--remove", "remove", action="store_true")
    add(command(assess), "files", "assess_files", "files", nargs="*")


def _add_serving(of_serve: argparse.ArgumentParser) -> None:
    add(of_serve, "--port", "port", "port", type=int, default=PORT, blanks={"port": str(PORT)})
    add(of_serve, "--host", "host", "host", blanks={"host": HOST})
    add(of_serve, "--home", "home", "host_name", nargs="?", const="", blanks={"name": "layby"})
    add(of_serve, "--page-port", "page_port", "port", type=int)
    add(of_serve, "--desk-port", "desk_port", "port", type=int)
    add(of_serve, "--certificate", "certificate", "file")
    add(of_serve, "--key", "key", "file")


def _add_records(command: Adder) -> None:
    add(command(receive), "files", "receive_files", "files", nargs="+")
    of_backup = command(backup)
    add(of_backup, "file", "backup_file", "file", nargs="?")
    add(of_backup, "--into", "into", "folder")
    add(of_backup, "--keep", "kept", "count", type=int, blanks={"count": str(KEPT)})
    add(command(restore), "file", "restore_file", "file")
    add(command(rebuild), "page", "view", "view", nargs="?")
    of_database = command(database)
    add(of_database, "--use", "use_database", "address")
    add(of_database, "--prepare", "prepare", action="store_true")
    add(of_database, "--remove", "remove_database", action="store_true")
    add(command(move), "--to", "move_to", "place", required=True)
    of_export = command(export)
    add(of_export, "customer", "customer", "customer")
    add(of_export, "--to", "to", "file")
    of_erase = command(erase)
    add(of_erase, "customer", "customer", "customer")
    add(of_erase, "--yes", "yes", action="store_true")


def _add_evening(command: Adder) -> None:
    add(command(sheet), "visit", "visit", "visit")
    of_evening = command(evening)
    add(of_evening, "--day", "day", "day")
    add(of_evening, "--of", "of_person", "name", dest="person")
    of_approve = command(approve)
    add(of_approve, "visits", "visits", "visit", nargs="*")
    add(of_approve, "--all", "all", action="store_true")
    add(command(send), "--test", "test", action="store_true")
    of_returned = command(returned)
    add(of_returned, "visit", "visit", "visit")
    add(of_returned, "--why", "why", "text")


def _add_books_and_cards(command: Adder) -> None:
    add(command(find), "text", "text", "text", nargs="+")
    of_day = command(day)
    add(of_day, "--day", "day", "day")
    add(of_day, "--technician", "only_technician", "name")
    of_ledger = command(ledger)
    add(of_ledger, "--from", "first", "day", dest="first", required=True)
    add(of_ledger, "--to", "last", "day", dest="last")
    add(of_ledger, "--refrigerant", "only_refrigerant", "text")
    add(of_ledger, "--vehicle", "only_vehicle", "text")
    add(of_ledger, "--cylinder", "only_cylinder", "name")
    add(of_ledger, "--technician", "only_technician", "name")
    of_card = command(card)
    add(of_card, "what", "what", choices=("vehicle", "customer"))
    add(of_card, "id", "card_id", "id")
    add(of_card, "fields", "fields", "fields", nargs="*")
    of_amend = command(amend)
    add(of_amend, "visit", "visit", "visit")
    add(of_amend, "part", "part", "part", nargs="?")
    add(of_amend, "fields", "amend_fields", "fields", nargs="*")
    add(of_amend, "--why", "why", "text")
    of_settings = command(settings)
    add(of_settings, "row", "row", "row", nargs="?")
    add(of_settings, "fields", "setting_fields", "fields", nargs="*")
    add(of_settings, "--remove", "remove_row", action="store_true")
    add(command(conflicts), "--aside", "aside", "number")
    of_settle = command(settle)
    add(of_settle, "what", "settle_what", choices=("visit", "vehicle", "customer"))
    add(of_settle, "id", "settle_id", "id")
    add(of_settle, "entry", "settle_entry", "entry")
    of_log = command(log)
    add(of_log, "visit", "visit", "visit")
    add(of_log, "test", "log_test", "id")
    add(of_log, "file", "logger_file", "file")
    add(of_log, "--columns", "columns", "codes")
    add(of_log, "--zero", "zero", "clock")
    add(of_log, "--add", "add_entries", action="store_true")
    of_merge = command(merge)
    add(of_merge, "keep", "keep", "keep")
    add(of_merge, "drop", "drop", "drop")


def _add_phones(command: Adder) -> None:
    of_pair = command(pair)
    add(of_pair, "--plain", "plain", action="store_true")
    add(of_pair, "--address", "address", "address")
    add(of_pair, "--for", "phone_for", "name", dest="person")
    command(passphrase)
    of_people = command(people)
    add(of_people, "--begin", "begin_people", "name")
    add(of_people, "--invite", "invite", "name")
    add(of_people, "--role", "role", choices=ROLES, default="technician", dest="works_as")
    add(of_people, "--link", "person_link", "name", dest="linked")
    add(of_people, "--end", "end_person", "name", dest="ended")
    of_handover = command(handover)
    add(of_handover, "visit", "visit", "visit")
    add(of_handover, "--to", "hand_to", "name", dest="person", required=True)
    add(of_handover, "--why", "why", "text")
    add(command(devices), "--revoke", "revoke", "name")


def main(typed: list[str] | None = None) -> int:
    """The command line.

    Args:
        typed: the arguments; those of the process when None [texts]

    Returns:
        exit status: 0 done, 1 done with something to look at, 2 could not be done [number]
    """
    given = sys.argv[1:] if typed is None else typed
    with reading(language_of(given, os.environ)):
        return _carried_out(_parser().parse_args(given))


def _carried_out(arguments: Arguments) -> int:
    try:
        return int(arguments.work(arguments))
    except DiskFull as error:
        # Which disk it is, only concerns the person at this machine.
        fault = say("fault_at", place=error.values["folder"], text=said(error))
    except LaybyError as error:
        fault = say("fault", text=said(error))
    except OSError as error:
        fault = _of_system(error, folder_of(arguments))
    print(fault, file=sys.stderr)
    return 2


def _of_system(error: OSError, folder: Path) -> str:
    """What the system refused to do, where, and what to do about it [text]."""
    from sync.disk.safe_files import disk_full, is_full

    if is_full(error):
        place = Path(error.filename).parent if error.filename else folder
        existing = next(one for one in (place, *place.absolute().parents) if one.exists())
        return say("fault_at", place=str(existing), text=said(disk_full(existing)))
    return say("fault", text=said(OsFault(file=str(error.filename or folder), why=error.strerror or str(error))))


if __name__ == "__main__":
    sys.exit(main())
