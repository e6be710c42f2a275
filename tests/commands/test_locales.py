"""The program in real locales, character sets and environments: each test makes sure that it is in the one it names."""

import json
import os
import shutil
import subprocess
import sys

import pytest

from tests.running import ROOT

LOT, NOTE = "Größé лот", "ветер ž"
SAID = ("--box", "small", "--setting", "14", "--catch", "23.2", "--yes")
# Neither the locale nor Python may quietly turn to UTF-8 in these.
BARE = {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}
SETS = {
    "C": BARE,
    "POSIX": {**BARE, "LC_ALL": "POSIX"},
    "ascii": {**BARE, "PYTHONIOENCODING": "ascii"},
    "strict ascii": {**BARE, "PYTHONIOENCODING": "ascii:strict"},
    "ascii, replacing": {**BARE, "PYTHONIOENCODING": "ascii:replace"},
    "latin-1": {**BARE, "PYTHONIOENCODING": "latin-1"},
    "cp1252": {**BARE, "PYTHONIOENCODING": "cp1252"},
    "UTF-8": {"LC_ALL": "C.UTF-8"},
}
IN_UTF8 = ("UTF-8",)
# Says which character set the process has, then runs the program in that locale.
DRIVER = """
import json, locale, sys
locale.setlocale(locale.LC_ALL, "")
print(json.dumps([locale.localeconv()["decimal_point"], sys.stdin.encoding]), file=sys.stderr)
from predictor.__main__ import main
main(sys.argv[1:])
"""


def run(environment, *arguments, stdin=b"", driver=False):
    """Run the program in this environment alone; outputs are bytes."""
    command = [sys.executable, *(["-c", DRIVER] if driver else ["-m", "predictor"]), *map(os.fsencode, arguments)]
    given = {"PYTHONPATH": str(ROOT), "PATH": os.defpath, **environment}
    done = subprocess.run(command, input=stdin, capture_output=True, env=given, timeout=120, check=False)
    assert b"Traceback" not in done.stderr
    return done


def last_row(job):
    text = (job / "trials.csv").read_bytes().decode("utf-8")  # strictly: no surrogate can be in it
    assert "\ufffd" not in text
    return text.splitlines()[-1]


@pytest.fixture
def log(job):
    (job / "field.csv").unlink()
    return job


@pytest.mark.slow
@pytest.mark.parametrize("name", SETS)
def test_letters_typed_in_utf8_are_stored_as_those_letters(log, name):
    probe = run(SETS[name], "--version", driver=True)
    assert (json.loads(probe.stderr)[1] == "utf-8") == (name in IN_UTF8)
    answers = f"small\n{LOT}\ny\n14\ns\n23.2\n".encode()
    done = run(SETS[name], "record", str(log), "--note", NOTE, stdin=answers)
    assert done.returncode == 0, done.stderr
    assert f"small,{LOT},14," in last_row(log)
    assert f",{NOTE}," in last_row(log)
    done = run(SETS[name], "record", str(log), *SAID, "--lot", LOT + "2", "--json")
    assert done.returncode == 0, done.stderr
    assert f"small,{LOT}2,14," in last_row(log)
    json.loads(done.stdout.decode("ascii"))


@pytest.mark.slow
@pytest.mark.parametrize("name", [name for name in SETS if name not in ("latin-1", "cp1252")])
def test_letters_that_cannot_be_read_are_asked_for_again(log, name):
    """Two letters in Latin-1, where the terminal has another character set."""
    done = run(SETS[name], "record", str(log), stdin=b"small\nGr\xf6\xdfe\nforb mix\n14\ns\n23.2\n")
    assert done.returncode == 0, done.stderr
    assert b"cannot be read here" in done.stderr
    assert "small,forb mix,14," in last_row(log)
    before = (log / "trials.csv").read_bytes()
    for lost in (b"Gr\xf6\xdfe", "lost \ufffd letter".encode()):
        done = run(SETS[name], "record", str(log), *SAID, "--lot", os.fsdecode(lost))
        assert (done.returncode, done.stdout) == (2, b"")
        assert b"cannot be read here" in done.stderr
    assert (log / "trials.csv").read_bytes() == before


@pytest.mark.slow
def test_letters_of_the_terminals_own_character_set_are_read(log):
    answers = "small\nGröße\ny\n14\ns\n23.2\n".encode("cp1252")
    assert run(SETS["cp1252"], "record", str(log), stdin=answers).returncode == 0
    assert "small,Größe,14," in last_row(log)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["C", "strict ascii", "latin-1"])
def test_every_output_can_be_shown_without_its_letters(log, name):
    path = log / "plan.csv"
    path.write_text(path.read_text(encoding="utf-8").replace("tall mix", "hohe Gräser №1"), encoding="utf-8")
    for command in ("plan", "recommend", "compare"):
        done, wanted = run(SETS[name], command, str(log)), run(SETS["UTF-8"], command, str(log))
        assert (done.returncode, wanted.returncode) == (0, 0), done.stderr
        shown = wanted.stdout.decode("utf-8").encode("ascii" if name != "latin-1" else "latin-1", "replace")
        assert done.stdout == shown


@pytest.mark.slow
def test_a_file_name_that_the_character_set_lacks_is_said(log):
    for folder in (log.rename(log.with_name("Größe")), log.with_name("Größe2")):
        done = run(BARE, "recommend" if folder.exists() else "init", str(folder))
        assert done.returncode in (1, 2)
        assert b"Set PYTHONUTF8=1" in done.stderr


@pytest.mark.slow
@pytest.mark.parametrize(("locale", "charset"), [("de_DE", "UTF-8"), ("tr_TR", "UTF-8"), ("de_DE", "ISO-8859-1")])
def test_a_locale_that_is_in_force_changes_no_number_and_no_name(log, tmp_path, locale, charset):
    """A decimal comma, and an i that has another capital. The locales are built, since few systems have them."""
    if shutil.which("localedef") is None:
        pytest.skip("localedef, which builds locales, is not there")
    name = f"{locale}.{charset}"
    built = subprocess.run(
        ["localedef", "-i", locale, "-f", charset, tmp_path / name], capture_output=True, check=False
    )
    if built.returncode:
        pytest.skip("the sources of locales are not there")
    odd = {"LC_ALL": name, "LOCPATH": str(tmp_path), "TZ": "Pacific/Kiritimati", "PYTHONUTF8": "0"}
    for arguments in (("recommend", str(log)), ("recommend", str(log), "--json"), ("plan", str(log))):
        done = run(odd, *arguments, driver=True)
        assert json.loads(done.stderr.splitlines()[0])[0] == ","  # the locale is in force
        assert done.stdout == run(SETS["UTF-8"], *arguments, driver=True).stdout
    done = run(odd, "record", str(log), *SAID, "--lot", "FORB MIX", driver=True)
    assert done.returncode == 0, done.stderr
    assert "small,forb mix,14," in last_row(log)
    assert ",23.2," in last_row(log)
