"""What a tag says beside its live seed, and what the rates are meant for, through the commands.

The job is invented, with the drill and the catches of the sample job under other names.
"""

import csv
import io
import json

import pytest

from tests import golden

HEAD = "box,lot,species,blend,bag,bulk_rate_lb_ac,pls_rate_lb_ac,purity_pct,germination_pct,treatment"
MORE = "inert_pct,weed_pct,other_crop_pct,coating_pct,noxious,origin,variety,method"
ROWS = (
    ("chaffy,M-26,little bluestem,,MIX-1,10,,31,72,", "43.2,0.1,0.2,,None,county A,made-up early,drilled"),
    ("chaffy,M-26,Indiangrass,,MIX-1,,,24,68,", ",,,,,county B,,"),
    ("chaffy,M-26,blackeyed Susan,,MIX-1,,,1.5,80,", ",,,,,,,"),
    ("grain,O-26,oats,,,30,,,,none", ",,,,,,,"),
    ("small,KS-26,switchgrass,,,,3,62.5,88,", "2.4,0.05,0.05,35,2 dodder per lb,county C,,Broadcast"),
)


def write(job, *, more):
    """A plan with the rest of the tags, or without."""
    head = f"{HEAD},{MORE}" if more else HEAD
    rows = [f"{row},{rest}" if more else row for row, rest in ROWS]
    (job / "plan.csv").write_text("\n".join([head, *rows, ""]), encoding="utf-8")


@pytest.fixture
def told(job):
    """The sample job with other seed in its boxes; its catches are those of the new lots."""
    write(job, more=True)
    for name in ("trials.csv", "field.csv"):
        text = (job / name).read_text().replace("tall mix", "MIX-1").replace("CW-26", "O-26")
        (job / name).write_text(text.replace("forb mix", "KS-26"))
    return job.rename(job.with_name("myjob"))


def plan(run, job):
    return json.loads(run("plan", "--job", job, "--json").stdout)


def test_the_json_has_the_rest_of_the_tag_for_each_lot(run, told):
    lots = plan(run, told)["lots"]
    names = ("other_crop", "weed", "inert", "coating", "noxious", "origin", "variety", "method")
    parts = [pytest.approx(each, rel=1e-12) for each in (0.002, 0.001, 0.432)]
    assert [lots[0][name] for name in names] == [*parts, None, "None", "county A", "made-up early", "drilled"]
    assert [lots[1][name] for name in names] == [*parts, None, "None", "county B", "", "drilled"]
    assert [lots[3][name] for name in names] == [None, None, None, None, "", "", "", ""]
    assert lots[4]["coating"] == 0.35


def test_no_figure_of_plan_advice_or_card_changes_by_the_rest_of_the_tag(run, told):
    """But for seeds in a length of row, which do not apply to seed that is broadcast."""
    log = told / "trials.csv"
    before, advice = plan(run, told), json.loads(run("recommend", log, "--json").stdout)
    write(told, more=False)
    after = plan(run, told)
    assert json.loads(run("recommend", log, "--json").stdout)["results"] == advice["results"]
    for part in ("boxes", "bags", "lots"):
        for one, other in zip(before[part], after[part], strict=True):
            figures = {name for name, value in other.items() if isinstance(value, float)}
            if one["box"] == "small":
                figures -= {"seeds_per_row_ft"}
                assert one["seeds_per_row_ft"] is None
            assert {name: one[name] for name in figures} == {name: other[name] for name in figures}


def test_a_coat_is_caught_as_it_will_be_sown_and_no_treatment_is_none(run, told):
    text = " ".join(run("plan", "--job", told, columns=200).stdout.split())
    assert text.count("as it will be sown") == text.count("as it will be sown: coated (KS-26)") == 1
    path = told / "plan.csv"
    path.write_text(path.read_text().replace("62.5,88,,", "62.5,88,inoculated,"))
    assert "as it will be sown: inoculated, coated (KS-26)" in run("plan", "--job", told, columns=200).stdout
    path.write_text(path.read_text().replace("inoculated", "Pelleted"))
    assert "as it will be sown: Pelleted (KS-26)" in run("plan", "--job", told, columns=200).stdout


def test_the_card_says_what_the_rates_are_for_and_gives_no_seeds_in_a_row_of_broadcast_seed(run, told):
    run("card", told / "trials.csv", "--out", told / "c.html")
    card = golden.words((told / "c.html").read_text(encoding="utf-8"))
    assert card.count("pure seeds a foot") == 1
    golden.check("card-rest-of-the-tag", card)


@pytest.mark.slow
def test_nothing_is_said_of_what_is_not_there(run, told):
    write(told, more=False)
    run("report", "--job", told, "--out", told / "r.html")
    page = golden.words((told / "r.html").read_text(encoding="utf-8"))
    for text in (run("plan", "--job", told, "--details").stdout, page):
        for word in ("Tag:", "rest of the tags", "broadcast", "drilled seed", "noxious"):
            assert word not in text


@pytest.mark.slow
def test_the_words_of_plan_and_report(run, told):
    arguments = ("plan", "--job", "myjob", "--details")
    golden.check("plan-rest-of-the-tag", golden.session_text(run(*arguments, cwd=told.parent, columns=80), *arguments))
    run("report", "--job", told, "--out", told / "r.html", "--csv", told / "s.csv")
    page = golden.words((told / "r.html").read_text(encoding="utf-8"))
    golden.check("report-rest-of-the-tag", page[page.index("Seed tags\n") : page.index("Catches\n")])


@pytest.mark.slow
def test_the_table_for_a_spreadsheet_has_the_rest_of_the_tag(run, told):
    run("report", "--job", told, "--out", told / "r.html", "--csv", told / "s.csv")
    rows = list(csv.DictReader(io.StringIO((told / "s.csv").read_text(encoding="utf-8"))))
    assert [rows[4][name] for name in MORE.split(",")] == [
        "2.4", "0.05", "0.05", "35", "2 dodder per lb", "county C", "", "broadcast",
    ]  # fmt: skip
