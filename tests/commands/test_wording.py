"""The words of every command on the sample job, held by tests/golden; see tests/golden.py."""

import re

import pytest

from predictor.__main__ import COMMANDS
from tests import golden

DAY = "2026-11-25"
SHOWN = {
    "plan": ("plan", "--job", "myjob", "--area-ac", "14"),
    "recommend": ("recommend", "myjob/trials.csv"),
    "check": ("check", "myjob/field.csv"),
}
SHOWN |= {f"{name}-details": (*arguments, "--details") for name, arguments in SHOWN.items()}


@pytest.fixture
def shown(run, job):
    """Runs a command beside the sample job, which is named myjob there; gives all it showed."""
    job.rename(job.with_name("myjob"))

    def call(*arguments, **options):
        return golden.session_text(run(*arguments, cwd=job.parent, **options), *arguments)

    return call


def test_help(run):
    arguments = [(), ("--help",), *((name, "--help") for name in COMMANDS)]
    golden.check("help", "\n".join(golden.session_text(run(*each), *each) for each in arguments))


@pytest.mark.parametrize("columns", [40, 80])
@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("name", SHOWN)
def test_answers_on_the_sample_job(shown, name, units, columns):
    golden.check(f"{name}-{units}-{columns}", shown(*SHOWN[name], "--units", units, columns=columns))


@pytest.mark.parametrize("columns", [40, 80])
def test_lots_compared_on_the_sample_job(shown, columns):
    golden.check(f"compare-{columns}", shown("compare", "myjob/trials.csv", columns=columns))


@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("name", ["setting", "decision"])
def test_cards_of_the_sample_job(shown, job, name, units):
    more = ("--decision",) if name == "decision" else ()
    said = shown("card", "myjob/trials.csv", *more, "--units", units, "--out", "c.html")
    page = (job.parent / "c.html").read_text(encoding="utf-8")
    golden.check(f"{name}-card-{units}", f"{said}\n{golden.words(page)}")


@pytest.mark.parametrize("units", ["us", pytest.param("metric", marks=pytest.mark.slow)])
def test_the_report_of_the_sample_job(shown, job, units):
    told = ("--for", "an invented landowner", "--place", "field 3", "--depth", "1/4 in", "--area-ac", "14", "--on", DAY)
    said = shown("report", "--job", "myjob", *told, "--units", units, "--out", "r.html", "--csv", "s.csv")
    page = golden.words((job.parent / "r.html").read_text(encoding="utf-8"))
    page = re.sub(r"predictor \S+, Python .*", "predictor VERSION, Python VERSION", page)
    table = (job.parent / "s.csv").read_text(encoding="utf-8")
    golden.check(f"report-{units}", f"{said}\n{page}\n\n{table}")


def test_a_new_job(shown, job):
    said = [shown("init", "new"), shown("init", "new"), shown("plan", "--job", "new")]
    said += [(job.parent / "new" / name).read_text(encoding="utf-8") for name in ("drill.toml", "plan.csv")]
    golden.check("new-job", "\n".join(said))


RECORDED = {
    "asked": ([], "smal\nsmall\n\n99\n14\ns\nabc\n250\nn\n7.5+7.6+7.9\nstop\n"),
    "asked on a narrow terminal": ([], "chaffy\n\n4\n47\n60%\noops\nstop\n"),
    "what is odd": (
        ["--box", "grain", "--lot", "forbmix", "--setting", "33", "--catch", "11.4+11.6", "--on", "2099-01-01"],
        "y\ny\ny\n",
    ),
    "nobody there": (["--catch", "250"], ""),
    "kept by option": (["--catch", "250", "--yes"], ""),
    "an arrow key": (["--setting", "14"], "small\n\x1b[Dforb mix\nforb mix\n23\n"),
    "part of a blend": (["--box", "small", "--lot", "KS-26", "--setting", "14", "--catch", "23.1"], ""),
    "in parts": (
        ["--box", "small", "--lot", "forb mix", "--setting", "14"],
        "5.8/5.7+6\n3/4 lb\n5.8/5.7/5.6/5.7\n",
    ),
    "by options": (["--box", "grain", "--setting", "33", "--catch", "1.1oz", "--tare", "2g", "--note", "windy"], "y\n"),
    "with the container": (["--box", "grain", "--lot", "CW-62", "--setting", "17"], "y\n13.8\n"),
    "undo": (["--undo"], ""),
    "confirm": (["--confirm", "43-44"], ""),
}


