"""What was planted stays what it was, and its amounts are those worked out by hand. The lots are invented."""

import csv
import dataclasses
import io
import json
import math
import re

import pytest

from predictor import read_job
from predictor.domain.planted import Planted
from predictor.job.plant import evidence_of, setting_in_force
from predictor.job.planting import ground_m2, planting, still_to_plant
from predictor.pages.planted import planted_blocks, used_blocks
from predictor.text.planted import evidence_of_line
from tests.running import TODAY

HEAD = {
    "us": "rows = 12\nrow_spacing_in = 7.5\nrolling_circumference_ft = 7.2\n",
    "metric": "rows = 12\nrow_spacing_cm = 19.05\nrolling_circumference_m = 2.2\n",
}
BOX = '[catch]\nturns = 28\nrows = 3\n[[box]]\nname = "{0}"\nholds = "small"\ncontrol = "lever"\nhighest = 60\n'
PLAN = {
    "us": "box,lot,species,blend,pls_rate_lb_ac,purity_pct,germination_pct,dormant_pct,seeds_per_lb,carrier_lb_ac\n"
    "small,A-1,switchgrass,mix,2,97.5,62,27,259000,1.5\nsmall,B-1,black seed,mix,1,90,80,,100000,\n"
    "other,C-1,switchgrass,,1,80,75,,259000,\n",
    "metric": "box,lot,species,blend,pls_rate_kg_ha,purity_pct,germination_pct,dormant_pct,seeds_per_g,carrier_kg_ha\n"
    "small,A-1,switchgrass,mix,2.2,97.5,62,27,571,1.7\nsmall,B-1,black seed,mix,1.1,90,80,,220,\n"
    "other,C-1,switchgrass,,1.1,80,75,,571,\n",
}
# Near the target of the mix: about 24.4 g in 378 square feet, about 24.3 g in 35.2 square metres.
CATCHES = "date,box,lot,setting,catch_g\n" + "".join(
    f"2026-11-{day},{box},{lot},{setting},{grams}\n"
    for box, lot, scale in (("small", "mix", 1.0), ("other", "C-1", 0.27))
    for day, setting, grams in (
        *((10, 20, round(16.2 * scale, 2)), (10, 30, round(24.5 * scale, 2))),
        *((11, 30, round(24.2 * scale, 2)), (11, 30, round(24.6 * scale, 2)), (11, 30, round(24.4 * scale, 2))),
    )
)
AREA, WEIGHT = {"us": "ac", "metric": "ha"}, {"us": "lb", "metric": "kg"}
# Area, loaded, left of two lines of box small, and of one of box other, in the units of the drill.
LINES = {"us": ((10, 70, 8.5), (4, 33, 9), (10, 20, 3.5)), "metric": ((4, 32, 4.4), (1.5, 15, 4.5), (4, 9, 1.6))}


@pytest.fixture(params=["us", "metric"])
def season(request, tmp_path, run):
    """A folder where two fields were planted, with the box locked, in US or metric units."""
    units = request.param
    (tmp_path / "drill.toml").write_text(
        'name = "Made-up drill"\n' + HEAD[units] + BOX.format("small") + BOX.format("other").partition("[[")[1]
        + BOX.format("other").partition("[[")[2]
    )  # fmt: skip
    (tmp_path / "plan.csv").write_text(PLAN[units])
    (tmp_path / "trials.csv").write_text(CATCHES)
    places = (("small", "north"), ("small", "south"), ("other", "north"))
    for (box, field), (area, loaded, left) in zip(places, LINES[units], strict=True):
        amounts = ["--field", field, f"--area-{AREA[units]}", area, "--loaded", loaded, "--left", left]
        done = run("plant", tmp_path, "--box", box, *amounts)
        assert done.returncode == 0, done.stderr
    return tmp_path, units


def section(run, folder, *options):
    """The part of the record that states what was planted, as bytes."""
    done = run("report", folder, "--out", folder / "r.html", *options)
    assert done.returncode == 0, done.stderr
    page = (folder / "r.html").read_bytes()
    heads = rb"Planted", rb"Seed used and live seed"
    parts = [re.findall(rb"<h2>%s</h2>.*?(?=<h2)" % head, page, re.DOTALL) for head in heads]
    tags = re.findall(rb"<caption>Tags of what was planted</caption>.*?</table>", page, re.DOTALL)
    lines = sorted(re.findall(rb"<li>Line [0-9].*?</li>", page, re.DOTALL))  # the parts follow the boxes of now
    return b"\n".join([*parts[0], *parts[1], *tags, *lines])


