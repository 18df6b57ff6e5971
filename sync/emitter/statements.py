"""Statements: each as lines of JavaScript, with the comments that stand above them.

Functions and classes are written here, too. What is worked out inside a line belongs to `expressions`.
"""

from __future__ import annotations

import ast
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from sync.emitter import calls, comprehensions, expressions, operators
from sync.emitter.code import Scope, code_of, truth_of
from sync.emitter.comments import Comments
from sync.emitter.comprehensions import members_of, pattern_of
from sync.emitter.constructs import ARITHMETIC
from sync.emitter.declarations import Names, Plan, plan_of, statements_in
from sync.emitter.expressions import kind_under, literal_key
from sync.emitter.kinds import ANY, LIST, NUMBER, Kind, joined
from sync.emitter.layout import laid_out
from sync.emitter.signatures import annotated, parameters_of

ASSIGNING = (ast.Assign, ast.AnnAssign, ast.For, ast.FunctionDef)
# Modules whose writers register by being imported.
REGISTERED = (calls, comprehensions, expressions, operators)


@dataclass
class Body:
    """A function's body while it is written: its scope, where its names begin, and the lines so far."""

    scope: Scope
    plan: Plan
    comments: Comments
    lines: list[str]
    depth: int

    def put(self, text: str) -> None:
        """One line, broken where it is long."""
        self.lines += laid_out(text, "  " * self.depth)


def written_body(body: list[ast.stmt], scope: Scope, comments: Comments, depth: int) -> list[str]:
    """The lines of a function's body; its parameters are local in the scope already."""
    found = Body(_with_kinds(body, scope), plan_of(body, scope.parameters), comments, [], depth)
    _block(body, found)
    return found.lines


def _with_kinds(body: list[ast.stmt], scope: Scope) -> Scope:
    """The scope with the kinds of the locals, read twice so that what is assigned late counts early."""
    quiet = replace(scope, report=replace(scope.report, refusals=set(), rows=set()))
    assigning = [node for node in statements_in(body) if isinstance(node, ASSIGNING)]
    quiet = replace(quiet, local=dict(scope.local))
    kinds: dict[str, Kind] = {}
    for node in assigning:
        _note_kinds(node, quiet, kinds)
        quiet.local.update(kinds)
    for node in assigning:
        _note_kinds(node, quiet, kinds)
    return scope.inner(kinds)


def _note_kinds(node: ast.AST, scope: Scope, seen: dict[str, Kind]) -> None:
    found: dict[str, Kind] = {}
    if isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
        found[node.target.id] = annotated(node.annotation, scope)
    elif isinstance(node, ast.Assign):
        for target in node.targets:
            _note_target(target, node.value, scope, found)
    elif isinstance(node, ast.For):
        pattern_of(node.target, members_of(node.iter, scope)[1], found, scope)
    elif isinstance(node, ast.FunctionDef):
        found[node.name] = Kind("function", (annotated(node.returns, scope),) if node.returns else ())
    for name, kind in found.items():
        seen[name] = joined(seen[name], kind) if name in seen else kind


def _note_target(target: ast.expr, value: ast.expr, scope: Scope, found: dict[str, Kind]) -> None:
    if isinstance(target, ast.Tuple) and isinstance(value, ast.Tuple) and len(target.elts) == len(value.elts):
        for one, each in zip(target.elts, value.elts, strict=True):
            _note_target(one, each, scope, found)
    elif isinstance(target, ast.Tuple):
        names = ast.Tuple([one for one in target.elts if isinstance(one, ast.Name)], ast.Store())
        kind = code_of(value, scope).kind
        if len(names.elts) == len(target.elts):
            pattern_of(names, kind, found, scope)
        else:
            found.update({one.id: ANY for one in names.elts if isinstance(one, ast.Name)})
    elif isinstance(target, ast.Name):
        found[target.id] = code_of(value, scope).kind


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


def _assign(node: ast.Assign, body: Body) -> None:
    if len(node.targets) > 1:
        _same_value(node, body)
        return
    target = node.targets[0]
    if isinstance(target, ast.Tuple):
        _several(node, target, body)
    else:
        _one(node, target, node.value, body)


def _same_value(node: ast.Assign, body: Body) -> None:
    """`a = b = value`: the value goes to the first name, and from there to the others."""
    first = node.targets[0]
    if not all(isinstance(target, ast.Name) for target in node.targets):
        body.scope.refuse(node, ast.unparse(node), "target")
        return
    _one(node, first, node.value, body)
    for target in node.targets[1:]:
        _one(node, target, first, body)


