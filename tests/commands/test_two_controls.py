"""A lever and a drive on one box, through the commands. The job is invented."""

import json

import pytest

from predictor import compare_lots, read_job
from tests import golden

DRILL = """
name = "Made-up drill"
rows = 12
row_spacing_in = 7.5
rolling_circumference_ft = 7.2
[[box]]
name = "grain"
holds = "free-flowing"
control = "lever"
highest = 60
drives = [{label = "high", HIGH}, {label = "low", driver = 12, driven = 48}]
"""
KNOWN = DRILL.replace("HIGH", "driver = 24, driven = 12")
UNKNOWN = DRILL.replace(", HIGH", "")
# 4.2 g in 28 turns of three rows is 1.07 lb/ac. By the ratios, 90.7 g on high are 11.3 g on low.
LOG = "box,lot,setting,catch_g,date,target_g\ngrain,W-1,30 on high,90.7,2026-11-20,4.2\n"
PLAN = "box,lot,species,pls_rate_lb_ac,purity_pct,germination_pct\ngrain,W-1,slender wheatgrass,0.93,95,92\n"
FIELD = "date,box,lot,setting,area_ac,seed_used_lb\n2026-11-25,grain,W-1,11/low,2,2.2\n"


@pytest.fixture
def job(tmp_path):
    """Makes the job with a drill file and further catches; gives its folder."""

    def make(drill=KNOWN, catches=""):
        files = {"drill.toml": drill, "trials.csv": LOG + catches, "plan.csv": PLAN, "field.csv": FIELD}
        for name, text in files.items():
            (tmp_path / name).write_text(text)
        return tmp_path

    return make


def advised(run, folder):
    done = run("recommend", folder / "trials.csv", "--json")
    assert done.returncode == 0, done.stderr
    (found,) = json.loads(done.stdout)["results"]
    return found


def test_a_grain_lever_whose_target_only_the_low_drive_reaches_ends_locked_there(run, job):
    folder = job()
    found = advised(run, folder)
    assert (found["decision"], found["reason_code"], found["setting"]) == ("move", "other-drive", "11 on low")
    words = ["--box", "grain", "--lot", "W-1", "--setting", "11/Low", "--yes"]
    shown = [run("recommend", folder / "trials.csv").stdout]
    for weight in ("4.1", "4.2"):
        done = run("record", folder / "trials.csv", *words, "--catch", weight)
        assert done.returncode == 0, done.stderr
        shown.append(done.stdout)
    assert (folder / "trials.csv").read_text().count(",11 on low,") == 2
    found = advised(run, folder)
    assert (found["decision"], found["setting"]) == ("lock", "11 on low")
    golden.check("two-controls", "\n".join(shown))


def test_a_reading_without_its_drive_is_refused_and_nothing_saved(run, job):
    folder = job()
    done = run("record", folder / "trials.csv", "--box", "grain", "--setting", "11", "--catch", "4.1", "--yes")
    assert done.returncode != 0
    assert "as 30 on high" in done.stderr
    assert (folder / "trials.csv").read_text() == LOG


def test_what_a_field_check_achieved_is_held_against_the_drive_it_was_sown_on(job):
    made = read_job(job(catches="grain,W-1,11 on low,4.1,2026-11-20,\ngrain,W-1,30 on high,90.0,2026-11-21,\n"))
    (check,) = made.field.checks
    box = made.drill.box("grain")
    low = made.stationary(box, "W-1", box.control.find("11 on low"))
    assert made.stationary(box, "W-1", box.control.find("11 on high")).log_output - low.log_output > 1.5
    assert check.settings == ("11 on low",)
    assert 0.8 < check.factor < 1.3


@pytest.mark.slow
def test_cards_report_and_ranges_show_both_controls(run, job):
    folder = job(catches="grain,W-1,11 on low,4.1,2026-11-20,\ngrain,W-1,11 on low,4.2,2026-11-21,\n")
    card, next_card, report = (folder / name for name in ("card.html", "next.html", "report.html"))
    assert run("card", folder / "trials.csv", "--out", card).returncode == 0
    assert run("report", "--job", folder, "--out", report, "--csv", folder / "table.csv").returncode == 0
    for page in (card, report, folder / "table.csv"):
        assert "11 on low" in page.read_text(encoding="utf-8")
    assert run("card", job() / "trials.csv", "--decision", "--out", next_card).returncode == 0
    assert "to 12 on low, catch again" in next_card.read_text(encoding="utf-8")


def test_lots_are_compared_by_the_ratios_and_those_without_are_left_out(job):
    catches = "grain,W-2,30 on low,11.3,2026-11-20,\ngrain,W-2,40 on high,121,2026-11-20,\n"
    found = compare_lots(read_job(job(catches=catches)).trials, "grain", reference="W-1")
    assert not found.left_out
    (said,) = [each for each in found.warnings if each.code == "lots.drives"]
    assert (said["count"], said["drive"]) == (1, "high")
    assert "proportional to the speed of the drive" in found.summary()
    assert found.lot("W-2").ratio == pytest.approx(1, abs=0.1)
    (left,) = compare_lots(read_job(job(UNKNOWN, catches)).trials, "grain").left_out
    assert (left.reason.code, left.lines) == ("lots.drive_unknown", (3,))


def test_lots_on_one_drive_are_compared_without_a_word_on_drives(job):
    found = compare_lots(read_job(job(catches="grain,W-2,40 on high,121,2026-11-20,\n")).trials, "grain")
    assert "lots.drives" not in [each.code for each in found.warnings]
    assert len(found.lots) == 2


def test_a_target_below_the_open_part_of_a_lever_never_ends_at_a_shut_reading(run, job):
    folder = job(KNOWN.partition("drives")[0] + "shut = 5\n")
    rows = ["30,90.7", "6,3.6", "6,3.62", "6,3.58"]
    text = "box,lot,setting,catch_g,target_g,confirmed\n" + "".join(f"grain,W-1,{row},0.9,yes\n" for row in rows)
    (folder / "trials.csv").write_text(text)
    (folder / "field.csv").unlink()
    found = advised(run, folder)
    assert (found["decision"], found["setting"]) == ("unreachable", 6)
    golden.check("shut-lever", run("recommend", folder / "trials.csv").stdout)


def test_pictures_name_the_drive_and_draw_every_catch_as_if_made_on_it(job):
    made = read_job(job())
    axes = made.advice(made.tasks()[0]).plot()
    assert axes.get_xlabel() == "lever reading on low"
    (drawn,) = [line.get_ydata() for line in axes.lines if line.get_marker() == "o"]
    assert drawn.tolist() == pytest.approx([90.7 / 8])  # by the ratios, 24/12 and 12/48
    assert made.trials.plot().get_xlabel() == "lever reading on high"


def test_the_first_question_for_a_setting_shows_how_both_controls_are_written(run, job):
    folder = job()
    (folder / "trials.csv").unlink()
    (folder / "field.csv").unlink()
    asked = run("record", folder / "trials.csv", stdin="grain\nW-1\n11/low\ns\ny\n4.1\ny\n").stderr
    assert "Setting (advised 30 on high, the middle of the control):" in " ".join(asked.split())
    asked = run("record", folder / "trials.csv", stdin="grain\nW-1\n11/low\ns\ny\n4.1\ny\n").stderr
    assert "the middle" not in asked
