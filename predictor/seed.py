"""Seed tags and the planting mix: pure live seed, and the bulk rate each box must drop."""

from __future__ import annotations

import datetime
import os
from dataclasses import asdict, dataclass
from functools import cache
from importlib import resources
from typing import Literal

from predictor.catch import output_for_rate
from predictor.drill import HOLDS, Drill, SeedBox
from predictor.errors import InputError, Problem
from predictor.tables import Cells, near, quoted, read_table
from predictor.units import GRAMS_PER_POUND, KG_PER_HECTARE, LB_PER_ACRE, METRES_PER_FOOT
from predictor.units import SQUARE_METRES_PER_SQUARE_FOOT as FT2

Viable = Literal["germination", "total"]

RATE_COLUMNS = ("pls_rate_lb_ac", "pls_rate_kg_ha", "seeds_per_ft2", "seeds_per_m2")
CARRIER_COLUMNS = ("carrier_lb_ac", "carrier_kg_ha")
COUNT_COLUMNS = ("seeds_per_lb", "seeds_per_g")
WORDS = frozenset({"box", "lot", "species", "test_date", "blend", "kind", "note"})
COLUMNS = WORDS | {"purity_pct", "germination_pct", "dormant_pct"} | set(RATE_COLUMNS + CARRIER_COLUMNS + COUNT_COLUMNS)
REQUIRED = ("box", "lot", "species", "purity_pct", "germination_pct")

# Iowa DOT wants the seed test within nine months of use (materials instruction IM 469.02).
OLDEST_TEST_MONTHS = 9
# Genera whose seed is sold with awns, hairs or fluff unless debearded; common practice, no source.
CHAFFY_GENERA = frozenset(
    "andropogon schizachyrium sorghastrum bouteloua hesperostipa nassella bothriochloa symphyotrichum oligoneuron "
    "liatris asclepias".split()
)


@dataclass(frozen=True)
class LotPlan:
    """One lot of the mix, from its tag to what must be dropped. Rates in grams per square metre.

    Attributes
    ----------
    box, lot, species : str
    blend : str
        Name of the mix it is part of; "" where the lot goes in alone.
    pls, pls_germination, pls_total : float
        Pure live seed by the rule in force, by germination alone, and with dormant or hard seed; fractions.
    pls_rate, bulk_rate, carrier : float
    seeds_per_g : float
        Seeds in a gram of pure seed; NaN where neither file nor table knows.
    seeds_from : str
        "the plan", or the table and species they were taken from.
    test_date : str
    """

    box: str
    lot: str
    species: str
    blend: str
    pls: float
    pls_germination: float
    pls_total: float
    pls_rate: float
    bulk_rate: float
    carrier: float
    seeds_per_g: float
    seeds_from: str
    test_date: str

    @property
    def seeds_per_m2(self) -> float:
        """Pure live seeds per square metre."""
        return self.pls_rate * self.seeds_per_g

    def seeds_per_row_m(self, spacing_m: float) -> float:
        """Pure live seeds per metre of row, for rows `spacing_m` metres apart."""
        return self.seeds_per_m2 * spacing_m

    def to_dict(self) -> dict:
        """Fields by name."""
        return asdict(self)


@dataclass(frozen=True)
class BoxPlan:
    """What one box must drop.

    Attributes
    ----------
    box : SeedBox
    lot : str
        The name its catches carry: the lot, or the blend.
    lots : tuple of LotPlan
    bulk_rate : float
        Seed and carrier, grams per square metre.
    carrier : float
        Carrier alone, grams per square metre.
    target_output : float
        Grams per row per turn of a stationary catch.
    """

    box: SeedBox
    lot: str
    lots: tuple[LotPlan, ...]
    bulk_rate: float
    carrier: float
    target_output: float

    def target_catch_g(self, turns: float, rows: float) -> float:
        """Weight to catch in `turns` turns from `rows` rows, grams."""
        return self.target_output * turns * rows

    def load_g(self, area_m2: float) -> float:
        """Seed and carrier to load for an area of `area_m2` square metres, grams."""
        return self.bulk_rate * area_m2

    @property
    def seeds_per_m2(self) -> float:
        """Pure live seeds of all its lots, per square metre."""
        return sum(lot.seeds_per_m2 for lot in self.lots)


