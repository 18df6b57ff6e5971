"""The whole: which modules there are, what their names stand for, in which order they come, and the one text of all.

Names that two modules both want are refused here; what a statement becomes is decided elsewhere.
"""

from __future__ import annotations

import ast
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from pathlib import Path

from sync.emitter import definitions
from sync.emitter.code import Scope
from sync.emitter.comments import Comments, opening
from sync.emitter.constructs import IMPORTS, PRIMITIVES, RESERVED
from sync.emitter.kinds import GENERICS, PLAIN, Kind, Symbol, head_of, parts_of
from sync.emitter.reports import Refusal, Report
from sync.emitter.signatures import annotated, members_of_class, signature_of

RUNTIME = Path(__file__).with_name("runtime.js")
ERRORS = "errors"


@dataclass
class Module:
    """One file of the kernel, with its names."""

    path: Path
    source: str
    tree: ast.Module
    report: Report
    names: dict[str, Symbol] = field(default_factory=dict)
    own: dict[str, Symbol] = field(default_factory=dict)
    needs: list[str] = field(default_factory=list)

    @property
    def stem(self) -> str:
        """The module's name without its folder."""
        return self.path.stem


class Kernel:
    """All modules, read in the order in which they need each other."""

    def __init__(self, paths: Iterable[Path], errors: Path | None = None) -> None:
        self.reports: list[Report] = []
        self.classes: dict[str, Symbol] = {"LaybyError": _root_of_errors()}
        read = [self._read(path) for path in sorted(paths)]
        self.modules = {module.stem: module for module in read if module is not None}
        if errors is not None and (book := self._read(errors)) is not None:
            book.tree.body = _errors_in(
                book.tree, {name for module in self.modules.values() for name in _taken_of_errors(module)}
            )
            self.modules[ERRORS] = book
        self.order = self._ordered()
        for module in self.order:
            self._names(module)
        self._clashes()

    @property
    def refusals(self) -> list[Refusal]:
        """Everything that was refused so far."""
        return sorted({refusal for report in self.reports for refusal in report.refusals})

    def scope(self, module: Module) -> Scope:
        """The scope at the top of a module."""
        return Scope(module.names, module.report, classes=self.classes)

    def _read(self, path: Path) -> Module | None:
        source, report = path.read_text("utf-8"), Report(path)
        self.reports.append(report)
        try:
            return Module(path, source, ast.parse(source, str(path)), report)
        except SyntaxError as error:
            place = ast.Constant(None, lineno=error.lineno or 1)
            report.refuse(place, error.msg, "syntax")
            return None

    def _ordered(self) -> list[Module]:
        for module in self.modules.values():
            module.needs = [name for node in module.tree.body for name in self._needed(node)]
        found: list[Module] = []
        for stem in self.modules:
            self._visit(stem, found, ())
        return found

    def _needed(self, node: ast.stmt) -> list[str]:
        if not isinstance(node, ast.ImportFrom) or node.module is None:
            return []
        return [
            stem for stem in (node.module.split(".")[-1], *(one.name for one in node.names)) if stem in self.modules
        ]

    def _visit(self, stem: str, found: list[Module], above: tuple[str, ...]) -> None:
        module = self.modules[stem]
        if stem in above:
            module.report.refuse(module.tree, " -> ".join((*above[above.index(stem) :], stem)), "ring")
        elif module not in found:
            for need in module.needs:
                self._visit(need, found, (*above, stem))
            found.append(module)

    def _names(self, module: Module) -> None:
        """Fill in what the names of a module stand for: imports first, then its own, in their order."""
        if module.stem == ERRORS:
            module.names["LaybyError"] = self.classes["LaybyError"]
        for node in module.tree.body:
            if isinstance(node, (ast.Import, ast.ImportFrom)):
                self._imported(module, node)
        scope = self.scope(module)
        for node in module.tree.body:
            symbol = self._defined(module, node, scope)
            if symbol is not None:
                if symbol.name in RESERVED:
                    module.report.refuse(node, symbol.name, "reserved")
                module.own[symbol.name] = module.names[symbol.name] = symbol
        for node in module.tree.body:
            self._signed(module, node, scope)

    def _imported(self, module: Module, node: ast.Import | ast.ImportFrom) -> None:
        for one in node.names:
            name = getattr(node, "module", None) or ""
            stem = name.split(".")[-1]
            if module.stem == PRIMITIVES and stem not in self.modules:
                continue
            if isinstance(node, ast.Import) or node.level or one.asname is not None:
                module.report.refuse(node, ast.unparse(node), "import")
            elif name.split(".")[-1] == ERRORS and one.name == "LaybyError":
                module.names[one.name] = self.classes[one.name]
            elif stem in self.modules and one.name in self.modules[stem].own:
                module.names[one.name] = self.modules[stem].own[one.name]
            elif one.name in self.modules:
                members = self.modules[one.name].own
                module.names[one.name] = Symbol("module", one.name, one.name, node, Kind("module"), members=members)
            elif one.name not in IMPORTS.get(name, ()):
                module.report.refuse(node, f"{name}.{one.name}", "import")

    def _defined(self, module: Module, node: ast.stmt, scope: Scope) -> Symbol | None:
        if isinstance(node, ast.FunctionDef):
            sort = "primitive" if module.stem == PRIMITIVES else "function"
            return Symbol(sort, module.stem, node.name, node, Kind("function"))
        if isinstance(node, ast.ClassDef):
            return self._class(module, node)
        if isinstance(node, (ast.Assign, ast.AnnAssign)):
            target = node.targets[0] if isinstance(node, ast.Assign) else node.target
            if isinstance(target, ast.Name):
                return self._value(module, node, target.id, scope)
        return None

    def _class(self, module: Module, node: ast.ClassDef) -> Symbol:
        base = ast.unparse(node.bases[0]) if len(node.bases) == 1 else ""
        sort = "record" if base == "TypedDict" else "class"
        if base in module.names and module.names[base].sort in ("error", "record"):
            sort = module.names[base].sort
        if node.bases and sort == "class":
            module.report.refuse(node, ast.unparse(node), "base")
        kind = Kind("dict", of=node.name) if sort == "record" else Kind("object", of=node.name)
        symbol = Symbol(sort, module.stem, node.name, node, kind)
        if sort == "error":
            symbol.members = self.classes["LaybyError"].members
        self.classes[node.name] = symbol
        return symbol

    def _value(self, module: Module, node: ast.Assign | ast.AnnAssign, name: str, scope: Scope) -> Symbol:
        record = record_of(node)
        if record is not None:
            self.classes[name] = Symbol("record", module.stem, name, record, Kind("dict", of=name))
            return self.classes[name]
        if is_alias(node, module.names):
            symbol = module.names[name] = Symbol("alias", module.stem, name, node)
            symbol.kind = annotated(node.value, scope) if node.value is not None else symbol.kind
            return symbol
        quiet = replace(scope, report=Report(module.path))
        return Symbol("constant", module.stem, name, node, definitions.kind_of_constant(node, quiet))

    def _signed(self, module: Module, node: ast.stmt, scope: Scope) -> None:
        if isinstance(node, ast.FunctionDef):
            symbol = module.own[node.name]
            symbol.signature = signature_of(node, scope)
        for symbol in module.own.values():
            if isinstance(symbol.node, ast.ClassDef) and symbol.sort in ("class", "record") and not symbol.members:
                members_of_class(symbol.node, symbol, scope)

    def _clashes(self) -> None:
        """All modules share one scope: a name may be defined once, but for an alias of the same type."""
        first: dict[str, tuple[Module, Symbol]] = {}
        for module in self.order:
            for name, symbol in module.own.items():
                where, other = first.setdefault(name, (module, symbol))
                alike = symbol.sort == other.sort == "alias" and symbol.kind == other.kind
                if where is not module and not alike:
                    line = getattr(other.node, "lineno", 1)
                    module.report.refuse(symbol.node, f"{name}, also at {where.path}:{line}", "clash")


