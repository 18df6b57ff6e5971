"""Who may import whom, what the kernel may be written with, and what may be where. Read from the source, not run.

No behaviour is tested here; DEVELOPERS.md states these rules for people.
"""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

from sync import emitter

ROOT = Path(__file__).resolve().parents[2]
PACKAGES = ("server", "sync", "reports", "pwa")
VISIBLE = {"pyproject.toml", "README.md", "DEVELOPERS.md", "server", "pwa", "sync", "reports", "tests", "demo"}
MADE_BY_TOOLS = {"dist", "__pycache__"}

MODULES = sorted(path.relative_to(ROOT).as_posix() for name in PACKAGES for path in (ROOT / name).rglob("*.py"))
SCRIPTS = sorted(path.relative_to(ROOT).as_posix() for path in (ROOT / "pwa").rglob("*.js"))

# Files that count as their own rooms, because they are on another floor than the files beside them.
SINGLE = ("server/settings.py", "sync/isolation.py", "sync/rulebook.py")
# A room, and the rooms that it may import besides itself. What remains of `sync` are the errors.
ROOMS: dict[str, tuple[str, ...]] = {
    "sync": (),
    "sync/kernel": ("sync",),
    "sync.isolation": ("sync", "sync/kernel"),
    "sync/loggers": (),
    "sync.rulebook": ("sync/kernel", "sync/loggers"),
    "sync/language": ("sync", "sync/kernel"),
    "sync/emitter": ("sync",),
    "sync/physics": ("sync", "sync/kernel", "sync.rulebook"),
    "sync/wire": ("sync", "sync/kernel", "sync/language"),
    "sync/disk": ("sync",),
    "sync/records/store": ("sync", "sync/kernel", "sync/wire"),
    "sync/records/embedded": ("sync", "sync/kernel", "sync/wire", "sync/disk", "sync/records/store"),
    "sync/records/postgres": ("sync", "sync/kernel", "sync/wire", "sync/records/store"),
    "sync/records/postgres/migrations": (),
    "sync/records": (
        "sync", "sync/kernel", "sync.isolation", "sync/wire", "sync/disk", "sync/records/store",
        "sync/records/embedded",
    ),
    "sync/sheet": ("sync", "sync/kernel", "sync/language", "sync.isolation", "sync/physics", "sync/wire"),
    "sync/work": (
        "sync", "sync/kernel", "sync/language", "sync.isolation", "sync/physics", "sync/wire", "sync/disk",
        "sync/records", "sync.rulebook", "sync/loggers",
        "sync/records/store", "sync/records/embedded", "sync/sheet",
    ),
    "reports": (),
    "server/tasks": ("sync/*", "reports", "server.settings"),
    "server/http": ("sync/*", "server/tasks"),
    "server/home": ("sync/*",),
    "server/process": ("sync/*", "server/tasks", "server/home", "server.settings"),
    "server/desk": ("sync/*", "server/tasks", "server/http", "server/home", "server/process"),
    "server/cli": ("sync/*", "reports", "server/tasks", "server/home", "server/process", "server"),
    "server": ("sync/*", "server/http", "server/home", "server/desk", "server/process"),
    "server.settings": ("sync", "sync/records/store"),
    "pwa": (),
}

# A library, and the only places that may import it.
LIBRARIES: dict[str, tuple[str, ...]] = {
    "CoolProp": ("sync/physics/",),
    "tinydb": ("sync/records/embedded/",),
    "prometheus_client": ("server/http/health.py",),
    "psycopg": ("sync/records/postgres/",),
    "psycopg_pool": ("sync/records/postgres/",),
    "alembic": ("sync/records/postgres/",),
    "sqlalchemy": ("sync/records/postgres/",),
    "marshmallow": ("sync/wire/",),
    "babel": ("sync/language/",),
    "brotli": ("server/http/app_shell.py",),
    "apispec": ("server/http/openapi.py",),
    "flask": ("server/",),
    "werkzeug": ("server/",),
    "granian": ("server/service.py", "server/process/"),
    "segno": ("server/process/",),
    "cryptography": ("server/home/authority.py",),
    "webauthn": ("server/desk/passkeys.py", "server/desk/passkey_questions.py"),
    "zeroconf": ("server/home/announcement.py",),
    "waitress": ("server/home/plain_http.py",),
    "weasyprint": ("reports/",),
    "PIL": ("reports/",),
    "pypdfium2": ("reports/",),
    "jinja2": ("reports/",),
    "smtplib": ("reports/",),
    "numpy": (),
    "demo": (),
    "tests": (),
}

