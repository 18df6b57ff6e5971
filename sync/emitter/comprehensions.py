"""Comprehensions and generators, and what a `for` iterates over: the members of a list, the names of a dict.

One `for` in each; its result is evaluated at once.
"""

from __future__ import annotations

import ast

from sync.emitter.code import ARROW, CALL, Code, Scope, code_of, truth_of, writes
from sync.emitter.expressions import text_key
from sync.emitter.kinds import ANY, TEXT, TRUTH, Kind


def members_of(node: ast.expr, scope: Scope) -> tuple[Code, Kind]:
    """What a `for` iterates over as JavaScript, and the kind of each member."""
    code = code_of(node, scope)
    if code.kind.name == "list":
        return code, code.kind.item
    if code.kind.name == "dict":
        return Code(f"keysOf({code.text})"), TEXT
    return Code(f"membersOf({code.text})"), TEXT if code.kind.name == "text" else ANY


def pattern_of(target: ast.expr, kind: Kind, kinds: dict[str, Kind], scope: Scope) -> str:
    """A name, or names in a tuple, as JavaScript destructures a member; the kinds go into `kinds`."""
    if isinstance(target, ast.Name):
        kinds[target.id] = kind
        return code_of(target, scope.inner({target.id: kind})).text
    if isinstance(target, ast.Tuple):
        parts = kind.items if len(kind.items) == len(target.elts) else (kind.item,) * len(target.elts)
        return (
            f"[{', '.join(pattern_of(one, each, kinds, scope) for one, each in zip(target.elts, parts, strict=True))}]"
        )
    return scope.refuse(target, ast.unparse(target), "target").text


def _chosen(node: ast.ListComp | ast.GeneratorExp | ast.DictComp, scope: Scope) -> tuple[str, str, Scope]:
    """The members that the comprehension takes, the pattern for one of them, and the scope inside."""
    clause = node.generators[0]
    members, kind = members_of(clause.iter, scope)
    kinds: dict[str, Kind] = {}
    for other in node.generators[1:]:
        scope.refuse(node, ast.unparse(node), "comprehension")
        pattern_of(other.target, ANY, kinds, scope)
    pattern = pattern_of(clause.target, kind, kinds, scope)
    inner, text = scope.inner(kinds), members.at(CALL)
    for test in clause.ifs:
        text += f".filter({_parameter(pattern)} => {truth_of(test, inner).at(ARROW + 1)})"
    return text, pattern, inner


def _parameter(pattern: str) -> str:
    return f"({pattern})"


def _body(code: Code) -> str:
    return f"({code.text})" if code.text.startswith("{") else code.at(ARROW + 1)


@writes(ast.ListComp, ast.GeneratorExp)
def _list(node: ast.ListComp | ast.GeneratorExp, scope: Scope, wanted: Kind) -> Code:
    text, pattern, inner = _chosen(node, scope)
    if wanted.name in ("some", "every"):
        return Code(
            f"{text}.{wanted.name}({_parameter(pattern)} => {truth_of(node.elt, inner).at(ARROW + 1)})", CALL, TRUTH
        )
    item = code_of(node.elt, inner, wanted.item)
    kind = Kind("list", (item.kind,))
    if item.text == pattern and node.generators[0].ifs:
        return Code(text, CALL, kind)
    return Code(f"{text}.map({_parameter(pattern)} => {_body(item)})", CALL, kind)


@writes(ast.DictComp)
def _dict(node: ast.DictComp, scope: Scope, wanted: Kind) -> Code:
    text, pattern, inner = _chosen(node, scope)
    key, value = text_key(node.key, inner), code_of(node.value, inner, wanted.item)
    pairs = f"{text}.map({_parameter(pattern)} => [{key.text}, {value.text}])"
    return Code(f"Object.fromEntries({pairs})", CALL, Kind("dict", (value.kind,)))
