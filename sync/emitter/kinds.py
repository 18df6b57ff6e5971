"""What the emitter knows about a value: its kind, from an annotation or from the expression that makes it.

Kinds decide how a construct is written where Python and JavaScript differ. Nothing is emitted here.
"""

from __future__ import annotations

import ast
from dataclasses import dataclass, field, replace

from sync.emitter.constructs import WHOLE


@dataclass(frozen=True)
class Kind:
    """`name` is any, number, whole, truth, text, none, list, dict, object, function or module.

    `items` are the kinds of the members: one for a list or a dict, one each for a tuple. `of` names the class of an
    object or the TypedDict of a dict. `optional` says that it may be None.
    """

    name: str = "any"
    items: tuple[Kind, ...] = ()
    of: str = ""
    optional: bool = False

    @property
    def item(self) -> Kind:
        """The kind of every member."""
        kind = self.items[0] if self.items else ANY
        for one in self.items[1:]:
            kind = joined(kind, one)
        return kind


ANY = Kind()
NUMBER, WHOLE_NUMBER, TRUTH, TEXT, NONE = (Kind(name) for name in ("number", "whole", "truth", "text", "none"))
LIST, DICT = Kind("list"), Kind("dict")

PLAIN = {"float": NUMBER, "int": NUMBER, "bool": TRUTH, "str": TEXT, "None": NONE, "list": LIST, "dict": DICT}
PLAIN_TYPES = {"float": "number", "int": "number", "bool": "boolean", "str": "string", "None": "null", "Any": "any"}
PLAIN_TYPES |= {"list": "any[]", "dict": "{ [key: string]: any }", WHOLE: "bigint"}
LISTS = frozenset({"list", "tuple", "Sequence", "Iterable"})
DICTS = frozenset({"dict", "Mapping"})
GENERICS = LISTS | DICTS | {"Callable", "Literal"}


def joined(one: Kind, other: Kind) -> Kind:
    """What is known about a value that may be either."""
    if one == other:
        return one
    if "none" in (one.name, other.name):
        return replace(other if one.name == "none" else one, optional=True)
    if one.name != other.name or one.name == "object":
        return ANY
    if one.of and one.of == other.of:
        return replace(one, optional=True)
    if len(one.items) == len(other.items):
        items = tuple(joined(mine, theirs) for mine, theirs in zip(one.items, other.items, strict=True))
    else:
        items = (joined(one.item, other.item),)
    return Kind(one.name, items, optional=one.optional or other.optional)


@dataclass(frozen=True)
class Parameter:
    """A parameter of a function of the kernel."""

    name: str
    kind: Kind
    default: ast.expr | None = None


@dataclass(frozen=True)
class Signature:
    """What a function takes and returns."""

    parameters: tuple[Parameter, ...]
    gives: Kind


@dataclass
class Symbol:
    """What a name of a module refers to: function, class, error, record, alias, constant, module or primitive."""

    sort: str
    module: str
    name: str
    node: ast.AST
    kind: Kind = ANY
    signature: Signature | None = None
    members: dict[str, Symbol] = field(default_factory=dict)


class Unsayable(Exception):
    """An annotation with no kind and no type in the module; the argument is its node."""


def parsed(node: ast.expr) -> ast.expr:
    """An annotation, which may be in quotes."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return ast.parse(node.value, mode="eval").body
    return node


def parts_of(node: ast.expr) -> list[ast.expr]:
    """The content of a subscript's brackets."""
    if not isinstance(node, ast.Subscript):
        return []
    return list(node.slice.elts) if isinstance(node.slice, ast.Tuple) else [node.slice]


def head_of(node: ast.expr) -> str:
    """The name before the brackets; "" for anything else."""
    before = node.value if isinstance(node, ast.Subscript) else node
    return before.id if isinstance(before, ast.Name) else ""


def kind_of(annotation: ast.expr, names: dict[str, Symbol]) -> Kind:
    """The kind that an annotation promises.

    Raises:
        Unsayable: it isn't a type of the kernel.
    """
    node = parsed(annotation)
    if isinstance(node, ast.Constant) and node.value is None:
        return NONE
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.BitOr):
        return joined(kind_of(node.left, names), kind_of(node.right, names))
    head, parts = head_of(node), parts_of(node)
    if head in ("Required", "NotRequired"):
        return kind_of(parts[0], names)
    if head in LISTS:
        kinds = [kind_of(part, names) for part in parts if not _is_ellipsis(part)]
        return Kind("list", tuple(kinds))
    if head in DICTS:
        if len(parts) == 2 and kind_of(parts[0], names) not in (TEXT, ANY):
            raise Unsayable(node)
        return Kind("dict", (kind_of(parts[1], names),) if len(parts) == 2 else ())
    return _named(node, head, names)


def _named(node: ast.expr, head: str, names: dict[str, Symbol]) -> Kind:
    if head == "Callable":
        return Kind("function", (kind_of(parts_of(node)[1], names),))
    if head == "Literal":
        return TEXT
    if head == WHOLE:
        return WHOLE_NUMBER
    if head == "Any":
        return ANY
    if head in PLAIN:
        return PLAIN[head]
    if head in names and names[head].sort in ("class", "record", "alias", "error"):
        return names[head].kind
    raise Unsayable(node)


def _is_ellipsis(node: ast.expr) -> bool:
    return isinstance(node, ast.Constant) and node.value is Ellipsis


def type_text(annotation: ast.expr, names: dict[str, Symbol]) -> str:
    """An annotation as TypeScript writes the type.

    Raises:
        Unsayable: it isn't a type of the kernel.
    """
    node = parsed(annotation)
    if isinstance(node, ast.Constant) and node.value is None:
        return "null"
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.BitOr):
        return f"{type_text(node.left, names)} | {type_text(node.right, names)}"
    head, parts = head_of(node), parts_of(node)
    if head == "Literal":
        return " | ".join(ast.unparse(part).replace("'", '"') for part in parts)
    if head == "Callable" and isinstance(parts[0], ast.List):
        arguments = ", ".join(f"{_letter(i)}: {type_text(part, names)}" for i, part in enumerate(parts[0].elts))
        return f"({arguments}) => {type_text(parts[1], names)}"
    return _generic(node, head, [type_text(part, names) for part in parts if not _is_ellipsis(part)], names)


def _generic(node: ast.expr, head: str, inner: list[str], names: dict[str, Symbol]) -> str:
    """A type with the content of its brackets, or one that is only a name."""
    if head in ("Required", "NotRequired"):
        return inner[0]
    if head == "tuple" and len(inner) == len(parts_of(node)):
        return f"[{', '.join(inner)}]"
    if head in LISTS and inner:
        return f"({inner[0]})[]" if " | " in inner[0] or "=>" in inner[0] else f"{inner[0]}[]"
    if head in DICTS and inner:
        return f"{{ [key: string]: {inner[1]} }}"
    if head in PLAIN_TYPES:
        return PLAIN_TYPES[head]
    if head in names and names[head].sort in ("class", "record", "alias", "error"):
        return head
    raise Unsayable(node)


def _letter(index: int) -> str:
    return "abcdefgh"[index]
