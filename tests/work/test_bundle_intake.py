"""Files carried by hand: taken in like the network's batches, in any order and state; photos complete or not at all."""

from __future__ import annotations

import base64
import hashlib
import json
import random
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from sync.records.logbook import Logbook
from sync.records.photos import PhotoStore
from sync.wire import bundle
from sync.wire.op_line import read, split
from sync.work.bundle_intake import receive_bundle, receive_bundles, tally
from sync.work.intake import receive
from tests.records.test_photos import photo
from tests.support import children
from tests.support.ops import Phone, body_of, line_of
from tests.support.service import LAYBY, ROOT, Service

Books = dict[str, Any]


@pytest.fixture
def logbook(folder: Path, rulebook: Books) -> Iterator[Logbook]:
    """An empty logbook, open."""
    with Logbook(folder, rulebook, floor_bytes=0) as opened:
        yield opened


def results(logbook: Logbook, body: bytes) -> list[dict[str, Any]]:
    """The network's answer to a body."""
    found: list[dict[str, Any]] = receive(logbook, body, 1_800_000_000_000)["results"]
    return found


def journal_lines(logbook: Logbook) -> int:
    """How many records the journal holds, counted from the file itself."""
    return (logbook.folder / "journal.log").read_bytes().count(b"\n")


def bundle_of(device: str, body: bytes, part: str = "1/1") -> bytes:
    """A file carried by hand, as the phone writes it."""
    count = body.count(b"\n")
    digest = hashlib.sha256(body).hexdigest()
    return f"layby-bundle 1 {device} {part}\n".encode() + body + f"end {count} {digest}\n".encode()


def told_in(receipt: bytes) -> list[dict[str, Any]]:
    """The lines of a receipt, with its frame checked."""
    head, *lines, end = receipt.splitlines(keepends=True)
    assert head.startswith(b"layby-receipt 1 ")
    digest = hashlib.sha256(b"".join(lines)).hexdigest()
    assert end == f"end {len(lines)} {digest}\n".encode()
    return [json.loads(read(line)[1]) for line in split(b"".join(lines))] if lines else []


def test_a_bundle_is_taken_by_the_same_rules(logbook: Logbook) -> None:
    """By hand and then by network: once on disk, the same results, in any order in the file."""
    phone = Phone()
    visit = phone.new_id()
    ops = [phone.opening(visit), phone.plate(visit, "0")]
    for number in range(1, 150):
        ops.append(phone.plate(visit, str(number), base=ops[-1]["id"]))
    shuffled = random.Random(4).sample(ops, len(ops))
    told = told_in(receive_bundle(logbook, bundle_of(phone.device, body_of(*shuffled)), 5))
    assert {entry["status"] for entry in told} == {"accepted"}
    assert [entry["id"] for entry in told] == [op["id"] for op in shuffled]
    assert journal_lines(logbook) == 151
    assert all(result["repeat"] for result in results(logbook, body_of(*ops[:50])))
    assert logbook.visit(visit)["vehicle"] == {"plate": "149"}
    again = told_in(receive_bundle(logbook, bundle_of(phone.device, body_of(*ops)), 6))
    assert all(entry["repeat"] for entry in again)
    assert journal_lines(logbook) == 151


