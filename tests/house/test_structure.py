"""Rooms import in one direction only, as the table in DEVELOPERS.md promises."""

import ast
from functools import cache

import predictor
from tests.conftest import ROOT
from tests.house import figures

PACKAGE = ROOT / "predictor"
TOP = ("unseen", "errors", "numbers", "units", "format")
# A room imports only from rooms before it, and from the modules at the top.
ROOMS = (
    "domain",
    "files",
    "curves",
    "slips",
    "advice",
    "lots",
    "field",
    "job",
    "audit",
    "study",
    "text",
    "plots",
    "pages",
    "asking",
    "serving",
    "commands",
)


@cache
def modules():
    """The dotted name of each module, and its syntax tree."""
    return {
        ".".join(("predictor", *path.relative_to(PACKAGE).with_suffix("").parts)).removesuffix(".__init__"): ast.parse(
            path.read_text(encoding="utf-8")
        )
        for path in PACKAGE.rglob("*.py")
    }


def imports():
    """Each module, and the modules of the package that it imports, inside functions too."""
    found = {}
    for name, tree in modules().items():
        found[name] = set()
        for node in ast.walk(tree):
            if isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] == "predictor":
                whole = {f"{node.module}.{alias.name}" for alias in node.names}
                found[name] |= {each if each in modules() else node.module for each in whole}
    return found


def room(name):
    return name.split(".")[1] if "." in name else ""


def test_no_module_leads_back_to_itself():
    arrows, open_, done = imports(), [], set()

    def visit(name):
        assert name not in open_, " -> ".join([*open_[open_.index(name) :], name])
        if name in done:
            return
        open_.append(name)
        for each in arrows[name] - {"predictor"}:
            visit(each)
        open_.pop()
        done.add(name)

    for name in arrows:
        visit(name)
    assert len(done) > 60


def test_a_room_imports_only_from_rooms_before_it():
    order = {name: k for k, name in enumerate(ROOMS)}
    wrong = [
        f"{name} imports {each}"
        for name, found in imports().items()
        if room(name) in order
        for each in found
        if room(each) in order and order[room(each)] > order[room(name)]
    ]
    assert not wrong, "\n".join(wrong)


def test_nothing_stands_at_the_top_but_what_all_rooms_use():
    here = {path.stem for path in PACKAGE.glob("*.py")} - {"__init__", "__main__"}
    assert here <= set(TOP)
    assert {path.name for path in PACKAGE.iterdir() if path.is_dir() and path.name != "__pycache__"} == set(ROOMS)


def test_each_room_says_what_is_done_in_it():
    for name in ROOMS:
        said = ast.get_docstring(modules()[f"predictor.{name}"])
        assert said, name
        assert "Imports" in said, name


def test_the_public_names_are_where_they_are_said_to_be():
    for name in predictor.__all__:
        assert getattr(predictor, name) is not None


def test_type_checkers_are_shown_the_names_that_are_loaded_when_first_used():
    shown = ast.parse((PACKAGE / "__init__.pyi").read_text(encoding="utf-8")).body
    imported = [node for node in shown if isinstance(node, ast.ImportFrom)]
    found = {alias.asname: (node.module, alias.name) for node in imported for alias in node.names}
    assert found == {name: (f"predictor.{home}", name) for name, home in predictor._HOMES.items()}


def test_no_module_has_more_than_four_hundred_lines():
    assert not [f"{each.path}: {each.lines}" for each in figures.modules() if each.lines > 400]


def test_nine_functions_in_ten_have_at_most_twenty_five_lines_of_code():
    sizes = {name: lines for each in figures.modules() for name, lines in each.functions().items()}
    assert figures.of_ten_nine_have(sizes) <= 25
