"""Two seasons acted from the tags to the record, in US and in metric units.

Every figure of the record is worked out again here, from the files as they were written and the seed that went out of
the boxes. Nothing of the program is used for that: only exact factors between units, and physics made up for this test.
"""

from __future__ import annotations

import csv
import datetime
import html
import json
import re
from dataclasses import dataclass, field, replace

import numpy as np
import pytest

from tests import running

# Exact by definition: the international pound, acre and foot.
GRAMS_LB, M2_ACRE, M_FT = 453.59237, 4046.8564224, 0.3048
TURNS, ROWS_CAUGHT, DRILL_ROWS = 30, 3, 10
SPACING_M, WHEEL_M = 0.2, 2.2


@dataclass(frozen=True)
class Units:
    """How one country writes weights and areas."""

    name: str
    weight: str
    area: str
    grams: float
    m2: float

    def weighed(self, grams: float) -> str:
        """A weight as a hanging scale shows it, in small enough steps not to matter."""
        return f"{grams / self.grams:.2f}"

    def acres(self, m2: float) -> str:
        return f"{m2 / self.m2:.3f}"


US = Units("us", "lb", "ac", GRAMS_LB, M2_ACRE)
METRIC = Units("metric", "kg", "ha", 1000.0, 10_000.0)


@dataclass(frozen=True)
class Tag:
    """A lot as its tag has it, with its bulk rate in grams per square metre worked out from it."""

    lot: str
    species: str
    pls_rate: float  # g/m2
    purity: float
    germination: float
    seeds_per_g: float
    blend: str = ""

    @property
    def pls(self) -> float:
        return self.purity * self.germination

    @property
    def bulk(self) -> float:
        return self.pls_rate / self.pls


@dataclass
class World:
    """The shed and the fields: what the boxes really drop, and what really lies in them."""

    units: Units
    rng: np.random.Generator
    # grams per row per turn against the setting: a bend, a dead setting and a level for each lot, none of them the
    # program's own kind of curve
    lots: dict[str, tuple[float, float, float]] = field(
        default_factory=lambda: {
            "CW-1": (0.0200, 3.0, 1.12),
            "VW-2": (0.0240, 3.0, 1.12),
            "CW-3": (0.0215, 3.0, 1.12),
            "forb mix": (0.0350, 1.5, 0.95),
            "forb mix 26": (0.0310, 1.5, 0.95),
        }
    )
    scatter: float = 0.03

    def output(self, lot: str, setting: float) -> float:
        """True output, grams per row per turn."""
        level, dead, bend = self.lots[lot]
        return level * max(setting - dead, 0.0) ** bend

    def catch(self, lot: str, setting: float) -> str:
        """A catch as the scale shows it."""
        true = self.output(lot, setting) * TURNS * ROWS_CAUGHT
        return f"{true * float(np.exp(self.scatter * self.rng.standard_normal())):.1f}"


def told(done) -> str:
    assert done.returncode == 0, done.stderr + done.stdout
    return done.stdout