def test_a_damaged_bundle_gives_what_is_sound_and_names_the_rest(logbook: Logbook) -> None:
    """A changed byte, a torn line, a lost head, a lost end, line ends of another system: the intact lines are filed."""
    phone = Phone()
    visit = phone.new_id()
    lines = [line_of(phone.opening(visit)), line_of(phone.plate(visit, "A")), line_of(phone.test(visit))]
    whole = bundle_of(phone.device, b"".join(lines))
    bad = whole.replace(lines[1], lines[1][:-5].replace(b'"A"', b'"B"') + b"\n").replace(lines[2], lines[2][9:])
    told = told_in(receive_bundle(logbook, bad, 5))
    assert [(entry["line"], entry["status"]) for entry in told] == [
        (2, "accepted"),
        (3, "rejected"),
        (4, "unreadable"),
        (5, "unreadable"),
    ]
    assert [entry["problem"]["code"] for entry in told[1:]] == ["damaged", "not_a_line", "part_altered"]
    cut = told_in(receive_bundle(logbook, whole[: whole.index(b"end ")], 5))
    assert [entry["status"] for entry in cut] == ["accepted", "accepted", "accepted", "unreadable"]
    assert cut[-1]["problem"]["code"] == "part_cut_short"
    headless = told_in(receive_bundle(logbook, b"\xef\xbb\xbfhello\r\n" + whole.replace(b"\n", b"\r\n"), 5))
    codes = [(entry.get("problem") or {}).get("code") for entry in headless]
    assert codes == ["no_bundle_head", "not_a_line", None, None, None, "part_altered"]
    assert told_in(receive_bundle(logbook, b"", 5))[0]["status"] == "unreadable"


def test_crlf_alone_does_not_alter_a_bundle(logbook: Logbook) -> None:
    """A mail program's line ends change no line and no hash."""
    phone = Phone()
    whole = bundle_of(phone.device, body_of(phone.opening(phone.new_id())))
    [entry] = told_in(receive_bundle(logbook, whole.replace(b"\n", b"\r\n"), 5))
    assert entry["status"] == "accepted"


def blob_lines(content: bytes, size: int = 3000) -> list[bytes]:
    """A photo as the lines of a bundle: `blob <sha256> <offset> <base64>` (RFC 4648, section 4)."""
    name = hashlib.sha256(content).hexdigest().encode()
    starts = range(0, len(content), size)
    return [b"blob %b %d %b\n" % (name, at, base64.b64encode(content[at : at + size])) for at in starts]


def told_of(logbook: Logbook, *parts: bytes) -> list[list[dict[str, Any]]]:
    """The results for each part's lines when all are given at once."""
    return [told for _, told in receive_bundles(logbook, list(parts), 5)]


def test_a_photo_in_a_bundle_is_kept_and_counts(logbook: Logbook) -> None:
    """Text and pieces in any order; the second time all of it is a repeat."""
    phone, content = Phone(), photo()
    lines = [line_of(phone.opening(phone.new_id())), *blob_lines(content)]
    random.Random(2).shuffle(lines)
    part = bundle_of(phone.device, b"".join(lines))
    told = told_in(receive_bundle(logbook, part, 5))
    assert {entry["status"] for entry in told} == {"accepted"}
    assert [entry["line"] for entry in told] == list(range(2, 2 + len(lines)))
    name = hashlib.sha256(content).hexdigest()
    assert PhotoStore(logbook.files).bytes_of(name) == content
    assert {entry["photo"] for entry in told if "id" not in entry} == {name}
    assert all(entry["repeat"] for entry in told_in(receive_bundle(logbook, part, 6)))


def test_parts_come_in_any_order_and_any_number_of_times(logbook: Logbook) -> None:
    """Four parts, shuffled, one of them twice, a photo's pieces spread over all: everything once, nothing waits."""
    phone, content = Phone(), photo()
    visit = phone.new_id()
    ops = [phone.opening(visit), phone.plate(visit, "0")]
    ops += [phone.plate(visit, "n", base=ops[1]["id"])]
    ops += [phone.plate(visit, "m", base=ops[2]["id"])]
    pieces = blob_lines(content)
    parts = [
        bundle_of(phone.device, line_of(op) + b"".join(pieces[number::4]), f"{number + 1}/4")
        for number, op in enumerate(ops)
    ]
    given = [parts[3], parts[1], parts[3], parts[0], parts[2]]
    told = told_of(logbook, *given)
    assert {entry["status"] for part in told for entry in part} == {"accepted"}
    assert journal_lines(logbook) == 4
    assert logbook.visit(visit)["vehicle"] == {"plate": "m"}
    assert PhotoStore(logbook.files).bytes_of(hashlib.sha256(content).hexdigest()) == content


