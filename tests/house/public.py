"""What `import predictor` gives, as tests look at it: each public name with its source, and the types it speaks of."""

from __future__ import annotations

import ast
from dataclasses import dataclass
from functools import cache
from importlib import import_module
from pathlib import Path

import predictor

ROOT = Path(predictor.__file__).parent
FUNCTION, NAMED = ast.FunctionDef | ast.AsyncFunctionDef, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef


@dataclass(frozen=True)
class Public:
    """A public class, function or method of a public class: its name, its source and its module."""

    name: str
    node: ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef
    module: str

    @property
    def docstring(self) -> str:
        return ast.get_docstring(self.node) or ""

    @property
    def room(self) -> str:
        return self.module.split(".")[1]

    def computes(self) -> bool:
        """Whether it works something out by a method that has a source: no reader, no look-up, no change of form."""
        plain = ("to_dict", "frame", "lot", "of", "factors", "of_pieces")
        return self.is_called() and self.room in ("curves", "advice", "lots", "field") and self.node.name not in plain

    def is_called(self) -> bool:
        """Whether it is a function or method, no class and no property."""
        decorators = {ast.unparse(each) for each in self.node.decorator_list}
        return isinstance(self.node, FUNCTION) and not decorators & {"property", "cached_property", "overload"}


@cache
def tree(module: str) -> ast.Module:
    path = ROOT.parent / (module.replace(".", "/") + ".py")
    return ast.parse((path if path.exists() else path.with_suffix("") / "__init__.py").read_text(encoding="utf-8"))


def nodes() -> list[Public]:
    """Every public class and function, and the public methods of public classes."""
    found = []
    for name in predictor.__all__:
        value = getattr(predictor, name)
        module = getattr(value, "__module__", "")
        if not module.startswith("predictor"):
            continue  # an alias of types
        node = next(each for each in tree(module).body if isinstance(each, NAMED) and each.name == value.__name__)
        found.append(Public(name, node, module))
        if isinstance(node, ast.ClassDef):
            methods = [each for each in node.body if isinstance(each, NAMED) and not each.name.startswith("_")]
            found += [Public(f"{name}.{each.name}", each, module) for each in methods if not is_overload(each)]
    return found


def is_overload(node: ast.AST) -> bool:
    return any(ast.unparse(each) == "overload" for each in getattr(node, "decorator_list", ()))


def types(each: Public) -> set[type]:
    """Classes of ours that the signature of a function speaks of."""
    args = each.node.args
    every = [*args.posonlyargs, *args.args, args.vararg, *args.kwonlyargs, args.kwarg]
    parts = [arg.annotation for arg in every if arg] + [each.node.returns]
    names = {name.id for part in parts if part for name in ast.walk(part) if isinstance(name, ast.Name)}
    imports = [node for node in ast.walk(tree(each.module)) if isinstance(node, ast.ImportFrom)]
    homes = {alias.asname or alias.name: node.module for node in imports for alias in node.names}
    modules = {name: homes.get(name, each.module) for name in names}
    ours = [
        getattr(import_module(home), name)
        for name, home in modules.items()
        if home.startswith("predictor") and hasattr(import_module(home), name)
    ]
    return {value for value in ours if isinstance(value, type)}
