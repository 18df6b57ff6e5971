"""The page's modules joined into one: the forms it accepts, what it refuses, and the same exports as one by one.

The joined module runs in a real Chromium; other tests cover how it is served and cached.
"""

from __future__ import annotations

import base64
from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Page

from server.http.page_module import Refused, joined, name_of
from tests.support.browser import Phone, borrowed
from tests.support.service import ROOT, Service

# What comes after the first start is joined by itself.
MODULES = sorted("/" + path.relative_to(ROOT / "pwa").as_posix() for path in (ROOT / "pwa").rglob("*.js")
                 if path.parent.name != "later")

# Each form once, names that clash unless each module has its own scope, and words that are only words.
FORMS = {
    "/app.js": (
        'import { Counter, later, trail as steps } from "./room/parts.js";\n'
        'import { name } from "./names.js";\n'
        "// import nothing from here, export nothing\n"
        'const own = "app";\n'
        "steps.push(own);\n"
        'export const words = "import { x } from y; export default";\n'
        "export const given = { import: name, of: `export ${own}`, counted: new Counter().next() };\n"
        "export async function sum() {\n  return (await later(1)) + given.counted;\n}\n"
    ),
    "/room/parts.js": (
        'import { name, trail as steps } from "../names.js";\n'
        'const own = "parts";\n'
        "steps.push(`${own} after ${name}`);\n"
        "/* export * from many lines\n   import them */\n"
        "export class Counter {\n  next() {\n    return (this.count = (this.count ?? 0) + 1);\n  }\n}\n"
        "export async function later(value) {\n  return value + 1;\n}\n"
        "export const trail = steps;\n"
    ),
    "/names.js": (
        'const own = "names";\n'
        "export const trail = [own];\n"
        "export function called() {\n  return own;\n}\n"
        "export const name = called();"
    ),
    "/unused.js": "export default nobody asks for this;\n",
}
READ = """async (address) => {
  const { $app, $room_parts, $names, ...rest } = await import(address);
  return { given: $app.given, words: $app.words, sum: await $app.sum(), trail: $names.trail, rest: Object.keys(rest),
    names: [$app, $room_parts, $names].map((one) => Object.keys(one)) };
}"""


@pytest.fixture
def page() -> Iterator[Page]:
    """An empty page of a real Chromium."""
    with borrowed() as browser:
        yield browser.new_page()


def address_of(text: str) -> str:
    """An address whose module is this text [URL]."""
    return "data:text/javascript;base64," + base64.b64encode(text.encode()).decode()


def test_each_form_means_what_it_meant_alone(page: Page) -> None:
    """Every needed module runs once, after what it needs, and its names stay its own."""
    assert page.evaluate(READ, address_of(joined(FORMS, "/app.js", {}))) == {
        "given": {"import": "names", "of": "export app", "counted": 1},
        "words": "import { x } from y; export default",
        "sum": 3,
        "trail": ["names", "parts after names", "app"],
        "rest": [],
        "names": [["words", "given", "sum"], ["Counter", "later", "trail"], ["trail", "called", "name"]],
    }


def test_a_library_gives_only_what_others_ask_for(page: Page) -> None:
    """Its own names work within it; names are taken from it and checked against its exports."""
    rules = "export const factor = 2;\nexport function double(x) {\n  return factor * x;\n}\n"
    modules = {"/room/app.js": 'import { double as twice } from "../rules.js";\nexport const four = twice(2);\n'}
    read = """async (address) => {
      const page = await import(address);
      return [page.$room_app.four, Object.keys(page.$rules)];
    }"""
    assert page.evaluate(read, address_of(joined(modules, "/room/app.js", {"/rules.js": rules}))) == [4, ["double"]]
    with pytest.raises(Refused) as refused:
        joined(modules, "/room/app.js", {"/rules.js": rules.replace("double", "treble")})
    assert refused.value.refusals == ["/room/app.js:1: double is not exported by /rules.js"]


