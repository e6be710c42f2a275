"""No pattern of the program takes more than linear time, whatever text it meets."""

import ast
import importlib
import itertools
import re
import time
from types import BuiltinMethodType

import pytest

from tests.house.test_structure import modules

SHORT, LONG = 500, 4_000
# Eight times the text takes about eight times as long in a linear pattern, 64 times in a quadratic one.
MOST_TIMES = 24
# What is quicker than this is not measured: a quadratic pattern takes some 8 million steps for the long text.
TOO_QUICK_S = 0.005
RUNS = (
    " ",
    "\t",
    "\n",
    '"',
    "'",
    "0",
    "1",
    "٣",
    ".",
    ",",
    "-",
    "_",
    "[",
    "]",
    "{",
    "=",
    "/",
    "@",
    "\\",
    "é",
    "a",
    "\u0301",
)
RUNS += ("1 ", "1.", "1,", "a ", "on ", '\\"', "g ", "1 g", "-1", ". ", "1a", "1;")
USES = ("search", "match", "fullmatch", "sub", "split", "findall", "finditer")
STARTS, ENDS = ("", "1", "[", "jan", "1 jan "), ("!", "\n")


def patterns():
    """Every pattern of the program and its uses, by module and text: those kept in a module, or written in a call."""
    found = {}
    trees = modules()
    nodes = [node for tree in trees.values() for node in ast.walk(tree) if isinstance(node, ast.Attribute)]
    used = {(node.value.id, node.attr) for node in nodes if isinstance(node.value, ast.Name)}
    for name, tree in trees.items():
        for kept, each in vars(importlib.import_module(name)).items():
            pattern = each.__self__ if isinstance(each, BuiltinMethodType) else each
            if isinstance(pattern, re.Pattern) and isinstance(pattern.pattern, str):
                uses = {use for use in USES if (kept, use) in used} or {"fullmatch"}
                uses = uses if pattern is each else {each.__name__}
                found[f"{name} {pattern.pattern}"] = [getattr(pattern, use) for use in sorted(uses)]
        for node in ast.walk(tree):
            call = isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)
            if call and isinstance(node.func.value, ast.Name) and node.func.value.id == "re" and node.args:
                text = node.args[0].value if isinstance(node.args[0], ast.Constant) else None
                if isinstance(text, str) and node.func.attr in USES:
                    found[f"{name} {text}"] = [getattr(re.compile(text), node.func.attr)]
    return found


def seconds(uses, text):
    """Least of three times for all that is done with a pattern."""
    times = []
    for _ in range(3):
        start = time.process_time()
        for use in uses:
            found = use("", text) if use.__name__ == "sub" else use(text)
            if use.__name__ == "finditer":
                list(found)
        times.append(time.process_time() - start)
        if times[-1] < TOO_QUICK_S:
            break
    return min(times)


def slow(uses):
    """The first text on which a pattern takes more than linear time; "" where there is none."""
    for start, run, end in itertools.product(STARTS, RUNS, ENDS):
        short, long = (start + run * (size // len(run)) + end for size in (SHORT, LONG))
        # a cubic one shows on the short text, and would not end on the long one
        took = seconds(uses, short)
        if took < 10 * TOO_QUICK_S:
            took = seconds(uses, long)
            if took < max(TOO_QUICK_S, MOST_TIMES * seconds(uses, short)):
                continue
        return f"{start + run * 3 + end!r}: {took:.2f} s"
    return ""


def test_every_pattern_is_found():
    found = patterns()
    assert len(found) > 35
    assert any(name.startswith("predictor.files.toml ") for name in found)


@pytest.mark.parametrize("text", [r"(.*?)\s*(g|kg)", r"\s*(\[\[?)\s*([^\]\[#]+?)\s*\]", r"[a1]+!"])
def test_a_pattern_that_looks_back_is_known(text):
    assert slow([re.compile(text).search])


@pytest.mark.slow
def test_no_pattern_takes_more_than_linear_time():
    assert {name: text for name, uses in patterns().items() if (text := slow(uses))} == {}
