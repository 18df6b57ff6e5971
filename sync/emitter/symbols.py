"""What the names of a module refer to: imports, functions, classes, errors, records, aliases and constants.

A name is known by its definition; other modules decide what it becomes in JavaScript.
"""

from __future__ import annotations

import ast
from dataclasses import replace

from sync.emitter import definitions
from sync.emitter.code import Scope
from sync.emitter.constructs import IMPORTS, PRIMITIVES, RESERVED
from sync.emitter.kinds import GENERICS, PLAIN, Kind, Symbol, head_of, parts_of
from sync.emitter.reports import Report
from sync.emitter.signatures import annotated, members_of_class, signature_of

ERRORS = "errors"


def root_of_errors() -> Symbol:
    """LaybyError, which is in the runtime."""
    members = {"code": Symbol("attribute", ERRORS, "code", ast.Constant(None), Kind("text"))}
    members["values"] = Symbol("attribute", ERRORS, "values", ast.Constant(None), Kind("dict"))
    return Symbol("error", ERRORS, "LaybyError", ast.Constant(None), Kind("object", of="LaybyError"), members=members)


def imported(node: ast.Import | ast.ImportFrom, scope: Scope, others: dict[str, dict[str, Symbol]], stem: str) -> None:
    """Note what an import brings into a module; `others` are the names of the modules read before."""
    for one in node.names:
        name = (node.module or "") if isinstance(node, ast.ImportFrom) else ""
        source = name.split(".")[-1]
        if stem == PRIMITIVES and source not in others:
            continue
        if isinstance(node, ast.Import) or node.level or one.asname is not None:
            scope.refuse(node, ast.unparse(node), "import")
        elif source == ERRORS and one.name == "LaybyError":
            scope.names[one.name] = scope.classes[one.name]
        elif one.name in others.get(source, {}):
            scope.names[one.name] = others[source][one.name]
        elif one.name in others:
            scope.names[one.name] = Symbol("module", one.name, one.name, node, Kind("module"), members=others[one.name])
        elif one.name not in IMPORTS.get(name, ()):
            scope.refuse(node, f"{name}.{one.name}", "import")


def own_names(body: list[ast.stmt], stem: str, scope: Scope) -> dict[str, Symbol]:
    """What a module defines, in its order; signatures and members come last, when all names are known."""
    own: dict[str, Symbol] = {}
    for node in body:
        symbol = _defined(node, stem, scope)
        if symbol is not None:
            if symbol.name in RESERVED:
                scope.refuse(node, symbol.name, "reserved")
            own[symbol.name] = scope.names[symbol.name] = symbol
    for symbol in own.values():
        if isinstance(symbol.node, ast.FunctionDef):
            symbol.signature = signature_of(symbol.node, scope)
        elif isinstance(symbol.node, ast.ClassDef) and symbol.sort != "error":
            members_of_class(symbol.node, symbol, scope)
    return own


def _defined(node: ast.stmt, stem: str, scope: Scope) -> Symbol | None:
    if isinstance(node, ast.FunctionDef):
        return Symbol("primitive" if stem == PRIMITIVES else "function", stem, node.name, node, Kind("function"))
    if isinstance(node, ast.ClassDef):
        return _class(node, stem, scope)
    if isinstance(node, (ast.Assign, ast.AnnAssign)):
        target = node.targets[0] if isinstance(node, ast.Assign) else node.target
        if isinstance(target, ast.Name):
            return _value(node, target.id, stem, scope)
    return None


def _class(node: ast.ClassDef, stem: str, scope: Scope) -> Symbol:
    base = ast.unparse(node.bases[0]) if len(node.bases) == 1 else ""
    sort = "record" if base == "TypedDict" else "class"
    if base in scope.names and scope.names[base].sort in ("error", "record"):
        sort = scope.names[base].sort
    if node.bases and sort == "class":
        scope.refuse(node, f"class {node.name}({base})", "base")
    kind = Kind("dict" if sort == "record" else "object", of=node.name)
    symbol = Symbol(sort, stem, node.name, node, kind)
    if sort == "error":
        symbol.members = scope.classes["LaybyError"].members
    scope.classes[node.name] = symbol
    return symbol


def _value(node: ast.Assign | ast.AnnAssign, name: str, stem: str, scope: Scope) -> Symbol:
    record = record_of(node)
    if record is not None:
        scope.classes[name] = Symbol("record", stem, name, record, Kind("dict", of=name))
        return scope.classes[name]
    if is_alias(node, scope.names):
        symbol = scope.names[name] = Symbol("alias", stem, name, node)
        symbol.kind = annotated(node.value, scope) if node.value is not None else symbol.kind
        return symbol
    quiet = replace(scope, report=Report(scope.report.path))
    return Symbol("constant", stem, name, node, definitions.kind_of_constant(node, quiet))


def record_of(node: ast.Assign | ast.AnnAssign) -> ast.ClassDef | None:
    """`Name = TypedDict("Name", {...})` as the class it represents."""
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
