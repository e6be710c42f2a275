"""Every file is read to the right values or refused in sentences: generated files, corrupted samples, odd options.

`tests/benchmarks/bench_fuzz.py` does the same with more. Values are invented.
"""

import random

import pytest

from predictor import InputError, read_drill, read_plan, read_trials
from predictor.files.cut import cut_short
from predictor.files.field import read_field
from predictor.files.kinds import TRIALS
from predictor.files.log import add_row
from tests.conftest import SAMPLE

DRILL = read_drill(SAMPLE / "drill.toml")
READERS = {
    "trials.csv": lambda path: read_trials(path, DRILL),
    "plan.csv": lambda path: read_plan(path, DRILL),
    "field.csv": lambda path: read_field(path, DRILL),
    "drill.toml": read_drill,
}
# As many files of each kind: ten thousand in all, with those corrupted.
GENERATED = 1500
# The benchmark goes on with others.
SEED = 0


def outcome(read, path):
    """What a reader gives, or None where it refuses; anything but an InputError fails the test."""
    try:
        return read(path)
    except InputError as error:
        assert error.problems
        for problem in error.problems:
            assert problem.message.rstrip().endswith((".", "?")), problem
            assert not set(str(problem)) & set("\n\r\x1b\x00"), problem
        return None


# -- files whose values are known ------------------------------------------------------------


def written(rng, header, rows, numeric):
    """A table in one of the forms people and spreadsheets save, and nothing in it that could be read in two ways."""
    separator = rng.choice([",", ",", ";", "\t"])
    comma = separator != "," and rng.random() < 0.5
    newline = rng.choice(["\n", "\r\n", "\r"])

    def cell(name, value):
        text = f"{value:.4f}" if isinstance(value, float) else str(value)
        if comma and name in numeric:
            text = text.replace(".", ",")
        if rng.random() < 0.1 or separator in text or '"' in text:
            text = '"' + text.replace('"', '""') + '"'
        return f" {text}" if rng.random() < 0.05 and not text.startswith('"') else text

    names = [
        name.upper() if rng.random() < 0.1 else name.replace("_", " ") if rng.random() < 0.05 else name
        for name in header
    ]
    lines = [separator.join(names)]
    for row in rows:
        if rng.random() < 0.05:
            lines.append(rng.choice(["", "# a remark", separator * (len(header) - 1)]))
        lines.append(separator.join(cell(name, value) for name, value in zip(header, row, strict=True)))
    text = newline.join(lines) + (newline if rng.random() < 0.9 else "")
    return text.encode(rng.choice(["utf-8", "utf-8-sig", "utf-16"]))


def in_parts(rng):
    """The cell of a catch that was weighed in parts, or an empty one, and the catch."""
    parts = [round(rng.uniform(0.01, 300), 4) for _ in range(rng.randint(2, 5))]
    return rng.choice(["", ";".join(f"{each:.4f}" for each in parts)]), sum(parts)


def trials_table(rng):
    header = ["box", "lot", "setting", "parts_g", "catch_g", "turns", "fill_pct", "use", "note", "mine"]
    rows = [
        [
            *("small", rng.choice(["A", "B 2", 'a "quoted" one', "long, with comma; and semicolon"])),
            *(rng.randint(0, 40), *in_parts(rng), rng.uniform(1, 90), rng.uniform(0, 100)),
            *(rng.choice(["yes", "no", "Y", "0"]), rng.choice(["", "windy", "x;y"]), rng.choice(["", "12"])),
        ]
        for _ in range(rng.randint(1, 6))
    ]
    order = list(range(len(header)))
    rng.shuffle(order)
    return [header[k] for k in order], [[row[k] for k in order] for row in rows]