def table(run, folder, *options):
    """The rows of what was planted in the table of the record."""
    assert run("report", folder, "--csv", folder / "t.csv", *options).returncode == 0
    rows = csv.DictReader(io.StringIO((folder / "t.csv").read_text(encoding="utf-8")))
    return [tuple(row.values()) for row in rows if row["planted_on"]]


def changes(folder, units):
    """What may come after a lock: each change is made before its name is given."""
    with (folder / "trials.csv").open("a") as stream:
        stream.write("2026-11-26,small,mix,30,18.1\n2026-11-26,small,mix,38,25.0\n2027-04-02,small,mix,30,29\n")
    yield "catches that move the lock, and another season"
    weight, area = WEIGHT[units], AREA[units]
    sown, loaded, left = LINES[units][0]
    rate = (loaded - left) / sown
    (folder / "field.csv").write_text(
        f"date,box,lot,setting,area_{area},seed_used_{weight}\n2026-11-25,small,mix,30,2,{2 * 0.94 * rate}\n"
    )
    yield "a field check at 94 %"
    with (folder / "field.csv").open("a") as stream:
        stream.write(f"2026-11-25,small,mix,30,2,{2 * 0.8 * rate}\n")
    yield "a field check at 80 %"
    plan = (folder / "plan.csv").read_text().splitlines(keepends=True)
    tags = "".join(plan[:2]).replace("97.5,62,27", "80,50,30") + plan[3].replace(",1,", ",2,")
    (folder / "plan.csv").write_text(tags)
    yield "other tags and rates, and one lot gone"
    drill = (folder / "drill.toml").read_text().replace("highest = 60", "highest = 80\nstep = 0.5")
    (folder / "drill.toml").write_text('viable = "total"\n' + drill.replace("rows = 12", "rows = 24"))
    yield "another drill"


def test_what_is_stated_of_a_planted_line_is_the_same_whatever_comes_later(season):
    folder, units = season

    def stated(job):
        found = planting(job.planted.lines)
        said = [evidence_of_line(each, units) for each in found.lines]
        return planted_blocks(found, units), used_blocks(found, units), said

    before = stated(read_job(folder, today=TODAY))
    assert all(before)
    for change in changes(folder, units):
        assert stated(read_job(folder, today=TODAY)) == before, change
    later = read_job(folder, today=TODAY, use_field_factor=False, viable="hard", use_history=False)
    assert stated(later) == before
    task = later.tasks("small", "mix")[0]
    assert later.advice(task, 0.05, 0.99).decision != "lock"  # while the advice of now is another


@pytest.mark.slow
def test_the_record_of_a_planted_line_is_the_same_to_the_byte_whatever_comes_later(season, run):
    folder, units = season
    before, rows = section(run, folder), table(run, folder)
    assert all(each in before for each in (b"north", b"Live seed planted", b"Tags of what was planted", b"<li>Line 2"))
    for change in changes(folder, units):
        assert section(run, folder) == before, change
    options = ["--tolerance", "5%", "--confidence", "0.99", "--no-field-factor", "--viable", "hard"]
    assert section(run, folder, *options) == before
    assert table(run, folder, *options) == rows
    # what is advised now is said as for next time
    page = (folder / "r.html").read_text(encoding="utf-8")
    assert page.index("Planted</h2>") < page.index("For next time: ")


def test_the_amounts_are_those_worked_out_by_hand(season):
    """By hand from tags and weights: the exact factors are those of tests/test_units.py."""
    folder, units = season
    job = read_job(folder, today=TODAY)
    found = planting(job.planted.lines)
    (area1, loaded1, left1), (area2, loaded2, left2), (area3, loaded3, left3) = LINES[units]
    used, area = loaded1 - left1 + loaded2 - left2, area1 + area2
    pls_a, pls_b, pls_c = 0.975 * 0.62, 0.9 * 0.8, 0.8 * 0.75
    rate_a, rate_b, carrier, seeds_a = {"us": (2, 1, 1.5, 259_000), "metric": (2.2, 1.1, 1.7, 571_000)}[units]
    bulk = rate_a / pls_a + rate_b / pls_b + carrier
    weight, ground = {"us": (453.59237, 4046.8564224), "metric": (1000.0, 10_000.0)}[units]
    small, other = found.fillings
    assert small.used_g / weight == pytest.approx(used, rel=1e-7)
    assert small.area_m2 / ground == pytest.approx(area, rel=1e-7)
    assert small.ratio == pytest.approx(used / area / bulk, rel=1e-7)
    lot_a = next(each for each in found.contents if each.names == ("small", "mix", "A-1"))
    used_a = used * rate_a / pls_a / bulk
    assert lot_a.used_g / weight == pytest.approx(used_a, rel=1e-7)
    assert lot_a.pls_g / weight == pytest.approx(used_a * pls_a, rel=1e-7)
    assert found.carrier[0].used_g / weight == pytest.approx(used * carrier / bulk, rel=1e-7)
    # switchgrass is in both boxes, which went over the same field: its ground counts once
    switchgrass = next(each for each in found.species if each.names == ("switchgrass",))
    live = (used_a * pls_a + (loaded3 - left3) * pls_c) * seeds_a
    assert switchgrass.area_m2 / ground == pytest.approx(area, rel=1e-7)
    assert switchgrass.live_seeds == pytest.approx(live, rel=1e-6)
    per_area = live / (area * {"us": 43_560, "metric": 10_000}[units])
    shown = switchgrass.to_dict(units)["live_seeds_per_ft2" if units == "us" else "live_seeds_per_m2"]
    assert shown == pytest.approx(per_area, rel=1e-6)
    assert found.everything.used_g == pytest.approx(small.used_g + other.used_g)
    assert found.everything.area_m2 / ground == pytest.approx(area, rel=1e-7)
    assert area3 == area1