def _several(node: ast.Assign, target: ast.Tuple, body: Body) -> None:
    value = node.value
    if isinstance(value, ast.Tuple) and len(value.elts) == len(target.elts) and not _entangled(target, value):
        for one, each in zip(target.elts, value.elts, strict=True):
            _one(node, one, each, body)
        return
    names = [one.id for one in target.elts if isinstance(one, ast.Name)]
    new = [name for name in names if name in body.plan.at.get(node, set())]
    places = ", ".join(_place(one, body) for one in target.elts)
    word = ""
    if new and len(new) == len(target.elts):
        word = "const " if all((node, name) in body.plan.constant for name in new) else "let "
    elif new:
        body.put(f"let {', '.join(new)};")
    body.put(f"{word}[{places}] = {code_of(value, body.scope).text};")


def _entangled(target: ast.Tuple, value: ast.Tuple) -> bool:
    """Whether a later value reads what an earlier place is given."""
    for i, one in enumerate(target.elts):
        if not isinstance(one, ast.Name) or any(one.id in Names().used(each) for each in value.elts[i + 1 :]):
            return True
    return False


def _place(target: ast.expr, body: Body) -> str:
    """A place for a value, inside of a pattern."""
    if isinstance(target, ast.Subscript) and literal_key(target, body.scope) is None:
        return body.scope.refuse(target, ast.unparse(target), "target").text
    if not isinstance(target, (ast.Name, ast.Attribute, ast.Subscript)):
        return body.scope.refuse(target, ast.unparse(target), "target").text
    return code_of(target, body.scope).text


def _one(node: ast.stmt, target: ast.expr, value: ast.expr, body: Body) -> None:
    """One value to one place."""
    if isinstance(target, ast.Name):
        code = code_of(value, body.scope, body.scope.local.get(target.id, ANY))
        word = ""
        if target.id in body.plan.at.get(node, set()):
            word = "const " if (node, target.id) in body.plan.constant else "let "
        body.put(f"{word}{code_of(target, body.scope).text} = {code.text};")
    elif isinstance(target, ast.Attribute):
        place = code_of(target, body.scope)
        body.put(f"{place.text} = {code_of(value, body.scope, place.kind).text};")
    elif isinstance(target, ast.Subscript):
        _under(target, value, body)
    else:
        body.scope.refuse(target, ast.unparse(target), "target")


def _under(target: ast.Subscript, value: ast.expr, body: Body) -> None:
    """A value under a name or a number."""
    before = code_of(target.value, body.scope)
    code = code_of(value, body.scope, kind_under(before.kind, target.slice, body.scope))
    if isinstance(target.slice, ast.Slice):
        body.scope.refuse(target, ast.unparse(target), "target")
    elif literal_key(target, body.scope) is not None:
        body.put(f"{code_of(target, body.scope).text} = {code.text};")
    elif (key := code_of(target.slice, body.scope)).kind == NUMBER:
        body.put(f"{before.text}[{key.text}] = {code.text};")
    else:
        body.put(f"setItem({before.text}, {key.text}, {code.text});")


def _annotated(node: ast.AnnAssign, body: Body) -> None:
    if node.value is None:
        body.scope.refuse(node, ast.unparse(node), "target")
    else:
        annotated(node.annotation, body.scope)
        _one(node, node.target, node.value, body)


def _augmented(node: ast.AugAssign, body: Body) -> None:
    place = code_of(node.target, body.scope)
    code = code_of(node.value, body.scope, place.kind)
    if isinstance(node.target, ast.Subscript) or LIST.name in (place.kind.name, code.kind.name):
        body.scope.refuse(node, ast.unparse(node), "augmented")
    elif type(node.op) not in ARITHMETIC:
        body.scope.refuse(node, type(node.op).__name__, "operator")
    elif "whole" in (place.kind.name, code.kind.name) and (place.kind != code.kind or isinstance(node.op, ast.Div)):
        body.scope.refuse(node, ast.unparse(node), "whole")
    else:
        body.put(f"{place.text} {ARITHMETIC[type(node.op)]}= {code.text};")


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
        return  # a docstring, which stands above as a comment
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
    ast.Assign: _assign,
    ast.AnnAssign: _annotated,
    ast.AugAssign: _augmented,
    ast.If: _if,
    ast.For: _for,
    ast.While: _while,
    ast.Break: _plain("break;"),
    ast.Continue: _plain("continue;"),
    ast.Raise: _raise,
    ast.Try: _try,
    ast.Expr: _call,
}
