"""Reads plan.csv: the lots of a planting mix, and what they make each box drop."""

from __future__ import annotations

import datetime
import os
from typing import NamedTuple

from predictor.domain import species as species_table
from predictor.domain.drill import HOLDS, Drill, SeedBox
from predictor.domain.result import Remark
from predictor.domain.seed import VIABLE, LotPlan, Plan, Viable, box_plans, pure_live_seed
from predictor.errors import InputError, Problem
from predictor.files.cells import Cells, near
from predictor.files.table import read_table
from predictor.numbers import quoted
from predictor.units import GRAMS_PER_POUND, KG_PER_HECTARE, LB_PER_ACRE, SQUARE_METRES_PER_SQUARE_FOOT

# Columns of a rate, with the largest that can be meant: several times the heaviest mixes, common practice.
RATE_COLUMNS = {
    "pls_rate_lb_ac": 500.0,
    "pls_rate_kg_ha": 560.0,
    "seeds_per_ft2": 5_000.0,
    "seeds_per_m2": 50_000.0,
}
# Grams per square metre in one unit of the column.
CARRIER_COLUMNS = {"carrier_lb_ac": LB_PER_ACRE, "carrier_kg_ha": KG_PER_HECTARE}
# Grams in the unit of the count, and the counts between the largest and the smallest seeds sown with a drill.
COUNT_COLUMNS = {"seeds_per_lb": (GRAMS_PER_POUND, 100.0, 5e7), "seeds_per_g": (1.0, 0.2, 1e5)}
WORDS = frozenset({"box", "lot", "species", "test_date", "blend", "kind", "note"})
COLUMNS = WORDS | {
    "purity_pct",
    "germination_pct",
    "dormant_pct",
    "hard_pct",
    *RATE_COLUMNS,
    *CARRIER_COLUMNS,
    *COUNT_COLUMNS,
}
REQUIRED = ("box", "lot", "species", "purity_pct", "germination_pct")

# Iowa DOT wants the seed test within nine months of use (materials instruction IM 469.02, read).
OLDEST_TEST_MONTHS = 9
# Below this a slip on the tag is likelier than a lot worth sowing; the poorest of a published mix has 0.19
# (Colorado DRMS, record 493681 p. 15, read). Where the line is drawn is common practice.
LEAST_PLS = 0.10
# Agencies' counts of one species differ by tens of per cent; more than this is a slip of zeros or units.
MOST_COUNT_RATIO = 3.0


def read_plan(
    path: str | os.PathLike[str],
    drill: Drill,
    *,
    viable: Viable | None = None,
    today: datetime.date | None = None,
) -> Plan:
    """Read a planting plan and work out what every box must drop.

    Parameters
    ----------
    path : str or path
        CSV, a row for each lot in each box; "-" reads standard input.
    drill : Drill
    viable : {"germination", "total"}, optional
        Rule for pure live seed; the drill's where not given.
    today : date, optional
        For the age of the seed tests.

    Returns
    -------
    Plan

    Raises
    ------
    InputError
        All problems of the file.
    ValueError
        A rule that cannot be.

    Examples
    --------
    >>> import predictor
    >>> drill = predictor.read_drill("sample_trials/drill.toml")
    >>> plan = predictor.read_plan("sample_trials/plan.csv", drill)
    >>> [(each.box.name, each.lot) for each in plan.boxes]
    [('chaffy', 'tall mix'), ('grain', 'CW-26'), ('small', 'forb mix')]
    """
    rule = viable or drill.viable
    if rule not in VIABLE:
        raise ValueError(f'viable is "germination" or "total"; got {rule!r}.')
    problems: list[Problem] = []
    table = read_table(path, known=COLUMNS, required=REQUIRED, words=WORDS, problems=problems)
    problems.extend(
        Problem(f"{' and '.join(names)} say the same thing. Keep one of them.", table.file)
        for names in (CARRIER_COLUMNS, COUNT_COLUMNS)
        if all(name in table.columns for name in names)
    )
    rated = any(name in table.columns for name in RATE_COLUMNS)
    if not rated:
        rates = ", ".join(RATE_COLUMNS)
        problems.append(Problem(f"There is no rate. Add one of the columns {rates}.", table.file))
    remarks: list[Remark] = []
    lines: list[int] = []
    lots: list[LotPlan] = []
    for row in table.rows:
        lot = _lot(Cells(table, row, problems), drill, rule, rated, today or datetime.date.today(), remarks)
        if lot is not None:
            lots.append(lot)
            lines.append(row.line)
    _check_boxes(lots, lines, drill, table.file, problems, remarks)
    if problems:
        raise InputError(sorted(problems, key=lambda problem: problem.line or 0))
    return Plan(tuple(lots), box_plans(lots, drill), rule, tuple(remarks), table.assumed, table.digest)