def test_what_was_not_weighed_or_has_no_tag_is_unknown_and_named_never_nothing(season):
    folder, _ = season
    lines = list(read_job(folder, today=TODAY).planted.lines)
    lines[1] = dataclasses.replace(lines[1], left_g=math.nan)
    lines[2] = dataclasses.replace(lines[2], evidence=None)
    found = planting(lines)
    small, other = found.fillings
    assert math.isnan(small.used_g)
    assert math.isnan(small.pls_g)
    assert small.not_weighed == (3,)
    assert small.weighed_g == pytest.approx(lines[0].used_g)
    assert small.rate == pytest.approx(lines[0].rate)
    assert other.used_g == pytest.approx(lines[2].used_g)
    assert math.isnan(other.pls_g)
    assert math.isnan(other.ratio)
    assert found.without_tags == (4,)
    assert all(4 not in each.lines for each in found.species)
    assert [each.names for each in found.lots] == [("A-1",), ("B-1",), ("C-1",)]
    assert math.isnan(found.everything.used_g)


def test_a_line_that_used_no_seed_lowers_the_share_of_target_of_each_lot_alike(season):
    first = read_job(season[0], today=TODAY).planted.lines[0]
    none = dataclasses.replace(first, left_g=first.loaded_g, line=first.line + 1)
    found = planting([first, none])
    parts = [*found.contents, *found.carrier, *found.lots, *found.species, *found.fillings, found.everything]
    # twice the ground with the same seed is half of it, in every lot of the mix and in its carrier
    half = first.used_g / (2 * first.area_m2 * first.evidence.target)
    assert [each.ratio for each in parts] == pytest.approx([half] * len(parts), rel=1e-12)


def test_a_line_that_was_taken_back_is_in_no_amount(season, run):
    folder, _ = season
    assert run("plant", folder, "--undo").returncode == 0
    found = planting(read_job(folder, today=TODAY).planted.lines)
    assert [each.names for each in found.fillings] == [("small", "mix")]


def test_ground_is_counted_once_where_several_boxes_went_over_it(season):
    folder, _ = season
    lines = read_job(folder, today=TODAY).planted.lines
    assert ground_m2(lines) == pytest.approx(lines[0].area_m2 + lines[1].area_m2)
    halves = [dataclasses.replace(lines[0], area_m2=3.0), dataclasses.replace(lines[0], lot="B", area_m2=2.0)]
    assert ground_m2(halves) == 5.0  # one lot after the other in one box
    assert planting([]).everything.area_m2 == 0.0


def test_what_is_left_of_each_field_is_named_by_box(season):
    folder, _ = season
    from predictor.domain.fields import Field

    lines = read_job(folder, today=TODAY).planted.lines
    north, south = Field("North", lines[0].area_m2 * 1.005), Field("south", 2 * lines[1].area_m2)
    left = still_to_plant(lines, ["small", "other"], (north, south))
    assert [(each.field, each.box) for each in left] == [("south", "small"), ("south", "other")]
    assert left[0].area_m2 == pytest.approx(lines[1].area_m2)
    assert [each.box for each in still_to_plant(lines[:2], ["small", "other"], ())] == ["other"]


def test_the_evidence_of_a_lot_that_nothing_is_known_of_says_so(season):
    folder, _ = season
    job = read_job(folder, today=TODAY)
    box = job.drill.box("small")
    nothing = evidence_of(job, box, "unknown", box.control.find("30"))
    assert (nothing.decision, nothing.advised, nothing.lots, nothing.catches) == ("", "", (), ())
    assert math.isnan(nothing.target)
    assert math.isnan(nothing.chance)


