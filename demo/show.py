"""What the demo does: start the service, hand in the day as a phone would, make and send the sheets, say where.

It uses only what a technician has, the `layby` command and the service's address, and knows no rule of the trade.
"""

from __future__ import annotations

import argparse
import contextlib
import itertools
import json
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NoReturn

from demo import phone
from sync import rulebook

ROOT = Path(__file__).resolve().parent.parent
FOLDER = ROOT / ".demo"
LAYBY = Path(sys.executable).with_name("layby.exe" if os.name == "nt" else "layby")
BATCH = 50  # lines, the most that one request may hold
PATIENCE = 120  # seconds until the service must answer


def stop(*lines: str) -> NoReturn:
    """End with exit status 1 and these lines on standard error."""
    print(*lines, sep="\n", file=sys.stderr, flush=True)
    raise SystemExit(1)


def surroundings(database: str = "") -> dict[str, str]:
    """The environment for the demo's commands: without a real logbook's settings, so that no real mail leaves, and in
    English, the language in which the demo reads their output; with the address of a database, if there is one.
    """
    kept = {name: value for name, value in os.environ.items() if not name.startswith("LAYBY_")}
    return {**kept, "LAYBY_LANGUAGE": "en", **({"LAYBY_DATABASE": database} if database else {})}


def layby(*arguments: str, folder: Path = FOLDER) -> list[str]:
    """The command line of `layby` on a folder of the demo's."""
    return [str(LAYBY), "--folder", str(folder), *arguments]


def run(*arguments: str, database: str = "") -> str:
    """Run one `layby` command, show it and return its output. If it fails, the demo stops with that output."""
    print(f"\n$ layby {' '.join(arguments)}", flush=True)
    done = subprocess.run(
        layby(*arguments), env=surroundings(database), stdin=subprocess.DEVNULL, capture_output=True, text=True,
        check=False,
    )
    if done.returncode:
        stop(done.stdout + done.stderr, f"`layby {arguments[0]}` failed. Its output is above.")
    return done.stdout


def require_port(port: int) -> None:
    """Stop with a sentence if something else is already listening on the port."""
    with socket.socket() as trial:
        if os.name != "nt":
            trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            trial.bind(("127.0.0.1", port))
        except OSError:
            stop(
                f"Port {port} is already in use, perhaps by another Layby. Stop it, or choose another port:",
                f"  python3 demo --port {port + 1}",
            )


def answers(url: str) -> bool:
    """Whether the service serves its rulebook."""
    try:
        with urllib.request.urlopen(f"{url}/rulebook.json", timeout=5) as answer:
            return bool(answer.status == 200)
    except (OSError, urllib.error.URLError):
        return False


@contextlib.contextmanager
def service(port: int, folder: Path = FOLDER, database: str = "") -> Iterator[subprocess.Popen[bytes]]:
    """A running `layby serve` on the port, ended on the way out."""
    require_port(port)
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    log = folder / "service.log"
    with log.open("wb") as written:
        command = layby("serve", "--port", str(port), folder=folder)
        running = subprocess.Popen(
            command, env=surroundings(database), stdin=subprocess.DEVNULL, stdout=written, stderr=subprocess.STDOUT
        )
    try:
        until = time.monotonic() + PATIENCE
        while not answers(f"http://127.0.0.1:{port}"):
            if running.poll() is not None or time.monotonic() > until:
                stop("The service did not start. It said:", log.read_text("utf-8", "replace"))
            time.sleep(0.05)
        yield running
    finally:
        running.terminate()
        running.wait(timeout=PATIENCE)


def paired(url: str, device: str, name: str) -> str:
    """Pair a phone with the service as a person does, with a code that `layby pair` shows; returns its token.

    A phone of an earlier run, whose token went with that run, is revoked first: the desk gives its id to nobody else.
    """
    if f"{name}: paired\n" in run("devices"):
        run("devices", "--revoke", name)
    code = run("pair", "--plain").split("/pair#", 1)[1].split()[0]
    print(f"That code pairs {name}. Only a paired phone can send entries.", flush=True)
    return taken_up(url, code, device, name)


def taken_up(url: str, code: str, device: str, name: str) -> str:
    """Show the service a code, as a phone does; returns the phone's token."""
    asked = json.dumps({"code": code, "device": device, "name": name}).encode()
    request = urllib.request.Request(f"{url}/pair", asked, {"Content-Type": "application/json"})
    with urllib.request.urlopen(request, timeout=60) as answer:
        return str(json.load(answer)["token"])


def shown(token: str) -> dict[str, str]:
    """The header with which a paired phone identifies itself."""
    return {"Authorization": f"Bearer {token}"}


def hand_in(url: str, token: str, lines: list[bytes]) -> list[dict[str, Any]]:
    """Send op lines to the service as a paired phone does, in batches; returns the results, one for each line.

    If the service doesn't accept them, the demo stops with the service's own words.
    """
    results: list[dict[str, Any]] = []
    for start in range(0, len(lines), BATCH):
        body = b"".join(lines[start : start + BATCH])
        headers = {"Content-Type": "text/plain; charset=utf-8"} | shown(token)
        request = urllib.request.Request(f"{url}/sync", body, headers)
        try:
            with urllib.request.urlopen(request, timeout=60) as answer:
                results += json.load(answer)["results"]
        except urllib.error.HTTPError as refusal:
            with refusal:
                stop(f"The service refused the day: {refusal.code}", refusal.read().decode("utf-8", "replace"))
    if len(results) != len(lines):
        stop(f"The service confirmed {len(results)} of {len(lines)} entries.")
    return results


