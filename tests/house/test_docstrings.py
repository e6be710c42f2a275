"""Docstrings say what signatures say: every parameter, result, error and field, and none that does not exist."""

import ast
import re
from pathlib import Path

import predictor

ROOT = Path(predictor.__file__).parent
FUNCTION, NAMED = ast.FunctionDef | ast.AsyncFunctionDef, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef


def sections(node):
    """Names listed in each section of a docstring: `{"Parameters": ["settings", "outputs"], ...}`."""
    parts = re.split(r"^(\w[\w ]*)\n-{3,}$", ast.get_docstring(node), flags=re.MULTILINE)[1:]
    heads = [re.sub(r" :.*", "", text, flags=re.MULTILINE) for text in parts[1::2]]
    return {
        title: [name.strip(" *") for line in re.findall(r"^\S.*", text, re.MULTILINE) for name in line.split(",")]
        for title, text in zip(parts[::2], heads, strict=True)
    }


def parameters(function):
    args = function.args
    every = [*args.posonlyargs, *args.args, args.vararg, *args.kwonlyargs, args.kwarg]
    return [arg.arg for arg in every if arg and arg.arg not in ("self", "cls")]


def body(function):
    """Everything in a function but the functions defined in it."""
    for child in ast.iter_child_nodes(function):
        if not isinstance(child, FUNCTION | ast.Lambda):
            yield child
            yield from body(child)


def function_faults(function, base):
    named, given, inside = sections(function), parameters(function), list(body(function))
    # an override documents what it adds to the method it refers to
    found = re.match(r"See `Curve\.(\w+)`", ast.get_docstring(function))
    known, listed = base[found[1]] if found else [], named.get("Parameters", [])
    faults = [f"no parameter {name}" for name in given if name not in listed and name not in known]
    faults += [f"{name} is not in the signature" for name in listed if name not in given]
    returns = function.returns and ast.unparse(function.returns) not in ("None", "NoReturn")
    returns = returns or any(isinstance(each, ast.Return) and each.value is not None for each in inside)
    if returns and given and not found and not {"Returns", "Yields"} & set(named):
        faults.append("no Returns")
    raised = {ast.unparse(each.exc).split("(")[0] for each in inside if isinstance(each, ast.Raise) and each.exc}
    raised = {name for name in raised if name.split(".")[-1][0].isupper()}  # else it is a variable
    return faults + [f"raises {name}" for name in sorted(raised - set(named.get("Raises", [])))]


def class_faults(node):
    named = sections(node)
    fields = [each.target.id for each in node.body if isinstance(each, ast.AnnAssign) and each.target.id[0] != "_"]
    methods = {each.name: each for each in node.body if isinstance(each, FUNCTION)}
    given = fields + (parameters(methods["__init__"]) if "__init__" in methods else [])
    listed = named.get("Attributes", []) + named.get("Parameters", [])
    faults = [f"no field {name}" for name in given if name not in listed]
    return faults + [f"{name} is not a field" for name in listed if name not in (*given, *methods)]


def is_overload(node):
    return any(ast.unparse(each) == "overload" for each in getattr(node, "decorator_list", ()))


def public_nodes():
    """Every public class and function, and the public methods of public classes, with its name."""
    found = []
    for name in predictor.__all__:
        value = getattr(predictor, name)
        if not getattr(value, "__module__", "").startswith("predictor"):
            continue  # an alias of types
        path = ROOT.parent / (value.__module__.replace(".", "/") + ".py")
        if not path.exists():
            path = path.with_suffix("") / "__init__.py"
        node = next(
            each
            for each in ast.parse(path.read_text("utf-8")).body
            if isinstance(each, NAMED) and each.name == value.__name__
        )
        found.append((node, name))
        if isinstance(node, ast.ClassDef):
            methods = [each for each in node.body if isinstance(each, NAMED) and not each.name.startswith("_")]
            found += [(each, f"{name}.{each.name}") for each in methods if not is_overload(each)]
    return found


def test_every_public_docstring_says_what_its_signature_says():
    nodes = public_nodes()
    base = {node.name: parameters(node) for node, name in nodes if name.startswith("Curve.")}
    faults = []
    for node, name in nodes:
        if not ast.get_docstring(node):
            faults.append(f"{name}: no docstring")
            continue
        found = class_faults(node) if isinstance(node, ast.ClassDef) else function_faults(node, base)
        faults += [f"{name} (line {node.lineno}): {fault}" for fault in found]
    assert len(nodes) > 50
    assert not faults, "\n" + "\n".join(faults)