class _Tag(NamedTuple):
    """Fractions of a tag's analysis."""

    purity: float
    germination: float
    dormant: float


class _Seeds(NamedTuple):
    """Seeds in a gram, where the figure is from, and the species of the table."""

    per_g: float
    source: str
    table: str


def _lot(
    cells: Cells, drill: Drill, rule: Viable, rated: bool, today: datetime.date, remarks: list[Remark]
) -> LotPlan | None:
    """One row of the plan; None with problems noted where it is wrong."""
    before = len(cells.problems)
    box = _box(cells, drill)
    lot, species, blend = cells.text("lot"), cells.text("species"), cells.text("blend")
    tag = _tag(cells, rule)
    seeds = _seeds(cells, lot, species, remarks)
    rate = _rate(cells, lot, species, seeds, remarks) if rated else None
    carrier = 0.0
    for name, factor in CARRIER_COLUMNS.items():
        carrier += (cells.number(name, default=0.0, low=0, high=1000, what="a rate") or 0.0) * factor
    test_date = cells.date("test_date")
    kind = cells.text("kind").lower().replace(" ", "-")
    if kind and kind not in HOLDS:
        cells.wrong("kind", f"{quoted(kind)} is none of {', '.join(HOLDS)}. Write one of them, or nothing.")
    if len(cells.problems) > before or box is None or tag is None or rate is None:
        return None
    if not seeds.source:
        remarks.append(Remark("plan.no_count", {"lot": lot, "species": species}))
    remarks.extend(_test_age(lot, test_date, today))
    remarks.extend(_poor_tag(lot, tag, rule))
    if box.holds != "chaffy" and (kind == "chaffy" if kind else species_table.is_chaffy(species)):
        found = {"lot": lot, "species": species, "box": box.name, "holds": box.holds}
        remarks.append(Remark(f"plan.{'chaffy' if kind else 'may_be_chaffy'}", found))
    pls = pure_live_seed(*tag, viable=rule)
    return LotPlan(
        box=box.name,
        lot=lot,
        species=species,
        blend=blend,
        pls=pls,
        pls_germination=pure_live_seed(*tag),
        pls_total=pure_live_seed(*tag, viable="total"),
        purity=tag.purity,
        germination=tag.germination,
        dormant=tag.dormant,
        pls_rate=rate,
        bulk_rate=rate / pls,
        carrier=carrier,
        seeds_per_g=seeds.per_g,
        seeds_from=seeds.source,
        table_species=seeds.table,
        test_date=test_date,
    )


def _box(cells: Cells, drill: Drill) -> SeedBox | None:
    name = cells.text("box")
    found = next((box for box in drill.boxes if box.name.lower() == name.lower()), None)
    if found is None and name:
        meant = near(name, [box.name for box in drill.boxes])
        hint = f"Did you mean {meant}?" if meant else f"Its boxes are {', '.join(b.name for b in drill.boxes)}."
        cells.wrong("box", f"The drill has no box {quoted(name)}. {hint}")
    return found


