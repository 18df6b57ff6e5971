"""What stands at the top of a module: functions, classes, records, aliases and constants, as JavaScript writes them.

Each keeps its name, its place and its docstring; what begins with an underscore stays inside the module.
"""

from __future__ import annotations

import ast

from sync.emitter.code import Scope, code_of
from sync.emitter.comments import Comments, block, of_function, said
from sync.emitter.kinds import ANY, Kind, Symbol
from sync.emitter.layout import laid_out
from sync.emitter.signatures import annotated, signature_of, written
from sync.emitter.statements import written_body


def export(name: str) -> str:
    """The word in front of a definition."""
    return "" if name.startswith("_") else "export "


def function(node: ast.FunctionDef, scope: Scope, comments: Comments) -> list[str]:
    """A function of a module."""
    scope.report.use("FunctionDef")
    if node.decorator_list:
        scope.refuse(node, ast.unparse(node.decorator_list[0]), "decorator")
    signature = signature_of(node, scope)
    parameters, kinds = written(signature.parameters, node, scope)
    head = laid_out(f"{export(node.name)}function {node.name}({parameters}) {{", "")
    body = written_body(node.body, scope.function(kinds, signature.gives), comments, 1)
    return [*of_function(node, scope.names, ""), *head, *body, "}"]


def class_of(node: ast.ClassDef, symbol: Symbol, scope: Scope, comments: Comments) -> list[str]:
    """A class, an error or a TypedDict."""
    scope.report.use("ClassDef")
    if symbol.sort == "record":
        return _record(node, scope)
    decorators = {ast.unparse(one) for one in node.decorator_list}
    if not decorators <= {"dataclass", "dataclass(frozen=True)"}:
        scope.refuse(node, ast.unparse(node.decorator_list[0]), "decorator")
    extends = f" extends {ast.unparse(node.bases[0])}" if symbol.sort == "error" else ""
    lines = [
        *block((ast.get_docstring(node) or "").splitlines(), ""),
        f"{export(node.name)}class {node.name}{extends} {{",
    ]
    if decorators:
        lines += _dataclass(node, symbol, scope)
    for statement in node.body:
        if isinstance(statement, ast.FunctionDef):
            lines += (
                ["", *_method(statement, symbol, scope, comments)]
                if lines[-1][-1] != "{"
                else _method(statement, symbol, scope, comments)
            )
        elif isinstance(statement, ast.Assign) and symbol.sort == "error":
            lines.append(f"  static {ast.unparse(statement.targets[0])} = {code_of(statement.value, scope).text};")
        elif not (isinstance(statement, ast.Expr) and isinstance(statement.value, ast.Constant)) and not decorators:
            scope.refuse(statement, type(statement).__name__, "construct")
    return [*lines, "}"]


def _method(node: ast.FunctionDef, symbol: Symbol, scope: Scope, comments: Comments) -> list[str]:
    if node.decorator_list:
        scope.refuse(node, ast.unparse(node.decorator_list[0]), "decorator")
    if node.name.startswith("__") and node.name != "__init__":
        scope.refuse(node, node.name, "method")
    signature = signature_of(node, scope)
    parameters, kinds = written(signature.parameters, node, scope)
    name = "constructor" if node.name == "__init__" else node.name
    head = laid_out(f"{name}({parameters}) {{", "  ")
    inner = scope.function({**kinds, "self": symbol.kind}, signature.gives)
    return [*of_function(node, scope.names, "  "), *head, *written_body(node.body, inner, comments, 2), "  }"]


def _dataclass(node: ast.ClassDef, symbol: Symbol, scope: Scope) -> list[str]:
    """The constructor that a dataclass has by itself."""
    parameters = symbol.signature.parameters if symbol.signature else ()
    text, _ = written(parameters, node, scope)
    fields = [one for one in node.body if isinstance(one, ast.AnnAssign)]
    types = [f"@param {{{said(one.annotation, scope.names)}}} {ast.unparse(one.target)}" for one in fields]
    sets = [f"    this.{one.name} = {one.name};" for one in parameters]
    return [*block(types, "  "), *laid_out(f"constructor({text}) {{", "  "), *sets, "  }"]


def _record(node: ast.ClassDef, scope: Scope) -> list[str]:
    """A TypedDict as the type it stands for."""
    some = any(word.arg == "total" and getattr(word.value, "value", True) is False for word in node.keywords)
    parts = []
    for one in node.body:
        if isinstance(one, ast.AnnAssign):
            absent = (
                "Required" not in ast.unparse(one.annotation) if some else "NotRequired" in ast.unparse(one.annotation)
            )
            parts.append(f"{ast.unparse(one.target)}{'?' if absent else ''}: {said(one.annotation, scope.names)}")
    text = (ast.get_docstring(node) or "").splitlines()
    bases = "".join(f"{ast.unparse(base)} & " for base in node.bases if ast.unparse(base) != "TypedDict")
    return block([*text, *laid_out(f"@typedef {{{bases}{{ {', '.join(parts)} }}}} {node.name}", "")], "")


def alias(name: str, value: ast.expr | None, scope: Scope) -> list[str]:
    """A name for a type."""
    text = "any" if value is None else said(value, scope.names)
    return block(laid_out(f"@typedef {{{text}}} {name}", ""), "")


def constant(node: ast.Assign | ast.AnnAssign, scope: Scope) -> list[str]:
    """A value that a module keeps."""
    scope.report.use(type(node).__name__)
    target = node.targets[0] if isinstance(node, ast.Assign) else node.target
    kind = annotated(node.annotation, scope) if isinstance(node, ast.AnnAssign) else ANY
    if (
        not isinstance(target, ast.Name)
        or node.value is None
        or (isinstance(node, ast.Assign) and len(node.targets) > 1)
    ):
        scope.refuse(node, ast.unparse(node), "target")
        return []
    code = code_of(node.value, scope, kind)
    types = block([f"@type {{{said(node.annotation, scope.names)}}}"], "") if isinstance(node, ast.AnnAssign) else []
    return [*types, *laid_out(f"{export(target.id)}const {code_of(target, scope).text} = {code.text};", "")]


def kind_of_constant(node: ast.Assign | ast.AnnAssign, scope: Scope) -> Kind:
    """What is known of such a value, for those who read it."""
    if isinstance(node, ast.AnnAssign):
        return annotated(node.annotation, scope)
    return code_of(node.value, scope).kind
