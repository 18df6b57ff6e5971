"""The whole module: which kernel modules there are, their order, whether their names clash, and the text of each.

Names that two modules both define are refused here; other modules decide what a statement becomes.
"""

from __future__ import annotations

import ast
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from sync.emitter import definitions
from sync.emitter.code import Scope
from sync.emitter.comments import Comments, opening
from sync.emitter.kinds import Symbol
from sync.emitter.reports import Refusal, Report
from sync.emitter.symbols import ERRORS, imported, own_names, root_of_errors

RUNTIME = Path(__file__).with_name("runtime.js")


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
    """All modules, read in the order in which they depend on each other."""

    def __init__(self, paths: Iterable[Path], errors: Path | None = None) -> None:
        self.reports: list[Report] = []
        self.classes: dict[str, Symbol] = {"LaybyError": root_of_errors()}
        read = [self._read(path) for path in sorted(paths)]
        self.modules = {module.stem: module for module in read if module is not None}
        if errors is not None and (book := self._read(errors)) is not None:
            book.tree.body = _errors_in(
                book.tree, {name for module in self.modules.values() for name in _error_names(module)}
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
        order: list[Module] = []
        for stem in self.modules:
            self._visit(stem, order, ())
        return order

    def _needed(self, node: ast.stmt) -> list[str]:
        if not isinstance(node, ast.ImportFrom) or node.module is None:
            return []
        return [
            stem for stem in (node.module.split(".")[-1], *(one.name for one in node.names)) if stem in self.modules
        ]

    def _visit(self, stem: str, order: list[Module], above: tuple[str, ...]) -> None:
        module = self.modules[stem]
        if stem in above:
            module.report.refuse(module.tree, " -> ".join((*above[above.index(stem) :], stem)), "ring")
        elif module not in order:
            for need in module.needs:
                self._visit(need, order, (*above, stem))
            order.append(module)

    def _names(self, module: Module) -> None:
        """Fill in what the names of a module refer to: imports first, then its own."""
        scope, others = self.scope(module), {other.stem: other.own for other in self.modules.values()}
        if module.stem == ERRORS:
            module.names["LaybyError"] = self.classes["LaybyError"]
        for node in module.tree.body:
            if isinstance(node, (ast.Import, ast.ImportFrom)):
                imported(node, scope, others, module.stem)
        module.own = own_names(module.tree.body, module.stem, scope)

    def _clashes(self) -> None:
        """All modules share one scope: a name may be defined only once, except for an alias of the same type."""
        first: dict[str, tuple[Module, Symbol]] = {}
        for module in self.order:
            for name, symbol in module.own.items():
                where, other = first.setdefault(name, (module, symbol))
                alike = symbol.sort == other.sort == "alias" and symbol.kind == other.kind
                if where is not module and not alike:
                    line = getattr(other.node, "lineno", 1)
                    module.report.refuse(symbol.node, f"{name}, also at {where.path}:{line}", "clash")


def _error_names(module: Module) -> set[str]:
    """The errors that a module imports."""
    imports = [node for node in module.tree.body if isinstance(node, ast.ImportFrom)]
    return {one.name for node in imports if (node.module or "").split(".")[-1] == ERRORS for one in node.names}


def _errors_in(tree: ast.Module, names: set[str]) -> list[ast.stmt]:
    """From the module of errors: its docstring and the classes that are raised or caught, except the root."""
    return [
        node
        for node in tree.body
        if _is_docstring(node) or (isinstance(node, ast.ClassDef) and node.name in names - {"LaybyError"})
    ]


def section(kernel: Kernel, module: Module, names: set[str]) -> list[str]:
    """A module as part of the whole."""
    scope, comments = kernel.scope(module), Comments(module.source)
    lines = ["", *opening(ast.get_docstring(module.tree), module.stem)]
    for node in module.tree.body:
        part = _definition(node, module, scope, comments, names)
        lines += ["", *part] if part else []
    return lines


def _definition(node: ast.stmt, module: Module, scope: Scope, comments: Comments, names: set[str]) -> list[str]:
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
            lines = [] if name in names else definitions.alias(name, node.value, scope)
            names.add(name)
            return [*above, *lines]
        return [*above, *definitions.constant(node, scope)]
    scope.refuse(node, type(node).__name__, "construct")
    return []


def _is_docstring(node: ast.stmt) -> bool:
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant) and isinstance(node.value.value, str)
