"""predictor load: what a technician reads at the tailgate. The job and its fields are invented."""

import json
import re

import pytest

from predictor.commands.load import command
from predictor.field.loading import RESERVE
from tests import golden
from tests.commands.test_plan_command import DRILL, PLAN
from tests.pages.checking import self_contained
from tests.running import TODAY

FIELDS = '\n[[field]]\nname = "north"\narea_ac = 12\n[[field]]\nname = "south"\narea_ac = 8\n'
PLANTED = "date,field,box,lot,setting,area_ac,seed_loaded_lb,seed_left_lb,use\n"


@pytest.fixture
def job(tmp_path):
    """Grain holds 40 lb and small 25 lb; how much chaffy holds is not known."""
    drill = DRILL.replace('name = "grain"', 'name = "grain"\nfull_lb = 40')
    drill = drill.replace('name = "small"', 'name = "small"\nfull_lb = 25')
    (tmp_path / "drill.toml").write_text(drill + FIELDS)
    rows = PLAN.format(fresh=TODAY, old=TODAY).splitlines()
    weights = ("bag_weight_lb", "50", "40", "50", "")
    rows = [f"{row},{weight}" for row, weight in zip(rows, weights, strict=True)]
    (tmp_path / "plan.csv").write_text("\n".join(rows) + "\n")
    return tmp_path


@pytest.fixture
def load(job, run):
    def call(*arguments, columns=80):
        done = run("load", *arguments, columns=columns, cwd=job)
        return done.returncode, done.stdout, done.stderr

    return call


def values(load, *arguments):
    code, text, messages = load("--json", *arguments)
    assert code == 0, messages
    return json.loads(text)


def test_loads_fills_and_bags_are_those_worked_out_by_hand(load):
    """Grain: 6 / (0.94 x 0.88) = 7.2534 lb/ac. It takes 39.9 lb; 29.9 lb to a quarter full last 4.12 ac: 4.1 ac.

    Four such parts leave 3.6 ac, for which 26.1 + 4 lb must be there, and 39.9 - 4.1 x 7.2534 = 10.2 lb are. Small:
    2.28815 lb/ac, as in the tests of plan. 24.9 - 6.25 lb last 8.15 ac, so that it is filled at 4.1 ac, since 8.2 ac
    are too far, and so on; at 12.3 ac 7.7 x 2.28815 + 2.5 = 20.1 lb must be there, and 24.9 - 9.4 = 15.5 lb are.
    """
    (found,) = values(load)["passes"]
    stops = [
        {each["box"]: (each["load"], each["plants"]) for each in stop["boxes"]} | {"after": stop["after"]}
        for stop in found["stops"]
    ]
    assert [each["after"] for each in stops] == pytest.approx([0, 4.1, 8.2, 12.3, 16.4])
    assert [each["grain"][0] for each in stops] == pytest.approx([39.9, 29.8, 29.7, 29.8, 19.9])
    assert [each["small"][0] for each in stops[:4]] == pytest.approx([24.9, 9.4, 9.4, 4.6])
    assert [each["small"][1] for each in stops[:4]] == pytest.approx([4.1, 4.1, 4.1, 7.7])
    assert "small" not in stops[4]
    assert [each["load"] for each in found["boxes"][1:]] == pytest.approx([149.1, 48.3])  # 145.07 + 4, 45.76 + 2.5
    assert found["stops_alone"] == 6
    # the blend of the box whose size is not known: 4 / (0.625 x 0.71) and 3 / (0.70 x 0.65) lb/ac, and 5 lb/ac carrier
    chaffy = found["boxes"][0]
    assert chaffy["full"] is None
    assert [each["load"] for each in chaffy["parts"]] == pytest.approx([180.3, 131.9, 100.0])
    assert [each["bags"] for each in chaffy["parts"]] == [4, 4, None]
    assert chaffy["load"] == pytest.approx(412.2)


def test_metric_is_the_same_job_in_round_kilograms(load):
    us, metric = values(load), values(load, "--units", "metric")
    assert (metric["weight_unit"], metric["area_unit"]) == ("kg", "ha")
    for ours, theirs in zip(us["passes"][0]["boxes"], metric["passes"][0]["boxes"], strict=True):
        # 1 lb = 0.45359237 kg, exact; each is rounded up to its own steps
        assert theirs["load"] == pytest.approx(ours["load"] * 0.45359237, rel=5e-3)
        for part in theirs["parts"]:
            assert round(part["load"], 2) == part["load"]


