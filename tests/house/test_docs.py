"""README.md, DEVELOPERS.md and the rooms' own pages: commands run, links and file names lead somewhere.

Other tests cover what a command does in depth; here it has to exist and end well when a reader tries it.
"""

from __future__ import annotations

import os
import re
import sys
import time
import tomllib
from pathlib import Path

import pytest

from tests.house.test_layers import ROOMS
from tests.support import children
from tests.support.service import LAYBY, PATIENCE_S, ROOT, Service

PAGES = ("README.md", "DEVELOPERS.md")
PACKAGES = ("sync", "server", "reports", "pwa", "tests", "demo")
# The pages of the rooms: why the code beside them is as it is.
ROOM_PAGES = sorted(path.relative_to(ROOT).as_posix() for name in PACKAGES for path in (ROOT / name).rglob("README.md"))
MOST_LINES, MOST_WORDS = 250, 4000  # of the maintainer's page, so that it is read; reasons go to the rooms
# Commands that are tried here with more words than on the page, and why.
TRIED_AS = {
    # This test is itself run by all tests, or all the quick ones.
    "python3 tests": "python3 tests --collect-only -q tests/house/test_tidy.py",
    "python3 tests --quick": "python3 tests --quick --collect-only -q tests/house/test_tidy.py",
    "layby evening": "layby evening --day 2026-06-12",  # today has no visits; the demo's day shows the form
}
# Commands that other tests try, and which.
TRIED_ELSEWHERE = {
    "python3 demo": "tests/house/test_demo.py",
    "python3 demo --once": "tests/house/test_demo.py",
    "layby serve": "test_the_service_starts_as_the_page_says",
}


def text_of(page: str) -> str:
    """A page of the documentation."""
    return (ROOT / page).read_text("utf-8")


def commands_of(page: str) -> list[str]:
    """The lines of a page's shell blocks, in order."""
    blocks = re.findall(r"^```sh\n(.*?)^```", text_of(page), flags=re.MULTILINE | re.DOTALL)
    return [line for block in blocks for line in block.splitlines() if line.strip()]


COMMANDS = [command for page in PAGES for command in commands_of(page)]


def arguments_of(command: str) -> list[str]:
    """The command line for this machine: the same Python and the same `layby` that these tests run with."""
    words = TRIED_AS.get(command, command).split()
    programs = {"python3": sys.executable, "layby": str(LAYBY), ".venv/bin/layby": str(LAYBY)}
    return [programs[words[0]], *words[1:]]


@pytest.mark.parametrize("command", [command for command in dict.fromkeys(COMMANDS) if command not in TRIED_ELSEWHERE])
def test_a_command_of_the_pages_ends_well(command: str, folder: Path) -> None:
    """Typed as it stands, on a fresh logbook, it exits 0."""
    surroundings = {**os.environ, "LAYBY_FOLDER": str(folder)}
    done = children.run(arguments_of(command), cwd=ROOT, env=surroundings)
    assert done.returncode == 0, done.stdout + done.stderr


def test_the_service_starts_as_the_page_says(folder: Path) -> None:
    """`layby serve` answers, and says where it is ready."""
    service = Service(folder).start()
    assert service.get("/")[0] == 200
    patience = time.monotonic() + PATIENCE_S
    while "ready" not in service.log.read_text("utf-8") and time.monotonic() < patience:
        time.sleep(0.05)  # the page may answer a moment before the service says so
    service.stop()
    assert f"http://127.0.0.1:{service.port}" in service.log.read_text("utf-8")


def test_the_two_commands_come_first() -> None:
    """The README opens with the job in one paragraph, then the demo, then the tests."""
    assert commands_of("README.md")[:2] == ["python3 demo", "python3 tests"]
    opening = text_of("README.md").split("\n\n")[1]
    assert opening.startswith("Layby is")
    assert not opening.startswith("#")


def test_what_runs_before_a_change_is_taken_is_the_command_of_the_readme() -> None:
    """.ci/run calls the README's test command, and fails when it does."""
    script = (ROOT / ".ci" / "run").read_text("utf-8")
    assert "exec python3 tests" in script
    assert os.access(ROOT / ".ci" / "run", os.X_OK)