@pytest.mark.slow
def test_generated_trials_are_read_to_the_values_they_hold(tmp_path):
    rng = random.Random(SEED + 3)
    path = tmp_path / "trials.csv"
    for _ in range(GENERATED):
        header, rows = trials_table(rng)
        path.write_bytes(written(rng, header, rows, {"catch_g", "parts_g", "turns", "fill_pct"}))
        found = read_trials(path, DRILL)
        column = {name: [row[k] for row in rows] for k, name in enumerate(header)}
        assert found.catch_g.tolist() == [float(f"{value:.4f}") for value in column["catch_g"]]
        cells = [tuple(map(float, cell.split(";"))) if cell else None for cell in column["parts_g"]]
        assert list(found.parts_g) == cells
        assert found.turns.tolist() == [float(f"{value:.4f}") for value in column["turns"]]
        assert found.fill_pct.tolist() == [float(f"{value:.4f}") for value in column["fill_pct"]]
        assert found.opening.tolist() == column["setting"]
        assert found.lot.tolist() == column["lot"]
        assert found.note.tolist() == column["note"]
        assert found.use.tolist() == [value in ("yes", "Y") for value in column["use"]]


@pytest.mark.slow
def test_generated_field_checks_are_read_to_the_values_they_hold(tmp_path):
    rng = random.Random(SEED + 4)
    path = tmp_path / "field.csv"
    header = ["date", "box", "lot", "setting", "area_ha", "seed_used_kg"]
    for _ in range(GENERATED):
        rows = [
            [
                *(f"2026-{rng.randint(1, 12):02d}-{rng.randint(1, 28):02d}", "grain", "L"),
                *(rng.randint(0, 60), rng.uniform(0.1, 90), rng.uniform(0.1, 900)),
            ]
            for _ in range(rng.randint(1, 5))
        ]
        path.write_bytes(written(rng, header, rows, {"area_ha", "seed_used_kg"}))
        found = read_field(path, DRILL).checks
        assert [each.date for each in found] == [row[0] for row in rows]
        assert [each.area_m2 for each in found] == pytest.approx([1e4 * float(f"{row[4]:.4f}") for row in rows])
        assert [each.used_g for each in found] == pytest.approx([1e3 * float(f"{row[5]:.4f}") for row in rows])


@pytest.mark.slow
def test_generated_plans_are_read_to_the_values_they_hold(tmp_path):
    rng = random.Random(SEED + 5)
    path = tmp_path / "plan.csv"
    header = ["box", "lot", "species", "pls_rate_kg_ha", "purity_pct", "germination_pct", "seeds_per_g"]
    for _ in range(GENERATED):
        rows = [
            [
                *(box, f"L{rng.randint(1, 9)}", "switchgrass", rng.uniform(0.1, 60)),
                *(rng.uniform(30, 100), rng.uniform(30, 100), rng.uniform(100, 900)),
            ]
            for box in rng.sample(["chaffy", "grain", "small"], rng.randint(1, 3))
        ]
        path.write_bytes(written(rng, header, rows, set(header[3:])))
        plan = read_plan(path, DRILL)
        for row in rows:
            rate, pure, alive, seeds = (float(f"{value:.4f}") for value in row[3:])
            (entry,) = [each for each in plan.lots if each.box == row[0]]
            assert entry.bulk_rate == pytest.approx(rate / 10 / (pure * alive / 1e4))
            assert entry.seeds_per_m2 == pytest.approx(rate / 10 * seeds)


# -- corrupted files ----------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize("name", READERS)
def test_a_sample_corrupted_at_every_byte_is_read_or_refused(tmp_path, name):
    data = (SAMPLE / name).read_bytes()
    rng = random.Random(SEED + 6)
    path = tmp_path / name
    for k in range(len(data)):
        odd = bytes([rng.choice(b'\x00\xff,;"\n\r#=-0e.\xc3 \t')])
        path.write_bytes(
            rng.choice([data[:k] + odd + data[k + 1 :], data[:k] + odd + data[k:], data[:k] + data[k + 1 :]])
        )
        outcome(READERS[name], path)