def write_job(folder, units: Units, boxes: dict[str, list[Tag]], carrier: dict[str, float], history: str = "") -> None:
    """drill.toml and plan.csv, with two fields of 9 and 6 acres."""
    folder.mkdir(parents=True)
    spacing = "row_spacing_in = 7.874015748" if units is US else "row_spacing_cm = 20"
    wheel = (
        f"rolling_circumference_ft = {WHEEL_M / M_FT:.9f}" if units is US else f"rolling_circumference_m = {WHEEL_M}"
    )
    areas = [f'[[field]]\nname = "{name}"\narea_{units.area} = {units.acres(m2)}\n' for name, m2 in FIELDS.items()]
    (folder / "drill.toml").write_text(
        f'name = "Made-up barn drill"\nrows = {DRILL_ROWS}\n{spacing}\n{wheel}\n{history}\n'
        f"[catch]\nturns = {TURNS}\nrows = {ROWS_CAUGHT}\ncharge_turns = 5\nscale_resolution_g = 0.1\n\n"
        '[[box]]\nname = "grain"\nholds = "free-flowing"\ncontrol = "lever"\nlowest = 0\nhighest = 60\nstep = 1\n'
        f"full_{units.weight} = {units.weighed(60 * GRAMS_LB)}\n\n"
        '[[box]]\nname = "small"\nholds = "small"\ncontrol = "lever"\nlowest = 0\nhighest = 40\nstep = 0.5\n'
        f"full_{units.weight} = {units.weighed(40 * GRAMS_LB)}\n\n" + "\n".join(areas)
    )
    per = f"{units.weight}_{units.area}"
    count = "seeds_per_lb" if units is US else "seeds_per_g"
    rows = [f"box,lot,species,pls_rate_{per},purity_pct,germination_pct,{count},blend,carrier_{per}"]
    for box, tags in boxes.items():
        for k, tag in enumerate(tags):
            seeds = tag.seeds_per_g * (GRAMS_LB if units is US else 1)
            mixed = f"{carrier[box] * units.m2 / units.grams:.6f}" if box in carrier and k == 0 else ""
            rate = tag.pls_rate * units.m2 / units.grams
            rows.append(
                f"{box},{tag.lot},{tag.species},{rate:.6f},{100 * tag.purity:g},{100 * tag.germination:g},{seeds:.4f},"
                f"{tag.blend},{mixed}"
            )
    (folder / "plan.csv").write_text("\n".join(rows) + "\n")


FIELDS = {"north": 9 * M2_ACRE, "south": 6 * M2_ACRE}
WILDRYE = Tag("CW-1", "Canada wildrye", 0.30, 0.93, 0.86, 240.0)
SECOND = Tag("VW-2", "Virginia wildrye", 0.32, 0.95, 0.82, 150.0)
CLOVER = Tag("PC-1", "purple prairie clover", 0.10, 0.97, 0.70, 640.0, "forb mix")
SUSAN = Tag("BS-1", "blackeyed Susan", 0.03, 0.92, 0.80, 3400.0, "forb mix")
CARRIER = 0.20
FIRST_YEAR = {"CW-1": [WILDRYE], "VW-2": [SECOND], "forb mix": [CLOVER, SUSAN]}
NEW = Tag("CW-3", "Canada wildrye", 0.30, 0.94, 0.88, 240.0)
TARGETS = {
    "CW-1": WILDRYE.bulk,
    "VW-2": SECOND.bulk,
    "CW-3": NEW.bulk,
    "forb mix": CLOVER.bulk + SUSAN.bulk + CARRIER,
}


def calibrate(run, world: World, folder, box: str, lot: str, day: str) -> float:
    """Catch as the program asks until it says lock; return the setting."""
    answer = {"decision": "", "setting": None}
    plan = json.loads(told(run("plan", folder, "--json")))
    first = next(each for each in plan["boxes"] if (each["box"], each["lot"]) == (box, lot))["first_setting"]
    setting = float(first)
    for _ in range(15):
        done = run("record", folder, "--box", box, "--lot", lot, "--setting", f"{setting:g}", "--on", day, "--yes",
                   "--catch", world.catch(lot, setting), "--turns", TURNS, "--rows", ROWS_CAUGHT, "--json")  # fmt: skip
        answer = json.loads(told(done))["results"][0]
        if answer["decision"] == "lock":
            return float(answer["setting"])
        setting = float(answer["setting"])
    raise AssertionError(answer)