def _taken_of_errors(module: Module) -> set[str]:
    """The errors that a module imports."""
    imports = [node for node in module.tree.body if isinstance(node, ast.ImportFrom)]
    return {one.name for node in imports if (node.module or "").split(".")[-1] == ERRORS for one in node.names}


def _errors_in(tree: ast.Module, taken: set[str]) -> list[ast.stmt]:
    """Of the module of errors: its docstring and the classes that somebody raises or catches, but for the root."""
    return [
        node
        for node in tree.body
        if _is_docstring(node) or (isinstance(node, ast.ClassDef) and node.name in taken - {"LaybyError"})
    ]


def record_of(node: ast.Assign | ast.AnnAssign) -> ast.ClassDef | None:
    """`Name = TypedDict("Name", {...})` as the class it stands for."""
    call = node.value
    if not (isinstance(call, ast.Call) and ast.unparse(call.func) == "TypedDict" and len(call.args) == 2):
        return None
    entries = call.args[1]
    if not isinstance(entries, ast.Dict) or not isinstance(node, ast.Assign):
        return None
    body: list[ast.stmt] = [
        ast.copy_location(ast.AnnAssign(ast.Name(str(ast.literal_eval(key))), kind, None, 1), node)
        for key, kind in zip(entries.keys, entries.values, strict=True)
        if key is not None
    ]
    return ast.ClassDef(
        ast.unparse(node.targets[0]), [ast.Name("TypedDict")], call.keywords, body, [], lineno=node.lineno
    )


