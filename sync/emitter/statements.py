"""Statements: each as lines of JavaScript, with the comments above it.

Functions and classes are written here too. The expressions inside a line belong to `expressions`.
"""

from __future__ import annotations

import ast
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from sync.emitter import calls, comprehensions, expressions, operators
from sync.emitter.assignments import Body, assign, assign_annotated, augment, with_kinds
from sync.emitter.code import Scope, code_of, truth_of
from sync.emitter.comments import Comments
from sync.emitter.comprehensions import members_of, pattern_of
from sync.emitter.declarations import plan_of
from sync.emitter.kinds import ANY, Kind
from sync.emitter.signatures import annotated, parameters_of

# Modules that register their writers when imported.
REGISTERED = (calls, comprehensions, expressions, operators)


def written_body(body: list[ast.stmt], scope: Scope, comments: Comments, depth: int) -> list[str]:
    """The lines of a function's body; its parameters are already local in the scope."""
    function_body = Body(with_kinds(body, scope), plan_of(body, scope.parameters), comments, [], depth)
    _block(body, function_body)
    return function_body.lines


def _block(block: list[ast.stmt], body: Body) -> None:
    for statement in block:
        body.lines += body.comments.above(statement, "  " * body.depth)
        if body.plan.before.get(statement):
            body.put(f"let {', '.join(body.plan.before[statement])};")
        writer = STATEMENTS.get(type(statement))
        if writer is None:
            body.scope.refuse(statement, type(statement).__name__, "construct")
            continue
        body.scope.report.use(type(statement).__name__)
        writer(statement, body)


def _inner(block: list[ast.stmt], body: Body, scope: Scope) -> None:
    _block(block, replace(body, depth=body.depth + 1, scope=scope))


def _if(node: ast.If, body: Body, word: str = "if") -> None:
    body.put(f"{word} ({truth_of(node.test, body.scope).text}) {{")
    _inner(node.body, body, body.scope)
    if len(node.orelse) == 1 and isinstance(node.orelse[0], ast.If) and node.orelse[0] not in body.plan.before:
        body.lines += body.comments.above(node.orelse[0], "  " * (body.depth + 1))
        body.scope.report.use("If")
        _if(node.orelse[0], body, "} else if")
        return
    if node.orelse:
        body.put("} else {")
        _inner(node.orelse, body, body.scope)
    body.put("}")


def _for(node: ast.For, body: Body) -> None:
    if node.orelse:
        body.scope.refuse(node, "for … else", "else")
    members, kind = members_of(node.iter, body.scope)
    pattern = pattern_of(node.target, kind, {}, body.scope)
    new = body.plan.at.get(node, set())
    word = ""
    if new:
        word = "const " if all((node, name) in body.plan.constant for name in new) else "let "
    body.put(f"for ({word}{pattern} of {members.text}) {{")
    _inner(node.body, body, replace(body.scope, in_loop=True))
    body.put("}")


def _while(node: ast.While, body: Body) -> None:
    if node.orelse:
        body.scope.refuse(node, "while … else", "else")
    body.put(f"while ({truth_of(node.test, body.scope).text}) {{")
    _inner(node.body, body, replace(body.scope, in_loop=True))
    body.put("}")


def _return(node: ast.Return, body: Body) -> None:
    value = "null" if node.value is None else code_of(node.value, body.scope, body.scope.gives).text
    body.put(f"return {value};")


def _raise(node: ast.Raise, body: Body) -> None:
    if not isinstance(node.exc, ast.Call) or node.cause is not None or not _is_error(node.exc.func, body.scope):
        body.scope.refuse(node, ast.unparse(node), "raise")
    else:
        body.put(f"throw {code_of(node.exc, body.scope).text};")


def _is_error(node: ast.expr, scope: Scope) -> bool:
    return isinstance(node, ast.Name) and node.id in scope.names and scope.names[node.id].sort == "error"


def _try(node: ast.Try, body: Body) -> None:
    if node.orelse or node.finalbody:
        body.scope.refuse(node, "try … else or finally", "catch")
    body.put("try {")
    _inner(node.body, body, body.scope)
    body.put("} catch (error) {")
    word = "if"
    for handler in node.handlers:
        errors = handler.type.elts if isinstance(handler.type, ast.Tuple) else [handler.type]
        if not all(isinstance(one, ast.expr) and _is_error(one, body.scope) for one in errors) or handler.name not in (
            None,
            "error",
        ):
            body.scope.refuse(handler, "except", "catch")
            continue
        tests = " || ".join(f"error instanceof {ast.unparse(one)}" for one in errors if one is not None)
        deeper = replace(body, depth=body.depth + 1)
        deeper.put(f"{word} ({tests}) {{")
        scope = body.scope.inner({"error": Kind("object", of="LaybyError")})
        _inner(handler.body, deeper, scope)
        word = "} else if"
    body.put("  } else throw error;")
    body.put("}")


def _plain(word: str) -> Callable[[Any, Body], None]:
    return lambda node, body: body.put(word)


def _call(node: ast.Expr, body: Body) -> None:
    if isinstance(node.value, ast.Constant) and isinstance(node.value.value, str):
        return  # a docstring, which is written above as a comment
    if not isinstance(node.value, ast.Call):
        body.scope.refuse(node, ast.unparse(node), "construct")
    else:
        body.put(f"{code_of(node.value, body.scope).text};")


def _function(node: ast.FunctionDef, body: Body) -> None:
    """A function inside a function."""
    if body.scope.in_loop:
        body.scope.refuse(node, node.name, "closure")
    parameters, kinds = parameters_of(node, body.scope)
    body.put(f"const {node.name} = ({parameters}) => {{")
    gives = annotated(node.returns, body.scope) if node.returns else ANY
    scope = body.scope.function(kinds, gives)
    body.lines += written_body(node.body, scope, body.comments, body.depth + 1)
    body.put("};")


STATEMENTS: dict[type[ast.stmt], Callable[[Any, Body], None]] = {
    ast.FunctionDef: _function,
    ast.Return: _return,
    ast.Assign: assign,
    ast.AnnAssign: assign_annotated,
    ast.AugAssign: augment,
    ast.If: _if,
    ast.For: _for,
    ast.While: _while,
    ast.Break: _plain("break;"),
    ast.Continue: _plain("continue;"),
    ast.Raise: _raise,
    ast.Try: _try,
    ast.Expr: _call,
}