@dataclass
class Ledger:
    """What the test itself knows to have gone out of the boxes: lot, field, square metres, grams."""

    lines: list[tuple[str, str, str, float, float, float]] = field(default_factory=list)

    def plant(self, run, folder, units, box, lot, setting, place, m2, rate, day, *, left=GRAMS_LB) -> dict:
        """Plant so much ground at a true rate, and tell the program as a technician would."""
        used = rate * m2
        loaded, rest = units.weighed(used + left), units.weighed(left)
        done = run("plant", folder, "--box", box, "--lot", lot, "--setting", f"{setting:g}", "--field", place,
                   f"--area-{units.area}", units.acres(m2), "--loaded", loaded, "--left", rest, "--on", day,
                   "--yes", "--json")  # fmt: skip
        # what the scale showed is what the record can know
        weighed = (float(loaded) - float(rest)) * units.grams
        self.lines.append((box, lot, place, setting, float(units.acres(m2)) * units.m2, weighed))
        return json.loads(told(done))

    def used(self, lot: str) -> float:
        return sum(grams for _, each, _, _, _, grams in self.lines if each == lot)

    def area(self, lot: str) -> float:
        return sum(m2 for _, each, _, _, m2, _ in self.lines if each == lot)


def check(run, folder, units, box, lot, setting, m2, rate, day, *extra) -> dict:
    """A field check over so much ground at a true rate."""
    used, left = rate * m2, 2 * GRAMS_LB
    done = run("check", folder, "--box", box, "--lot", lot, "--setting", f"{setting:g}", f"--area-{units.area}",
               units.acres(m2), "--loaded", units.weighed(used + left), "--left", units.weighed(left), "--on", day,
               "--yes", "--json", *extra)  # fmt: skip
    return json.loads(told(done))


def verdict(found: dict, box: str, lot: str) -> dict:
    return next(each for each in found["verdicts"] if each["box"] == box and each["lot"] == lot)


def tables_of(run, folder) -> dict[str, list[dict[str, str]]]:
    """The tables of the season's record by the head of their section, each row as a dict."""
    page = folder / "record.html"
    told(run("report", folder, "--out", page))
    found: dict[str, list[dict[str, str]]] = {}
    for part in re.split(r"<h[23][^>]*>", page.read_text(encoding="utf-8"))[1:]:
        head, rest = part.split("</h", 1)
        for table in re.findall(r"<table.*?</table>", rest, re.DOTALL):
            rows = [[_plain(cell) for cell in re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row, re.DOTALL)]
                    for row in re.findall(r"<tr.*?</tr>", table, re.DOTALL)]  # fmt: skip
            caption = re.search(r"<caption[^>]*>(.*?)</caption>", table, re.DOTALL)
            name = _plain(caption[1]) if caption else _plain(head)
            found[name] = [dict(zip(rows[0], row, strict=True)) for row in rows[1:]]
    return found


def _plain(markup: str) -> str:
    return html.unescape(re.sub(r"<[^>]+>", "", markup)).strip()


def shown(text: str) -> object:
    """A figure as it is printed, held to half its last digit."""
    number = text.replace(",", "")
    decimals = len(number.partition(".")[2])
    return pytest.approx(float(number), abs=0.5000001 * 10**-decimals)


def the_record_is_right(run, folder, units: Units, ledger: Ledger, tags: dict[str, list[Tag]]) -> None:
    """The record's amounts against those of the ledger, worked out again by hand."""
    tables = tables_of(run, folder)
    unit = f"{units.weight}/{units.area}"
    lines = tables["Planted, field by field"]
    assert len(lines) == len(ledger.lines)
    for row, (box, lot, place, setting, m2, used) in zip(lines, ledger.lines, strict=True):
        assert (row["Box"], row["Lot"], row["Field"], row["Setting"]) == (box, lot, place, f"{setting:g}")
        assert m2 / units.m2 == shown(row[f"Area {units.area}"])
        assert used / units.grams == shown(row[f"Used {units.weight}"])
        assert used / m2 * units.m2 / units.grams == shown(row[f"Rate {unit}"])
        assert 100 * used / m2 / TARGETS[lot] == shown(row["% of target"])
    live: dict[str, tuple[float, float, float]] = {}
    totals = {row["Lot"]: row for row in tables["Seed used"]}
    for lot, bags in tags.items():
        used, m2 = ledger.used(lot), ledger.area(lot)
        whole = sum(each.bulk for each in bags) + (CARRIER if bags[0].blend else 0.0)
        for tag in bags:
            weight = used * tag.bulk / whole
            assert weight / units.grams == shown(totals[tag.lot][f"Used {units.weight}"])
            assert weight * tag.pls / units.grams == shown(totals[tag.lot][f"PLS {units.weight}"])
            before = live.get(tag.species, (0.0, 0.0, 0.0))
            new = (m2, weight * tag.pls, weight * tag.pls * tag.seeds_per_g)
            live[tag.species] = tuple(a + b for a, b in zip(before, new, strict=True))
    species = {row["Species"]: row for row in tables["Live seed planted"]}
    assert species.keys() == live.keys()
    feet = M_FT**2 if units is US else 1.0
    for name, (m2, pls, seeds) in live.items():
        assert pls / units.grams == shown(species[name][f"PLS {units.weight}"])
        per = "ft2" if units is US else "m2"
        assert seeds / m2 * feet == shown(species[name][f"Live seeds/{per}"])


