"""Assignments: which value goes where, where they declare a name, and which names are local to a function.

The state of a function's body while it is being written is here too, because assignments create its names.
"""

from __future__ import annotations

import ast
from dataclasses import dataclass, replace

from sync.emitter.code import Scope, code_of
from sync.emitter.comments import Comments
from sync.emitter.comprehensions import members_of, pattern_of
from sync.emitter.constructs import ARITHMETIC
from sync.emitter.declarations import Names, Plan, statements_in
from sync.emitter.expressions import kind_under, literal_key, text_key
from sync.emitter.kinds import ANY, LIST, NUMBER, Kind, joined
from sync.emitter.layout import laid_out
from sync.emitter.signatures import annotated

ASSIGNING = (ast.Assign, ast.AnnAssign, ast.For, ast.FunctionDef)


@dataclass
class Body:
    """A function's body while it is being written: its scope, where its names begin, and the lines so far."""

    scope: Scope
    plan: Plan
    comments: Comments
    lines: list[str]
    depth: int

    def put(self, text: str) -> None:
        """One line, broken if it is long."""
        self.lines += laid_out(text, "  " * self.depth)


def with_kinds(body: list[ast.stmt], scope: Scope) -> Scope:
    """The scope with the kinds of the locals, read twice so that late assignments count early."""
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
    kinds: dict[str, Kind] = {}
    if isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
        kinds[node.target.id] = annotated(node.annotation, scope)
    elif isinstance(node, ast.Assign):
        for target in node.targets:
            _note_target(target, node.value, scope, kinds)
    elif isinstance(node, ast.For):
        pattern_of(node.target, members_of(node.iter, scope)[1], kinds, scope)
    elif isinstance(node, ast.FunctionDef):
        kinds[node.name] = Kind("function", (annotated(node.returns, scope),) if node.returns else ())
    for name, kind in kinds.items():
        seen[name] = joined(seen[name], kind) if name in seen else kind


def _note_target(target: ast.expr, value: ast.expr, scope: Scope, kinds: dict[str, Kind]) -> None:
    if isinstance(target, ast.Tuple) and isinstance(value, ast.Tuple) and len(target.elts) == len(value.elts):
        for one, each in zip(target.elts, value.elts, strict=True):
            _note_target(one, each, scope, kinds)
    elif isinstance(target, ast.Tuple):
        names = ast.Tuple([one for one in target.elts if isinstance(one, ast.Name)], ast.Store())
        kind = code_of(value, scope).kind
        if len(names.elts) == len(target.elts):
            pattern_of(names, kind, kinds, scope)
        else:
            kinds.update({one.id: ANY for one in names.elts if isinstance(one, ast.Name)})
    elif isinstance(target, ast.Name):
        kinds[target.id] = code_of(value, scope).kind


def assign(node: ast.Assign, body: Body) -> None:
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
    """Whether a later value reads what an earlier target is given."""
    for i, one in enumerate(target.elts):
        if not isinstance(one, ast.Name) or any(one.id in Names().used(each) for each in value.elts[i + 1 :]):
            return True
    return False


def _place(target: ast.expr, body: Body) -> str:
    """A target for a value, inside a pattern."""
    if isinstance(target, ast.Subscript) and literal_key(target, body.scope) is None:
        return body.scope.refuse(target, ast.unparse(target), "target").text
    if not isinstance(target, (ast.Name, ast.Attribute, ast.Subscript)):
        return body.scope.refuse(target, ast.unparse(target), "target").text
    return code_of(target, body.scope).text


def _one(node: ast.stmt, target: ast.expr, value: ast.expr, body: Body) -> None:
    """One value to one target."""
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
    elif before.kind.name != "dict" and (key := code_of(target.slice, body.scope)).kind == NUMBER:
        body.put(f"{before.text}[{key.text}] = {code.text};")
    else:
        body.put(f"setItem({before.text}, {text_key(target.slice, body.scope).text}, {code.text});")


def assign_annotated(node: ast.AnnAssign, body: Body) -> None:
    if node.value is None:
        body.scope.refuse(node, ast.unparse(node), "target")
    else:
        annotated(node.annotation, body.scope)
        _one(node, node.target, node.value, body)


def augment(node: ast.AugAssign, body: Body) -> None:
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
