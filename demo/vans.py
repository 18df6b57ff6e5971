"""Several vans: the demo's day shared among technicians who sign in, through two services over one database.

It uses only what people at a desk have: the `layby` command and the services' addresses.
"""

from __future__ import annotations

import contextlib
import re
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path

from demo import ground, phone, show
from demo.throwaway import NoServer, server
from sync import rulebook

OWNER = "Iris Calder"
# Who drives the first van is the day's own technician.
DRIVERS = ("N. Bastable", "P. Sandoval", "W. Quill")
MOST = 1 + len(DRIVERS)
# Two services, each with a folder of its own.
FOLDERS = ("desk-1", "desk-2")
_PERSON = re.compile(r"^(.+), \w+: .*\n +([0-9a-f-]{36})$", re.MULTILINE)
_VISIT = re.compile(r"^ +([0-9a-f-]{36})$", re.MULTILINE)


class Van:
    """One technician with phones and a share of the day.

    Args of the constructor:
        number: which van, from 0 [count]
        day: the whole scenario [JSON object]
        count: how many vans share it [count]
    """

    def __init__(self, number: int, day: phone.Tree, count: int) -> None:
        self.name = str(day["technician"]["name"]) if number == 0 else DRIVERS[number - 1]
        visits = day["visits"][number::count]
        self.day = {**day, "visits": visits, "technician": {**day["technician"], "name": self.name},
                    "device": f"{int(day['device'], 16) + number:x}"}
        self.day["helper"] = {**day["helper"], "device": f"{int(day['helper']['device'], 16) + number:x}"}
        self.tokens: dict[str, str] = {}

    def set_out(self, url: str, person: str, database: str) -> None:
        """Capture the van's day, and pair its phones with codes that sign them in as its technician."""
        self.day["person"] = person
        self.captured = phone.whole_day(rulebook.load(), self.day)
        for device in dict.fromkeys(device for device, _ in self.captured.made):
            said = show.run("pair", "--plain", "--for", self.name, database=database)
            code = said.split("/pair#", 1)[1].split()[0]
            self.tokens[device] = show.taken_up(url, code, device, f"{self.name}, phone {len(self.tokens) + 1}")

    def hand_in(self, url: str) -> str:
        """Hand in the van's day; what that was [sentence]."""
        results = show.hand_in_all(url, self.tokens, self.captured)
        return (f"{self.name}: {len(self.day['visits'])} visits, {len(results)} entries, "
                f"{len(self.captured.photos)} photos")


def play(vans: list[Van], urls: list[str], database: str) -> None:
    """The day of all vans at once, each at its own service; then the evening of each, and the books of all."""
    run = partial(show.run, database=database)
    run("people", "--begin", OWNER)
    for van in vans:
        run("people", "--invite", van.name)
    said = run("people")
    print(said, end="")
    people, day = dict(_PERSON.findall(said)), str(vans[0].day["day"])
    at = [(van, number % len(urls)) for number, van in enumerate(vans)]
    for van, place in at:
        van.set_out(urls[place], people[van.name], database)
    with ThreadPoolExecutor(len(vans)) as pool:
        for line in pool.map(lambda pair: f"{pair[0].hand_in(urls[pair[1]])}, at service {pair[1] + 1}", at):
            print(line)
    given = _VISIT.findall(run("evening", "--day", day, "--of", vans[0].name))[-1]
    print(run("handover", given, "--to", vans[-1].name, "--why", "The first van broke down"), end="")
    for van in vans:
        print(run("evening", "--day", day, "--of", van.name), end="")
    run("approve", "--all")
    print(run("send"), end="")
    print("Each approved sheet is sent once, whichever service or command sends it.")
    for file in run("ledger", "--from", day, "--to", day).split():
        print(f"  {Path(file).relative_to(show.ROOT)}")


@contextlib.contextmanager
def services(port: int) -> Iterator[tuple[list[str], str]]:
    """The services over one throw-away database; their addresses, and that of the database."""
    try:
        with server() as database, contextlib.ExitStack() as running:
            show.run("database", "--prepare", database=database)
            for number, folder in enumerate(FOLDERS):
                running.enter_context(show.service(port + number, show.FOLDER / folder, database))
            yield [f"http://127.0.0.1:{port + number}" for number in range(len(FOLDERS))], database
    except NoServer as reason:
        show.stop(str(reason))


def main(count: int, port: int) -> int:
    """The demo with several vans; returns the exit status."""
    if not 2 <= count <= MOST:
        show.stop(f"This demo has 1 to {MOST} vans.")
    ground.bring_database()
    day = phone.load_day()
    vans = [Van(number, day, count) for number in range(count)]
    with services(port) as (urls, database):
        play(vans, urls, database)
    print("The database was for this demo alone and is gone.")
    return 0
