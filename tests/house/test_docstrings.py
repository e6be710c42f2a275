"""Public docstrings name every parameter, result, error and field of the code, and nothing that does not exist."""

import ast
import re

import predictor
from tests.house import public
from tests.house.public import FUNCTION


def sections(node):
    """The names listed in each section of a docstring: `{"Parameters": ["settings", "outputs"], ...}`."""
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
    # An override documents what it adds to the method it refers to.
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


def test_every_public_docstring_says_what_its_signature_says():
    base = {each.node.name: parameters(each.node) for each in public.nodes() if each.name.startswith("Curve.")}
    faults = []
    for each in public.nodes():
        if not each.docstring:
            faults.append(f"{each.name}: no docstring")
            continue
        found = class_faults(each.node) if isinstance(each.node, ast.ClassDef) else function_faults(each.node, base)
        faults += [f"{each.name} (line {each.node.lineno}): {fault}" for fault in found]
    assert len(public.nodes()) > 50
    assert not faults, "\n" + "\n".join(faults)


def test_half_of_the_public_functions_have_an_example():
    """Examples run as tests with the modules."""
    functions = [each for each in public.nodes() if each.is_called()]
    without = [each.name for each in functions if ">>> " not in each.docstring]
    assert len(without) <= len(functions) / 2, without


def test_half_of_the_public_functions_that_compute_name_their_source():
    computing = [each for each in public.nodes() if each.computes()]
    without = [each.name for each in computing if not re.search(r"^References$", each.docstring, re.MULTILINE)]
    assert len(computing) > 10
    assert len(without) <= len(computing) / 2, without


def test_every_type_that_a_public_function_takes_or_returns_is_public():
    known = {getattr(predictor, name) for name in predictor.__all__}
    for each in public.nodes():
        if not isinstance(each.node, ast.ClassDef):
            assert {kind.__name__ for kind in public.types(each) - known} == set(), each.name