def test_what_is_planted_is_not_loaded_again(load, job):
    (job / "planted.csv").write_text(
        PLANTED
        + "".join(f"{TODAY},North,{box},{lot},{setting},7,,,\n" for box, lot, setting in (
            ("chaffy", "tall mix", 1), ("grain", "W3", 20), ("small", "S9", 20),
        ))
        + f"{TODAY},north,grain,W3,20,99,,,no\n2025-11-25,north,grain,W3,20,12,,,\n"
    )  # fmt: skip
    found = values(load)
    (one,) = found["passes"]
    assert [(each["field"], each["area"]) for each in one["fields"]] == [("north", 5), ("south", 8)]
    assert one["boxes"][2]["load"] == pytest.approx(13 * 2.28815 + 2.5, abs=0.1)
    assert [each["area"] for each in found["planted"]] == [7, 7, 7]  # neither what was taken back nor last year's
    said = " ".join(load()[1].split())
    assert "has planted 7 ac of north" in said
    assert "first load is for empty boxes" in said


def test_boxes_with_other_ground_left_have_stops_of_their_own(load, job):
    rows = f"{TODAY},north,grain,W3,20,12,,,\n{TODAY},south,grain,W3,20,8.5,,,\n{TODAY},south,small,S9,20,8,,,\n"
    (job / "planted.csv").write_text(PLANTED + rows + f"{TODAY},,small,S9,20,3,,,\n{TODAY},nroth,small,S9,20,2,,,\n")
    found = values(load)
    assert found["done"] == ["grain"]
    assert [[each["box"] for each in one["boxes"]] for one in found["passes"]] == [["chaffy"], ["small"]]
    assert [one["area"] for one in found["passes"]] == [20, 12]
    assert any("planted.csv has 5 ac of box small" in each for each in found["warnings"])


def test_the_fields_can_be_given(load):
    found = values(load, "--field", "North=5", "--field", "hill 2 = 2 ha")
    assert [each["field"] for each in found["fields"]] == ["north", "hill 2"]
    assert found["area"] == pytest.approx(5 + 2 * 2.4710538, abs=1e-5)  # 1 ha = 2.4710538 ac
    assert values(load, "--area-ac", "3")["fields"] == [{"field": "", "area": 3}]


def test_lots_in_turn_are_given_by_the_full_box_until_their_fields_are_named(load, job):
    path = job / "plan.csv"
    text = path.read_text().splitlines()
    other = text[4].replace("S9", "S10").split(",")
    blends = [text[4].split(","), other]
    at = text[0].split(",").index("blend")
    for row, name in zip(blends, ("mix 1", "mix 2"), strict=True):
        row[at] = name
    path.write_text("\n".join([*text[:4], *(",".join(row) for row in blends)]) + "\n")
    found = values(load)
    assert [[each["box"] for each in one["boxes"]] for one in found["passes"]] == [["chaffy", "grain"]]
    # 24.9 lb less a quarter of 25, at 2.28815 lb/ac
    assert [(each["lot"], each["area"]) for each in found["in_turn"]] == [
        ("mix 1", pytest.approx(18.65 / 2.28815, rel=1e-4)), ("mix 2", pytest.approx(18.65 / 2.28815, rel=1e-4)),
    ]  # fmt: skip
    assert "several lots, one after the other" in " ".join(load()[1].split())
    one = values(load, "--box", "small", "--lot", "Mix 2", "--field", "south=8")
    assert one["passes"][0]["boxes"][0]["load"] == pytest.approx(8 * 2.28815 + 2.5, abs=0.1)


def test_of_lots_in_turn_what_the_box_has_planted_is_taken_off(load, job):
    plan = (job / "plan.csv").read_text()
    small = next(row for row in plan.splitlines() if row.startswith("small"))
    (job / "plan.csv").write_text(f"{plan}{small.replace(small.split(',')[1], 'another')}\n")
    assert " ".join(load("--box", "small")[1].split()).count("for all 20 ac") == 2
    (job / "planted.csv").write_text(f"{PLANTED}{TODAY},north,small,another,24,12,20,2,yes\n")
    said = " ".join(load("--box", "small")[1].split())
    # 8 ac at 2.28815 lb/ac
    assert said.count("18.3 lb for the 8 ac not planted yet") == 2
    assert "for all" not in said


