"""The words for what people get wrong, held by tests/golden: broken files, and wrong options."""

import difflib
import re

import pytest

from tests import golden
from tests.conftest import SAMPLE

# What is wrong, and how the file of the sample job gets it: text put in the place of another, or the whole content.
DRILL = {
    "no such file": None,
    "nothing in it": b"",
    "a bracket that is not closed": ('{ label = "6", driver = 20, driven = 24 },\n]', ""),
    "a quote that is not closed": ('holds = "chaffy"', 'holds = "chaffy'),
    "a key twice": ("rows = 12", "rows = 12\nrows = 12"),
    "a key left out": ("rolling_circumference_ft = 7.2", ""),
    "a key that is none": ("row_spacing_in", "row_spacing_inch"),
    "a unit behind the number": ("row_spacing_in = 7.5", 'row_spacing_in = "7.5 in"'),
    "a length in two units": ("row_spacing_in = 7.5", "row_spacing_in = 7.5\nrow_spacing_cm = 19"),
    "centimetres for inches": ("row_spacing_in = 7.5", "row_spacing_in = 19.05"),
    "a word for a count": ("rows = 12", 'rows = "twelve"'),
    "half a row": ("rows = 12", "rows = 12.5"),
    "too many rows": ("rows = 12", "rows = 900"),
    "more rows caught than there are": ("\nrows = 3", "\nrows = 30"),
    "seed of no known kind": ('holds = "chaffy"', 'holds = "fluffy"'),
    "a control of no known kind": ('control = "lever"', 'control = "dial"'),
    "a scale that ends below its start": ("highest = 60", "highest = -5"),
    "a step that does not fit": ("step = 1\n", "step = 7\n"),
    "two positions of one name": ('label = "2"', 'label = "1"'),
    "no teeth": ("driver = 12, driven = 36", "driver = 12"),
    "two boxes of one name": ('name = "grain"', 'name = "small"'),
    "no boxes": (re.compile(r"\[\[box\]\].*", re.DOTALL), ""),
    "another rule for live seed": ('viable = "germination"', 'viable = "all"'),
    "a number that is worked out": ("turns = 28", "turns = 4 * 7"),
}
PLAN = {
    "no such file": None,
    "nothing in it": b"",
    "a header alone": (re.compile(r"(?<=lb_ac\n).*", re.DOTALL), ""),
    "no rate": ("pls_rate_lb_ac,bulk_rate_lb_ac", "rate,of_bag"),
    "a column left out": (",purity_pct", ",purity"),
    "a column twice": ("dormant_pct", "germination_pct"),
    "a word for a rate": ("bluestem,2.4", "bluestem,some"),
    "a unit behind the rate": ("bluestem,2.4", "bluestem,2.4 lb"),
    "a decimal comma": ("bluestem,2.4", 'bluestem,"2,4"'),
    "a negative rate": ("bluestem,2.4", "bluestem,-2.4"),
    "an empty rate": ("bluestem,2.4", "bluestem,"),
    "more than all is pure": ("2.4,,62", "2.4,,162"),
    "a fraction for per cent": ("2.4,,62", "2.4,,0.62"),
    "germination and dormant above a hundred": ("62,71,6", "62,71,60"),
    "a seed nobody knows": ("little bluestem", "litle bluestem"),
    "a box the drill does not have": ("grain,CW-26", "grains,CW-26"),
    "a lot twice": ("IG-264", "LB-261"),
    "two lots in one box, no blend": ("2026-08-12,tall mix", "2026-08-12,"),
    "a day that is none": ("2026-09-02", "2026-09-31"),
    "a day in another order": ("2026-09-02", "02.09.2026"),
    "a day to come": ("2026-09-02", "2027-09-02"),
    "an old test": ("2026-09-02", "2025-09-02"),
    "an old test of a month": ("2026-09-02", "2025-09"),
    "a row cut short": (re.compile(r"CW-26,Canada wildrye.*"), "CW-26,Canada"),
    "a cell too many": ("free-flowing,", "free-flowing,,more"),
}
TRIALS = {
    "no such file": None,
    "nothing in it": b"",
    "a workbook": b"PK\x03\x04\x14\x00\x06\x00",
    "a picture": b"\x89PNG\r\n\x1a\n\x00\x00",
    "zero bytes": b"box,lot,setting,catch_g\nsmall,A,14,\x00\x00\n",
    "letters of another coding": "box,lot,setting,catch_g\nsmall,Gräser,14,22\n".encode("latin-1"),
    "a column left out": ("catch_g,rows_g", "catch,rows_g"),
    "a column nearly right": ("season,box", "season,boxx"),
    "a column that is none": ("operator", "weather"),
    "a column twice": ("operator", "note"),
    "a unit behind the weight": (",32.4,", ",32.4 g,"),
    "a word for a weight": (",32.4,", ",lots,"),
    "a decimal comma": (",32.4,", ',"32,4",'),
    "a negative weight": (",32.4,", ",-32.4,"),
    "no weight": (",32.4,", ",,"),
    "no turns": (",20,28,3,32.4", ",20,0,3,31.8"),
    "more rows than the drill has": (",20,28,3,32.4", ",20,28,30,31.8"),
    "rows that do not add up": ("11.3;10.9;10.2", "11.3;10.9;1.02"),
    "two weights for three rows": ("11.3;10.9;10.2", "16.2;16.2"),
    "a box the drill does not have": ("small,forb mix,20", "smal,forb mix,20"),
    "a setting off the scale": ("forb mix,20", "forb mix,99"),
    "a setting between two steps": ("forb mix,20", "forb mix,20.2"),
    "a position the chain does not have": ("tall mix,3,28", "tall mix,9,28"),
    "no setting": ("forb mix,20", "forb mix,"),
    "a day that is none": ("2026-11-15", "2026-11-31"),
    "neither yes nor no": (",yes,,yes,R.,", ",maybe,,yes,R.,"),
    "a row cut short": (re.compile(r",8.6;8.6;8.3.*"), ""),
    "a quote in a name": ("forb mix 25,20", 'forb "mix 25,20'),
    "semicolons": ("2026,small,forb mix,20", "2026;small;forb mix;20"),
    "a box left empty": ("small,forb mix,15", ",forb mix,15"),
}
FIELD = {
    "nothing in it": b"",
    "no such file": None,
    "neither seed nor count": ("6.2,16.8,,", "6.2,,,"),
    "no area": ("6.2,16.8", ",16.8"),
    "a count without a length": ("71,20,", "71,,"),
    "a box the drill does not have": ("grain,CW-24", "grains,CW-24"),
    "two boxes and one lot": ("old tall mix+forb mix 25", "old tall mix"),
    "a setting off the scale": ("CW-26,17,2.1", "CW-26,99,2.1"),
    "a word for an area": ("17,2.1", "17,all"),
    "a day that is none": ("2026-11-18", "18 November"),
    "a column left out": ("seed_used_lb", "seed"),
}
KINDS = {
    "drill.toml": (DRILL, ("plan", "--job", "myjob")),
    "plan.csv": (PLAN, ("plan", "--job", "myjob")),
    "trials.csv": (TRIALS, ("recommend", "myjob/trials.csv", "--no-field-factor")),
    "field.csv": (FIELD, ("check", "myjob/field.csv")),
}
USAGE = (
    ("plan", "--job", "none"),
    ("plan", "--area-ac", "some"),
    ("plan", "--area-ac", "2", "--area-ha", "1"),
    ("plan", "--units", "feet"),
    ("plan", "--viable", "all"),
    ("plan", "--on", "spring"),
    ("plan", "--turns", "0"),
    ("plan", "--rows", "13"),
    ("recommend", "none"),
    ("plan", "none", "--job", "myjob"),
    ("recommend", "trials.csv", "--box", "smal"),
    ("recommend", "trials.csv", "--lot", "forbs"),
    ("recommend", "trials.csv", "--target-g", "25"),
    ("recommend", "trials.csv", "--box", "small", "--target-g", "-1"),
    ("recommend", "trials.csv", "--tolerance", "0"),
    ("recommend", "trials.csv", "--confidence", "1.5"),
    ("recommend", "trials.csv", "--confidence", "nan"),
    ("recommend", "trials.csv", "--plot", "p.pdf"),
    ("recommend", "trials.csv", "--history", "none.csv"),
    ("compare", "trials.csv", "--level", "2"),
    ("compare", "trials.csv", "--reference", "none"),
    ("check", "none.csv"),
    ("card", "trials.csv", "--paper", "a0"),
    ("card", "trials.csv", "--out", "plan.csv"),
    ("card", "trials.csv", "--out", "card.pdf"),
    ("report", "--csv", "trials.csv"),
    ("report", "--csv", "field.csv"),
    ("record", "trials.csv", "--catch", "a lot"),
    ("record", "trials.csv", "--catch", "23", "--setting", "14", "--box", "none"),
    ("record", "trials.csv", "--catch", "23", "--setting", "99", "--box", "small"),
    ("record", "trials.csv", "--catch", "23", "--rows", "13"),
    ("record", "trials.csv", "--catch", "23", "--tare", "30", "--box", "small"),
    ("record", "trials.csv", "--catch", "23", "--on", "1899-01-01"),
    ("record", "none/trials.csv"),
    ("init", "."),
    ("simulate",),
    ("simulate", "--box", "small"),
    ("simulate", ".", "--box", "small", "--setting", "14"),
)