def table_of(run, folder) -> list[dict[str, str]]:
    """The record as a table."""
    file = folder / "settings.csv"
    told(run("report", folder, "--csv", file))
    return list(csv.DictReader(file.read_text(encoding="utf-8").splitlines()))


@pytest.mark.slow  # some fifty commands each
@pytest.mark.parametrize("units", [US, METRIC], ids=lambda each: each.name)
def test_two_seasons_from_the_tags_to_the_record(run, tmp_path, monkeypatch, units):
    def on(day: str) -> str:
        """The day on which the commands that follow are run."""
        monkeypatch.setattr(running, "TODAY", datetime.date.fromisoformat(day))
        return day

    world, ledger = World(units, np.random.default_rng(14)), Ledger()
    folder = tmp_path / "2025"
    boxes = {"grain": [WILDRYE, SECOND], "small": [CLOVER, SUSAN]}
    write_job(folder, units, boxes, {"small": CARRIER})

    # the plan, by hand: bulk rate over the ground of the catch
    plan = json.loads(told(run("plan", folder, "--json")))
    ground = TURNS * WHEEL_M * SPACING_M * ROWS_CAUGHT
    for each in plan["boxes"]:
        assert each["target_catch_g"] == pytest.approx(TARGETS[each["lot"]] * ground, rel=1e-6)

    # the first lot of each box is calibrated to its lock
    day = on("2025-11-03")
    grain = calibrate(run, world, folder, "grain", "CW-1", day)
    small = calibrate(run, world, folder, "small", "forb mix", day)
    for box, lot, setting in (("grain", "CW-1", grain), ("small", "forb mix", small)):
        off = world.output(lot, setting) / (SPACING_M * WHEEL_M) / TARGETS[lot]
        assert abs(off - 1) < 0.10, (box, setting, off)

    # in the north field the grain box gives 83 % of its target: it is moved, the small box gives 94 % and is left
    day, north, south = on("2025-11-05"), FIELDS["north"], FIELDS["south"]
    rate = 0.83 * TARGETS["CW-1"]
    ledger.plant(run, folder, units, "grain", "CW-1", grain, "north", 2 * M2_ACRE, rate, day)
    found = verdict(check(run, folder, units, "grain", "CW-1", grain, 2 * M2_ACRE, rate, day), "grain", "CW-1")
    assert found["answer"] == "move"
    moved = float(found["move_to"])
    rate *= world.output("CW-1", moved) / world.output("CW-1", grain)
    assert abs(rate / TARGETS["CW-1"] - 1) < 0.10
    found = verdict(check(run, folder, units, "small", "forb mix", small, 2 * M2_ACRE, 0.94 * TARGETS["forb mix"], day),
                    "small", "forb mix")  # fmt: skip
    assert found["answer"] == "leave"
    assert found["ratio_lower"] < 0.94 < found["ratio_upper"]

    # the small box stays locked where it was: every command says so
    told_now = told(run("recommend", folder))
    assert re.search(rf"small.*LEAVE IT AT +{small:g}\b", told_now)
    assert re.search(rf"grain.*MOVE FROM {grain:g} TO {moved:g} FOR THE REST", told_now)

    ledger.plant(run, folder, units, "grain", "CW-1", moved, "north", north - 2 * M2_ACRE, rate, day)
    ledger.plant(run, folder, units, "small", "forb mix", small, "north", north, 0.94 * TARGETS["forb mix"], day)
    found = verdict(check(run, folder, units, "grain", "CW-1", moved, 3 * M2_ACRE, rate, day), "grain", "CW-1")
    assert found["answer"] == "leave"

    # a slip: the area of half the ground is written down; it is asked about and enters nothing
    before = json.loads(told(run("check", folder, "--json")))["boxes"]
    found = verdict(check(run, folder, units, "small", "forb mix", small, M2_ACRE, 1.89 * TARGETS["forb mix"], day),
                    "small", "forb mix")  # fmt: skip
    assert found["answer"] == "weigh"
    assert json.loads(told(run("check", folder, "--json")))["boxes"] == before
    told(run("check", folder, "--undo"))

    # in the south the first lot runs out, and the second is calibrated and planted
    day = on("2025-11-06")
    ledger.plant(run, folder, units, "grain", "CW-1", moved, "south", 2.5 * M2_ACRE, rate, day, left=0.0)
    second = calibrate(run, world, folder, "grain", "VW-2", day)
    field_rate = 0.93 * world.output("VW-2", second) / (SPACING_M * WHEEL_M)
    ledger.plant(run, folder, units, "grain", "VW-2", second, "south", south - 2.5 * M2_ACRE, field_rate, day)
    answer = ledger.plant(
        run, folder, units, "small", "forb mix", small, "south", south, 0.95 * TARGETS["forb mix"], day
    )
    assert answer

    the_record_is_right(run, folder, units, ledger, FIRST_YEAR)
    stated = [row for row in table_of(run, folder) if row["planted_on"]]
    page = " ".join(_plain((folder / "record.html").read_text(encoding="utf-8")).split())
    assert "A field check of this lot said to move the box for the rest." in page

    # a later look, other rates and other tags change nothing that was planted
    plan_file = folder / "plan.csv"
    kept = plan_file.read_text()
    plan_file.write_text(kept.replace("93,86", "91,60"))
    the_record_is_right(run, folder, units, ledger, FIRST_YEAR)
    assert [row for row in table_of(run, folder) if row["planted_on"]] == stated
    plan_file.write_text(kept)

    # the next year: the second lot's left-over bags and a new lot; last year's log is found by drill.toml
    on("2026-11-09")
    next_year = tmp_path / "2026"
    blend = [replace(each, blend="forb mix 26") for each in (CLOVER, SUSAN)]
    write_job(next_year, units, {"grain": [SECOND, NEW], "small": blend}, {"small": CARRIER},
              history='history = ["../*/trials.csv"]')  # fmt: skip
    plan = {each["lot"]: each for each in json.loads(told(run("plan", next_year, "--json")))["boxes"]}
    # the same bags: their first setting is near the one that would be right
    first, target = plan["VW-2"]["first_setting"], plan["VW-2"]["target_catch_g"]
    assert abs(world.output("VW-2", first) * TURNS * ROWS_CAUGHT / target - 1) < 0.12, first
    again = Ledger()
    for lot, place in (("VW-2", "north"), ("CW-3", "south")):
        setting = calibrate(run, world, next_year, "grain", lot, on("2026-11-10"))
        target = plan[lot]["target_catch_g"] / (TURNS * ROWS_CAUGHT)
        assert abs(world.output(lot, setting) / target - 1) < 0.10
        rate = 0.93 * world.output(lot, setting) / (SPACING_M * WHEEL_M)
        again.plant(run, next_year, units, "grain", lot, setting, place, FIELDS[place], rate, on("2026-11-12"))
    the_record_is_right(run, next_year, units, again, {"VW-2": [SECOND], "CW-3": [NEW]})
    # and the first year's record has not moved
    the_record_is_right(run, folder, units, ledger, FIRST_YEAR)
