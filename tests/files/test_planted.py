"""What was planted is kept and read back exactly, also after a spreadsheet saved it. Lots are invented."""

import csv
import dataclasses
import math
import os
import signal
import sys
from functools import partial

import pytest
from hypothesis import given, settings, strategies as st

from predictor import InputError, read_drill, read_job
from predictor.domain.planted import Evidence, PlantedLot
from predictor.files.cut import comment_out_last, cut_short
from predictor.files.evidence import evidence_cell, read_evidence
from predictor.files.kinds import planted_lines
from predictor.files.log import add_row, begin_log, undo_last
from predictor.files.planted import read_planted
from predictor.units import GRAMS, SQUARE_METRES
from tests.conftest import SAMPLE
from tests.refused import places_of, refusals

DRILL = read_drill(SAMPLE / "drill.toml")
KIND = planted_lines(DRILL)
METRIC = dataclasses.replace(DRILL, units="metric")
SMALL = DRILL.box("small")
LINE = {"date": "2026-11-25", "field": "north", "box": "small", "lot": "forb mix", "setting": "14", "area_m2": 8e4}
FULL = {**LINE, "loaded_g": 40 * GRAMS["lb"], "left_g": 2.5 * GRAMS["lb"], "use": "yes", "note": "dry"}

number = st.floats(allow_nan=True, allow_infinity=True)
text = st.text(max_size=12)
lot = st.builds(
    PlantedLot, **{each.name: number if each.type == "float" else text for each in dataclasses.fields(PlantedLot)}
)
KINDS = {"float": number, "bool": st.booleans(), "int": st.integers(0, 99)}
VALUES = {
    **{each.name: KINDS.get(each.type, text) for each in dataclasses.fields(Evidence)},
    "catches": st.lists(st.tuples(text, text, *[st.floats(1e-3, 1e6)] * 3), max_size=4).map(tuple),
    "lots": st.lists(lot, max_size=3).map(tuple),
    "files": st.lists(st.tuples(text, text), max_size=3).map(tuple),
    "slips": st.lists(text, max_size=3).map(tuple),
    "confirmed": st.lists(st.integers(2, 99), max_size=3).map(tuple),
}  # fmt: skip
evidences = st.builds(Evidence, **VALUES)
PLAIN = Evidence(
    *("1.0", "2026-11-25", "2026", "lock", "14", 0.97, 0.1, 0.95, 0.62, 0.25, 0.6, 0.55, 0.66, 0.92, 23.7, 28.0, 3.0),
    *(False, 0.05, "line", (("2026-11-24", "14", 28.0, 3.0, 23.6),), 0, "", "", (), (("plan.csv", "ab" * 32),)),
)


def written(tmp_path, data=None, **values):
    path = tmp_path / "planted.csv"
    if data is None:
        begin_log(KIND, path)
        add_row(KIND, path, FULL | values)
    else:
        path.write_text(data, encoding="utf-8")
    return path


def saved_by_a_spreadsheet(path):
    """The file as a spreadsheet of a country with decimal commas saves it: semicolons, and its own quotes."""
    with path.open(encoding="utf-8", newline="") as stream:
        header, *rows = csv.reader(stream)

    def comma(cell):
        try:
            float(cell)
        except ValueError:
            return cell
        return cell.replace(".", ",")

    out = [header, *([comma(cell.strip()) for cell in row] for row in rows)]
    with path.open("w", encoding="utf-8-sig", newline="") as stream:
        csv.writer(stream, delimiter=";").writerows(out)


@settings(max_examples=60)
@given(evidences)
def test_evidence_is_read_back_exactly_also_after_a_spreadsheet_saved_the_file(tmp_path_factory, evidence):
    path = tmp_path_factory.mktemp("planted") / "planted.csv"
    begin_log(KIND, path)
    cell = evidence_cell(evidence, SMALL.control.find("14"), "small", "forb mix")
    assert read_evidence(cell, SMALL.control.find("14"), SMALL, "Forb  mix") == evidence
    row = {**FULL, "area_m2": 7.25 * SQUARE_METRES["ac"], "chance": 0.97, "evidence": cell}
    add_row(KIND, path, row)
    before = read_planted(path, DRILL)
    assert before.lines[0].evidence == evidence
    saved_by_a_spreadsheet(path)
    after = read_planted(path, DRILL)
    assert after.lines == before.lines
    assert after.lines[0].evidence == evidence
    add_row(KIND, path, row)  # and the program goes on in the spreadsheet's form
    assert [each.evidence for each in read_planted(path, DRILL).lines] == [evidence] * 2