@pytest.mark.slow
@pytest.mark.parametrize("name", READERS)
def test_shuffled_pieces_of_files_are_read_or_refused(tmp_path, name):
    data = (SAMPLE / name).read_bytes()
    rng = random.Random(SEED + 8)
    path = tmp_path / name
    for _ in range(GENERATED // 2):
        pieces = [
            data[i : i + rng.randint(1, 60)] for i in (rng.randrange(len(data)) for _ in range(rng.randint(1, 12)))
        ]
        path.write_bytes(data[: rng.choice([0, 90, 200])] + b"".join(pieces))
        outcome(READERS[name], path)


def test_no_catch_is_lost_where_one_is_added_to_a_corrupted_log(tmp_path):
    data = (SAMPLE / "trials.csv").read_bytes()[:900]
    rng = random.Random(SEED + 9)
    path = tmp_path / "trials.csv"
    catch = {"box": "small", "lot": "A", "setting": "14", "catch_g": 61.2, "note": "added"}
    added = read = 0
    for k in range(0, len(data), 2):
        odd = bytes([rng.choice(b'\x00\xff,;"\n\r#')])
        path.write_bytes(data[:k] + odd + data[k + 1 :])
        before = path.read_bytes()
        try:
            add_row(TRIALS, path, catch)
        except InputError:
            assert path.read_bytes() == before
            continue
        added += 1
        assert cut_short(TRIALS, path) is None
        found = outcome(READERS["trials.csv"], path)
        if found is not None:
            assert (found.catch_g[-1], found.note[-1]) == (61.2, "added")
            read += 1
    assert added > 200
    assert read > 50  # elsewhere a row is refused, and all of the file with it


@pytest.mark.slow
def test_time_zone_home_and_hash_seed_change_nothing(run, run_program):
    plain = run("recommend", SAMPLE / "trials.csv").stdout
    odd = {
        "TZ": "Pacific/Kiritimati",
        "HOME": "/nowhere",
        "NO_COLOR": "1",
        "PYTHONHASHSEED": "1",
    }
    assert run_program("recommend", SAMPLE / "trials.csv", **odd).stdout == plain


# -- options ------------------------------------------------------------------------------------

VALUES = [
    "",
    "0",
    "-1",
    "1e999",
    "nan",
    "inf",
    "abc",
    "1,5",
    "99999999999",
    "small",
    "\x1b[31m",
    "=1",
    "é" * 300,
    "0.5",
    "10%",
]
OPTIONS = {
    "plan": ["--area-ac", "--area-ha", "--turns", "--rows", "--on", "--viable", "--units", "--drill", "--plan"],
    "recommend": [
        "--box",
        "--lot",
        "--target-g",
        "--tolerance",
        "--confidence",
        "--history",
        "--viable",
        "--units",
        "--plot",
    ],
    "compare": ["--box", "--reference", "--level", "--drill", "--plot"],
    "check": ["--viable", "--units", "--trials", "--plan", "--plot"],
    "card": ["--box", "--tolerance", "--confidence", "--paper", "--units", "--viable", "--out"],
    "record": ["--box", "--lot", "--setting", "--catch", "--tare", "--turns", "--rows", "--fill", "--on", "--note"],
    "simulate": ["--seed", "--box", "--setting", "--runs", "--tolerance", "--step"],
}


@pytest.mark.parametrize("command", OPTIONS)
def test_any_option_value_is_used_or_refused_in_a_sentence(command, run, job):
    rng = random.Random(command)
    first = {"plan": [], "simulate": ["practice"], "check": ["field.csv"]}.get(command, ["trials.csv"])
    for _ in range(40):
        chosen = rng.sample(OPTIONS[command], rng.randint(1, 3))
        arguments = [command, *first, *(part for name in chosen for part in (name, rng.choice(VALUES)))]
        done = run(*arguments, cwd=job)
        assert done.returncode in (0, 1, 2), arguments
        assert "error of the program" not in done.stderr, (arguments, done.stderr)
        assert "Traceback" not in done.stderr
        assert "\x1b" not in done.stderr, arguments


def test_numbers_of_files_and_options_are_read_by_one_parser():
    """float() takes `nan`, `inf` and `1_0`; ours does not, wherever a number may stand."""
    from predictor.numbers import parse_number

    for text in ("nan", "inf", "1_0", "\u0661"):
        float(text)
        with pytest.raises(ValueError, match="is not"):
            parse_number(text)