@dataclass(frozen=True)
class Plan:
    """A planting mix, lot by lot and box by box.

    Attributes
    ----------
    lots : tuple of LotPlan
    boxes : tuple of BoxPlan
    viable : {"germination", "total"}
    warnings, assumed : tuple of str
    """

    lots: tuple[LotPlan, ...]
    boxes: tuple[BoxPlan, ...]
    viable: Viable
    warnings: tuple[str, ...]
    assumed: tuple[str, ...]

    def target(self, box: str, lot: str) -> BoxPlan | None:
        """What a box must drop with a lot or blend in it; None where the plan does not say."""
        small = lot.lower()
        return next((each for each in self.boxes if each.box.name == box and each.lot.lower() == small), None)


def pure_live_seed(purity: float, germination: float, dormant: float = 0.0, viable: Viable = "germination") -> float:
    """Fraction of bulk weight that is pure and alive.

    Parameters
    ----------
    purity, germination, dormant : float
        Fractions from the tag; `dormant` counts hard seed too.
    viable : {"germination", "total"}
        Germination alone (Texas DOT; Iowa DOT IM 469.02), or with dormant and hard seed. Agencies differ.

    Returns
    -------
    float

    Examples
    --------
    >>> round(pure_live_seed(0.85, 0.75), 6)
    0.6375
    """
    return purity * (germination + (dormant if viable == "total" else 0.0))


def read_plan(
    path: str | os.PathLike[str],
    drill: Drill,
    *,
    viable: Viable | None = None,
    today: datetime.date | None = None,
    field_factor: float = 1.0,
) -> Plan:
    """Read a planting plan and work out what every box must drop.

    Parameters
    ----------
    path : str or path
        CSV, a row for each lot in each box.
    drill : Drill
    viable : {"germination", "total"}, optional
        Rule for pure live seed; the drill file's where not given.
    today : date, optional
        For the age of the seed tests.
    field_factor : float
        Field rate over stationary rate.

    Returns
    -------
    Plan

    Raises
    ------
    InputError
        All problems of the file.
    """
    rule = viable or drill.viable
    problems: list[Problem] = []
    table = read_table(path, known=COLUMNS, required=REQUIRED, words=WORDS, problems=problems)
    for names in (CARRIER_COLUMNS, COUNT_COLUMNS):
        if all(name in table.columns for name in names):
            problems.append(Problem(f"{' and '.join(names)} say the same thing. Keep one of them.", table.file))
    if not any(name in table.columns for name in RATE_COLUMNS):
        problems.append(Problem(f"A rate is missing. Add one of the columns {', '.join(RATE_COLUMNS)}.", table.file))
    warnings: list[str] = []
    lots = []
    for row in table.rows:
        lot = _lot(Cells(table, row, problems), drill, rule, today or datetime.date.today(), warnings)
        if lot is not None:
            lots.append(lot)
    if not problems:
        _check_blends(lots, table.file, problems)
    if problems:
        raise InputError(sorted(problems, key=lambda problem: problem.line or 0))
    return Plan(tuple(lots), _boxes(lots, drill, field_factor), rule, tuple(warnings), table.assumed)


def _lot(cells: Cells, drill: Drill, rule: Viable, today: datetime.date, warnings: list[str]) -> LotPlan | None:
    """One row of the plan; None with problems noted where it is wrong."""
    before = len(cells.problems)
    box = _box(cells, drill)
    lot, species, blend = cells.text("lot"), cells.text("species"), cells.text("blend")
    purity, germination, dormant = _tag(cells)
    seeds_per_g, seeds_from = _seeds(cells, species)
    rate = _rate(cells, seeds_per_g)
    carrier = 0.0
    for name, factor in zip(CARRIER_COLUMNS, (LB_PER_ACRE, KG_PER_HECTARE), strict=True):
        carrier += (cells.number(name, default=0.0, low=0, high=10_000, what="a rate") or 0.0) * factor
    test_date = cells.date("test_date")
    kind = cells.text("kind").lower()
    if kind and kind not in HOLDS:
        cells.wrong("kind", f"{quoted(kind)} is none of {', '.join(HOLDS)}.")
    if len(cells.problems) > before or box is None or rate is None:
        return None
    parts = (purity / 100, germination / 100, dormant / 100)
    pls = pure_live_seed(*parts, viable=rule)
    warnings.extend(_age(lot, test_date, today))
    chaffy = kind == "chaffy" if kind else _genus(species) in CHAFFY_GENERA
    if chaffy and box.holds != "chaffy":
        warnings.append(
            f"Lot {lot} ({species}) is chaffy seed and box {box.name} is for {box.holds} seed: it may bridge there. Use the "
            'chaffy box, or write free-flowing in the column "kind" if the lot is debearded.'
        )
    return LotPlan(
        box.name,
        lot,
        species,
        blend,
        pls,
        pure_live_seed(*parts),
        pure_live_seed(*parts, viable="total"),
        rate,
        rate / pls,
        carrier,
        seeds_per_g,
        seeds_from,
        test_date,
    )