def test_a_missing_part_leaves_the_rest_filed_and_is_told(logbook: Logbook) -> None:
    """What built on it waits, a photo with a gap isn't complete; given later together, all is accepted."""
    phone, content = Phone(), photo()
    visit = phone.new_id()
    opening = phone.opening(visit)
    plate = phone.plate(visit, "A")
    more = phone.plate(visit, "B", base=plate["id"])
    pieces = blob_lines(content)
    parts = [
        bundle_of(phone.device, line_of(opening) + pieces[0], "1/3"),
        bundle_of(phone.device, line_of(plate) + pieces[1], "2/3"),
        bundle_of(phone.device, line_of(more) + b"".join(pieces[2:]), "3/3"),
    ]
    first, third = told_of(logbook, parts[0], parts[2])
    assert [entry["status"] for entry in first] == ["accepted", "deferred"]
    assert {entry["status"] for entry in third} == {"deferred"}
    assert {entry["problem"]["code"] for entry in third} == {"base_not_seen", "photo_incomplete"}
    assert PhotoStore(logbook.files).bytes_of(hashlib.sha256(content).hexdigest()) is None
    again = told_of(logbook, *parts)
    assert {entry["status"] for part in again for entry in part} == {"accepted"}


@pytest.mark.parametrize("harm", ["changed", "lost", "no base64", "cut"])
def test_a_damaged_piece_keeps_no_photo_and_harms_no_other(logbook: Logbook, harm: str) -> None:
    """The photo with the bad piece is named, the photo beside it kept, and the intact copy is accepted afterwards."""
    good, bad = photo(1), photo(2)
    lines = blob_lines(bad)
    broken = {
        "changed": [lines[0], lines[1][:-9] + b"AAAAAAAA\n", *lines[2:]],
        "lost": [lines[0], *lines[2:]],
        "no base64": [lines[0], lines[1][:-9] + b"!" + lines[1][-8:], *lines[2:]],
        "cut": lines[:-1],
    }[harm]
    told = tally(told_in(receive_bundle(logbook, bundle_of("a1de", b"".join(blob_lines(good) + broken)), 5)))
    assert (told["photos"]["accepted"], told["photos"]["deferred"]) == (1, 1)
    store = PhotoStore(logbook.files)
    assert store.bytes_of(hashlib.sha256(good).hexdigest()) == good
    assert store.offset(hashlib.sha256(bad).hexdigest()) == (0, None)
    receive_bundle(logbook, bundle_of("a1de", b"".join(lines)), 6)
    assert store.bytes_of(hashlib.sha256(bad).hexdigest()) == bad


@pytest.mark.parametrize("held", ["sound", "unsound", "of another length"])
def test_a_photo_that_had_begun_by_network_ends_by_hand(logbook: Logbook, held: str) -> None:
    """Whatever beginning is held: the hash verifies the carried bytes, and they count."""
    content = photo()
    name = hashlib.sha256(content).hexdigest()
    store = PhotoStore(logbook.files)
    beginning = content[:500] if held == "sound" else b"x" * 500
    store.append(name, 0, len(content) + (held == "of another length"), beginning)
    told = told_in(receive_bundle(logbook, bundle_of("a1de", b"".join(blob_lines(content))), 5))
    assert {entry["status"] for entry in told} == {"accepted"}
    assert store.bytes_of(name) == content


def test_bytes_that_are_no_photo_are_refused(logbook: Logbook) -> None:
    """By their content, not by their names."""
    told = told_in(receive_bundle(logbook, bundle_of("a1de", b"".join(blob_lines(b"<svg/>" * 2000))), 5))
    assert {(entry["status"], entry["problem"]["code"]) for entry in told} == {("rejected", "not_a_photo")}


def layby(*words: str) -> children.CompletedProcess[str]:
    """`layby` with its answer."""
    command = [str(LAYBY), *words]
    return children.run(command, cwd=ROOT)