def test_recording(shown):
    said = []
    for name, (options, stdin) in RECORDED.items():
        columns = 40 if "narrow" in name else 80
        said.append(
            f"== {name}\n" + shown("record", "myjob/trials.csv", *options, stdin=stdin, columns=columns, echo=True)
        )
    golden.check("record", "\n".join(said))


CHECKED = {
    "asked": ("", ["--add"], "grain\n\n\nx\nw\n2.1\n14.4\n20\n15+5\n14.4\n"),
    "asked on a narrow terminal": ("", ["--add"], "chaffy+small\n\n4\n\n14\nw\n2\n60+9\n35.5\n"),
    "the clock": ("", ["--box", "grain", "--counted", "71", "--row-ft", "20", "--on", "2020-01-01"], "n\n"),
    "a count": ("", ["--box", "grain", "--counted", "71", "--row-ft", "20"], ""),
    "another lot and setting": (
        "",
        ["--box", "grain", "--lot", "CW-62", "--setting", "19", "--counted", "71"],
        "y\n20\n",
    ),
    "another day and setting": (
        "",
        ["--box", "grain", "--setting", "19", "--area-ac", "2.1", "--used", "5.6", "--on", "2099-01-01"],
        "y\nn\n",
    ),
    "no target": ("", ["--box", "grain", "--lot", "VW-25", "--setting", "15", "--area-ac", "2", "--used", "5"], "y\n"),
    "nobody there": ("", ["--box", "grain"], ""),
    "a slip": ("", ["--box", "grain", "--area-ac", "2.1", "--used", "11.05"], "y\n"),
    "no seed in the row": ("", ["--box", "grain", "--counted", "0", "--row-ft", "20"], ""),
    "a count that is a slip": ("", ["--box", "grain", "--counted", "710", "--row-ft", "20"], "y\n"),
    "all, with a slip": ("2026-11-20,grain,CW-26,17,2.1,11.05,,,\n", [], ""),
    "a slip taken back": ("2026-11-20,grain,CW-26,17,2.1,11.05,,,\n", ["--undo"], ""),
    "low": ("", ["--box", "grain", "--area-ac", "2.1", "--loaded", "20", "--left", "15.25"], ""),
    "after a move": ("2026-11-20,grain,CW-26,17,2.1,4.75,,,\n", ["--add"], "grain\n\n19\nw\n2.1\n20\n14.4\n"),
    "low after others": (
        "2026-11-20,grain,CW-26,17,2.1,5.5,,,\n2026-11-20,grain,CW-26,17,3,7.9,,,\n",
        ["--box", "grain", "--area-ac", "2.1", "--used", "4.7", "--yes"],
        "",
    ),
    "without a file in a pipe": (None, [], ""),
    "without a file": (None, ["--add"], "grain\n\n17\nw\n12000 ft\n20\n14.4\n"),
}


def test_checking(run, job):
    """The words of a check that is added, on the sample job as it was before its checks of this season."""
    folder = job.rename(job.with_name("myjob"))
    earlier = "\n".join((folder / "field.csv").read_text(encoding="utf-8").splitlines()[:4]) + "\n"
    said = []
    for name, (more, options, stdin) in CHECKED.items():
        (folder / "field.csv").unlink(missing_ok=True)
        if more is not None:
            (folder / "field.csv").write_text(earlier + more, encoding="utf-8")
        columns, terminal = (40 if "narrow" in name else 80), "pipe" not in name
        done = run("check", "myjob", *options, stdin=stdin, columns=columns, echo=terminal, cwd=folder.parent)
        said.append(f"== {name}\n" + golden.session_text(done, "check", "myjob", *options))
    golden.check("check-entry", "\n".join(said))
