"""The command `layby`: reads its arguments, calls the one who does the work, prints the answer.

No work is done here. Everything slow is imported by the command that needs it, so that `--help` answers at once.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Iterator
from importlib.metadata import version
from pathlib import Path
from typing import TypedDict, cast

from server.cli.evening import approve, day, evening, ledger, send, sheet
from server.cli.lookup import card, find, merge
from server.cli.phones import devices, pair, passphrase
from server.cli.records import backup, erase, export, rebuild, receive, restore
from server.process.dispatch import desk, folder_of
from sync.errors import DiskFull, LaybyError
from sync.kernel.books import Rulebook
from sync.kernel.judgement import Assessment
from sync.kernel.visit import Visit
from sync.language.words import Words
from sync.wire.faults import Fault

PORT = 8765
HOST = "127.0.0.1"
Arguments = argparse.Namespace


class LineProblem(TypedDict):
    """Why a line is no visit, as problem details (RFC 9457)."""

    type: str
    title: str
    code: str
    detail: str
    errors: list[Fault]


class NoVisit(TypedDict):
    """What stands in the place of a judgement where a line is no visit."""

    visit: None
    problem: LineProblem


def serve(arguments: Arguments) -> int:
    """Serve the phone page and take in what phones send, until ended."""
    from server import service

    if bool(arguments.certificate) != bool(arguments.key):
        _parser().error("--certificate and --key belong together")
    tls = (Path(arguments.certificate), Path(arguments.key)) if arguments.certificate else None
    if tls is None and arguments.host not in ("127.0.0.1", "::1", "localhost"):
        print("layby: without a certificate everything crosses the network readable, tokens and customers too. Give "
              "--certificate and --key, unless something before this service does that.", file=sys.stderr, flush=True)
    service.serve(folder_of(arguments), arguments.host, arguments.port, tls=tls)
    return 0


def _lines(files: list[str]) -> Iterator[bytes]:
    if not files:
        yield from sys.stdin.buffer
    for name in files:
        with Path(name).open("rb") as lines:
            yield from lines


def _judged(line: bytes, books: Rulebook) -> Assessment | NoVisit:
    from sync.physics import diagnosis
    from sync.wire import json_parsing, schemas

    try:
        visit = json_parsing.parse(line.strip())
    except json_parsing.ParseFault as error:
        return _no_visit(error.faults, books)
    faults = schemas.check_visit(visit, books)
    if faults:
        return _no_visit(faults, books)
    # What has no fault of shape is a visit.
    return diagnosis.diagnose(cast(Visit, visit), books, version("layby"))


def _no_visit(faults: list[Fault], books: Rulebook) -> NoVisit:
    from sync.wire.faults import worded

    errors = worded(faults, Words(books["words"]))
    detail = "; ".join(f"{fault['pointer'] or 'the line'}: {fault['detail']}" for fault in errors)
    problem: LineProblem = {
        "type": "about:blank",
        "title": "Not a visit",
        "code": "no_visit_line",
        "detail": detail,
        "errors": errors,
    }
    return {"visit": None, "problem": problem}


def assess(arguments: Arguments) -> int:
    """Read visits, one JSON object a line, and write one line of judgement each."""
    from sync import rulebook

    # A test holds the committed rulebook to its type.
    books = rulebook.load()
    status = 0
    for line in _lines(arguments.files):
        if not line.strip():
            continue
        result = _judged(line, books)
        if result["visit"] is None:
            status = 1
        print(json.dumps(result, ensure_ascii=False, allow_nan=False), flush=True)
    return status


def rulebook(arguments: Arguments) -> int:
    """Make the rulebook's tables anew, or hold the kept ones against a rebuild."""
    from sync import rulebook as books
    from sync.physics import build_tables

    if arguments.check:
        build_tables.check()
        for name, share in sorted(build_tables.drift().items()):
            print(f"{name}: {share:.0%} of the allowed difference")
        print(f"Rulebook {books.load()['hash'][:12]}: the tables agree with a rebuild.")
        return 0
    changed = build_tables.build()
    print(f"Written: {', '.join(changed)}." if changed else "Nothing changed.")
    print(f"Rulebook {books.load()['hash'][:12]}.")
    return 0


def check(arguments: Arguments) -> int:
    """Say whether this machine has everything Layby needs, with the remedy where it has not."""
    from server.cli import check

    status = check.run(folder_of(arguments))
    return status if status else _check_records(arguments)


def _check_records(arguments: Arguments) -> int:
    """Read every record once and say what is wrong with them; where the machine lacks nothing to open them."""
    if not (folder_of(arguments) / "journal.log").exists():
        return 0
    found = desk(arguments, "troubles", all=True)
    for remark in found:
        print(f"RECORDS  {remark['text']}")
    if not found:
        print("Every record reads back.")
    return 1 if found else 0


