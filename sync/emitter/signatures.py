"""What functions and classes take and return, from their annotations, and their parameters as JavaScript writes them.

Bodies aren't read here, except for the attributes that a constructor sets.
"""

from __future__ import annotations

import ast

from sync.emitter.code import Scope, code_of
from sync.emitter.kinds import ANY, NONE, Kind, Parameter, Signature, Symbol, Unsayable, kind_of


def annotated(annotation: ast.expr, scope: Scope) -> Kind:
    """The kind that an annotation promises; one that can't be expressed is refused."""
    try:
        return kind_of(annotation, scope.names)
    except Unsayable:
        scope.refuse(annotation, ast.unparse(annotation), "annotation")
        return ANY


def signature_of(node: ast.FunctionDef, scope: Scope) -> Signature:
    """What a function takes and returns; `self` is left out."""
    arguments = node.args
    if arguments.vararg or arguments.kwarg or arguments.kwonlyargs or arguments.posonlyargs:
        scope.refuse(node, node.name, "default")
    defaults: list[ast.expr | None] = [None] * (len(arguments.args) - len(arguments.defaults))
    defaults += arguments.defaults
    parameters = []
    for one, default in zip(arguments.args, defaults, strict=True):
        if one.arg == "self":
            continue
        if default is not None and not isinstance(default, ast.Constant):
            scope.refuse(default, ast.unparse(default), "default")
        parameters.append(Parameter(one.arg, annotated(one.annotation, scope) if one.annotation else ANY, default))
    return Signature(tuple(parameters), annotated(node.returns, scope) if node.returns else ANY)


def parameters_of(node: ast.FunctionDef, scope: Scope) -> tuple[str, dict[str, Kind]]:
    """The parameters as JavaScript writes them, and their kinds."""
    return written(signature_of(node, scope).parameters, node, scope)


def written(parameters: tuple[Parameter, ...], node: ast.AST, scope: Scope) -> tuple[str, dict[str, Kind]]:
    """Parameters with their defaults, and their kinds by name."""
    kinds = {one.name: one.kind for one in parameters}
    texts = []
    for one in parameters:
        name = ast.copy_location(ast.Name(one.name, ast.Load()), node)
        text = code_of(name, scope.inner(kinds)).text
        if one.default is not None:
            text += f" = {code_of(one.default, scope, one.kind).text}"
        texts.append(text)
    return ", ".join(texts), kinds


def members_of_class(node: ast.ClassDef, symbol: Symbol, scope: Scope) -> None:
    """Note a class's constructor, attributes and methods, or a TypedDict's entries, in its symbol."""
    fields = []
    for base in node.bases:
        if isinstance(base, ast.Name) and base.id in scope.names:
            symbol.members.update(scope.names[base.id].members)
    for statement in node.body:
        if isinstance(statement, ast.AnnAssign) and isinstance(statement.target, ast.Name):
            kind = annotated(statement.annotation, scope)
            fields.append(Parameter(statement.target.id, kind, statement.value))
            symbol.members[statement.target.id] = Symbol(
                "attribute", symbol.module, statement.target.id, statement, kind
            )
        elif isinstance(statement, ast.FunctionDef):
            signature = signature_of(statement, scope)
            member = Symbol("method", symbol.module, statement.name, statement, Kind("function"), signature)
            symbol.members[statement.name] = member
    if symbol.sort == "class":
        symbol.signature = Signature(_constructor_parameters(symbol, fields, scope), symbol.kind)


def _constructor_parameters(symbol: Symbol, fields: list[Parameter], scope: Scope) -> tuple[Parameter, ...]:
    """What a class consists of: its constructor's parameters, or a dataclass's fields."""
    constructor = symbol.members.get("__init__")
    if constructor is None or constructor.signature is None or not isinstance(constructor.node, ast.FunctionDef):
        return tuple(fields)
    parameters = constructor.signature.parameters
    _attributes(constructor.node, symbol, scope.inner({one.name: one.kind for one in parameters}))
    return parameters


def _attributes(node: ast.FunctionDef, symbol: Symbol, scope: Scope) -> None:
    for statement in node.body:
        if isinstance(statement, ast.AnnAssign):
            target: ast.expr = statement.target
            kind = annotated(statement.annotation, scope)
        elif isinstance(statement, ast.Assign):
            target, value = statement.targets[0], statement.value
            kind = scope.local.get(value.id, ANY) if isinstance(value, ast.Name) else ANY
            kind = NONE if isinstance(value, ast.Constant) and value.value is None else kind
        else:
            continue
        if isinstance(target, ast.Attribute):
            symbol.members[target.attr] = Symbol("attribute", symbol.module, target.attr, statement, kind)