def tree_of(name: str) -> ast.Module:
    """The syntax tree of a module of the checkout."""
    return ast.parse((ROOT / name).read_text("utf-8"), name)


def imports_of(tree: ast.AST) -> list[tuple[str, str]]:
    """(module, name) for everything imported anywhere in a tree; name is "" for a plain import."""
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found += [(alias.name, "") for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports are written in full, so that a reader sees the layer"
            found += [(node.module or "", alias.name) for alias in node.names]
    return found


def modules_reached(name: str) -> set[str]:
    """The modules of Layby that one imports, anywhere in it: at the top, in a function, only for its types."""
    paths = set()
    for module, imported in imports_of(tree_of(name)):
        path = module.replace(".", "/")
        paths |= {f"{path}/{imported}.py", f"{path}.py"}
    return paths & set(MODULES) - {name}


def bare(script: str) -> str:
    """A script's code without comments, strings and template text, so that words in prose aren't taken for code."""
    pattern = r"""//[^\n]*|/\*.*?\*/|"(?:\\.|[^"\\\n])*"|'(?:\\.|[^'\\\n])*'|`(?:\\.|[^`\\])*`"""
    return re.sub(pattern, '""', script, flags=re.DOTALL)


def code_of(name: str) -> str:
    """The bare code of a script of the checkout."""
    return bare((ROOT / name).read_text("utf-8"))


def room_of(name: str) -> str:
    """The room of a module, by its path."""
    return name.removesuffix(".py").replace("/", ".") if name in SINGLE else name.rpartition("/")[0]


def rooms_reached(name: str) -> set[str]:
    """The rooms that a module imports from, except its own."""
    rooms = set()
    for module, imported in imports_of(tree_of(name)):
        path = module.replace(".", "/")
        if path.split("/")[0] in PACKAGES:
            module_path = f"{path}/{imported}.py" if f"{path}/{imported}.py" in MODULES else f"{path}.py"
            rooms.add(room_of(module_path))
    return rooms - {room_of(name)}


@pytest.mark.parametrize("name", MODULES)
def test_a_module_imports_only_the_rooms_below_it(name: str) -> None:
    """The table above is the complete list of who may import whom."""
    allowed = ROOMS[room_of(name)]
    for room in sorted(rooms_reached(name)):
        inside = room in allowed or f"{re.split('[/.]', room)[0]}/*" in allowed
        assert inside, f"{name} must not import from {room}"


def test_no_module_imports_itself_through_others() -> None:
    """No ring of imports, not even one hidden by an import in a function or under TYPE_CHECKING."""
    below = {name: modules_reached(name) for name in MODULES}
    while below:
        leaves = {name for name, reached in below.items() if not reached & set(below)}
        assert leaves, f"these import each other in a ring, or build on one: {sorted(below)}"
        below = {name: reached for name, reached in below.items() if name not in leaves}


@pytest.mark.parametrize("name", MODULES)
def test_a_library_stays_behind_its_fence(name: str) -> None:
    """Only the rooms meant for a library import it."""
    for module, _ in imports_of(tree_of(name)):
        places = LIBRARIES.get(module.split(".")[0])
        assert places is None or name.startswith(places), f"{name} must not import {module}"


def test_the_kernel_keeps_to_the_table_of_constructs() -> None:
    """Only what the phone's module can express: no file, clock, chance or global."""
    assert [str(refusal) for refusal in emitter.refusals()] == []
    assert [str(refusal) for refusal in emitter.refusals(emitter.logger_paths(), None)] == []


def test_what_each_language_has_by_itself_is_no_more_than_it_needs() -> None:
    """The kernel's primitives aren't translated, so their imports are listed here."""
    imported = {module for module, _ in imports_of(tree_of("sync/kernel/primitives.py"))}
    assert imported == {"__future__", "collections.abc", "decimal", "json", "math", "typing"}


def test_nothing_that_is_made_is_kept() -> None:
    """The service makes the phone's rules and its one module; neither is written by hand, and neither is committed."""
    assert not [path for path in (ROOT / "pwa").glob("*") if path.stem in ("kernel", "page")]
    for name in SCRIPTS:
        for source in re.findall(r"""\bfrom\s+["']([^"']+)["']""", (ROOT / name).read_text("utf-8")):
            is_made = source in ("../kernel.js", "../loggers.js")
            assert is_made or (ROOT / name).parent.joinpath(source).exists(), f"{name}: {source}"


@pytest.mark.parametrize("name", SCRIPTS)
def test_a_script_of_the_phone_keeps_to_its_part(name: str) -> None:
    """IndexedDB in the store, the network where named, the screen in form/, later/, app.js, `Intl` in language/."""
    code = code_of(name)
    fences = {
        r"\bindexedDB\b": ("pwa/store/idb.js",),
        r"\bfetch\(": ("pwa/sync/client.js", "pwa/sync/help.js", "pwa/sw.js"),
        r"\bdocument\.": ("pwa/form/", "pwa/later/", "pwa/app.js"),
        r"\bIntl\b|\.toLocale": ("pwa/language/",),
    }
    for pattern, places in fences.items():
        assert name.startswith(places) or not re.search(pattern, code), f"{name} uses {pattern}"


def test_the_phone_s_language_stands_on_the_kernel_alone() -> None:
    """So that every other module can take its words from it."""
    for path in sorted((ROOT / "pwa" / "language").glob("*.js")):
        sources = re.findall(r"""\bfrom\s+["']([^"']+)["']""", path.read_text("utf-8"))
        assert set(sources) <= {"../kernel.js", "./words.js"}, path.name


def test_the_stock_storage_of_tinydb_is_not_used() -> None:
    """TinyDB's own file storage and its caching layer lose data in a crash: every table opens on the safe storage."""
    for name in MODULES:
        tree = tree_of(name)
        for module, imported in imports_of(tree):
            taken = {module, imported}
            assert not taken & {"JSONStorage", "CachingMiddleware", "tinydb.middlewares"}, f"{name} takes {taken}"
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "TinyDB":
                storage = [word.value for word in node.keywords if word.arg == "storage"]
                named = getattr(storage[0], "id", "") if storage else "the stock storage"
                assert named == "SafeStorage", f"{name}:{node.lineno} opens TinyDB on {named}"


def test_the_root_holds_only_the_agreed_names() -> None:
    """A stranger sees the architecture in the folder listing."""
    seen = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")} - MADE_BY_TOOLS
    assert seen <= VISIBLE, f"not agreed: {sorted(seen - VISIBLE)}"


@pytest.mark.parametrize("name", MODULES)
def test_a_module_says_what_it_holds(name: str) -> None:
    """Each module begins with what it holds and what it must not do, in two sentences or more."""
    opening = ast.get_docstring(tree_of(name)) or ""
    assert opening.count(".") + opening.count(";") >= 2, f"{name} opens with {opening!r}"


@pytest.mark.parametrize("name", SCRIPTS)
def test_a_script_says_what_it_holds(name: str) -> None:
    """Each script begins with a comment of the same kind."""
    assert (ROOT / name).read_text("utf-8").startswith(("//", "/*")), name


# What changes a file, by its module; `open` counts by its mode.
CHANGES_FILES = {
    "os": {"write", "fsync", "replace", "rename", "remove", "unlink", "rmdir", "mkdir", "makedirs", "ftruncate",
           "truncate", "link", "symlink", "open"},
    "shutil": {"rmtree", "copy", "copyfile", "copytree", "move", "copyfileobj"},
}
CHANGES_PATHS = {"unlink", "write_bytes", "write_text", "rename", "rmdir", "touch", "mkdir", "symlink_to"}
# The tables of the rulebook are made in the checkout; a trial file is made where needed, and nothing is kept. What is
# made of the sources is made again where it is lost or torn.
MAY_CHANGE_FILES = (
    "sync/disk/calls.py", "sync/disk/own_files.py", "sync/physics/build_tables.py", "server/cli/check.py",
    "server/http/made.py",
)


@pytest.mark.parametrize("name", [name for name in MODULES if name.startswith(("sync/", "server/"))])
def test_files_are_changed_by_one_module_alone(name: str) -> None:
    """Everything that a crash may lose passes through `sync.disk.calls`, where the crash tests listen."""
    changes = []
    for node in ast.walk(tree_of(name)):
        if not isinstance(node, ast.Call):
            continue
        called = node.func
        if isinstance(called, ast.Attribute):
            base = called.value.id if isinstance(called.value, ast.Name) else ""
            if called.attr in CHANGES_FILES.get(base, ()) or (base not in CHANGES_FILES and _changes_a_path(node)):
                changes.append(ast.unparse(node))
        elif isinstance(called, ast.Name) and called.id == "open" and _mode_of(node, 1).strip("rbt"):
            changes.append(ast.unparse(node))
    assert name in MAY_CHANGE_FILES or not changes


def _changes_a_path(call: ast.Call) -> bool:
    """Whether a method of that name changes a file: those of a path, and `open` with such a mode."""
    attribute = call.func
    assert isinstance(attribute, ast.Attribute)
    return attribute.attr in CHANGES_PATHS or (attribute.attr == "open" and bool(_mode_of(call, 0).strip("rbt")))


def _mode_of(call: ast.Call, place: int) -> str:
    given = [keyword.value for keyword in call.keywords if keyword.arg == "mode"] + call.args[place : place + 1]
    return given[0].value if given and isinstance(given[0], ast.Constant) and isinstance(given[0].value, str) else ""


def test_no_file_is_named_for_nothing() -> None:
    """Names are nouns of the trade; a drawer for anything isn't one."""
    drawers = {"util", "utils", "helper", "helpers", "manager", "managers", "misc", "common"}
    assert not [name for name in MODULES + SCRIPTS if Path(name).stem in drawers]


def test_nothing_unfinished_is_left() -> None:
    """No reminder, no debugging line, no stand-in for our own parts, no path of somebody's machine."""
    words = ["TO" + "DO", "FIX" + "ME", "X" + "XX", "debugger" + ";", "breakpoint" + "(", "unittest" + ".mock"]
    roots = re.compile(r"(?<![\w.*])/(?:work|home|root)/")
    places = [path for name in (*PACKAGES, "tests", "demo") for path in (ROOT / name).rglob("*")]
    kinds = {".py", ".js", ".css", ".html", ".json", ".md", ".txt", ".toml"}
    for path in [ROOT / "README.md", ROOT / "DEVELOPERS.md", *places]:
        if path.suffix in kinds and path.is_file():
            content = path.read_text("utf-8")
            assert not [word for word in words if word in content], path.relative_to(ROOT)
            assert not roots.search(content), path.relative_to(ROOT)


LONGEST = 400  # lines; under 250 needs no thought, and close to this limit there are really two modules


@pytest.mark.parametrize("name", MODULES + SCRIPTS)
def test_no_module_has_grown_out_of_hand(name: str) -> None:
    """Small enough to be read in one sitting."""
    assert len((ROOT / name).read_text("utf-8").splitlines()) <= LONGEST, name