@pytest.mark.parametrize("page", PAGES)
def test_every_layby_command_named_exists(page: str) -> None:
    """A command or an option in running text is one that `layby` has."""
    told = children.run([LAYBY, "--help"], check=True).stdout
    named = set(re.findall(r"layby ([a-z]+)", " ".join(re.findall(r"`(layby [^`]+)`", text_of(page)))))
    assert {name for name in named if name not in told} == set()


@pytest.mark.parametrize("page", [*PAGES, *ROOM_PAGES])
def test_every_file_named_is_there(page: str) -> None:
    """Links lead to files; a path in code type exists in the checkout, or, for code beside the page, beside it."""
    text, beside = text_of(page), (ROOT / page).parent
    links = [target for target in re.findall(r"\]\(([^)#]+)\)", text) if "://" not in target]
    paths = re.findall(r"`((?:server|sync|reports|pwa|tests|demo|\.ci)/[\w./*-]*)`", text)
    code = re.findall(r"`((?:\w+/)?\w+\.(?:py|js))`", text)
    missing = [target for target in links if not (beside / target).exists()]
    missing += [target for target in paths if not list(ROOT.glob(target.rstrip("/")))]
    missing += [name for name in code if name not in paths and not (beside / name).exists()]
    assert missing == []


def test_every_page_of_a_room_is_found_from_the_maintainers_page() -> None:
    """From there, a reader reaches all reasons."""
    links = re.findall(r"\]\(([^)#]+README\.md)\)", text_of("DEVELOPERS.md"))
    assert set(links) == set(ROOM_PAGES)


def test_the_maintainers_page_stays_short() -> None:
    """It can be read in a quarter of an hour."""
    text = text_of("DEVELOPERS.md")
    assert len(text.splitlines()) <= MOST_LINES
    assert len(text.split()) <= MOST_WORDS


def test_the_map_names_every_room() -> None:
    """Each folder of the packages is in the table of what goes where, and the table names no other."""
    table = text_of("DEVELOPERS.md").split("## What goes where")[1].split("\n## ")[0]
    first = "\n".join(line.split("|")[1] for line in table.splitlines() if line.startswith("| `"))
    named = {name.rstrip("/") for name in re.findall(r"`([A-Za-z/-]+/)`", first)}
    folders = {path.parent for name in PACKAGES for path in (ROOT / name).rglob("*") if path.is_file()}
    rooms = {path.relative_to(ROOT).as_posix() for path in folders if "__pycache__" not in path.parts}
    # The languages are folders of one room.
    assert named == {re.sub(r"(?<=/words)/[\w-]+$", "", room) for room in rooms}


def test_the_picture_of_the_rooms_is_the_table_of_the_layers() -> None:
    """Each room is in the picture, on a higher floor than any room the table lets it import."""
    picture = text_of("DEVELOPERS.md").split("```text\n")[1].split("```")[0]
    floors = {word: -at for at, line in enumerate(picture.splitlines()) for word in re.findall(r"[\w/]+", line)}
    rooms = [room for room in ROOMS if "." not in room]  # the others are single files, described in the text below
    assert [room for room in rooms if room not in floors] == []
    for room in rooms:
        for other in rooms:
            if other != room and (other in ROOMS[room] or f"{other.partition('/')[0]}/*" in ROOMS[room]):
                assert floors[other] < floors[room], f"{room} stands no higher than {other}"


def test_every_dependency_has_its_reason() -> None:
    """Each package that the project requires is in the table of what it stands on."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    asked = project["dependencies"] + project["optional-dependencies"]["tests"]
    table = text_of("DEVELOPERS.md").split("## What it stands on")[1].split("\n## ")[0].lower()
    names = {re.split(r"[<>=\[]", requirement)[0].lower().removesuffix("2") for requirement in asked}
    assert {name for name in names if name not in table} == set()


def test_the_port_in_the_readme_is_the_one_taken() -> None:
    """The address in the README is where the service listens by default."""
    told = children.run([LAYBY, "serve", "--help"], check=True).stdout
    assert "8765" in told
    assert "http://127.0.0.1:8765" in text_of("README.md")
