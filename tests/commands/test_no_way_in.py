"""No network but what the page listens on, no running of text, no writing where nobody asked."""

import ast

import pytest

from tests.conftest import ROOT

PACKAGE = sorted((ROOT / "predictor").rglob("*.py"))
REACHING_OUT = {
    "socket",
    "urllib",
    "http",
    "ftplib",
    "smtplib",
    "ssl",
    "asyncio",
    "socketserver",
    "xmlrpc",
    "webbrowser",
    "requests",
    "werkzeug",
    "flask",
    "waitress",
    "subprocess",
    "pickle",
    "shelve",
    "marshal",
}
# What the page needs of these: to listen, to answer, and to open the browser of this machine
OF_THE_PAGE = {
    "serving/addresses.py": {"socket"},
    "serving/door.py": {"socket", "waitress", "webbrowser"},
    "serving/app.py": {"http.HTTPStatus", "flask", "werkzeug"},
}
# What opens a connection, or sends without one
CONNECTING = {"connect", "connect_ex", "create_connection", "sendto", "sendmsg", "urlopen", "HTTPConnection"}
RUNNING_TEXT = {"eval", "exec", "compile", "__import__"}


def imported(tree):
    """The names that a module imports, whole."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (each.name for each in node.names)
        if isinstance(node, ast.ImportFrom) and node.module:
            yield from (f"{node.module}.{each.name}" for each in node.names)


def test_nothing_reaches_out_or_runs_text():
    """The page alone may listen and answer; nothing opens a connection, and nobody else imports what could."""
    for path in PACKAGE:
        tree = ast.parse(path.read_text(encoding="utf-8"))
        allowed = OF_THE_PAGE.get(path.relative_to(ROOT / "predictor").as_posix(), set())
        for name in imported(tree):
            reaches = name.split(".")[0] in REACHING_OUT
            assert not reaches or name in allowed or name.split(".")[0] in allowed, (path, name)
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                assert node.func.id not in RUNNING_TEXT | CONNECTING, path
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
                assert node.func.attr not in {"system", "popen", "format_map"} | CONNECTING, path


@pytest.fixture
def run_here(run):
    return run


def test_commands_write_only_where_they_are_asked_to(run_here, job):
    """Commands that only show something leave job, home and current folder as they were, in all folders below too."""
    here = job.parent / "here"
    (job / "reports").mkdir()
    (here / "deep" / "er").mkdir(parents=True)

    def content():
        found = {path.relative_to(job.parent).as_posix(): path for path in job.parent.rglob("*")}
        return {name: path.read_bytes() if path.is_file() else None for name, path in found.items()}

    def run(*arguments, **given):
        return run_here(*arguments, cwd=here, HOME=str(here), TMPDIR=str(here), XDG_CACHE_HOME=str(here), **given)

    before = content()
    for arguments in (
        ("plan", "--job", job),
        ("recommend", job / "trials.csv"),
        ("recommend", job / "trials.csv", "--json"),
        ("compare", job / "trials.csv"),
        ("check", job / "field.csv"),
        ("card", job / "trials.csv", "--json"),
        ("load", job, "--area-ac", "14"),
        ("load", job, "--area-ac", "14", "--json"),
        ("simulate", "--help"),
    ):
        assert run(*arguments).returncode == 0
        assert content() == before, arguments
    assert run("card", job / "trials.csv").returncode == 0
    assert set(content()) - set(before) == {"job/card.html"}
    assert run("record", job / "trials.csv", "--catch", "25", stdin="").returncode == 0
    after = content()
    assert {name for name in before if after[name] != before[name]} == {"job/trials.csv"}
    assert set(after) - set(before) == {"job/card.html"}
