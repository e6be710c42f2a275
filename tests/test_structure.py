"""Arrows between modules point one way: what the picture in DEVELOPERS.md promises."""

import ast

import predictor
from tests.conftest import ROOT

PACKAGE = ROOT / "predictor"


def imports():
    """Module to the modules of the package that it imports, those inside functions too."""
    files = {
        ".".join(("predictor", *path.relative_to(PACKAGE).with_suffix("").parts)).removesuffix(".__init__"): path
        for path in PACKAGE.rglob("*.py")
    }
    found = {}
    for name, path in files.items():
        found[name] = set()
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] == "predictor":
                whole = {f"{node.module}.{alias.name}" for alias in node.names}
                found[name] |= {each if each in files else node.module for each in whole}
    return found


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


def test_the_library_knows_no_command_and_results_no_picture():
    for name, found in imports().items():
        if not name.startswith("predictor.commands") and name != "predictor.__main__":
            assert not [each for each in found if each.startswith("predictor.commands")], name
        drawing = ("predictor.plots", "predictor.report", "predictor.html_page", "predictor.pdf_page")
        if name.split(".")[1:2] not in (["report"], ["html_page"], ["pdf_page"], ["commands"]) and "plots" not in name:
            assert not [each for each in found if each.startswith(drawing)], name


def test_the_public_names_are_where_they_are_said_to_be():
    for name in predictor.__all__:
        assert getattr(predictor, name) is not None
