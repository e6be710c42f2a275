"""Random seasons: whatever happens in a folder, in whatever order, every command tells the same story of it.

The drill has a physics of its own. Each lot gives nothing below a reading, and its planned rate at another one. Catches
scatter by 2 %, and the field gives a fixed part of what the standing drill gave. After each event all commands are run.
They are held against each other, and against what must hold whatever happened.
"""

from __future__ import annotations

import csv
import datetime
import json
import random
import re
from dataclasses import dataclass, field
from unittest import mock

import pytest

from tests import golden, running
from tests.commands.test_one_story import DRILL

LOTS = {"grain": ("A", "B"), "small": ("K", "L")}
SPECIES = {"A": "oats", "B": "oats", "K": "purple prairie clover", "L": "purple prairie clover"}
RATES = {"grain": 30.0, "small": 4.0}  # kg/ha
AREAS = {"north": 5.0, "south": 3.0}
OPENS = {"grain": 4.0, "small": 10.0}
# Readings at which the first plans are met by the standing drill.
RIGHT = {"A": 24.0, "B": 29.0, "K": 30.0, "L": 33.0}
FIRST_DAY = datetime.date(2026, 4, 20)
COMMON = ("reached", "doing", "headline", "setting", "in_hand", "planted", "verdict")


@dataclass
class Player:
    """A folder, its drill, and what was done in it."""

    run: object
    top: object
    random: random.Random
    slip: float = 0.96  # Field over standing
    day: datetime.date = FIRST_DAY
    year: int = 0
    rates: dict = field(default_factory=lambda: dict(RATES))
    followed: set = field(default_factory=set)  # Boxes in which the second lot is to follow
    done: list = field(default_factory=list)
    statements: dict = field(default_factory=dict)  # Of planted lines, by number
    failed: list = field(default_factory=list)

    def __post_init__(self):
        self.folder = self.top / "job-0"
        self.begin("")

    def begin(self, history):
        self.folder.mkdir()
        (self.folder / "drill.toml").write_text(DRILL.replace("[catch]", f"{history}\n[catch]"))
        self.plan()
        self.statements = {}

    def plan(self):
        lots = [(box, lot) for box in LOTS for lot in LOTS[box][: 1 + (box in self.followed)]]
        rows = [f"{box},{lot},{SPECIES[lot]},{self.rates[box]:g}\n" for box, lot in lots]
        (self.folder / "plan.csv").write_text("box,lot,species,bulk_rate_kg_ha\n" + "".join(rows))

    # what a drill does

    def rate(self, box, lot, setting):
        """Standing rate at a reading, kg/ha."""
        return max(RATES[box] * (setting - OPENS[box]) / (RIGHT[lot] - OPENS[box]), 0.0)

    def weight(self, box, lot, setting):
        """Grams from 4 rows in 40 turns."""
        exact = self.rate(box, lot, setting) / 10 * 2.2 * 0.19 * 160
        return exact * self.random.lognormvariate(0, 0.02)

    # the program

    def ask(self, *arguments, stdin=""):
        with mock.patch.object(running, "TODAY", self.day):
            done = self.run(*arguments, stdin=stdin)
        self.expect("error of the program" not in done.stderr + done.stdout, "crash", arguments, done.stderr)
        self.expect("Traceback" not in done.stderr, "traceback", arguments, done.stderr)
        self.expect(done.returncode == 0 or done.stderr.strip().endswith((".", "?")), "no sentence", arguments, done)
        return done

    def expect(self, holds, what, *values):
        if not holds:
            self.failed.append((what, *values))
            assert holds, (what, *values, "after", *self.done)

    def answer(self, *arguments):
        done = self.ask(*arguments, "--json")
        self.expect(done.returncode == 0, "refused", arguments, done.stderr)
        return json.loads(done.stdout)

    def stages(self):
        return {(each["box"], each["lot"]): each for each in self.answer("plan", self.folder)["stages"]}

    def in_hand(self, box=None):
        mine = [each for each in self.stages().values() if each["in_hand"] and box in (None, each["box"])]
        return self.random.choice(mine)

    # what people do

    def catch(self, *, lot=None):
        box = self.random.choice(list(LOTS))
        stage = self.in_hand(box)
        lot = lot or stage["lot"]
        found = self.answer("recommend", self.folder, "--box", box, "--lot", lot) if self.logged else None
        advised = found["results"][0]["setting"] if found and found["results"] else None
        setting = advised if advised is not None and self.random.random() < 0.85 else self.random.randint(15, 45)
        weight = f"{self.weight(box, lot, setting):.1f}"
        options = ("--box", box, "--lot", lot, "--setting", f"{setting:g}", "--catch", weight, "--yes")
        done = self.ask("record", self.folder, *options, "--json")
        self.expect(done.returncode == 0, "catch refused", done.stderr)
        said, stages = json.loads(done.stdout), self.stages()
        for each in said["results"]:
            self.same(each["stage"], stages[each["box"], each["lot"]], "record")
        return box, lot, setting

    def catches(self):
        return [self.catch() for _ in range(self.random.randint(2, 5))]

    def take_back_catch(self):
        return self.ask("record", self.folder, "--undo").returncode

    def second_lot(self):
        self.followed.add(self.random.choice(list(LOTS)))
        self.plan()
        box = self.random.choice(sorted(self.followed))
        options = ("--box", box, "--lot", LOTS[box][1], "--setting", "25")
        weight = f"{self.weight(box, LOTS[box][1], 25):.1f}"
        done = self.ask("record", self.folder, *options, "--catch", weight, "--yes")
        self.expect(done.returncode == 0, "catch refused", done.stderr)
        return box

    def plant(self):
        stage = self.in_hand()
        box, lot = stage["box"], stage["lot"]
        setting = stage["setting"] or "24"
        if self.random.random() < 0.15:
            setting = f"{float(setting) + self.random.choice((-1, 1)):g}"
        name = self.random.choice(list(AREAS))
        area = AREAS[name] * self.random.choice((0.5, 1.0))
        used = self.rate(box, lot, float(setting)) * self.slip * area
        options = ("--box", box, "--lot", lot, "--setting", setting, "--field", name, "--area-ha", f"{area:g}")
        weights = ("--loaded", f"{used + 5:.2f}", "--left", "5") if self.random.random() < 0.8 else ()
        done = self.ask("plant", self.folder, *options, *weights, "--yes", "--json")
        self.expect(done.returncode == 0, "line refused", done.stderr)
        self.expect(json.loads(done.stdout)["planted"]["setting"] == float(setting), "other setting", done.stdout)
        self.expect(json.loads(done.stdout)["next"] == self.next("plant"), "next of plant", done.stdout)
        return box, lot, setting, name, area

    def take_back_line(self):
        done = self.ask("plant", self.folder, "--undo", "--json")
        if done.returncode == 0:
            self.statements.pop(json.loads(done.stdout)["line"], None)
        return done.returncode

    def check(self, ratio=None):
        ratio = ratio or self.random.choice((0.94, 0.97, 1.0, 1.04))
        before = self.in_hand()
        box, lot = before["box"], before["lot"]
        setting = before["setting"] or "24"
        used = f"{self.rates[box] * ratio * 2:.2f}"
        options = ("--box", box, "--lot", lot, "--setting", setting, "--area-ha", "2", "--used", used)
        done = self.ask("check", self.folder, *options, "--yes", "--json")
        self.expect(done.returncode == 0, "check refused", done.stderr)
        verdict = next(iter(json.loads(done.stdout)["verdicts"]), None)
        after = self.stages()[box, lot]
        if verdict and verdict["answer"] == "leave" and before["reached"] in ("locked", "planted"):
            self.expect(after["reached"] in ("locked", "planted"), "unlocked by a check", verdict, before, after)
            if before["doing"] not in ("move", "weigh"):
                self.expect(after["setting"] == before["setting"], "setting of a check", verdict, before, after)
        return box, lot, setting, ratio, verdict and verdict["answer"]

    def check_out(self):
        return self.check(self.random.choice((0.80, 0.83, 1.2)))

    def check_slip(self):
        return self.check(1.89)

    def take_back_check(self):
        return self.ask("check", self.folder, "--undo").returncode

    def other_rate(self):
        box = self.random.choice(list(LOTS))
        self.rates[box] = RATES[box] * self.random.choice((0.85, 1.0, 1.2))
        self.plan()
        return box, self.rates[box]

    def days_later(self):
        self.day += datetime.timedelta(days=self.random.randint(1, 5))
        return self.day

    def next_season(self):
        self.year += 1
        self.day = self.day.replace(year=self.day.year + 1)
        return self.day

    def new_folder(self):
        self.next_season()
        self.folder = self.top / f"job-{self.year}"
        self.followed = set()
        self.begin('history = ["../job-*/trials.csv"]')
        return self.folder.name

    # what must hold

    @property
    def logged(self):
        return (self.folder / "trials.csv").exists()

    def next(self, name):
        return self.answer(name, self.folder).get("next") if name != "plant" else self.next_of_plant

    @property
    def next_of_plant(self):
        from predictor import read_job

        step = read_job(self.folder, today=self.day).next_step("plant")
        return None if step is None else step.to_dict()

    def same(self, one, other, name):
        for key in COMMON:
            self.expect(one[key] == other[key], f"{name} differs in {key}", one[key], other[key])

    def hold(self):
        """Run every command, and hold what they say against each other."""
        whole = self.answer("plan", self.folder)
        stages = {(each["box"], each["lot"]): each for each in whole["stages"]}
        targets = {place: each["target_catch_g"] for place, each in stages.items()}
        for box in LOTS:
            hand = [each for each in stages.values() if each["box"] == box and each["in_hand"]]
            self.expect(len(hand) == 1, "lots in hand", box, hand)
        commands = ["card"] + ["recommend"] * self.logged + ["check"] * (self.folder / "field.csv").exists()
        for name in commands:
            said = self.ask(
                name, self.folder, "--json", *(("--out", self.folder / "card.html") if name == "card" else ())
            )
            if name == "check" and said.returncode:  # all checks were taken back
                continue
            self.expect(said.returncode == 0, "refused", name, said.stderr)
            said = json.loads(said.stdout)
            for each in said.get("stages", said.get("results")):
                place = each["box"], each["lot"]
                if place in stages:
                    self.same(each.get("stage", each), stages[place], name)
                    target = each["target_catch_g"] if "target_catch_g" in each else each["target"]["catch_g"]
                    self.expect(target == targets[place], "target catch", name, place, target, targets[place])
            if whole["next"] and whole["next"]["step"] not in (name, "card", "load", "plant", "check"):
                self.expect(said["next"] == whole["next"], f"next of {name}", said["next"], whole["next"])
        self.ask("load", self.folder, "--json")
        self.record(stages)
        return stages

    def record(self, stages):
        page = self.ask("report", self.folder, "--out", self.folder / "record.html", "--csv", self.folder / "rows.csv")
        self.expect(page.returncode == 0, "refused", "report", page.stderr)
        words = golden.words((self.folder / "record.html").read_text(encoding="utf-8"))
        card = golden.words((self.folder / "card.html").read_text(encoding="utf-8"))
        for each in stages.values():
            # half a year later the record is still that of the last season, and the rest of the folder of a new one
            if not self.is_over(self.day.isoformat(), self.last_day()):
                self.expect(each["headline"] in words, "headline not in the record", each["headline"])
            if each["in_hand"]:
                # the card names no setting that could be taken for one to plant at
                shown = each["headline"].partition(", NEAREST")[0]
                self.expect(shown in card, "headline not on the card", each["headline"])
        self.frozen(words)

    def frozen(self, words):
        """What was stated of each planted line is stated in the same words ever after."""
        with (self.folder / "rows.csv").open(newline="") as rows:
            planted = [json.dumps(each) for each in csv.DictReader(rows) if each["planted_on"]]
        lines = re.findall(r"^\W*(Line \d+\b.*)$", words, re.MULTILINE)
        lines = [each for each in lines if "|" not in each]
        for number, (row, sentence) in self.statements.items():
            if self.is_over(
                self.last_day(), json.loads(row)["planted_on"]
            ):  # only named in the record of a later season
                continue
            self.expect(row in planted, "row of a planted line changed", number, row, planted)
            self.expect(sentence in lines, "sentence of a planted line changed", number, sentence, lines)
        used = {n: row["date"] for n, row in self.rows("planted.csv") if row["use"] == "yes"}
        used = {n: date for n, date in used.items() if not self.is_over(self.last_day(), date)}
        sentences = {int(re.split(r"\W", each)[1]): each for each in lines}
        self.expect(set(used) == set(sentences), "lines in the record", used, lines)
        self.expect(len(planted) == len(used), "rows of planted lines", used, planted)
        dates = sorted(used, key=lambda n: (used[n], n))
        self.statements |= {n: (row, sentences[n]) for n, row in zip(dates, planted, strict=True)}

    def rows(self, name):
        """The rows of a file of the folder, with their numbers."""
        path = self.folder / name
        if not path.exists():
            return []
        with path.open(newline="") as rows:
            return list(enumerate(csv.DictReader(rows), 2))

    def last_day(self):
        """Day of the last catch, check or line of the folder."""
        tests = [*self.rows("trials.csv"), *((n, each) for n, each in self.rows("field.csv") if each["use"] == "yes")]
        lines = [each for each in self.rows("planted.csv") if each[1]["use"] == "yes"]
        return max((row["date"] for _, row in [*tests, *lines]), default=self.day.isoformat())

    @staticmethod
    def is_over(day, date):
        """Whether a date is of an earlier season than a day."""
        return (datetime.date.fromisoformat(day) - datetime.date.fromisoformat(date)).days > 180


EVENTS = {
    Player.catches: 6,
    Player.catch: 3,
    Player.take_back_catch: 1,
    Player.second_lot: 1,
    Player.plant: 5,
    Player.take_back_line: 1,
    Player.check: 4,
    Player.check_out: 2,
    Player.check_slip: 1,
    Player.take_back_check: 1,
    Player.other_rate: 1,
    Player.days_later: 4,
    Player.next_season: 0.7,
    Player.new_folder: 0.7,
}


def play(run, top, seed, events):
    """A random walk through seasons."""
    player = Player(run, top, random.Random(seed))
    player.hold()
    for _ in range(events):
        (event,) = player.random.choices(list(EVENTS), list(EVENTS.values()))
        player.done.append(event.__name__)
        player.done[-1] = (event.__name__, event(player))
        player.hold()
    return player


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(3))
def test_every_command_tells_one_story_whatever_happens(run, tmp_path, seed):
    play(run, tmp_path, seed, 12)