def hand_in_photo(url: str, token: str, digest: str, content: bytes) -> None:
    """Send a photo as a phone does, from where the service says it has got to; send nothing if it is complete there."""
    try:
        asked = urllib.request.Request(f"{url}/blobs/{digest}", headers=shown(token), method="HEAD")
        with urllib.request.urlopen(asked, timeout=60) as told:
            held = int(told.headers["Upload-Offset"])
    except urllib.error.HTTPError as unknown:
        held = 0
        if unknown.code != 404:
            stop(f"The service didn't say how much of a photo it has: {unknown.code}")
    if held == len(content):
        return
    headers = {"Upload-Offset": str(held), "Upload-Length": str(len(content)),
               "Content-Type": "application/offset+octet-stream"} | shown(token)
    request = urllib.request.Request(f"{url}/blobs/{digest}", content[held:], headers, method="PATCH")
    try:
        urllib.request.urlopen(request, timeout=60).close()
    except urllib.error.HTTPError as refusal:
        with refusal:
            stop(f"The service refused a photo: {refusal.code}", refusal.read().decode("utf-8", "replace"))


def pair_all(url: str, owner: str, captured: phone.Phone) -> dict[str, str]:
    """All phones of the day paired; their tokens by device."""
    devices = dict.fromkeys(device for device, _ in captured.made)
    return {device: paired(url, device, f"{owner}, phone {number}") for number, device in enumerate(devices, 1)}


def hand_in_all(url: str, tokens: dict[str, str], captured: phone.Phone) -> list[dict[str, Any]]:
    """The whole day from all its phones, each handing in its own lines, then the photos; the results.

    Stops unless every operation is answered as the scenario says: one refused and replaced, one in conflict and
    settled.
    """
    results: list[dict[str, Any]] = []
    for device, lines in itertools.groupby(captured.made, key=lambda made: made[0]):
        results += hand_in(url, tokens[device], [line for _, line in lines])
    others = [result for result in results
              if result["status"] != captured.expected.get(result["id"], "accepted")]
    if others:
        stop("Not everything was filed:", *(json.dumps(result, ensure_ascii=False) for result in others))
    for digest, content in captured.photos.items():
        hand_in_photo(url, next(iter(tokens.values())), digest, content)
    return results


def tell_where() -> None:
    """Print where the sheets and the mail are."""
    for folder, pattern in (("sheets", "*.pdf"), ("outgoing", "*.eml")):
        found = sorted((FOLDER / folder).glob(pattern))
        if not found:
            stop(f"No {pattern} in {FOLDER / folder}: the demo failed.")
        print(f"\n{'Job sheets' if folder == 'sheets' else 'Emails, saved as files because no mail server is set up'}:")
        for path in found:
            print(f"  {path.relative_to(ROOT)}")


def keep_up(running: subprocess.Popen[bytes], url: str) -> None:
    """Stay until the person ends it."""
    with contextlib.suppress(KeyboardInterrupt):
        print(run("pair", "--plain"), end="")
        print(run("passphrase"), end="")
        print(f"\nThe phone page is at {url}, the desk's pages at {url}/desk  (stop with Ctrl+C)", flush=True)
        running.wait()


def asked_for(arguments: list[str]) -> argparse.Namespace:
    """What the person asked for on the command line."""
    reader = argparse.ArgumentParser(prog="python3 demo", description="An invented day, from phone to mail.")
    reader.add_argument("--once", action="store_true", help="play the day, show where the sheets are, and exit")
    reader.add_argument("--vans", type=int, default=1, help="share the day among so many technicians, through two "
                        "services over a database that is gone afterwards (2 to 4; default: one, and no database)")
    reader.add_argument("--port", type=int, default=8765, help="the loopback port of the service (default: 8765)")
    return reader.parse_args(arguments)


def day_at_work(url: str) -> None:
    """The day through the running service: captured, handed in, judged, drawn, approved and sent."""
    day = phone.load_day()
    technician = day["technician"]
    captured = phone.whole_day(rulebook.load(), day)
    results = hand_in_all(url, pair_all(url, technician["name"], captured), captured)
    repeats = sum(bool(result.get("repeat")) for result in results)
    known = f", {repeats} of them already filed by an earlier run" if repeats else ""
    print(f"{technician['name']}, {technician['business']}, {day['day']}: {len(day['visits'])} visits.")
    print(f"The phones sent {len(results)} entries{known}, and {len(captured.photos)} photos.")
    print("One entry was refused for a formal error and then corrected. One was in conflict and then settled.")
    sys.stdout.flush()
    print(run("evening", "--day", day["day"]), end="")
    run("approve", "--all")
    print(f"{technician['name']} has checked the sheets and approves them.")
    run("send")
    print("Each approved sheet is sent once.")


def main(arguments: list[str]) -> int:
    """The whole demo; returns the exit status."""
    asked = asked_for(arguments)
    url = f"http://127.0.0.1:{asked.port}"
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))  # so that the service is ended too
    try:
        if asked.vans != 1:
            from demo import vans

            return vans.main(asked.vans, asked.port)
        with service(asked.port) as running:
            day_at_work(url)
            tell_where()
            if not asked.once:
                keep_up(running, url)
    except KeyboardInterrupt:
        return 130
    return 0
