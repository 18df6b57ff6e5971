"""Joins the page's modules into one, so that a phone loads one file that compresses well instead of sixty.

Each keeps its own scope. The forms of `import` and `export` that the page uses are known; any other is refused with its
place, all of them at once. What the modules do, and how they are served, doesn't matter here.
"""

from __future__ import annotations

import posixpath
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

_NAME = r"[A-Za-z_$][\w$]*"
_ONE = rf"{_NAME}(?: as {_NAME})?"
_IMPORT = re.compile(rf'import \{{ (?P<names>{_ONE}(?:, {_ONE})*) \}} from "(?P<source>\.[^"\n]*)";(?=\n|$)')
_EXPORT = re.compile(rf"export (?=(?:(?:async )?function |class |const )(?P<name>{_NAME})\b)")
# Texts and comments, where the two words are only words, as they are after a dot and before a colon. A module that is
# imported by an address in a name comes later and is none of these.
_TEXT = re.compile(r"""//[^\n]*|/\*.*?\*/|"(?:\\.|[^"\\\n])*"|'(?:\\.|[^'\\\n])*'|`(?:\\.|[^`\\])*`""", re.DOTALL)
_WORD = re.compile(r"(?<![\w$.])(?:import|export)(?![\w$]| ?:|\([a-z])")

FORMS = (
    'write `import { name, other as alias } from "./file.js";` on a line, or `export` before a `const`, `function` or '
    "`class`"
)


class Refused(Exception):
    """Modules that can't be joined; `refusals` says for each fault where it is and what to write instead."""

    def __init__(self, refusals: list[str]) -> None:
        super().__init__("\n".join(refusals))
        self.refusals = refusals


@dataclass(frozen=True)
class _Import:
    """One line of import.

    names: as written within the braces
    path: of the module they come from
    """

    names: str
    path: str
    line: int

    @property
    def originals(self) -> list[str]:
        """The names as the other module exports them."""
        return [name.split(" as ")[0] for name in self.names.split(", ")]


@dataclass(eq=False)
class _Module:
    """One module, read: its own lines without `import` and `export`, its imports and exports, and what is refused."""

    path: str
    lines: str = ""
    imports: list[_Import] = field(default_factory=list)
    exports: list[str] = field(default_factory=list)
    refusals: list[str] = field(default_factory=list)

    def refuse(self, line: int, fault: str) -> None:
        """Note a fault and its place."""
        self.refusals.append(f"{self.path}:{line}: {fault}")


def name_of(path: str) -> str:
    """A module's name in the joined file, which exports it by that name: /store/outbox.js is $store_outbox."""
    return "$" + path.strip("/").removesuffix(".js").replace("/", "_")


def joined(modules: Mapping[str, str], entry: str, library: Mapping[str, str]) -> str:
    """One module made from everything a first one needs.

    Args:
        modules: texts by their path [{absolute path: JavaScript}]
        entry: the module to begin with [absolute path]
        library: modules of which only what others import is given, such as the rules [{absolute path: JavaScript}]

    Returns:
        an ES module; it runs each module once, those that others need first, and exports each under `name_of` as an
        object of that module's exports [JavaScript]

    Raises:
        Refused: another form of import or export, a missing file or name, a ring of imports.
    """
    known = {path: _read(path, text) for path, text in {**modules, **library}.items()}
    order: list[_Module] = []
    _visit(known[entry], known, order, ())
    for module in order:
        _check(module, known)
    refusals = [refusal for module in order for refusal in module.refusals]
    if refusals:
        raise Refused(refusals)
    wanted = {(need.path, name) for module in order for need in module.imports for name in need.originals}
    for module in order:
        if module.path in library:
            module.exports = [name for name in module.exports if (module.path, name) in wanted]
    return "".join(map(_section, order))


def _read(path: str, text: str) -> _Module:
    module, end = _Module(path), 0
    for place in _words(text):
        line, begins = text.count("\n", 0, place) + 1, place == 0 or text[place - 1] == "\n"
        match = (_IMPORT.match(text, place) or _EXPORT.match(text, place)) if begins else None
        if match is None:
            module.refuse(line, f"{text[place:].splitlines()[0]}: {FORMS}")
            continue
        if match.re is _IMPORT:
            source = posixpath.normpath(posixpath.join(posixpath.dirname(path), match["source"]))
            module.imports.append(_Import(match["names"], source, line))
        else:
            module.exports.append(match["name"])
        module.lines += text[end:place]
        end = match.end()
    module.lines += text[end:]
    return module


def _words(text: str) -> Iterator[int]:
    """Where `import` or `export` stands in the code of a text."""
    code = _TEXT.sub(lambda match: re.sub(r"[^\n]", " ", match[0]), text)
    return (match.start() for match in _WORD.finditer(code))


def _visit(module: _Module, known: Mapping[str, _Module], order: list[_Module], above: tuple[str, ...]) -> None:
    """Put a module after everything it needs."""
    for need in module.imports:
        if need.path in (*above, module.path):
            ring = [*above, module.path]
            module.refuse(need.line, f"a ring of imports: {' -> '.join([*ring[ring.index(need.path):], need.path])}")
        elif need.path in known and known[need.path] not in order:
            _visit(known[need.path], known, order, (*above, module.path))
    order.append(module)


def _check(module: _Module, known: Mapping[str, _Module]) -> None:
    """Refuse an import that no module exports: joined, it would be undefined without an error."""
    for need in module.imports:
        if need.path not in known:
            module.refuse(need.line, f"{need.path} is not among the modules of the page")
            continue
        for name in need.originals:
            if name not in known[need.path].exports:
                module.refuse(need.line, f"{name} is not exported by {need.path}")


def _section(module: _Module) -> str:
    """A module as part of the whole."""
    needs = [f"const {{ {need.names.replace(' as ', ': ')} }} = {name_of(need.path)};\n" for need in module.imports]
    body = module.lines if module.lines.endswith("\n") else module.lines + "\n"
    gives = f"return {{ {', '.join(module.exports)} }};\n"
    return "".join((f"export const {name_of(module.path)} = (() => {{\n", *needs, body, gives, "})();\n"))
