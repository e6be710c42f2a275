"""A catch that contradicts its own lot and fits another box or lot of the job is asked about as one of theirs."""

import pytest

import predictor
from predictor.job.adding import slips_with
from tests import golden
from tests.running import TODAY
from tests.slips.test_three_ways import DRILL, HONEST, PLAN, ROW, log_of

LINE = 2 * len(HONEST) + 2
# Box small gives a fifth of what box grain gives, and the other lot of box grain two thirds; invented.
SMALL = [{**ROW, "box": "small", "lot": "PC-26", "setting": at, "catch_g": round(grams / 5, 1)} for at, grams in HONEST]
OTHER = [{**ROW, "lot": "bluestem", "setting": at, "catch_g": round(grams * 0.66, 1)} for at, grams in HONEST]


@pytest.fixture
def job(tmp_path):
    (tmp_path / "drill.toml").write_text(DRILL)
    (tmp_path / "plan.csv").write_text(PLAN + "grain,BB-26,big bluestem,2,60,70,bluestem\n")

    def read(*rows):
        (tmp_path / "trials.csv").write_text(log_of(*rows))
        return predictor.read_job(tmp_path, today=TODAY)

    return read


def advice(job):
    return job.advice(job.tasks("grain", "wildryes")[0])


def test_a_catch_of_another_box_is_asked_about_as_that(job):
    found = advice(job(*SMALL, {**ROW, "catch_g": 12.4}))
    (odd,) = [each for each in found.slips if each.code == "odd"]
    first = odd.values["causes"][0]
    assert (odd.lines, first.code, first.values) == ((LINE,), "other_box", {"box": "small", "lot": "PC-26"})
    assert found.why.values == odd.values  # so that it is shown once
    golden.check("another-box", f"{odd}\n")


def test_a_catch_of_another_lot_is_asked_about_as_that(job):
    (odd,) = [each for each in advice(job(*OTHER, {**ROW, "catch_g": 41.0})).slips if each.code == "odd"]
    causes = [each.code for each in odd.values["causes"]]
    assert "other_lot" in causes[:2]
    assert "other_box" not in causes


def test_a_weight_that_fits_neither_has_no_such_cause(job):
    for grams in (621.0, 30.0, 100.0):
        (odd,) = [each for each in advice(job(*SMALL, {**ROW, "catch_g": grams})).slips if each.code == "odd"]
        assert not {"other_box", "other_lot"} & {each.code for each in odd.values["causes"]}


def test_one_catch_of_a_box_says_too_little(job):
    (odd,) = [each for each in advice(job(SMALL[0], {**ROW, "catch_g": 12.4})).slips if each.code == "odd"]
    assert "other_box" not in [each.code for each in odd.values["causes"]]


def test_the_catch_is_asked_about_likewise_while_it_is_typed(job, run, tmp_path):
    job(*SMALL)
    row = ("--box", "grain", "--lot", "wildryes", "--setting", "31", "--catch", "12.4")
    done = run("record", tmp_path, *row, stdin="n\n")
    assert done.returncode == 1
    assert "It fits box small with lot PC-26: was that the box?" in " ".join(done.stderr.split())


def test_an_odd_catch_that_was_confirmed_is_not_asked_about_again(job, tmp_path):
    job(*SMALL, {**ROW, "catch_g": 12.4})
    path = tmp_path / "trials.csv"
    header, *rows = path.read_text().splitlines()
    path.write_text("\n".join([f"{header},confirmed", *[f"{row}," for row in rows[:-1]], f"{rows[-1]},yes"]) + "\n")
    assert not [each for each in advice(predictor.read_job(tmp_path, today=TODAY)).slips if each.code == "odd"]


def test_slips_of_a_typed_row_name_the_other_box(job):
    from predictor.files.entry import Catch, read_weight

    found = job(*SMALL)
    box = found.drill.box("grain")
    catch = Catch(box, "wildryes", box.control.find("31"), read_weight("12.4"), 28, 3, charged=True)
    (odd,) = slips_with(found, catch)
    assert odd.values["causes"][0].code == "other_box"
