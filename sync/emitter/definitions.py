"""The top level of a module: functions, classes, records, aliases and constants, as JavaScript writes them.

Each keeps its name, its place and its docstring; names that begin with an underscore stay inside the module.
"""

from __future__ import annotations

import ast

from sync.emitter.code import Scope, code_of
from sync.emitter.comments import Comments, block, of_function, type_of
from sync.emitter.kinds import ANY, Kind, Symbol
from sync.emitter.layout import WIDTH, laid_out
from sync.emitter.signatures import annotated, signature_of, written
from sync.emitter.statements import written_body


def export(name: str) -> str:
    """The keyword before a definition."""
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
    if not {ast.unparse(one) for one in node.decorator_list} <= {"dataclass", "dataclass(frozen=True)"}:
        scope.refuse(node, ast.unparse(node.decorator_list[0]), "decorator")
    extends = f" extends {ast.unparse(node.bases[0])}" if symbol.sort == "error" else ""
    parts = [_dataclass(node, symbol, scope)] if node.decorator_list else []
    parts += [part for one in node.body if (part := _member(one, node, symbol, scope, comments))]
    lines = [line for part in parts for line in ("", *part)][1:]
    head = f"{export(node.name)}class {node.name}{extends} {{"
    return [*block((ast.get_docstring(node) or "").splitlines(), ""), head, *lines, "}"]


def _member(node: ast.stmt, around: ast.ClassDef, symbol: Symbol, scope: Scope, comments: Comments) -> list[str]:
    """A method, or an error's code; a dataclass's fields are in its constructor."""
    if isinstance(node, ast.FunctionDef):
        return _method(node, symbol, scope, comments)
    if isinstance(node, ast.Assign) and symbol.sort == "error":
        return [f"  static {ast.unparse(node.targets[0])} = {code_of(node.value, scope).text};"]
    docstring = isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
    if not docstring and not (around.decorator_list and isinstance(node, ast.AnnAssign)):
        scope.refuse(node, type(node).__name__, "construct")
    return []


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
    """The constructor that a dataclass gets automatically."""
    parameters = symbol.signature.parameters if symbol.signature else ()
    text, _ = written(parameters, node, scope)
    fields = [one for one in node.body if isinstance(one, ast.AnnAssign)]
    types = [f"@param {{{type_of(one.annotation, scope.names)}}} {ast.unparse(one.target)}" for one in fields]
    sets = [f"    this.{one.name} = {one.name};" for one in parameters]
    return [*block(types, "  "), *laid_out(f"constructor({text}) {{", "  "), *sets, "  }"]


def _record(node: ast.ClassDef, scope: Scope) -> list[str]:
    """A TypedDict as the type it represents."""
    some = any(word.arg == "total" and getattr(word.value, "value", True) is False for word in node.keywords)
    parts = []
    for one in node.body:
        if isinstance(one, ast.AnnAssign):
            absent = (
                "Required" not in ast.unparse(one.annotation) if some else "NotRequired" in ast.unparse(one.annotation)
            )
            parts.append(f"{ast.unparse(one.target)}{'?' if absent else ''}: {type_of(one.annotation, scope.names)}")
    text = (ast.get_docstring(node) or "").splitlines()
    bases = "".join(f"{ast.unparse(base)} & " for base in node.bases if ast.unparse(base) != "TypedDict")
    line = f"@typedef {{{bases}{{ {', '.join(parts)} }}}} {node.name}"
    if len(line) > WIDTH:
        line = "\n".join([f"@typedef {{{bases}{{", *(f"  {part}," for part in parts), f"}}}} {node.name}"])
    return block([*text, *line.splitlines()], "")


def alias(name: str, value: ast.expr | None, scope: Scope) -> list[str]:
    """A name for a type."""
    text = "any" if value is None else type_of(value, scope.names)
    return block([f"@typedef {{{text}}} {name}"], "")


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
    types = block([f"@type {{{type_of(node.annotation, scope.names)}}}"], "") if isinstance(node, ast.AnnAssign) else []
    return [*types, *laid_out(f"{export(target.id)}const {code_of(target, scope).text} = {code.text};", "")]


def kind_of_constant(node: ast.Assign | ast.AnnAssign, scope: Scope) -> Kind:
    """What is known about such a value, for code that reads it."""
    if isinstance(node, ast.AnnAssign):
        return annotated(node.annotation, scope)
    return code_of(node.value, scope).kind