def _box(cells: Cells, drill: Drill) -> SeedBox | None:
    name = cells.text("box")
    found = next((box for box in drill.boxes if box.name.lower() == name.lower()), None)
    if found is None and name:
        meant = near(name, [box.name for box in drill.boxes])
        hint = f"Did you mean {meant}?" if meant else f"Its boxes are {', '.join(b.name for b in drill.boxes)}."
        cells.wrong("box", f"The drill has no box {quoted(name)}. {hint}")
    return found


def _tag(cells: Cells) -> tuple[float, float, float]:
    """Purity, germination and dormant seed, per cent."""
    values = []
    for name, default in (("purity_pct", None), ("germination_pct", None), ("dormant_pct", 0.0)):
        value = cells.number(name, default=default, low=0, high=100, what="a percentage")
        if value is not None and 0 < value < 1 and name != "dormant_pct":
            cells.wrong(name, f"{value:g} looks like a fraction. Write per cent: {100 * value:g}.")
        values.append(value)
    purity, germination, dormant = (0.0 if value is None else value for value in values)
    if germination + dormant > 100:
        cells.wrong("dormant_pct", f"Germination {germination:g} and dormant {dormant:g} add to more than 100. Read the tag again.")
    if values[0] == 0 or values[1] == 0:
        cells.wrong("purity_pct" if values[0] == 0 else "germination_pct", "At 0 per cent nothing would grow. Read the tag again.")
    return purity, germination, dormant


def _seeds(cells: Cells, species: str) -> tuple[float, str]:
    """Seeds in a gram and where the figure is from; NaN where nobody knows."""
    for name, grams in zip(COUNT_COLUMNS, (GRAMS_PER_POUND, 1.0), strict=True):
        value = cells.number(name, above=0, high=1e8, what="a count")
        if value is not None:
            return value / grams, "the plan"
    found = seeds_per_pound(species)
    if found is None:
        return float("nan"), "unknown"
    return found[1] / GRAMS_PER_POUND, f"the USDA PLANTS table ({found[0]}, {found[1]:,} a lb)"


def _rate(cells: Cells, seeds_per_g: float) -> float | None:
    """Wanted pure live seed, grams per square metre."""
    filled = [name for name in RATE_COLUMNS if cells.text(name)]
    if len(filled) != 1:
        found = " and ".join(filled) if filled else "none"
        cells.wrong(None, f"Each row needs exactly one of {', '.join(RATE_COLUMNS)}; found {found}.")
        return None
    name = filled[0]
    value = cells.number(name, above=0, high=100_000, what="a rate")
    if value is None:
        return None
    if name.startswith("pls"):
        return value * (LB_PER_ACRE if name.endswith("lb_ac") else KG_PER_HECTARE)
    if seeds_per_g != seeds_per_g:
        species = cells.text("species")
        meant = near(species, list(_table()), 0.7)
        hint = f" Did you mean {meant}?" if meant else ""
        cells.wrong(
            "species",
            f"How many seeds of {quoted(species)} make a pound is not in the shipped table.{hint} "
            "Write it in the column seeds_per_lb.",
        )
        return None
    return value / (FT2 if name == "seeds_per_ft2" else 1.0) / seeds_per_g