def test_a_box_that_planted_all_fields_with_two_lots_has_nothing_left_to_load(load, job):
    plan = (job / "plan.csv").read_text()
    small = next(row for row in plan.splitlines() if row.startswith("small"))
    other = small.replace(small.split(",")[1], "another")
    (job / "plan.csv").write_text(f"{plan}{other}\n")
    rows = ((small.split(",")[1], "north", 12), ("another", "south", 8))
    lines = "".join(f"{TODAY},{field},small,{lot},24,{area},20,2,yes\n" for lot, field, area in rows)
    (job / "planted.csv").write_text(PLANTED + lines)
    assert values(load)["in_turn"] == []
    code, text, _ = load("--box", "small")
    assert code == 0
    assert text.splitlines()[0] == "Nothing is left to load: all of 12 + 8 = 20 ac in 2 fields is planted"


def test_seed_that_is_there_is_held_against_what_is_needed(load):
    found = values(load, "--have", "s9=40", "--have", "W3=200 lb")["in_hand"]
    assert [(each["name"], each["weight"]) for each in found] == [("S9", 40), ("W3", 200)]
    assert found[0]["plants"] == pytest.approx(40 / 2.28815, rel=1e-4)
    said = " ".join(load("--have", "S9=40")[1].split())
    assert "8.30 lb are missing: it plants 17.48 ac" in said


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (("--field", "north"), 2, "is not a name, an = sign and a value"),
        (("--field", "north=five"), 2, "--field"),
        (("--field", "north=0"), 2, "--field"),
        (("--field", "n=1", "--field", "N=2"), 2, "given twice"),
        (("--field", "n=1", "--area-ac", "2"), 2, "not both"),
        (("--have", "K9=5"), 1, "Lot K9 is not to be loaded here"),
        (("--box", "grian"), 1, "The plan has no box grian"),
        (("--lot", "X"), 1, "No such box takes X"),
        (("--reserve", "1.5"), 2, "--reserve"),
        (("--area-ac", "90000"), 1, "more than 200 times"),
    ],
)
def test_what_is_wrong_is_said(load, arguments, code, words):
    done, text, messages = load(*arguments)
    assert (done, text) == (code, "")
    assert words in " ".join(messages.split())


def test_without_any_area_it_says_how_to_give_one(load, job):
    path = job / "drill.toml"
    path.write_text(path.read_text().replace(FIELDS, ""))
    code, _, messages = load()
    assert code == 1
    assert "--area-ac" in messages
    assert "[[field]]" in messages


def test_the_reserve_is_the_same_for_the_command_and_the_library():
    assert command.__defaults__[command.__code__.co_varnames.index("reserve")] == RESERVE


@pytest.mark.parametrize("units", ["us", "metric"])
def test_the_words_of_the_sheet_and_its_page(load, job, units):
    path = job / "plan.csv"
    header, *rows = path.read_text().splitlines()
    path.write_text("\n".join([f"{header},treatment", *(f"{row}," for row in rows[:-1]), f"{rows[-1]},inoculated\n"]))
    more = ("--units", units, "--have", "S9=40")
    said = []
    for columns in (80, 40):
        code, text, messages = load(*more, columns=columns)
        assert code == 0
        assert max(map(len, text.splitlines())) <= columns
        said.append(f"== {columns} columns\n{text}--- messages\n{messages}")
    load(*more, "--out", "load.html", "--pdf", "load.pdf")
    page = (job / "load.html").read_text(encoding="utf-8")
    self_contained(page)
    assert (job / "load.pdf").read_bytes().startswith(b"%PDF")
    golden.check(f"load-{units}", "\n".join([*said, "== page", golden.words(page)]))


def test_the_page_has_a_box_to_tick_and_lines_to_fill_in_for_each_fill(load, job):
    fills = sum(len(stop["boxes"]) for one in values(load)["passes"] for stop in one["stops"])
    load("--out", "load.html")
    page = (job / "load.html").read_text(encoding="utf-8")
    assert page.count("Loaded, lb") == fills
    assert page.count("\u2610") >= fills
    assert len(re.findall("<h2>(?:Before you start|Stop)", page)) == len(values(load)["passes"][0]["stops"])