def test_the_evidence_agrees_with_the_advice_at_the_advised_setting(season):
    folder, _ = season
    job = read_job(folder, today=TODAY)
    for task in job.in_hand():
        advice = job.advice(task)
        found = evidence_of(job, task.box, task.lot, advice.advised)
        assert (found.decision, found.advised) == ("lock", "30")
        assert found.chance == pytest.approx(advice.chance, rel=1e-12)
        low, high = (advice.rate(each, "metric") / 10 for each in advice.expected_interval)
        assert (found.expected_low, found.expected_high) == pytest.approx((low, high))
        assert found.target * 10 == pytest.approx(advice.rate(advice.target_output, "metric"))
        assert len(found.catches) == advice.catches_used == 5


def test_a_check_out_of_tolerance_changes_the_setting_that_is_asked_about(season, run):
    """Before it the locked setting is the usual one; after it, the one to which the check moves the box."""
    folder, units = season
    box = read_job(folder, today=TODAY).drill.box("small")
    assert setting_in_force(read_job(folder, today=TODAY), box, "mix").text == "30"
    used = 2 * (LINES[units][0][1] - LINES[units][0][2]) / LINES[units][0][0]
    row = "2026-11-2{0},small,mix,30,2,{1}\n"
    path = folder / "field.csv"
    path.write_text(f"date,box,lot,setting,area_{AREA[units]},seed_used_{WEIGHT[units]}\n" + row.format(3, 0.97 * used))
    left = read_job(folder, today=TODAY)
    assert left.verdict("small", "mix").answer == "leave"
    assert setting_in_force(left, box, "mix").text == "30"
    path.write_text(path.read_text() + row.format(4, 0.78 * used) + row.format(5, 0.77 * used))
    moved = read_job(folder, today=TODAY)
    verdict = moved.verdict("small", "mix")
    assert verdict.answer == "move"
    assert setting_in_force(moved, box, "mix") == verdict.move_to != box.control.find("30")
    assert evidence_of(moved, box, "mix", verdict.move_to).field_answer == "move"
    amounts = ["--box", "small", "--field", "east", f"--area-{AREA[units]}", "2"]
    asked = run("plant", folder, *amounts, "--setting", "30", stdin="n\n")
    assert "is to be at" in " ".join(asked.stderr.split())
    assert run("plant", folder, *amounts).returncode == 0
    assert read_job(folder, today=TODAY).planted.lines[-1].setting == verdict.move_to


def test_what_was_planted_last_year_is_of_another_season_in_every_command(season, run):
    folder, units = season
    with (folder / "drill.toml").open("a") as file:
        file.write(f'[[field]]\nname = "north"\narea_{AREA[units]} = 10\n')
    planted = folder / "planted.csv"
    mine = planted.read_text()
    planted.write_text(mine.replace("2026-11-25,", "2025-11-25,"))
    area = f"--area-{AREA[units]}"
    # the whole field is there to plant, and to load for
    done = run("plant", folder, "--box", "small", "--field", "north", area, 10, "--loaded", 70, "--left", 8.5, "--json")
    assert done.returncode == 0, done.stderr
    assert "left to plant" not in done.stderr
    found = json.loads(done.stdout)
    assert [each["names"] for each in found["fillings"]] == [["small", "mix"]]
    assert found["everything"][f"used_{WEIGHT[units]}"] == pytest.approx(61.5)
    assert [(each["box"], each["area"]) for each in found["still_to_plant"]] == [("other", pytest.approx(10))]
    loads = json.loads(run("load", folder, "--json", "--box", "other").stdout)
    assert loads["area"] == pytest.approx(10)
    assert loads["planted"] == []
    # and the record states this season alone, and names the lines of the other one
    page = section(run, folder)
    assert page.count(b"2025-11-25") == 1
    assert b"3 lines of planted.csv" in page
    assert len(table(run, folder)) == 2
    # before the first line of a season, what was planted is still that of the last one
    planted.write_text(mine)
    assert b"of planted.csv" not in section(run, folder)


def test_a_pause_of_half_a_year_ends_a_season(season):
    line = read_job(season[0], today=TODAY).planted.lines[0]
    days = ("2026-03-01", "2025-09-20", "2025-06-01", "2025-03-30", "2024-05-01")
    planted = Planted(tuple(dataclasses.replace(line, date=day, line=k) for k, day in enumerate(days)))

    def lines_on(day):
        return [each.line for each in planted.season(day)]

    assert lines_on("2026-02-01") == lines_on("2025-03-30") == [3, 2, 1, 0]
    assert lines_on("2024-06-01") == [4]
    assert lines_on("2026-12-01") == []
    assert Planted().season("2026-12-01") == ()