def test_a_line_is_read_to_what_was_entered(tmp_path):
    line = read_planted(written(tmp_path, operator="Invented Name"), DRILL).lines[0]
    assert (line.date, line.field, line.box, line.lot, line.setting.value) == (
        *("2026-11-25", "north", SMALL, "forb mix"),
        14.0,
    )
    assert (line.operator, line.note, line.use, line.evidence, line.line) == ("Invented Name", "dry", True, None, 2)
    assert line.area_m2 == pytest.approx(8e4, rel=1e-8)
    assert line.used_g == pytest.approx(37.5 * 453.59237, rel=1e-8)
    assert line.rate == pytest.approx(37.5 * 453.59237 / 8e4, rel=1e-8)


def test_a_file_of_a_metric_drill_is_begun_in_its_units(tmp_path):
    path = tmp_path / "planted.csv"
    kind = planted_lines(METRIC)
    begin_log(kind, path)
    add_row(kind, path, {**FULL, "loaded_g": 18_200.0})
    header, row = csv.reader(path.read_text(encoding="utf-8").splitlines())
    cells = dict(zip(header, row, strict=True))
    assert (cells["area_ha"], cells["seed_loaded_kg"]) == ("8", "18.2")
    assert read_planted(path, METRIC).lines == read_planted(path, DRILL).lines


def test_weights_that_were_not_taken_stay_unknown_and_an_empty_box_has_nothing_left(tmp_path):
    path = written(tmp_path, left_g=0.0)
    add_row(KIND, path, LINE)
    empty, unknown = read_planted(path, DRILL).lines
    assert empty.used_g == pytest.approx(40 * GRAMS["lb"])
    assert math.isnan(unknown.used_g)
    assert math.isnan(unknown.rate)


def test_a_file_in_the_other_units_and_without_a_column_is_added_to_in_its_own_form(tmp_path):
    path = written(tmp_path, "date;box;lot;setting;area_ha;mine\n2026-11-24;small;forb mix;14;8,5;x\n")
    before = path.read_text(encoding="utf-8")
    add_row(KIND, path, {**LINE, "area_m2": 12_500.0, "loaded_g": 1000.0})
    first, second = path.read_text(encoding="utf-8").splitlines()[0], read_planted(path, DRILL)
    assert first == before.splitlines()[0] + ";field;seed_loaded_lb"
    assert [each.area_m2 for each in second.lines] == pytest.approx([85_000, 12_500])
    assert second.lines[1].loaded_g == pytest.approx(1000.0, rel=1e-8)


HEAD = "date,box,lot,setting,area_ac,seed_loaded_lb,seed_left_lb,evidence\n"
GOOD = "2026-11-25,small,forb mix,14,5,40,2,"
CELL = evidence_cell(PLAIN, SMALL.control.find("14"), "small", "forb mix")


def quoted(cell):
    return '"' + cell.replace('"', '""') + '"'


EVIDENCE = "line 2, column evidence"
BAD = {
    "damaged evidence": (HEAD + GOOD + quoted(CELL[:-9]) + "\n", EVIDENCE),
    "a figure changed in the evidence": (HEAD + GOOD + quoted(CELL.replace("0.97", "0.99")) + "\n", EVIDENCE),
    "evidence that is no JSON": (HEAD + GOOD + "looked fine\n", EVIDENCE),
    "evidence of another setting": (HEAD + GOOD.replace(",14,", ",15,") + quoted(CELL) + "\n", EVIDENCE),
    "evidence of another lot": (HEAD + GOOD.replace("forb mix", "other mix") + quoted(CELL) + "\n", EVIDENCE),
    "evidence of another box": (HEAD + GOOD.replace("small,", "grain,") + quoted(CELL) + "\n", EVIDENCE),
    "more left than loaded": (HEAD + GOOD.replace("40,2", "2,40") + "\n", "line 2, column seed_left_lb"),
    "no area": (HEAD + GOOD.replace(",5,", ",,") + "\n", "line 2, column area_ac"),
    "no column for the area": ("date,box,lot,setting\n2026-11-25,small,forb mix,14\n", "line 1"),
    "areas twice": (
        HEAD.replace("area_ac", "area_ac,area_ha") + GOOD.replace(",5,", ",5,2,") + "\n",
        "line 1; line 2, column area_ha",
    ),
    "everything wrong at once": (
        HEAD + "yesterday,smal,,99,0,-1,x,\n",
        "line 2, column date; line 2, column box; line 2, column lot; line 2, column area_ac; "
        "line 2, column seed_loaded_lb; line 2, column seed_left_lb",
    ),
    "off the scale": (HEAD + GOOD.replace(",14,", ",99,") + "\n", "line 2, column setting"),
}  # fmt: skip