@pytest.mark.parametrize("served", [True, False])
def test_the_command_takes_parts_and_names_the_missing_one(folder: Path, tmp_path: Path, served: bool) -> None:
    """`layby receive` with and without a running service: counts in words, a receipt beside each, status 1."""
    phone = Phone()
    visit = phone.new_id()
    paths = [tmp_path / "one.txt", tmp_path / "three.txt"]
    paths[0].write_bytes(bundle_of(phone.device, body_of(phone.opening(visit)) + b"".join(blob_lines(photo())), "1/3"))
    paths[1].write_bytes(bundle_of(phone.device, body_of(phone.plate(visit, "A")), "3/3")[:-9])
    service = Service(folder)
    if served:
        service.start()
    done = layby("--folder", str(folder), "receive", *map(str, reversed(paths)))
    service.stop()
    assert done.returncode == 1, done.stderr
    assert "one.txt, part 1 of 3. Entries: 1 filed. Photos: 1 saved." in done.stdout
    assert "three.txt, part 3 of 3. Entries: 1 filed, 2 unreadable." in done.stdout
    assert "The end of the file is missing" in done.stdout
    assert "Part 2 of 3 from device" in done.stdout
    assert told_in((tmp_path / "three-receipt.txt").read_bytes())[0]["status"] == "accepted"
    assert (tmp_path / "one-receipt.txt").stat().st_mode & 0o077 == 0


def test_a_file_that_is_not_there_is_told(folder: Path, tmp_path: Path) -> None:
    """One sentence, no logbook made for it."""
    done = layby("--folder", str(folder), "receive", str(tmp_path / "none.txt"))
    assert done.returncode == 2
    assert "none.txt" in done.stderr
    assert "Traceback" not in done.stderr
    assert not folder.exists()


def test_a_part_can_be_uploaded(service: Service) -> None:
    """POST /bundles answers the receipt file; sent again, everything is a repeat; what the network sent is known."""
    phone = Phone()
    visit = phone.new_id()
    picture = photo(9, (1300, 1000))
    assert len(picture) > 512_000, "more than a batch of entries may hold"
    part = bundle_of(phone.device, body_of(phone.opening(visit)) + b"".join(blob_lines(picture, 48_000)))
    status, headers, content = service.post("/bundles", part)
    assert (status, headers.get_content_type()) == (200, "text/plain")
    assert "attachment" in headers["Content-Disposition"]
    assert content.startswith(f"layby-receipt 1 {phone.device} 1/1\n".encode())
    assert {entry["status"] for entry in told_in(content)} == {"accepted"}
    assert all(entry["repeat"] for entry in told_in(service.post("/bundles", part)[2]))
    assert service.get(f"/blobs/{hashlib.sha256(picture).hexdigest()}")[2] == picture
    assert service.post("/bundles", b"x", "image/png")[0] == 415


# Noise ---------------------------------------------------------------------------------------------------------------

# What one file of 16 MB takes at worst, measured in a separate process: the growth of its peak beyond its own body.
APPETITE = """
import resource, sys, tempfile
from pathlib import Path
from sync import rulebook
from sync.records.logbook import Logbook
from sync.work.bundle_intake import receive_bundle
piece, size = sys.argv[1].encode().decode("unicode_escape").encode("latin-1"), int(sys.argv[2])
with Logbook(Path(tempfile.mkdtemp(dir=sys.argv[3])) / "layby", rulebook.load(), floor_bytes=0) as logbook:
    receive_bundle(logbook, b"a\\n" * 10, 5)
    text = (piece * (size // len(piece) + 1))[:size]
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    answer = receive_bundle(logbook, text, 5)
print(len(answer), (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) * 1024)
"""


@pytest.mark.parametrize("piece", [
    "a\\n", "\\n", "x" * 99 + "\\n", "0" * 64 + " x\\n", "0" * 64 + " {" + "x" * 40 + "\\n",
    "blob " + "0" * 64 + " 0 AAAA\\n", "layby-bundle 1 a1de 1/1\\n",
])  # fmt: skip
def test_noise_takes_no_more_than_a_few_times_its_own_room(tmp_path: Path, piece: str) -> None:
    """Two MB of short lines: an answer of eight MB and 32 MB of memory at most."""
    size = 2_000_000
    command = [sys.executable, "-c", APPETITE, piece, str(size), str(tmp_path)]
    answer, memory = map(int, children.run(command, check=True, cwd=ROOT).stdout.split())
    assert answer <= 4 * size
    assert memory <= 16 * size


