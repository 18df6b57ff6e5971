"""Values and their parts: names, constants, attributes, subscripts, lists, dicts and f-strings.

A value's kind comes with it, because kinds decide how the next construct is written.
"""

from __future__ import annotations

import ast
import json
import re

from sync.emitter.code import CALL, NOTHING, Code, Scope, code_of, writes
from sync.emitter.constructs import INBORN, RESERVED
from sync.emitter.kinds import ANY, DICT, LIST, NONE, NUMBER, TEXT, TRUTH, WHOLE_NUMBER, Kind, Symbol


@writes(ast.Constant)
def _constant(node: ast.Constant, scope: Scope, wanted: Kind) -> Code:
    value = node.value
    if value is None:
        return Code("null", CALL, NONE)
    if isinstance(value, bool):
        return Code("true" if value else "false", CALL, TRUTH)
    if isinstance(value, str):
        return Code(json.dumps(value, ensure_ascii=False), CALL, TEXT)
    if isinstance(value, int) and wanted.name == "whole":
        return Code(f"{value}n", CALL, WHOLE_NUMBER)
    if isinstance(value, (int, float)):
        return Code(repr(value), CALL, NUMBER)
    return scope.refuse(node, repr(value), "construct")


@writes(ast.Name)
def _name(node: ast.Name, scope: Scope, wanted: Kind) -> Code:
    if node.id in RESERVED:
        return scope.refuse(node, node.id, "reserved")
    if node.id in scope.local:
        return Code("this" if node.id == "self" else node.id, CALL, scope.local[node.id])
    if node.id in scope.names and scope.names[node.id].sort != "module":
        return Code(node.id, CALL, scope.names[node.id].kind)
    return scope.refuse(node, node.id, "name")


def module_member(node: ast.expr, scope: Scope) -> Symbol | None:
    """What `module.name` refers to; None for any other expression."""
    if not (isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name)) or node.value.id in scope.local:
        return None
    symbol = scope.names.get(node.value.id)
    return symbol.members.get(node.attr) if symbol is not None and symbol.sort == "module" else None


@writes(ast.Attribute)
def _attribute(node: ast.Attribute, scope: Scope, wanted: Kind) -> Code:
    member = module_member(node, scope)
    if member is not None:
        if member.name in scope.local:
            return scope.refuse(node, ast.unparse(node), "shadow")
        return Code(member.name, CALL, member.kind)
    before = code_of(node.value, scope)
    if before.kind.name != "object":
        return scope.refuse(node, ast.unparse(node), "attribute")
    members = scope.class_of(before.kind).members
    if node.attr not in members:
        return scope.refuse(node, ast.unparse(node), "attribute")
    return Code(f"{before.at(CALL)}.{node.attr}", CALL, members[node.attr].kind)


@writes(ast.Subscript)
def _subscript(node: ast.Subscript, scope: Scope, wanted: Kind) -> Code:
    place = node.slice
    before = code_of(node.value, scope)
    if isinstance(place, ast.Slice):
        return _slice(node, before, place, scope)
    named = literal_key(node, scope)
    if named is not None:
        return Code(before.at(CALL) + named, CALL, kind_under(before.kind, place, scope))
    if isinstance(place, ast.UnaryOp) and isinstance(place.op, ast.USub) and isinstance(place.operand, ast.Constant):
        return Code(f"{before.at(CALL)}.at({ast.unparse(place)})", CALL, before.kind.item)
    key = text_key(place, scope) if before.kind.name == "dict" else code_of(place, scope)
    if before.kind.name == "text":
        return Code(f"charOf({before.text}, {key.text})", CALL, TEXT)
    if key.kind == NUMBER:
        return Code(f"{before.at(CALL)}[{key.text}]", CALL, _member_at(before.kind, place))
    return Code(f"itemOf({before.text}, {key.text})", CALL, before.kind.item)


def _member_at(kind: Kind, place: ast.expr) -> Kind:
    """The kind of a member: for a tuple by its place, for a list the same for all."""
    at = place.value if isinstance(place, ast.Constant) else None
    return kind.items[at] if isinstance(at, int) and at < len(kind.items) else kind.item


def literal_key(node: ast.Subscript, scope: Scope) -> str | None:
    """`.name` or `["a name"]` for a subscript that is literal text; None for any other."""
    return name_after(node.slice, scope)