@pytest.mark.parametrize(("data", "places"), BAD.values(), ids=BAD)
def test_a_wrong_cell_is_a_problem_with_its_place(tmp_path, data, places):
    path = written(tmp_path, data)
    found = places_of(lambda: read_planted(path, DRILL))
    assert sorted(found.split("; ")) == sorted(places.split("; "))


def test_the_words_of_each_refusal(tmp_path):
    calls = {
        name: partial(lambda data: read_planted(written(tmp_path, data), DRILL), data)
        for name, (data, _) in BAD.items()
    }
    calls["a row that would be refused is not saved"] = lambda: add_row(
        KIND, written(tmp_path, HEAD), {**FULL, "left_g": 1e6}
    )
    calls["nothing to take back"] = lambda: undo_last(KIND, written(tmp_path, HEAD))
    refusals("refused-planted", calls)


def test_a_job_reads_what_was_planted_and_a_file_only_begun_says_nothing(job):
    path = job / "planted.csv"
    begin_log(planted_lines(DRILL), path)
    assert len(read_job(job).planted) == 0
    add_row(
        planted_lines(DRILL),
        path,
        {**FULL, "evidence": evidence_cell(PLAIN, SMALL.control.find("14"), "small", "forb mix")},
    )
    planted = read_job(job).planted
    assert [each.evidence for each in planted.of("small", "FORB mix")] == [PLAIN]
    assert len(planted.digest) == 64
    undo_last(planted_lines(DRILL), path)
    assert read_job(job).planted.of("small", "forb mix") == ()
    assert read_job(job).planted.lines[0].note == "dry; undone"
    path.write_text("date,box\n", encoding="utf-8")
    with pytest.raises(InputError, match="lot"):
        read_job(job)


def test_a_line_cut_short_behind_a_quote_of_its_evidence_is_found(tmp_path):
    """There it has all its cells, and the last one seems to be closed."""
    path = written(tmp_path, evidence=(cell := evidence_cell(PLAIN, SMALL.control.find("14"), "small", "forb mix")))
    add_row(KIND, path, {**FULL, "evidence": cell})
    data = path.read_bytes()
    for place in [k for k in range(data.rindex(b',"{""') + 3, len(data)) if data[k : k + 2] == b'""'][:12]:
        path.write_bytes(data[: place + 1])
        assert cut_short(KIND, path) is not None, data[: place + 1][-30:]
        comment_out_last(KIND, path)
        assert len(read_planted(path, DRILL)) == 1


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="kills as on POSIX")
def test_no_acknowledged_line_is_lost_or_doubled_by_kills(tmp_path):
    path = tmp_path / "planted.csv"
    begin_log(KIND, path)
    cell, promised = evidence_cell(PLAIN, SMALL.control.find("14"), "small", "forb mix"), []
    for kill in range(30):
        reading, writing = os.pipe()
        child = os.fork()
        if child == 0:
            os.close(reading)
            try:
                for k in range(10_000):
                    add_row(KIND, path, {**FULL, "note": f"{kill}-{k}", "evidence": cell})
                    os.write(writing, f"{kill}-{k}\n".encode())
            finally:
                os._exit(1)
        os.close(writing)
        parts = []
        while b"".join(parts).count(b"\n") < kill % 7 and (part := os.read(reading, 1 << 16)):
            parts.append(part)
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        while part := os.read(reading, 1 << 16):
            parts.append(part)
        os.close(reading)
        promised += b"".join(parts).decode().splitlines()
        if cut_short(KIND, path):
            comment_out_last(KIND, path)
    lines = read_planted(path, DRILL).lines
    notes = [each.note for each in lines]
    assert len(notes) == len(set(notes))
    assert set(promised) <= set(notes)
    assert len(notes) - len(promised) <= 30
    assert all(each.evidence == PLAIN for each in lines)
    assert len(promised) > 50