def spoil(path, change):
    if change is None:
        path.unlink()
    elif isinstance(change, bytes):
        path.write_bytes(change)
    else:
        old, new = change
        text = (SAMPLE / path.name).read_text(encoding="utf-8")
        found = old.sub(new, text) if isinstance(old, re.Pattern) else text.replace(old, new, 1)
        assert found != text, old
        path.write_text(found, encoding="utf-8")


@pytest.mark.parametrize("name", KINDS)
def test_errors_in_a_file(run, job, name):
    """Each is told by its place and in whole sentences; no run with an error in a file prints a result."""
    job.rename(job.with_name("myjob"))
    path = job.with_name("myjob") / name
    changes, command = KINDS[name]
    usual = run(*command, cwd=job.parent)
    assert usual.returncode == 0
    said = []
    for what, change in changes.items():
        spoil(path, change)
        done = run(*command, cwd=job.parent)
        said += ["", f"== {what}"]
        if done.returncode:
            assert (done.returncode, done.stdout) == (1, ""), what
            said.append(done.stderr.rstrip("\n"))
        else:  # taken as it is: what is said of it
            new = difflib.ndiff(*((each.stderr + each.stdout).splitlines() for each in (usual, done)))
            said += ["(used)", *(line for line in new if line.startswith("+ "))]
    golden.check(f"errors-{path.stem}", "\n".join(said[1:]))


def test_errors_on_the_command_line(run, job):
    """Every one ends with an exit code other than 0, prints no result, and changes no file."""
    before = {path.name: path.read_bytes() for path in job.iterdir()}
    said = []
    for arguments in USAGE:
        done = run(*arguments, cwd=job)
        assert done.returncode in (1, 2), arguments
        assert done.stdout == "", arguments
        said.append(re.sub(r"Usage: .*\nTry .*\n\n", "", golden.session_text(done, *arguments)))  # that is typer's
    assert {path.name: path.read_bytes() for path in job.iterdir()} == before
    golden.check("errors-options", "\n".join(said))