Adder = Callable[[Callable[[Arguments], int]], argparse.ArgumentParser]


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="layby", description="The desk of a vehicle air-conditioning technician.")
    parser.add_argument("--folder", help="where the logbook is kept (else LAYBY_FOLDER, else ~/layby)")
    parser.add_argument("--version", action="version", version=f"layby {version('layby')}")
    commands = parser.add_subparsers(metavar="command", required=True)

    def command(work: Callable[[Arguments], int]) -> argparse.ArgumentParser:
        description = (work.__doc__ or "").strip()
        parser = commands.add_parser(work.__name__, help=description.rstrip("."), description=description)
        parser.set_defaults(work=work)
        return parser

    _add_service(command)
    _add_records(command)
    _add_evening(command)
    _add_books_and_cards(command)
    _add_phones(command)
    command(rulebook).add_argument("--check", action="store_true", help="change nothing, only compare")
    command(check)
    return parser


def _add_service(command: Adder) -> None:
    of_serve = command(serve)
    of_serve.add_argument("--port", type=int, default=PORT, help=f"the port to listen on ({PORT})")
    of_serve.add_argument("--host", default=HOST, help=f"the address to listen on ({HOST})")
    of_serve.add_argument("--certificate", metavar="FILE", help="answer over https with this certificate (PEM)")
    of_serve.add_argument("--key", metavar="FILE", help="the certificate's key (PEM, without a password)")
    command(assess).add_argument("files", nargs="*", help="files of visits; standard input when none is named")


def _add_records(command: Adder) -> None:
    command(receive).add_argument("files", nargs="+", help="files that a phone wrote")
    command(backup).add_argument("file", help="where to write it, outside the logbook's folder")
    command(restore).add_argument("file", help="a file that `layby backup` wrote")
    command(rebuild).add_argument("page", nargs="?", metavar="view", help="one view only, such as days/2026-06-12")
    of_export = command(export)
    of_export.add_argument("customer", help="name, mail address, telephone or id, or the id of one visit")
    of_export.add_argument("--to", help="the zip file to write (layby-customer-DATE.zip here)")
    of_erase = command(erase)
    of_erase.add_argument("customer", help="name, mail address, telephone or id, or the id of one visit")
    of_erase.add_argument("--yes", action="store_true", help="erase; without it, only say what would go")


def _add_evening(command: Adder) -> None:
    command(sheet).add_argument("visit", help="the visit's id")
    command(evening).add_argument("--day", help="the day as YYYY-MM-DD (today)")
    of_approve = command(approve)
    of_approve.add_argument("visits", nargs="*", help="ids of visits whose newest sheet is approved")
    of_approve.add_argument("--all", action="store_true", help="approve every sheet that is ready")
    command(send).add_argument("--test", action="store_true", help="only a test message to your own address")


def _add_books_and_cards(command: Adder) -> None:
    command(find).add_argument("text", nargs="+", help="part of a plate, VIN or name, or a day as YYYY-MM-DD")
    command(day).add_argument("--day", help="the day as YYYY-MM-DD (today)")
    of_ledger = command(ledger)
    of_ledger.add_argument("--from", dest="first", required=True, help="the first day as YYYY-MM-DD")
    of_ledger.add_argument("--to", dest="last", help="the last day as YYYY-MM-DD (today)")
    of_card = command(card)
    of_card.add_argument("what", choices=("vehicle", "customer"), help="whose card")
    of_card.add_argument("id", help="its id, as `layby find` shows it")
    of_card.add_argument("fields", nargs="*", help="corrections as FIELD=VALUE; FIELD= clears it")
    of_merge = command(merge)
    of_merge.add_argument("keep", help="the customer's id that stands")
    of_merge.add_argument("drop", help="the id whose visits show under it from now on")


def _add_phones(command: Adder) -> None:
    of_pair = command(pair)
    of_pair.add_argument("--plain", action="store_true", help="without the QR code")
    of_pair.add_argument("--address", help="how the phone reaches this desk, such as https://desk.example:8765")
    command(passphrase)
    command(devices).add_argument("--revoke", metavar="NAME", help="let this phone hand in nothing more")


def _worded(error: LaybyError) -> str:
    from sync import rulebook as books

    return Words(books.load()["words"]).error(error)


def main(words: list[str] | None = None) -> int:
    """The command line.

    Args:
        words: the arguments; those of the process when None [texts]

    Returns:
        exit status: 0 done, 1 done with something to look at, 2 could not be done [number]
    """
    arguments = _parser().parse_args(words)
    try:
        return int(arguments.work(arguments))
    except DiskFull as error:
        # Which disk it is, is for who sits at this machine alone.
        print(f"layby: {error.values['folder']}: {_worded(error)}", file=sys.stderr)
    except LaybyError as error:
        print(f"layby: {_worded(error)}", file=sys.stderr)
    except OSError as error:
        print(f"layby: {_worded_of_system(error, folder_of(arguments))}", file=sys.stderr)
    return 2


def _worded_of_system(error: OSError, folder: Path) -> str:
    """What the system did not do, where and what to do [text]."""
    from sync.disk.safe_files import disk_full, is_full

    if is_full(error):
        place = Path(error.filename).parent if error.filename else folder
        existing = next(one for one in (place, *place.absolute().parents) if one.exists())
        return f"{existing}: {_worded(disk_full(existing))}"
    return f"{error.filename or ''}: {error.strerror or error}"


if __name__ == "__main__":
    sys.exit(main())
