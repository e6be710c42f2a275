"""The small changes that make mutants: what may be changed in a tree of code, and the changed code."""

from __future__ import annotations

import ast
import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

SWAPS = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.Pow: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
    ast.Lt: ast.GtE,
    ast.LtE: ast.Gt,
    ast.Gt: ast.LtE,
    ast.GtE: ast.Lt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
    ast.And: ast.Or,
    ast.Or: ast.And,
}
NAMES = {"min": "max", "max": "min", "any": "all", "all": "any"}
# What is for people, for the checker of types, or a mark of a class: no behaviour.
_QUIET = ("Literal", "TYPE_CHECKING", "cast", "TypeVar", "overload", "singledispatch")
_NO_BEHAVIOUR = ("repr", "strict", "eq", "frozen", "kw_only", "slots")
_WORD = re.compile(r"[A-Za-z0-9_.\- ]{0,24}")

Do = Callable[[], ast.AST | None]


@dataclass(frozen=True)
class Change:
    """One possible change of a tree: carrying it out changes that tree."""

    kind: str
    line: int
    before: str
    do: Do  # Carries it out and returns what stands there then; None where nothing does


def families(trees: Iterable[ast.AST]) -> dict[str, str]:
    """For each word that steers the program, the next one of its family: of a Literal, a set, or a chain of tests."""
    after: dict[str, str] = {}
    loose: set[str] = set()
    for tree in trees:
        for node in ast.walk(tree):
            words: list[str] = []
            if isinstance(node, ast.Subscript) and ast.unparse(node.value).endswith("Literal"):
                words = _words(node.slice)
            elif isinstance(node, ast.Compare):
                sides = [node.left, *node.comparators]
                words = [word for side in sides for word in _words(side)]
            elif isinstance(node, ast.MatchValue):
                words = _words(node.value)
            loose.update(words)
            if len(words) > 1:
                after |= dict(zip(words, [*words[1:], words[0]], strict=True))
    return {word: f"{word}_" if word else "x" for word in loose} | after


def _words(node: ast.AST) -> list[str]:
    each = node.elts if isinstance(node, ast.Tuple | ast.Set | ast.List) else [node]
    texts = [one.value for one in each if isinstance(one, ast.Constant) and isinstance(one.value, str)]
    return [text for text in texts if _WORD.fullmatch(text)] if len(texts) == len(each) else []


def changes(tree: ast.AST, words: dict[str, str]) -> list[Change]:
    """All changes of a tree, in the order of the code."""
    return list(_of(tree, words))


def _of(node: ast.AST, words: dict[str, str]) -> Iterator[Change]:
    """Changes of what is in a node. Annotations, decorators, docstrings, sentences and asserts are left alone."""
    for name, value in ast.iter_fields(node):
        if name in ("annotation", "returns", "decorator_list", "type_params") or _quiet(value):
            continue
        items = value if isinstance(value, list) else [value]
        for place, item in enumerate(items):
            if not isinstance(item, ast.AST) or isinstance(item, ast.JoinedStr) or _quiet(item):
                continue
            if isinstance(item, ast.Expr) and isinstance(item.value, ast.Constant):
                continue  # a docstring
            if isinstance(item, ast.Assert) or (isinstance(item, ast.If) and _quiet(item.test)):
                continue
            if isinstance(item, ast.keyword) and item.arg in _NO_BEHAVIOUR:
                continue

            def put(new: ast.AST, node=node, name=name, value=value, place=place) -> ast.AST:
                if isinstance(value, list):
                    value[place] = new
                else:
                    setattr(node, name, new)
                return new

            yield from _here(item, put, words)
            yield from _of(item, words)


def _quiet(value: object) -> bool:
    return isinstance(value, ast.Name | ast.Subscript) and ast.unparse(value).split("[")[0].split(".")[-1] in _QUIET