def _age(lot: str, test_date: str, today: datetime.date) -> list[str]:
    """Warnings about the date of a seed test."""
    if not test_date:
        return []
    tested = datetime.date.fromisoformat(test_date)
    if tested > today:
        return [f"Lot {lot}: the seed test is dated {test_date}, after today. Read the tag again."]
    months = (today.year - tested.year) * 12 + today.month - tested.month - (today.day < tested.day)
    if months >= OLDEST_TEST_MONTHS:
        return [
            f"Lot {lot}: its seed test is {months} months old ({test_date}). Many programmes want one within "
            f"{OLDEST_TEST_MONTHS} months of use: ask for a new test."
        ]
    return []


def _check_blends(lots: list[LotPlan], file: str, problems: list[Problem]) -> None:
    """A box holds one lot, or one named blend, at a time; several are several fillings of the same box."""
    names: dict[tuple[str, str], set[str]] = {}
    for lot in lots:
        names.setdefault((lot.box, (lot.blend or lot.lot).lower()), set()).add("blend" if lot.blend else "lot")
        if lot.blend == "" and sum(each.lot == lot.lot and each.box == lot.box for each in lots) > 1:
            problems.append(
                Problem(f"Lot {lot.lot} stands twice in box {lot.box}. Keep one row, or name a blend.", file, None, "lot")
            )
    for box in {lot.box for lot in lots}:
        alone = {lot.lot for lot in lots if lot.box == box and not lot.blend}
        if len(alone) > 1:
            problems.append(
                Problem(
                    f"Box {box} holds several lots ({', '.join(sorted(alone))}). Give those mixed in it the same name in the "
                    "column blend; their catches carry that name as lot.",
                    file,
                    None,
                    "blend",
                )
            )


def _boxes(lots: list[LotPlan], drill: Drill, field_factor: float) -> tuple[BoxPlan, ...]:
    """Lots gathered by box and blend, in the drill's order of boxes."""
    plans = []
    for box in drill.boxes:
        mine: dict[str, list[LotPlan]] = {}
        for lot in lots:
            if lot.box == box.name:
                mine.setdefault(lot.blend or lot.lot, []).append(lot)
        for name, members in mine.items():
            carrier = sum(member.carrier for member in members)
            bulk = sum(member.bulk_rate for member in members) + carrier
            plans.append(BoxPlan(box, name, tuple(members), bulk, carrier, output_for_rate(bulk, drill, field_factor)))
    return tuple(plans)


@cache
def _table() -> dict[str, tuple[str, int, str]]:
    """Every name of a species, small letters, to its common name, seeds in a pound and genus."""
    import csv

    text = resources.files("predictor").joinpath("data/seeds_per_pound.csv").read_text(encoding="utf-8")
    rows = csv.DictReader(line for line in text.splitlines() if not line.startswith("#"))
    names: dict[str, tuple[str, int, str]] = {}
    for row in rows:
        words = row["scientific_name"].split()
        value = (row["common_name"], int(row["seeds_per_lb"]), words[0].lower())
        for name in (row["common_name"], row["scientific_name"], " ".join(words[:2]), row["symbol"]):
            names.setdefault(name.lower(), value)
    return names


def _genus(species: str) -> str:
    """Genus of a species by any of its names, small letters; the first word where the table does not know it."""
    words = " ".join(species.lower().split())
    return _table()[words][2] if words in _table() else words.partition(" ")[0]


def seeds_per_pound(species: str) -> tuple[str, int] | None:
    """Common name and seeds in a pound of a species, from the shipped table.

    Parameters
    ----------
    species : str
        Common name, scientific name or symbol; capitals do not matter.

    Returns
    -------
    (str, int) or None

    References
    ----------
    USDA NRCS PLANTS Database, "Seed per Pound": a starting value, overridden by a counted sample of the lot.

    Examples
    --------
    >>> seeds_per_pound("Panicum virgatum")
    ('switchgrass', 259000)
    """
    found = _table().get(" ".join(species.lower().split()))
    return None if found is None else found[:2]


def seeds_per_row_foot(seeds_per_row_m: float) -> float:
    """Seeds per foot of row from seeds per metre of row."""
    return seeds_per_row_m * METRES_PER_FOOT
