"""Invisible characters of any file, name, option or answer never reach a terminal, a page, JSON or an error."""

import unicodedata

import pytest

# What acts on a terminal or hides, by the categories of Unicode; not the program's own list.
CATEGORIES = {"Cc", "Cf", "Cs", "Zl", "Zp"}
HOSTILE = ("\x1b[31mred\x1b]0;x\x07", "\u202egnp.exe", "\x9b31m", "a\rLOCK", "\x08\x08", "\u2028LOCK", "\u061cabc")
BROKEN = (
    "{} x = 1",
    "x{} y = 1",
    "x = {}",
    "x = a{}",
    "x = .5{}",
    "x = 5{}",
    '"{}" = 1',
    "[{}]",
    'x = "{}',
    "x = 1 # {}",
    "x = “{}”",
    "rows = 12\nrows = 12{}",
    'measured = "{}"',
    'history = ["{}"]',
    'history = ["{}*/trials.csv"]',
    'viable = "{}"',
    '[[box]]\nname = "{}"\n"{}" = 1',
    '[[field]]\nname = "{}"\narea_ac = "{}"',
)
COMMANDS = (
    ("plan",),
    ("recommend",),
    ("compare",),
    ("check",),
    ("card",),
    ("load",),
    ("plant",),
    ("report",),
    ("record",),
)


def check(done):
    """No character that acts, in either output; and no error of the program itself."""
    for text in (done.stdout, done.stderr):
        acting = {letter for letter in text if unicodedata.category(letter) in CATEGORIES}
        assert acting <= {"\n", "\t"}, repr(text)
    assert "error of the program" not in done.stderr, done.stderr


@pytest.mark.parametrize("line", BROKEN)
def test_no_line_of_a_drill_file_reaches_the_terminal(run, job, line):
    whole = (job / "drill.toml").read_bytes()
    for each in HOSTILE[:3]:
        raw = line.replace("{}", each).encode()
        escaped = line.replace("{}", "".join(f"\\u{ord(letter):04x}" for letter in each)).encode()
        for text in (raw, escaped):
            (job / "drill.toml").write_bytes(text + b"\n" + whole)
            check(run("plan", job, stdin=""))


@pytest.mark.slow
@pytest.mark.parametrize("name", ["trials.csv", "plan.csv", "field.csv"])
def test_no_cell_or_header_of_a_table_reaches_the_terminal(run, job, name):
    lines = (job / name).read_text(encoding="utf-8").splitlines()
    head = next(k for k, line in enumerate(lines) if line[:1] != "#")
    for each in HOSTILE[:4]:
        for row, place in ((head, 0), (head, 2), (head + 1, 1), (head + 1, 3), (head + 1, 2)):
            cells = lines[row].split(",")
            cells[place] += each.replace("\r", "")
            (job / name).write_text("\n".join([*lines[:row], ",".join(cells), *lines[row + 1 :]]), encoding="utf-8")
            check(run("plan", job, stdin=""))
            check(run("recommend", job, "--json", stdin=""))


@pytest.mark.slow
@pytest.mark.parametrize("command", COMMANDS)
def test_no_name_of_a_folder_option_or_answer_reaches_the_terminal(run, job, command):
    for each in HOSTILE:
        odd = job.rename(job.with_name(each))
        for arguments in (
            command,
            (*command, "--json"),
            (*command, each),
            (*command, "--box", each),
            (*command, f"--{each}"),
        ):
            check(run(*arguments, cwd=odd, stdin=f"{each}\n", HOME=each, PREDICTOR_X=each))
        check(run(command, odd, stdin=f"{each}\n"))
        odd.rename(job)


@pytest.mark.slow
def test_names_of_files_that_were_perhaps_meant_or_cannot_be_written_reach_no_terminal(run, job):
    for each in HOSTILE:
        (job / f"trials{each}.csv").write_bytes((job / "trials.csv").read_bytes())
        check(run("recommend", job / "trialsx.csv"))
        (job / f"log{each}.csv").write_text("box\n", encoding="utf-8")
        (job / "drill.toml").write_text(f'history = ["log*.csv"]\n{(job / "drill.toml").read_text()}', encoding="utf-8")
        check(run("recommend", job))
        check(run("plan", job))
        (job / "drill.toml").write_text((job / "drill.toml").read_text().partition("\n")[2], encoding="utf-8")


def test_the_same_problem_in_each_row_of_each_file_is_said_once(run, job):
    rows = "".join(f"small,A,{99 + k},{k}.5\n" for k in range(1000))
    (job / "trials.csv").write_text(f"box,lot,setting,catch_g\n{rows}", encoding="utf-8")
    done = run("recommend", job)
    assert done.returncode == 1
    assert len(done.stderr.splitlines()) == 1
    assert "line 2, column setting" in done.stderr
    assert "999 more lines: 3 to 1001" in done.stderr
    (job / "drill.toml").write_text("".join(f"k{k} = 1\n" for k in range(10_000)), encoding="utf-8")
    done = run("plan", job)
    assert len(done.stderr) < 5000
    assert "9,999 more keys" in done.stderr


def test_an_argument_or_answer_without_end_is_refused_at_once(run, job):
    assert run("plan", "--area-ac", "1" * 100_000, cwd=job).returncode == 2
    done = run("record", cwd=job, stdin="1" * 1_000_000)
    assert (done.returncode, len(done.stderr) < 1000) == (1, True)
