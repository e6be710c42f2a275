"""Reads plan.csv: the lots of a planting mix, and what each box must drop."""

import datetime
import math
import os
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from predictor.domain import species as species_table
from predictor.domain.drill import HOLDS, VIABLE, Drill, Viable
from predictor.domain.result import Remark
from predictor.domain.seed import LotPlan, Plan, SeedsFrom, box_plans, pure_live_seed
from predictor.domain.species import Species
from predictor.files.columns import Columns, Measure
from predictor.files.table import Header, Table, read_table
from predictor.numbers import Range, quoted
from predictor.units import GRAMS_PER_POUND, KG_PER_HECTARE, LB_PER_ACRE, SQUARE_METRES_PER_SQUARE_FOOT

# Columns of a rate in pure live seed and in seeds, with the largest that can be meant: several times the heaviest
# mixes, common practice. They become grams, or seeds, per square metre.
_WEIGHT_RATES = {
    "pls_rate_lb_ac": Measure(LB_PER_ACRE, Range(0, 500, above=True)),
    "pls_rate_kg_ha": Measure(KG_PER_HECTARE, Range(0, 560, above=True)),
}
_SEED_RATES = {
    "seeds_per_ft2": Measure(1.0, Range(0, 5_000, above=True), SQUARE_METRES_PER_SQUARE_FOOT),
    "seeds_per_m2": Measure(1.0, Range(0, 50_000, above=True)),
}
_RATES = _WEIGHT_RATES | _SEED_RATES
LARGEST_RATE = 500 * LB_PER_ACRE
_CARRIERS = {
    "carrier_lb_ac": Measure(LB_PER_ACRE, Range(0, 1000)),
    "carrier_kg_ha": Measure(KG_PER_HECTARE, Range(0, 1000)),
}
# Seeds in a gram, between the largest and the smallest seeds sown with a drill.
_COUNTS = {
    "seeds_per_lb": Measure(1.0, Range(100, 5e7), GRAMS_PER_POUND),
    "seeds_per_g": Measure(1.0, Range(0.2, 1e5)),
}
_TAG = ("purity_pct", "germination_pct", "dormant_pct", "hard_pct")
HEADER = Header(
    words=frozenset({"box", "lot", "species", "test_date", "blend", "kind", "note"}),
    numbers=frozenset({*_TAG, *_RATES, *_CARRIERS, *_COUNTS}),
    required=(("box",), ("lot",), ("species",), ("purity_pct",), ("germination_pct",)),
)
# Iowa DOT wants the seed test within nine months of use (materials instruction IM 469.02, read).
OLDEST_TEST_MONTHS = 9
# Below this a slip on the tag is more likely than a lot worth sowing; the poorest of a published mix has 0.19
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
        `viable` is neither of the two rules.

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
        raise ValueError(f'viable must be "germination" or "total"; got {rule!r}.')
    table = read_table(path, HEADER)
    reader = _Reader(table, drill, rule, today or datetime.date.today())
    lots = reader.lots()
    table.problems.check()
    return Plan(tuple(lots), box_plans(lots, drill), rule, tuple(reader.remarks), table.assumed, table.digest)


class _Row(NamedTuple):
    """The values of one row; numbers are NaN where a cell is empty or wrong."""

    box: str
    lot: str
    species: str
    blend: str
    purity: float  # Per cent
    germination: float
    dormant: float
    hard: float
    seeds: float  # Seeds in a gram, as the file has it
    carrier: float  # Grams per square metre
    test_date: str
    kind: str


