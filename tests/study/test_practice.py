"""A practice job has catches that follow from its seed and a log like any other, and refuses what is not its own."""

import json

import pytest

from predictor import InputError, read_trials
from predictor.study.practice import NoSuchSetting, make_catch, practice_files
from tests import golden


@pytest.fixture
def folder(tmp_path):
    """A practice job of seed 3."""
    for name, data in practice_files(3).items():
        (tmp_path / name).write_bytes(data)
    return tmp_path


def test_following_the_advice_on_a_practice_job_ends_with_a_lock(run, folder):
    setting = "20"
    for _ in range(12):
        done = run("simulate", folder, "--box", "small", "--setting", setting)
        assert done.returncode == 0, done.stderr
        advice = json.loads(run("recommend", folder / "trials.csv", "--box", "small", "--json").stdout)["results"][0]
        setting = f"{advice['setting']:g}"
        if advice["decision"] == "lock":
            break
    assert advice["decision"] == "lock"


def test_a_practice_drill_is_the_same_for_the_same_seed(tmp_path):
    grams = []
    for name, seed in (("a", 5), ("b", 5), ("c", 6)):
        (tmp_path / name).mkdir()
        for file, data in practice_files(seed).items():
            (tmp_path / name / file).write_bytes(data)
        grams.append(make_catch(tmp_path / name, "grain", "30").grams)
    assert grams[0] == grams[1] != grams[2]


def test_each_catch_goes_into_the_log(folder):
    made = [make_catch(folder, "SMALL", "20"), make_catch(folder, "chaffy", "3")]
    trials = read_trials(made[0].log)
    assert trials.catch_g.tolist() == [each.grams for each in made]
    assert trials.setting.tolist() == ["20", "3"]
    assert trials.lot.tolist() == ["P-3", "P-1"]
    assert made[0].setting.opening == 20.0
    assert 0.2 < made[0].grams / made[0].target_g < 5


@pytest.mark.parametrize(
    ("box", "setting", "kind"),
    [
        ("none", "3", InputError),
        ("small", "99", NoSuchSetting),
        ("small", "wide", NoSuchSetting),
        ("chaffy", "9", NoSuchSetting),
    ],
)
def test_boxes_and_settings_that_the_drill_does_not_have_are_refused(folder, box, setting, kind):
    before = (folder / "trials.csv").read_bytes()
    with pytest.raises(kind):
        make_catch(folder, box, setting)
    assert (folder / "trials.csv").read_bytes() == before


@pytest.mark.parametrize("seed", [None, "", "seven"])
def test_only_a_practice_job_takes_made_up_catches(folder, seed):
    if seed is None:
        (folder / "practice-seed.txt").unlink()
    else:
        (folder / "practice-seed.txt").write_text(seed)
    with pytest.raises(InputError) as caught:
        make_catch(folder, "small", "20")
    assert caught.value.problems[0].file == str(folder)


def test_a_box_without_a_lot_in_the_plan_has_no_target(folder):
    lines = (folder / "plan.csv").read_text().splitlines(keepends=True)
    (folder / "plan.csv").write_text("".join(line for line in lines if not line.startswith("grain")))
    with pytest.raises(InputError):
        make_catch(folder, "grain", "20")


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        ([], 2),
        (["--json"], 2),
        (["{dir}", "--box", "small"], 2),
        (["{dir}/nothing", "--box", "small", "--setting", "3"], 1),
        (["{dir}", "--box", "none", "--setting", "3"], 1),
        (["{dir}", "--box", "small", "--setting", "99"], 2),
        (["{dir}"], 1),
    ],
)
def test_practice_refuses_with_the_code_of_the_fault(run, folder, arguments, code):
    done = run("simulate", *(each.format(dir=folder) for each in arguments))
    assert (done.returncode, done.stdout) == (code, "")
    assert "error of the program" not in done.stderr


def test_practice_catches_never_spoil_a_file_that_was_changed(folder):
    path = folder / "trials.csv"
    path.write_text(path.read_text().rstrip("\n"))
    make_catch(folder, "small", "20")
    assert len(read_trials(path)) == 1
    path.write_text("lot,box,setting,catch_g\n")
    make_catch(folder, "small", "20")
    assert path.read_text().splitlines()[1].startswith("P-3,small,20,")  # in the order the header has now


def test_words_of_practice(run, tmp_path):
    lines = [
        ("simulate", "practice", "--seed", "7"),
        ("simulate", "practice", "--box", "small", "--setting", "30"),
        ("simulate", "practice", "--box", "Chaffy", "--setting", "2"),
        ("simulate", "practice"),
        ("simulate",),
        ("simulate", "practice", "--box", "none", "--setting", "3"),
        ("simulate", "practice", "--box", "small"),
        ("simulate", "practice", "--box", "small", "--setting", "99"),
        ("simulate", "elsewhere", "--box", "small", "--setting", "3"),
    ]
    golden.check("practice", "\n".join(golden.session_text(run(*each, cwd=tmp_path), *each) for each in lines))