def _here(node: ast.AST, put: Callable[[ast.AST], ast.AST], words: dict[str, str]) -> Iterator[Change]:
    """Changes of one node itself. `put` sets another one in its place."""

    def change(kind: str, do: Do) -> Change:
        return Change(kind, node.lineno, ast.unparse(node), do)

    def swap(field: str, old: ast.AST) -> Do:
        def do() -> ast.AST:
            new = SWAPS[type(old)]()
            if field == "ops":
                node.ops[0] = new
            else:
                node.op = new
            return node

        return do

    match node:
        case ast.BinOp(op=op) if type(op) in SWAPS and not _joins_text(node):
            yield change("operator", swap("op", op))
        case ast.AugAssign(op=op) if type(op) in SWAPS and not _joins_text(node):
            yield change("operator", swap("op", op))
        case ast.Compare(ops=[op, *_]) if type(op) in SWAPS:
            yield change("condition", swap("ops", op))
        case ast.BoolOp(op=op):
            yield change("condition", swap("op", op))
        case ast.UnaryOp(op=ast.Not(), operand=operand):
            yield change("condition", lambda: put(operand))
        case (
            ast.If(test=ast.Name() | ast.Call() | ast.Attribute() as test)
            | ast.IfExp(test=ast.Name() | ast.Call() | ast.Attribute() as test)
        ):
            yield Change("condition", node.lineno, f"if {ast.unparse(test)}", lambda: _negate(node))
        case ast.Name(id=name, ctx=ast.Load()) if name in NAMES:
            yield change("operator", lambda: put(ast.copy_location(ast.Name(NAMES[name], ast.Load()), node)))
        case ast.Constant(value=bool() as value):
            yield change("flag", lambda: put(ast.copy_location(ast.Constant(not value), node)))
        case ast.Constant(value=int() | float()):
            yield change("number", lambda: put(ast.copy_location(ast.Constant(_other_number(node.value)), node)))
        case ast.Constant(value=str() as value) if value in words:
            yield change("word", lambda: put(ast.copy_location(ast.Constant(words[value]), node)))
        case ast.Set(elts=[_, _, *_]) | ast.Tuple(elts=[_, _, *_], ctx=ast.Load()) if _all_texts(node.elts):
            for place, each in enumerate(node.elts):
                yield Change("word taken out", each.lineno, ast.unparse(each), lambda at=place: _drop(node, at))
        case ast.Slice():
            yield from _slice(node, change)
        case ast.Expr(value=ast.Call()) | ast.Raise():
            yield change("statement taken out", lambda: put(ast.copy_location(ast.Pass(), node)) and None)
        case ast.With(items=[ast.withitem(ast.Call(func=func))]) if ast.unparse(func).endswith("suppress"):
            yield change("statement taken out", lambda: _bare(node))
        case ast.Break() | ast.Continue():
            other = ast.Continue() if isinstance(node, ast.Break) else ast.Break()
            yield change("jump", lambda: put(ast.copy_location(other, node)))
        case ast.Return(value=ast.expr() as value) if not (isinstance(value, ast.Constant) and value.value is None):
            yield change("return", lambda: put(ast.copy_location(ast.Return(ast.Constant(None)), node)))
        case ast.Return(value=None):
            yield change("return", lambda: put(ast.copy_location(ast.Pass(), node)) and None)


def _joins_text(node: ast.BinOp | ast.AugAssign) -> bool:
    """Whether texts are joined, where no number changes."""
    sides = (node.left, node.right) if isinstance(node, ast.BinOp) else (node.value,)
    return any(
        isinstance(side, ast.JoinedStr) or (isinstance(side, ast.Constant) and isinstance(side.value, str | bytes))
        for side in sides
    )


def _negate(node: ast.If | ast.IfExp) -> ast.AST:
    node.test = ast.copy_location(ast.UnaryOp(ast.Not(), node.test), node.test)
    return node.test


def _other_number(value: float) -> float:
    if isinstance(value, float):
        return value * 1.5 + (value == 0)
    return value & 0o600 if value in (0o666, 0o777, 0o644) else value + 1


def _all_texts(nodes: list[ast.expr]) -> bool:
    return all(isinstance(each, ast.Constant) and isinstance(each.value, str) for each in nodes)


def _drop(node: ast.Set | ast.Tuple, at: int) -> None:
    del node.elts[at]


def _bare(node: ast.With) -> None:
    """The body alone: errors are no longer passed over."""
    node.items[0].context_expr = ast.parse("__import__('contextlib').nullcontext()", mode="eval").body
    ast.fix_missing_locations(node)


def _slice(node: ast.Slice, change: Callable[[str, Do], Change]) -> Iterator[Change]:
    """One too far at an end that is given; a slice from or to the end loses one there."""

    def do(side: str) -> Callable[[], ast.AST]:
        def move() -> ast.AST:
            bound = getattr(node, side)
            new = ast.Constant(1 if side == "lower" else -1)
            if bound is not None:
                new = ast.BinOp(bound, ast.Add(), ast.Constant(1))
            setattr(node, side, ast.fix_missing_locations(ast.copy_location(new, node)))
            return node

        return move

    for side in ("lower", "upper"):
        bound = getattr(node, side)
        if bound is None or not isinstance(bound, ast.Constant | ast.UnaryOp):
            yield change("slice", do(side))