class _Reader(Columns):
    """Turns the rows of a table into lots, with remarks about what to look at."""

    def __init__(self, table: Table, drill: Drill, rule: Viable, today: datetime.date):
        super().__init__(table)
        self.drill, self.rule, self.today = drill, rule, today
        self.remarks: list[Remark] = []
        self.counted_in = self.only(_COUNTS)
        self.only(_CARRIERS)
        self.rates = {name: self.measures({name: _RATES[name]}, "a rate") for name in _RATES if name in table.columns}
        if not self.rates:
            table.problems.add(f"There is no rate. Add one of the columns {', '.join(_RATES)}.")

    def lots(self) -> list[LotPlan]:
        """The lots of all rows without a problem."""
        texts = [self.texts(name) for name in ("lot", "species", "blend")]
        defaults = {"purity_pct": np.nan, "germination_pct": np.nan, "dormant_pct": 0.0, "hard_pct": 0.0}
        tag = [self.numbers(name, "a percentage", Range(0, 100), each).tolist() for name, each in defaults.items()]
        counts = self.measures(_COUNTS, "a count of seeds").tolist()
        carriers = np.nan_to_num(self.measures(_CARRIERS, "a rate")).tolist()
        dates, kinds = self.each("test_date", self.table.signs.date_or_month, ""), self.each("kind", _kind, "")
        rows = zip(self.boxes(self.drill), *texts, *tag, counts, carriers, dates, kinds, strict=True)
        lots = [(i, lot) for i, row in enumerate(rows) if (lot := self.lot(i, _Row(*row)))]
        for box in self.drill.boxes:
            self.check_box(box.name, [(i, lot) for i, lot in lots if lot.box == box.name])
        return [lot for _, lot in lots]

    def lot(self, i: int, row: _Row) -> LotPlan | None:
        """The lot of one row; None where something is wrong with it."""
        known = species_table.find(row.species)
        seeds, source = self.count(row, known)
        purity, germination, dormant = row.purity / 100, row.germination / 100, (row.dormant + row.hard) / 100
        pls, by_germination, total = (
            pure_live_seed(purity, germination, dormant, viable=rule) for rule in (self.rule, "germination", "total")
        )
        self.check_tag(i, row, pls)
        rate = self.rate(i, row, seeds, known)
        if i in self.wrong_rows or not row.box or math.isnan(pls * rate):
            return None
        lot = LotPlan(
            box=row.box,
            lot=row.lot,
            species=row.species,
            blend=row.blend,
            pls=pls,
            pls_germination=by_germination,
            pls_total=total,
            purity=purity,
            germination=germination,
            dormant=dormant,
            pls_rate=rate,
            bulk_rate=rate / pls,
            carrier=row.carrier,
            seeds_per_g=seeds,
            seeds_from=source,
            table_species=known.common_name if known else "",
            test_date=row.test_date,
        )
        self.remarks += self.remarks_on(lot, row.kind, known)
        return lot

    def count(self, row: _Row, known: Species | None) -> tuple[float, SeedsFrom]:
        """Seeds in a gram, NaN where neither the file nor the table has a count; and where the count is from."""
        if not math.isnan(row.seeds):
            return row.seeds, "plan"
        return (known.seeds_per_lb / GRAMS_PER_POUND, "table") if known else (math.nan, "")

    def check_tag(self, i: int, row: _Row, pls: float) -> None:
        """Note what is impossible on a tag."""
        values = row.purity, row.germination, row.dormant, row.hard
        if any(map(math.isnan, values)):
            return
        # 0.5 % dormant seed is common, and a lot with 0.5 % of live seed is not sold
        if any(0 < value <= 1 for value in values[:2]):
            for name, value in zip(_TAG, values, strict=True):
                if 0 < value <= 1:
                    message = f"{value:g} looks like a fraction. Write it in per cent, here {100 * value:g}."
                    self.wrong(i, name, message)
        dormant = row.dormant + row.hard
        if row.germination + dormant > 100:
            self.wrong(
                i,
                "dormant_pct",
                f"Germination {row.germination:g} and dormant {dormant:g} add to more than 100. Read the tag again. "
                "If germination here is the tag's total of both, write germination alone.",
            )
        if row.purity == 0:
            self.wrong(i, "purity_pct", "At 0 per cent there is no seed in the bag. Read the tag again.")
        elif pls == 0:
            hint = ' By the rule "total" its dormant seed would count.' if dormant else ""
            self.wrong(i, "germination_pct", f"At 0 per cent no seed is alive. Read the tag again.{hint}")

    def rate(self, i: int, row: _Row, seeds: float, known: Species | None) -> float:
        """Wanted pure live seed, grams per square metre; NaN where the row has no rate."""
        filled = [name for name in self.rates if self.table.cells[name][i]]
        if len(filled) != 1:
            if self.rates:
                has = " and ".join(filled) or "none of them"
                self.wrong(i, None, f"Each row needs exactly one of {', '.join(_RATES)}. This row has {has}.")
            return math.nan
        name = filled[0]
        rate = float(self.rates[name][i])
        if name in _WEIGHT_RATES:
            return rate
        counted = self.counted_in is not None and self.table.cells[self.counted_in][i] != ""
        if known is None and row.species and not counted:
            self.wrong(i, "species", unknown_species(row.species))
        rate /= seeds
        if rate > LARGEST_RATE:
            self.wrong(
                i,
                self.counted_in if counted else name,
                f"At {seeds * GRAMS_PER_POUND:,.6g} seeds per pound this rate would be {rate / LB_PER_ACRE:,.0f} "
                "pounds of live seed an acre. Check the rate and the count of seeds, and their units.",
            )
        elif known and math.isnan(row.seeds):
            code = "plan.doubtful_count" if known.doubtful else "plan.count_of_table"
            self.remarks.append(Remark(code, {"lot": row.lot, "seeds_per_lb": seeds * GRAMS_PER_POUND}))
        return rate

    def remarks_on(self, lot: LotPlan, kind: str, known: Species | None) -> Iterator[Remark]:
        """What to look at in a lot before it is planted."""
        if self.counted_in and known and lot.seeds_from == "plan":
            grams = _COUNTS[self.counted_in].per
            count, usual = lot.seeds_per_g * grams, known.seeds_per_lb / GRAMS_PER_POUND * grams
            if not 1 / MOST_COUNT_RATIO <= count / usual <= MOST_COUNT_RATIO:
                found = {"column": self.counted_in, "count": count, "usual": usual, "species": known.common_name}
                yield Remark("plan.odd_count", {"lot": lot.lot, **found})
        if not lot.seeds_from:
            yield Remark("plan.no_count", {"lot": lot.lot, "species": lot.species})
        if code := _test_age(lot.test_date, self.today):
            yield Remark(code, {"lot": lot.lot, "date": lot.test_date, "months": OLDEST_TEST_MONTHS})
        if lot.pls < LEAST_PLS:  # the bulk rate grows out of hand
            yield Remark("plan.little_live_seed", {"lot": lot.lot, "pls": lot.pls, "total": lot.pls_total})
        holds = self.drill.box(lot.box).holds
        if holds != "chaffy" and (kind == "chaffy" if kind else species_table.is_chaffy(lot.species)):
            code = "plan.chaffy" if kind else "plan.may_be_chaffy"
            yield Remark(code, {"lot": lot.lot, "species": lot.species, "box": lot.box, "holds": holds})

    def check_box(self, box: str, lots: list[tuple[int, LotPlan]]) -> None:
        """Note a box that holds neither one lot nor one named blend."""
        names: set[tuple[str, str]] = set()
        blends: dict[str, list[LotPlan]] = {}  # Of two spellings of a blend the first names it
        for i, lot in lots:
            name = (lot.blend.lower(), lot.lot.lower())
            if name in names:
                self.wrong(i, "lot", f"Lot {lot.lot} appears twice in box {box}. Keep one row.")
            names.add(name)
            blends.setdefault(lot.blend.lower(), []).append(lot)
        alone = [i for i, lot in lots if not lot.blend]
        blends.pop("", None)
        spelled = {members[0].blend: members for members in blends.values()}
        if alone and 1 < len(lots) == len(names):
            self.wrong(
                alone[-1],
                "blend",
                f"Box {box} holds several lots ({', '.join(lot.lot for _, lot in lots)}). In the column blend, write "
                "one name for all that are mixed in it. Their catches carry that name as lot.",
            )
        elif len(spelled) > 1:
            self.remarks.append(Remark("plan.several_blends", {"box": box, "blends": tuple(spelled)}))
        for blend, members in spelled.items():
            carriers = {lot.carrier for lot in members}
            if len(members) > 1 and len(carriers) == 1 and carriers != {0.0}:
                values = {"box": box, "blend": blend, "rows": len(members)}
                self.remarks.append(Remark("plan.carrier_repeated", values))


def _kind(text: str) -> str:
    """The kind of box that a lot needs; raises a ValueError with a sentence."""
    kind = text.lower().replace(" ", "-")
    if kind not in HOLDS:
        raise ValueError(f"{quoted(kind)} is none of {', '.join(HOLDS)}. Write one of these, or leave the cell empty.")
    return kind


def _test_age(test_date: str, today: datetime.date) -> str:
    """The code of the remark on a seed test that is old, or in the future; "" where it is neither."""
    if not test_date:
        return ""
    # a month without a day is taken from its first day: the test may be as old as that
    tested = datetime.date.fromisoformat(test_date if len(test_date) > 7 else f"{test_date}-01")
    months = (today.year - tested.year) * 12 + today.month - tested.month
    if tested > today:
        return "plan.future_test"
    return "plan.old_test" if (months, today.day) > (OLDEST_TEST_MONTHS, tested.day) else ""


def unknown_species(species: str) -> str:
    """Sentences about a species that the shipped table does not have."""
    meant = species_table.near_names(species)
    hint = f"Did you mean {' or '.join(meant)}? Or write" if meant else "Write"
    return f"{quoted(species)} is not in the shipped table of seeds per pound. {hint} its count in column seeds_per_lb."