def test_of_many_faults_ten_are_listed_and_the_others_counted(logbook: Logbook) -> None:
    """In the receipt, in the tally, and with the intact line among them filed; the missing end is always named."""
    opening = line_of(Phone().opening(Phone().new_id()))
    text = b"layby-bundle 1 a1de 1/1\n" + b"a\n" * 30 + opening + b"b\n" * 70
    [(found, told)] = receive_bundles(logbook, [text], 5)
    listed = [(entry["line"], entry["status"], entry.get("problem", {}).get("code")) for entry in told]
    assert listed == [
        *[(line, "unreadable", "not_a_line") for line in range(2, 11)], (11, "unreadable", "more_unreadable"),
        (32, "accepted", None), (103, "unreadable", "part_cut_short"),
    ]  # fmt: skip
    assert told[9]["count"] == 91
    assert "91 more lines" in told[9]["problem"]["detail"]
    counts = tally(told)
    assert (counts["entries"]["unreadable"], counts["entries"]["accepted"]) == (101, 1)
    assert (len(counts["faults"]), counts["more"]) == (10, 91)
    assert counts["faults"][-1]["line"] == 103
    assert told_in(bundle.receipt(found, told)) == told


def test_a_line_with_many_faults_lists_ten(logbook: Logbook) -> None:
    """For an entry with a hundred fields that don't belong there."""
    phone = Phone()
    strange = {**phone.opening(phone.new_id()), **{f"x{number}": 1 for number in range(100)}}
    [entry] = told_in(receive_bundle(logbook, bundle_of(phone.device, line_of(strange)), 5))
    assert entry["status"] == "rejected"
    assert len(entry["problem"]["errors"]) == 10


def test_empty_lines_between_entries_cost_none_of_them(logbook: Logbook) -> None:
    """As a mail program may add them: all entries are filed."""
    phone = Phone()
    visit = phone.new_id()
    ops = [phone.opening(visit)]
    ops += [phone.op(visit, "visit.set", {}) for _ in range(2000)]
    part = bundle_of(phone.device, body_of(*ops)).replace(b"\n", b"\n\n")
    told = tally(told_in(receive_bundle(logbook, part, 5)))
    assert told["entries"]["unreadable"] > 10
    assert sum(told["entries"].values()) - told["entries"]["unreadable"] == 2001


@pytest.mark.parametrize("served", [True, False])
def test_a_file_larger_than_any_part_is_not_read(folder: Path, tmp_path: Path, served: bool) -> None:
    """`layby receive` names it, takes nothing in and says what to do; nothing of it is held in memory."""
    phone = Phone()
    large, good = tmp_path / "large.txt", tmp_path / "good.txt"
    with large.open("wb") as file:
        file.truncate(bundle.PART_BYTES + 1)
    good.write_bytes(bundle_of(phone.device, body_of(phone.opening(phone.new_id()))))
    service = Service(folder)
    if served:
        service.start()
    done = layby("--folder", str(folder), "receive", str(good), str(large))
    assert (done.returncode, "large.txt is larger" in done.stderr, "16\u00a0MB" in done.stderr) == (2, True, True), done
    assert not (tmp_path / "good-receipt.txt").exists()
    assert layby("--folder", str(folder), "receive", str(good)).returncode == 0
    service.stop()


def test_what_is_given_twice_at_one_offset_counts_once() -> None:
    """A piece with a negative or huge offset doesn't count as a piece."""
    assert bundle.read(b"blob " + b"0" * 64 + b" -1 AAAA\n").pieces == {}
    assert bundle.read(b"blob " + b"0" * 64 + b" 99999999999 AAAA\n").pieces == {}