def is_alias(node: ast.Assign | ast.AnnAssign, names: dict[str, Symbol]) -> bool:
    """Whether an assignment gives a type a name."""
    if isinstance(node, ast.AnnAssign):
        return ast.unparse(node.annotation) == "TypeAlias"
    return is_type(node.value, names)


def is_type(node: ast.expr, names: dict[str, Symbol]) -> bool:
    """Whether a value is a name for a type."""
    if isinstance(node, ast.BinOp):
        return isinstance(node.op, ast.BitOr) and is_type(node.left, names) and is_type(node.right, names)
    head = head_of(node)
    if isinstance(node, ast.Subscript):
        return head in GENERICS and len(parts_of(node)) > 0
    return head in PLAIN or (head in names and names[head].sort in ("class", "record", "alias"))


def _root_of_errors() -> Symbol:
    members = {"code": Symbol("attribute", ERRORS, "code", ast.Constant(None), Kind("text"))}
    members["values"] = Symbol("attribute", ERRORS, "values", ast.Constant(None), Kind("dict"))
    return Symbol("error", ERRORS, "LaybyError", ast.Constant(None), Kind("object", of="LaybyError"), members=members)


def section(kernel: Kernel, module: Module, taken: set[str]) -> list[str]:
    """A module as a part of the whole."""
    scope, comments = kernel.scope(module), Comments(module.source)
    lines = ["", *opening(ast.get_docstring(module.tree), module.stem)]
    for node in module.tree.body:
        part = _definition(node, module, scope, comments, taken)
        lines += ["", *part] if part else []
    return lines


def _definition(node: ast.stmt, module: Module, scope: Scope, comments: Comments, taken: set[str]) -> list[str]:
    above = comments.above(node, "")
    if isinstance(node, (ast.Import, ast.ImportFrom)) or _is_docstring(node):
        return []
    if isinstance(node, ast.FunctionDef):
        return [*above, *definitions.function(node, scope, comments)]
    if isinstance(node, ast.ClassDef):
        return [*above, *definitions.class_of(node, module.own[node.name], scope, comments)]
    if isinstance(node, (ast.Assign, ast.AnnAssign)):
        target = node.targets[0] if isinstance(node, ast.Assign) else node.target
        name = target.id if isinstance(target, ast.Name) else ""
        symbol = module.own.get(name)
        if symbol is not None and isinstance(symbol.node, ast.ClassDef):
            return [*above, *definitions.class_of(symbol.node, symbol, scope, comments)]
        if symbol is not None and symbol.sort == "alias":
            lines = [] if name in taken else definitions.alias(name, node.value, scope)
            taken.add(name)
            return [*above, *lines]
        return [*above, *definitions.constant(node, scope)]
    scope.refuse(node, type(node).__name__, "construct")
    return []


def _is_docstring(node: ast.stmt) -> bool:
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant) and isinstance(node.value.value, str)
