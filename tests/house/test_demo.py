"""The demo as its user starts it, in a copy of the checkout: the day goes through, twice, and fails when it should.

The copy shares this environment, so nothing is installed here; setting up is tested in test_ground.py.
"""

from __future__ import annotations

import contextlib
import email
import email.policy
import io
import os
import re
import shutil
import signal
import socket
import sys
import urllib.request
from pathlib import Path

import pypdf
import pytest

from demo import ground, phone
from demo.ground import database_programs
from tests.support import children
from tests.support.postgres import MISSING
from tests.support.service import LAYBY, PATIENCE_S, ROOT, free_port

DEMO_S = 600  # the longest that a whole day may take
# A shell command that starts what follows as `nohup` and `&` do: with Ctrl+C ignored.
IN_THE_BACKGROUND = ("/bin/sh", "-c", "trap '' INT; exec \"$@\"", "sh")
NOT_COPIED = shutil.ignore_patterns(".*", "__pycache__", "dist")


@pytest.fixture(scope="module")
def checkout(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the checkout whose .venv is this environment."""
    assert ground.standing("tests"), "this environment is not up to date: start the tests with `python3 tests`"
    place = tmp_path_factory.mktemp("checkout") / "layby"
    shutil.copytree(ROOT, place, ignore=NOT_COPIED)
    (place / ".venv").symlink_to(sys.prefix, target_is_directory=True)
    return place


def started(
    checkout: Path, *arguments: str, before: tuple[str, ...] = ()
) -> contextlib.AbstractContextManager[children.Child]:
    """Start `python3 demo` with the system's Python; the copy's own packages come first, in the service too."""
    base = getattr(sys, "_base_executable", sys.executable)
    surroundings = {**os.environ, "PYTHONPATH": str(checkout), "LAYBY_FOLDER": "/nowhere", "LAYBY_SMTP_HOST": "nowhere"}
    return children.beside([*before, base, "demo", *arguments], DEMO_S, cwd=checkout, env=surroundings)


def demo(checkout: Path, *arguments: str) -> children.CompletedProcess[str]:
    """Run the demo to its end."""
    with started(checkout, *arguments) as running:
        status = running.wait()
        return children.CompletedProcess(running.command, status, running.stdout.decode(), running.stderr.decode())


@pytest.fixture(scope="module")
def first_run(checkout: Path) -> children.CompletedProcess[str]:
    """The demo, run once."""
    return demo(checkout, "--once", "--port", str(free_port()))


def sheets(checkout: Path) -> dict[str, str]:
    """The text of each job sheet by its file name."""
    found = sorted((checkout / ".demo" / "sheets").glob("*.pdf"))
    texts = {}
    for path in found:
        pages = pypdf.PdfReader(io.BytesIO(path.read_bytes())).pages
        texts[path.name] = " ".join(" ".join(page.extract_text() for page in pages).split())
    return texts


def test_the_day_goes_through(first_run: children.CompletedProcess[str], checkout: Path) -> None:
    """One sheet and one message per visit, and the demo says where each is."""
    assert first_run.returncode == 0, first_run.stdout + first_run.stderr
    assert len(sheets(checkout)) == len(phone.load_day()["visits"])
    messages = sorted((checkout / ".demo" / "outgoing").glob("*.eml"))
    assert len(messages) == len(phone.load_day()["visits"])
    for path in [*messages, *(checkout / ".demo" / "sheets").glob("*.pdf")]:
        assert path.name in first_run.stdout


def test_a_sheet_holds_what_was_typed(first_run: children.CompletedProcess[str], checkout: Path) -> None:
    """Customer, vehicle and pressures of the first visit are on its sheet as the technician typed them."""
    assert first_run.returncode == 0, first_run.stdout + first_run.stderr
    visit = next(each for each in phone.load_day()["visits"] if each["customer"]["name"] == "Ruth Okello")
    sheet = next(text for text in sheets(checkout).values() if visit["customer"]["name"] in text)
    for expected in (visit["vehicle"]["vin"], "180", "120", "38.5", "Alder Coast Mobile Cooling"):
        assert expected in sheet, f"{expected} is not in: {sheet}"


def test_the_day_shows_what_can_happen(first_run: children.CompletedProcess[str], checkout: Path) -> None:
    """A corrected entry, a settled conflict, drawn photos and signatures, mass of refrigerant: each on its sheet."""
    assert first_run.returncode == 0, first_run.stdout + first_run.stderr
    assert "One entry was refused for a formal error and then corrected. One was in conflict" in first_run.stdout
    texts = sheets(checkout)
    by_customer = {visit["customer"]["name"]: next(text for text in texts.values() if visit["customer"]["name"] in text)
                   for visit in phone.load_day()["visits"]}
    assert "14.6" in by_customer["Πέτρος Μάρκου"] or "1,460" in by_customer["Πέτρος Μάρκου"]
    assert "ALD 7731" in by_customer["Desmond Achterberg"]
    assert "You decided not to have the work done." in by_customer["Óscar Dřevo"]
    for part in ("label says R-12", "cylinder B-7", "As carbon dioxide over 100 years"):
        assert part in by_customer["Ingrid Vellacott"], part
    for name in ("Ruth Okello", "Tomas Lindqvist-Abara"):
        assert "Before the work" in by_customer[name]
        assert "Still on the phone" not in by_customer[name]
    assert not any("Two verdicts" in text for text in texts.values())


def test_the_mail_goes_to_the_customer(first_run: children.CompletedProcess[str], checkout: Path) -> None:
    """Each message is for its visit's customer and has the sheet attached."""
    assert first_run.returncode == 0, first_run.stdout + first_run.stderr
    recipients = set()
    for path in (checkout / ".demo" / "outgoing").glob("*.eml"):
        message = email.message_from_bytes(path.read_bytes(), policy=email.policy.default)
        recipients.add(message["To"])
        attached = [part.get_content() for part in message.iter_attachments()]
        assert [content[:5] for content in attached] == [b"%PDF-"]
    asked = {visit["customer"]["email"] for visit in phone.load_day()["visits"]}
    assert {address for address in asked if any(address in recipient for recipient in recipients)} == asked


def test_several_vans_share_the_day(checkout: Path) -> None:
    """Each technician's visits at the one or the other service, one handed over, one letter for each visit."""
    if database_programs() is None:
        pytest.skip(MISSING)
    port = free_port()
    done = demo(checkout, "--vans", "3", "--once", "--port", str(port))
    assert done.returncode == 0, done.stdout + done.stderr
    shares = re.findall(r"^(.+): (\d) visits, \d+ entries, \d photos, at service ([12])$", done.stdout, re.MULTILINE)
    assert [(int(count), service) for _, count, service in shares] == [(3, "1"), (3, "2"), (2, "1")]
    evenings = re.split(r"^\$ layby evening .* --of (.+)$", done.stdout, flags=re.MULTILINE)
    # The first one is before the visit is handed over.
    of = {name: len(re.findall(r"ready, \S+\.pdf$", said.split("$ layby")[0], re.MULTILINE))
          for name, said in zip(evenings[3::2], evenings[4::2], strict=True)}
    assert of == {shares[0][0]: 2, shares[1][0]: 3, shares[2][0]: 3}
    sent = done.stdout.split("$ layby send")[1].split("$ layby")[0]
    letters = re.findall(r"\b([0-9a-f-]{36})$", sent, re.MULTILINE)
    assert len(letters) == len(set(letters)) == len(phone.load_day()["visits"])


def test_a_second_run_is_harmless(first_run: children.CompletedProcess[str], checkout: Path) -> None:
    """Run again, the demo finds that the desk has every operation, and sends nothing twice."""
    assert first_run.returncode == 0, first_run.stdout + first_run.stderr
    before = sorted(path.name for path in (checkout / ".demo" / "outgoing").iterdir())
    made = sheets(checkout)
    again = demo(checkout, "--once", "--port", str(free_port()))
    assert again.returncode == 0, again.stdout + again.stderr
    assert "already filed by an earlier run" in again.stdout
    assert sorted(path.name for path in (checkout / ".demo" / "outgoing").iterdir()) == before
    assert sheets(checkout) == made


@pytest.mark.parametrize(
    ("before", "end", "status"), [((), signal.SIGINT, 0), (IN_THE_BACKGROUND, signal.SIGTERM, 143)]
)
def test_it_stays_up_until_it_is_ended(checkout: Path, before: tuple[str, ...], end: int, status: int) -> None:
    """Without --once it says where the phone page is and serves it. Ctrl+C ends both it and the service; started in
    the background, where Ctrl+C is ignored, SIGTERM does.
    """
    port = free_port()
    with started(checkout, "--port", str(port), before=before) as running:
        said = running.wait_for(f"The phone page is at http://127.0.0.1:{port}, the desk's pages at")
        assert f"http://127.0.0.1:{port}/pair#" in said
        for path in ("/", "/desk/passphrase?key=" + said.split("/desk/passphrase?key=")[1].split()[0]):
            with urllib.request.urlopen(f"http://127.0.0.1:{port}{path}", timeout=PATIENCE_S) as page:
                assert page.status == 200
        running.send_signal(end)
        assert running.wait() == status
    with socket.socket() as trial:
        assert trial.connect_ex(("127.0.0.1", port)) != 0


def test_a_taken_port_is_said_in_a_sentence(checkout: Path) -> None:
    """If something is already listening on the port, the demo names the port and the way out, and ends with 1."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        done = demo(checkout, "--once", "--port", str(port))
    assert done.returncode == 1
    assert f"Port {port} is already in use" in done.stderr
    assert "Traceback" not in done.stderr


def test_without_the_route_the_demo_fails(checkout: Path, tmp_path: Path) -> None:
    """The day enters only through POST /sync: with the route gone, the demo ends with 1."""
    crippled = tmp_path / "layby"
    shutil.copytree(checkout, crippled, ignore=NOT_COPIED)
    (crippled / ".venv").symlink_to(sys.prefix, target_is_directory=True)
    routed = [path for path in (crippled / "server").rglob("*.py") if '"/sync"' in path.read_text("utf-8")]
    assert routed, "no module of the server names the route"
    for path in routed:
        path.write_text(path.read_text("utf-8").replace('"/sync"', '"/elsewhere"'), "utf-8")
    done = demo(crippled, "--once", "--port", str(free_port()))
    assert done.returncode == 1
    assert "refused the day" in done.stderr
    assert not list((crippled / ".demo").glob("sheets/*.pdf"))


def test_the_command_tells_what_it_can_do() -> None:
    """`layby --help` names every command of the main job."""
    told = children.run([LAYBY, "--help"], check=True).stdout
    named = ("serve", "assess", "receive", "sheet", "evening", "approve", "send", "day", "ledger", "rulebook", "check")
    for name in named:
        assert name in told