def _tag(cells: Cells, rule: Viable) -> _Tag | None:
    """Fractions of the tag; None with problems noted where it cannot be."""
    before = len(cells.problems)
    names = ("purity_pct", "germination_pct", "dormant_pct", "hard_pct")
    defaults = (None, None, 0.0, 0.0)
    values = [
        cells.number(name, default=default, low=0, high=100, what="a percentage")
        for name, default in zip(names, defaults, strict=True)
    ]
    if len(cells.problems) > before or None in values:
        return None
    # 0.5 % dormant seed is common, and a lot with 0.5 % of live seed is not sold
    fractions = any(0 < value <= 1 for value in values[:2])
    for name, value in zip(names, values, strict=True):
        if fractions and 0 < value <= 1:
            cells.wrong(name, f"{value:g} looks like a fraction. Per cent is meant: write {100 * value:g}.")
    purity, germination, dormant = values[0], values[1], values[2] + values[3]
    if germination + dormant > 100:
        cells.wrong(
            "dormant_pct",
            f"Germination {germination:g} and dormant {dormant:g} add to more than 100. Read the tag again; "
            "if its total of both stands here as germination, write germination alone.",
        )
    tag = _Tag(purity / 100, germination / 100, dormant / 100)
    if purity == 0:
        cells.wrong("purity_pct", "At 0 per cent there is no seed in the bag. Read the tag again.")
    elif pure_live_seed(*tag, viable=rule) == 0:
        hint = ' By the rule "total" its dormant seed would count.' if dormant else ""
        cells.wrong("germination_pct", f"At 0 per cent no seed is alive. Read the tag again.{hint}")
    return tag if len(cells.problems) == before else None


def _seeds(cells: Cells, lot: str, species: str, remarks: list[Remark]) -> _Seeds:
    """Seeds in a gram; NaN where neither the file nor the table knows."""
    known = species_table.find(species)
    table = known.common_name if known else ""
    for name, (grams, low, high) in COUNT_COLUMNS.items():
        value = cells.number(name, low=low, high=high, what="a count of seeds")
        if value is None:
            continue
        ratio = value / grams * GRAMS_PER_POUND / known.seeds_per_lb if known else 1.0
        if not 1 / MOST_COUNT_RATIO <= ratio <= MOST_COUNT_RATIO:
            usual = known.seeds_per_lb / GRAMS_PER_POUND * grams
            found = {"lot": lot, "column": name, "count": value, "usual": usual, "species": table}
            remarks.append(Remark("plan.odd_count", found))
        return _Seeds(value / grams, "plan", table)
    if known is None:
        return _Seeds(float("nan"), "", "")
    return _Seeds(known.seeds_per_lb / GRAMS_PER_POUND, "table", table)


def _rate(cells: Cells, lot: str, species: str, seeds: _Seeds, remarks: list[Remark]) -> float | None:
    """Wanted pure live seed, grams per square metre."""
    filled = [name for name in RATE_COLUMNS if cells.text(name)]
    if len(filled) != 1:
        found = " and ".join(filled) or "none"
        cells.wrong(None, f"Each row needs exactly one of {', '.join(RATE_COLUMNS)}; filled: {found}.")
        return None
    name = filled[0]
    value = cells.number(name, above=0, high=RATE_COLUMNS[name], what="a rate")
    if value is None:
        return None
    if name.startswith("pls_rate"):
        return value * (LB_PER_ACRE if name == "pls_rate_lb_ac" else KG_PER_HECTARE)
    if seeds.source == "":
        if species and not any(cells.text(column) for column in COUNT_COLUMNS):
            cells.wrong("species", unknown_species(species))
        return None
    rate = value / (SQUARE_METRES_PER_SQUARE_FOOT if name == "seeds_per_ft2" else 1.0) / seeds.per_g
    if rate > RATE_COLUMNS["pls_rate_lb_ac"] * LB_PER_ACRE:
        cells.wrong(
            next((column for column in COUNT_COLUMNS if cells.text(column)), name),
            f"At {seeds.per_g * GRAMS_PER_POUND:,.6g} seeds in a pound this rate would be {rate / LB_PER_ACRE:,.0f} "
            "pounds of live seed an acre. Check the rate and the count of seeds, and their units.",
        )
        return None
    if seeds.source == "table":
        code = "plan.doubtful_count" if species_table.find(species).doubtful else "plan.count_of_table"
        remarks.append(Remark(code, {"lot": lot, "seeds_per_lb": seeds.per_g * GRAMS_PER_POUND}))
    return rate


