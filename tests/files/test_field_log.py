"""Field checks added to field.csv: in its own form and units, read back as they were, undone, by two writers."""

import multiprocessing
import sys
from dataclasses import replace

import pytest

from predictor import InputError, read_drill, read_job
from predictor.files.field import read_field
from predictor.files.kinds import field_checks
from predictor.files.log import add_row, begin_log, undo_last
from predictor.units import GRAMS, SQUARE_METRES
from tests.conftest import SAMPLE

DRILL = read_drill(SAMPLE / "drill.toml")
METRIC = replace(DRILL, units="metric")
CHECK = {
    "date": "2026-11-20",
    "field": "north",
    "box": "grain",
    "lot": "CW-26",
    "setting": 17.0,
    "area_m2": 2.1 * SQUARE_METRES["ac"],
    "loaded_g": 20 * GRAMS["lb"],
    "left_g": 14.2 * GRAMS["lb"],
    "use": "yes",
    "operator": "R.",
    "note": "",
}
COUNTED = {"date": "2026-11-20", "box": "grain", "lot": "CW-26", "setting": 17.0, "seeds_counted": "71", "row_m": 6.096}


@pytest.mark.parametrize("drill", [DRILL, METRIC])
def test_a_check_is_read_back_as_it_was_whatever_the_units_of_the_file(tmp_path, drill):
    path = tmp_path / "field.csv"
    assert begin_log(field_checks(drill), path)
    assert add_row(field_checks(drill), path, CHECK) == 2
    add_row(field_checks(drill), path, COUNTED)
    weighed, counted = read_field(path, drill).checks
    assert (weighed.area_m2, weighed.loaded_g) == pytest.approx((CHECK["area_m2"], CHECK["loaded_g"]), rel=1e-8)
    assert weighed.used_g == pytest.approx(5.8 * GRAMS["lb"], rel=1e-7)
    assert (weighed.field, weighed.operator, weighed.parts[0].setting.text) == ("north", "R.", "17")
    assert (counted.seeds, counted.row_m) == (71, pytest.approx(6.096, rel=1e-8))
    assert ("area_ac" in path.read_text()) == (drill.units == "us")


def test_a_file_of_seed_used_gets_the_columns_it_lacks_and_keeps_its_checks(tmp_path):
    path = tmp_path / "field.csv"
    path.write_bytes((SAMPLE / "field.csv").read_bytes())
    before = read_field(path, DRILL).checks
    assert add_row(field_checks(DRILL), path, CHECK) == len(before) + 3
    after = read_field(path, DRILL).checks
    assert after[:-1] == before
    assert after[-1].used_g == pytest.approx(5.8 * GRAMS["lb"], rel=1e-7)
    assert path.read_text().startswith("# Invented field checks")


def test_a_file_in_hectares_and_decimal_commas_stays_in_them(tmp_path):
    path = tmp_path / "field.csv"
    path.write_text("date;box;lot;setting;area_ha;seed_used_kg;note\n2026-11-18;grain;CW-26;17;0,85;2,63;\n")
    add_row(field_checks(DRILL), path, CHECK)
    assert path.read_text().splitlines()[0].split(";")[4] == "area_ha"
    checks = read_field(path, DRILL).checks
    assert [each.area_m2 for each in checks] == pytest.approx([8500, CHECK["area_m2"]], rel=1e-7)


def test_settings_of_boxes_weighed_together_are_read_back_from_a_file_with_decimal_commas(tmp_path):
    path = tmp_path / "field.csv"
    path.write_text("date;box;lot;setting;area_ha;seed_used_kg;note\n2026-11-18;small;FM;14,5;0,85;2,63;\n")
    add_row(field_checks(DRILL), path, CHECK | {"box": "grain+small", "lot": "CW-26+FM", "setting": "17+14.5"})
    assert [part.setting.text for each in read_field(path, DRILL).checks for part in each.parts] == [
        "14.5",
        "17",
        "14.5",
    ]


def test_a_check_that_could_not_be_read_back_is_refused_and_the_file_stays(tmp_path):
    path = tmp_path / "field.csv"
    begin_log(field_checks(DRILL), path)
    before = path.read_bytes()
    for wrong in ({"left_g": CHECK["loaded_g"]}, {"box": "none"}, {"setting": 99.0}, {"date": "spring"}):
        with pytest.raises(InputError, match="Nothing was saved"):
            add_row(field_checks(DRILL), path, CHECK | wrong)
    assert path.read_bytes() == before


def test_the_last_check_is_taken_back_and_stays_in_the_file(tmp_path):
    path = tmp_path / "field.csv"
    begin_log(field_checks(DRILL), path)
    add_row(field_checks(DRILL), path, CHECK)
    add_row(field_checks(DRILL), path, COUNTED)
    line, cells = undo_last(field_checks(DRILL), path)
    assert (line, cells["seeds_counted"]) == (3, "71")
    found = read_field(path, DRILL)
    assert [each.line for each in found.checks] == [2]
    assert [(each.line, each.note) for each in found.taken_back] == [(3, "undone")]


def test_a_file_with_a_header_alone_is_no_check(job):
    (job / "field.csv").unlink()
    begin_log(field_checks(DRILL), job / "field.csv")
    assert read_job(job).field is None


def _add_many(path, name):
    for k in range(20):
        add_row(field_checks(DRILL), path, CHECK | {"note": f"{name}-{k}"})


@pytest.mark.skipif(sys.platform == "win32", reason="forks as on POSIX")
@pytest.mark.slow
def test_two_writers_lose_no_check(tmp_path):
    path = tmp_path / "field.csv"
    begin_log(field_checks(DRILL), path)
    context = multiprocessing.get_context("fork")
    writers = [context.Process(target=_add_many, args=(path, name)) for name in "ab"]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
    notes = {each.note for each in read_field(path, DRILL).checks}
    assert notes == {f"{name}-{k}" for name in "ab" for k in range(20)}