def name_after(key: ast.expr, scope: Scope) -> str | None:
    """The same for the key alone."""
    if not (isinstance(key, ast.Constant) and isinstance(key.value, str)):
        return None
    name = key.value
    if name in INBORN:
        scope.refuse(key, repr(name), "key")
    return f".{name}" if re.fullmatch(r"[A-Za-z_]\w*", name, re.ASCII) else f"[{json.dumps(name, ensure_ascii=False)}]"


def kind_under(kind: Kind, key: ast.expr, scope: Scope) -> Kind:
    """The kind of an entry: for a TypedDict by its name, for other dicts the same for all."""
    if kind.name == "dict" and kind.of and isinstance(key, ast.Constant):
        member = scope.class_of(kind).members.get(str(key.value))
        return ANY if member is None else member.kind
    return kind.item


def _slice(node: ast.Subscript, before: Code, place: ast.Slice, scope: Scope) -> Code:
    if place.step is not None:
        return scope.refuse(node, ast.unparse(node), "slice")
    start = "0" if place.lower is None else code_of(place.lower, scope).text
    end = "" if place.upper is None else ", " + code_of(place.upper, scope).text
    if before.kind.name == "list":
        return Code(f"{before.at(CALL)}.slice({start}{end})", CALL, Kind("list", (before.kind.item,)))
    return Code(f"sliceOf({before.text}, {start}{end})", CALL, before.kind)


@writes(ast.List, ast.Tuple)
def _display(node: ast.List | ast.Tuple, scope: Scope, wanted: Kind) -> Code:
    texts, kinds = [], []
    for i, item in enumerate(node.elts):
        spread = isinstance(item, ast.Starred)
        place = wanted.items[i] if i < len(wanted.items) else wanted.item
        code = code_of(item.value, scope) if isinstance(item, ast.Starred) else code_of(item, scope, place)
        texts.append(("..." if spread else "") + code.text)
        kinds.append(code.kind.item if spread else code.kind)
    kind = (
        Kind("list", tuple(kinds)) if isinstance(node, ast.Tuple) else Kind("list", (Kind("list", tuple(kinds)).item,))
    )
    return Code(f"[{', '.join(texts)}]", CALL, kind if node.elts else LIST)


@writes(ast.Dict)
def _dict_display(node: ast.Dict, scope: Scope, wanted: Kind) -> Code:
    parts, kinds = [], []
    for key, value in zip(node.keys, node.values, strict=True):
        if key is None:
            code = code_of(value, scope)
            parts.append(f"...{code.at(CALL)}")
            kinds.append(code.kind.item)
            continue
        code = code_of(value, scope, kind_under(wanted, key, scope))
        name = entry_name(key, scope)
        parts.append(name if name == code.text else f"{name}: {code.text}")
        kinds.append(code.kind)
    kind = Kind("dict", (Kind("list", tuple(kinds)).item,)) if kinds else DICT
    return Code("{ " + ", ".join(parts) + " }" if parts else "{}", CALL, kind)


def entry_name(key: ast.expr, scope: Scope) -> str:
    """The name of an entry of a new object."""
    if isinstance(key, ast.Constant) and isinstance(key.value, str):
        if key.value in INBORN:
            scope.refuse(key, repr(key.value), "key")
        return (
            key.value
            if re.fullmatch(r"[A-Za-z_]\w*", key.value, re.ASCII)
            else json.dumps(key.value, ensure_ascii=False)
        )
    return f"[{text_key(key, scope).text}]"


def text_key(key: ast.expr, scope: Scope) -> Code:
    """A computed name; in a dict only texts are names."""
    code = code_of(key, scope)
    if code.kind.name not in ("text", "any"):
        scope.refuse(key, ast.unparse(key), "keys")
    return code


@writes(ast.JoinedStr)
def _template(node: ast.JoinedStr, scope: Scope, wanted: Kind) -> Code:
    text = ""
    for part in node.values:
        if isinstance(part, ast.Constant):
            text += re.sub(r"([`\\]|\$\{)", r"\\\1", str(part.value)).replace("\n", "\\n")
            continue
        code = code_of(part.value, scope) if isinstance(part, ast.FormattedValue) else NOTHING
        if (
            code.kind not in (TEXT, WHOLE_NUMBER)
            or getattr(part, "format_spec", None)
            or getattr(part, "conversion", -1) != -1
        ):
            return scope.refuse(node, ast.unparse(node), "format")
        text += "${" + code.text + "}"
    return Code(f"`{text}`", CALL, TEXT)