def unknown_species(species: str) -> str:
    """Sentences about a species that the shipped table does not have."""
    meant = species_table.near_names(species)
    hint = f"Did you mean {' or '.join(meant)}? Or write" if meant else "Write"
    return f"{quoted(species)} is not in the shipped table of seeds per pound. {hint} its count in column seeds_per_lb."


def _poor_tag(lot: str, tag: _Tag, rule: Viable) -> list[Remark]:
    """A remark where the rule in force counts so little of a lot that its bulk rate grows out of hand."""
    pls, total = (pure_live_seed(*tag, viable=each) for each in (rule, "total"))
    return [] if pls >= LEAST_PLS else [Remark("plan.little_live_seed", {"lot": lot, "pls": pls, "total": total})]


def _test_age(lot: str, test_date: str, today: datetime.date) -> list[Remark]:
    """A remark about the date of a seed test that is old, or in the future."""
    if not test_date:
        return []
    tested = datetime.date.fromisoformat(test_date)
    months = (today.year - tested.year) * 12 + today.month - tested.month
    if tested > today:
        code = "plan.future_test"
    elif (months, today.day) > (OLDEST_TEST_MONTHS, tested.day):
        code = "plan.old_test"
    else:
        return []
    return [Remark(code, {"lot": lot, "date": test_date, "months": OLDEST_TEST_MONTHS})]


def _check_boxes(
    lots: list[LotPlan],
    lines: list[int],
    drill: Drill,
    file: str,
    problems: list[Problem],
    remarks: list[Remark],
) -> None:
    """A box holds one lot, or one named blend: note what is neither."""
    for box in drill.boxes:
        mine = [(line, lot) for line, lot in zip(lines, lots, strict=True) if lot.box == box.name]
        names: set[tuple[str, str]] = set()
        twice = False
        for line, lot in mine:
            name = (lot.blend.lower(), lot.lot.lower())
            if name in names:
                twice = True
                problems.append(
                    Problem(f"Lot {lot.lot} stands twice in box {box.name}. Keep one row.", file, line, "lot")
                )
            names.add(name)
        alone = [(line, lot) for line, lot in mine if not lot.blend]
        blends: dict[str, str] = {}
        for _, lot in mine:
            if lot.blend:  # of two spellings the first names it
                blends.setdefault(lot.blend.lower(), lot.blend)
        if alone and len(mine) > 1 and not twice:
            problems.append(
                Problem(
                    f"Box {box.name} holds several lots ({', '.join(lot.lot for _, lot in mine)}). Write one "
                    "name in the column blend for all that are mixed in it: their catches carry it as lot.",
                    file,
                    alone[-1][0],
                    "blend",
                )
            )
        elif len(blends) > 1:
            remarks.append(Remark("plan.several_blends", {"box": box.name, "blends": tuple(blends.values())}))
        for small, name in blends.items():
            carriers = [lot.carrier for _, lot in mine if lot.blend.lower() == small]
            if len(carriers) > 1 and carriers[0] > 0 and len(set(carriers)) == 1:
                values = {"box": box.name, "blend": name, "rows": len(carriers)}
                remarks.append(Remark("plan.carrier_repeated", values))