@pytest.mark.parametrize(
    "line",
    [
        'import "./names.js";',
        'import * as names from "./names.js";',
        'import names from "./names.js";',
        "import { name } from './names.js';",
        'import { name } from "names";',
        'import { name } from "./names.js"',
        'import { name } from "./names.js" with { type: "json" };',
        'import { name,\n  trail } from "./names.js";',
        'const late = () => import("./names.js");',
        "const here = import.meta.url;",
        'const own = 1; import { name } from "./names.js";',
        'import { name } from "./names.js"; import { trail } from "./names.js";',
        "export default own;",
        "export { own };",
        "export { own as other };",
        'export * from "./names.js";',
        'export { name } from "./names.js";',
        "export let count = 0;",
        "export var count = 0;",
        "export const { one, other } = own;",
        "export function* each() {}",
        "if (own) {\n}; export const late = 1;",
    ],
)
def test_another_form_is_refused_with_its_place(line: str) -> None:
    """Nothing is joined that could mean something else than alone; the refusal says what to write instead."""
    text = f"// A module.\nconst own = {{}};\n{line}\n"
    with pytest.raises(Refused) as refused:
        joined({**FORMS, "/odd.js": text}, "/odd.js", {})
    words = [place for place, part in enumerate(text.split("\n"), 1) if "import" in part or "export" in part]
    for refusal in refused.value.refusals:
        assert refusal.startswith(f"/odd.js:{words[0]}: ")
        assert "write `import { name, other as alias }" in refusal


def test_all_that_is_wrong_is_told_at_once() -> None:
    """For every module: another form, a missing file or name, a ring."""
    modules = {
        "/app.js": 'import { a } from "./room/a.js";\nimport { b } from "./nowhere.js";\nexport default a;\n',
        "/room/a.js": '// One.\nimport { b, c } from "./b.js";\nexport const a = b;\n',
        "/room/b.js": 'import { a } from "./a.js";\nimport { own } from "./b.js";\nexport const b = a;\n',
    }
    with pytest.raises(Refused) as refused:
        joined(modules, "/app.js", {})
    places = [refusal.split(": write", 1)[0] for refusal in refused.value.refusals]
    assert places == [
        "/room/b.js:1: a ring of imports: /room/a.js -> /room/b.js -> /room/a.js",
        "/room/b.js:2: a ring of imports: /room/b.js -> /room/b.js",
        "/room/b.js:2: own is not exported by /room/b.js",
        "/room/a.js:2: c is not exported by /room/b.js",
        "/app.js:3: export default a;",
        "/app.js:2: /nowhere.js is not among the modules of the page",
    ]
    assert str(refused.value).split("\n") == refused.value.refusals


# A module's exports: what each is, and constants as JSON. What functions do is compared by their syntax trees.
EXPORTS = """async ([path, name]) => {
  const [alone, page] = [await import(path), await import('/page.js')];
  const text = (value) => (typeof value === 'function' ? value.length : JSON.stringify(value));
  return [alone, page[name]].map((one) => Object.fromEntries(Object.keys(one).sort().map((key) =>
    [key, `${Object.prototype.toString.call(one[key])} ${text(one[key])}`])));
}"""


def test_the_joined_page_exports_what_its_modules_export_one_by_one(handset: Phone, service: Service) -> None:
    """It contains all modules of the page; the first one, which would start the page a second time, exports nothing."""
    page = handset.open(service.url)
    exports: dict[str, Any] = {}
    for path in MODULES:
        if path not in ("/app.js", "/sw.js"):
            alone, exports[path] = page.evaluate(EXPORTS, [path, name_of(path)])
            assert exports[path] == alone, path
    assert all(exports.values())
    assert len(exports["/visit/steps.js"]) > 1
    names = page.evaluate("async () => Object.keys(await import('/page.js'))")
    assert set(names) == {name_of(path) for path in ("/kernel.js", *MODULES)} - {name_of("/sw.js")}
    assert page.evaluate("async () => Object.keys((await import('/page.js')).$app)") == []
    assert handset.complaints == []
