"""Reads the tags in the rows of a plan: what is impossible on a tag, and what to look at before planting."""

import datetime
import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from predictor.domain import species as species_table
from predictor.domain.drill import VIABLE, Drill, Viable
from predictor.domain.result import Remark
from predictor.domain.seed import LotPlan, Method, SeedsFrom, pure_live_seed
from predictor.domain.species import COUNTED_SPREAD, Species
from predictor.files.columns import Columns, Measure
from predictor.files.table import missing_column
from predictor.format import listed
from predictor.numbers import Range, quoted
from predictor.units import GRAMS_PER_POUND

# Seeds in a gram, between the largest and the smallest seeds sown with a drill.
COUNTS = {
    "seeds_per_lb": Measure(1.0, Range(100, 5e7), GRAMS_PER_POUND),
    "seeds_per_g": Measure(1.0, Range(0.2, 1e5)),
}
TAG = ("purity_pct", "germination_pct", "tz_pct", "dormant_pct", "hard_pct")
# Seed of which so much is alive is seldom poor in purity, and a swapped tag seems to be; a swap that changes the live
# seed by less needs no question. Judgement.
NEARLY_ALL_ALIVE, SWAP_MATTERS = 0.97, 1.05
# Iowa DOT wants the seed test within nine months of use (materials instruction IM 469.02, read).
OLDEST_TEST_MONTHS = 9


class Analysis(NamedTuple):
    """What the tag of one row says beside its live seed, and how the row is sown.

    Numbers are NaN where a cell is empty or wrong.
    """

    other_crop: float  # Fractions of the weight
    weed: float
    inert: float
    coating: float
    noxious: str
    origin: str
    variety: str
    method: Method
    bag_weight: float  # Grams in a full bag


class Row(NamedTuple):
    """The values of one row; numbers are NaN where a cell is empty or wrong."""

    i: int  # Its index
    box: str
    lot: str
    species: str
    blend: str
    bag: str
    treatment: str
    purity: float  # Per cent
    germination: float
    tz: float  # Living seed by a TZ test, in place of germination
    dormant: float
    hard: float
    seeds: float  # Seeds in a gram, as the file has it
    carrier: float  # Grams per square metre
    test_date: str
    kind: str
    viable: Viable | None  # The rule of this row
    analysis: Analysis


class Tags:
    """Turns the tag of a row into a lot that has no rate yet."""

    def __init__(self, columns: Columns, drill: Drill, typed: Viable | None, today: datetime.date):
        self.columns, self.drill, self.typed, self.today = columns, drill, typed, today
        self.table = columns.table
        self.counted_in = columns.only(COUNTS)
        self._missed: set[tuple[int, str]] = set()  # Row and column of a noted cell; row -1 for a whole column

    def lot(self, row: Row) -> LotPlan:
        """The lot of one row; what is wrong with its tag is noted."""
        count = _count(row, species_table.find(row.species))
        self.check(row)
        purity, germination, tz, dormant, hard = (
            each / 100 for each in (row.purity, row.germination, row.tz, row.dormant, row.hard)
        )
        alive = germination if math.isnan(tz) else tz
        pls = {rule: pure_live_seed(purity, alive, dormant, hard, viable=rule) for rule in VIABLE}
        rule = self.rule(row)
        return LotPlan(
            box=row.box,
            lot=row.lot,
            species=row.species,
            blend=row.blend,
            bag=row.bag,
            pls=pls[rule],
            pls_germination=pls["germination"],
            pls_hard=pls["hard"],
            pls_total=pls["total"],
            viable=rule,
            purity=purity,
            bag_purity=purity,
            germination=germination,
            dormant=dormant,
            hard=hard,
            tz=tz,
            rate_of="bulk",
            pls_rate=math.nan,
            bulk_rate=math.nan,
            carrier=row.carrier,
            treatment=row.treatment,
            **count._asdict(),
            test_date=row.test_date,
            **row.analysis._asdict(),
        )

    def rule(self, row: Row) -> Viable:
        """What counts as alive: the rule that was typed, else that of the row, else the drill's."""
        return self.typed or row.viable or self.drill.viable

    def counted(self, i: int) -> bool:
        """Whether a row has a count of its own."""
        return self.counted_in is not None and self.table.cells[self.counted_in][i] != ""

    def filled(self, i: int, column: str) -> bool:
        """Whether a cell has anything in it."""
        return column in self.table.columns and self.table.cells[column][i] != ""

    def require(self, i: int, why: str) -> None:
        """Note what a row lacks that needs a tag; a column that is missing is noted once."""
        for choices in (("purity_pct",), ("germination_pct", "tz_pct")):
            if any(self.filled(i, column) for column in choices):
                continue
            self.columns.wrong_rows.add(i)
            there = [column for column in choices if column in self.table.columns]
            place = (i if there else -1, choices[0])
            if place in self._missed:
                continue
            self._missed.add(place)
            if there:
                self.columns.wrong(i, there[0], f"The cell is empty. {why}")
            else:
                self.table.problems.add(missing_column(choices[:1], self.table.columns, self.table.own))

    def check(self, row: Row) -> None:
        """Note what is impossible on a tag."""
        if not any(self.filled(row.i, column) for column in TAG):
            return  # there is no tag
        self.require(row.i, "A tag has purity, and germination or a TZ test.")
        if self.filled(row.i, "tz_pct"):
            self.check_tz(row)
            if row.i in self.columns.wrong_rows:
                return
        alive = row.germination if math.isnan(row.tz) else row.tz
        if any(map(math.isnan, (row.purity, alive, row.dormant, row.hard))):
            return
        values = row.purity, row.germination, row.tz, row.dormant, row.hard
        # 0.5 % dormant seed is common, and so is 1 % germination of hard seed; but 0.5 % germination is not printed
        fraction = 0 < alive < 1 or alive == 1 >= alive + row.dormant + row.hard
        if fraction or (0 < row.purity <= 1 and not row.bag):
            for name, value in zip(TAG, values, strict=True):
                if 0 < value <= 1:
                    message = f"{value:g} looks like a fraction. Write it in per cent, here {100 * value:g}."
                    self.columns.wrong(row.i, name, message)
        self.check_alive(row, alive)

    def check_tz(self, row: Row) -> None:
        """Note what a TZ test cannot stand beside: it counts every living seed."""
        beside = {"germination_pct": row.germination, "dormant_pct": row.dormant, "hard_pct": row.hard}
        for column, value in beside.items():
            if self.filled(row.i, column) and value != 0:
                self.columns.wrong(
                    row.i,
                    "tz_pct",
                    f"This row has {column} too. A TZ test counts every living seed, dormant and hard ones as well. "
                    "Write the TZ test alone, or else germination, dormant and hard seed: the test that your programme "
                    "accepts.",
                )
                return

    def check_alive(self, row: Row, alive: float) -> None:
        """Note a tag on which more than all is alive, or nothing."""
        dormant = row.dormant + row.hard
        if alive + dormant > 100:
            column = "dormant_pct" if row.dormant else "hard_pct"
            what = " or ".join(name for name, part in (("dormant", row.dormant), ("hard", row.hard)) if part)
            self.columns.wrong(
                row.i,
                column,
                f"Germination {alive:g} and {what} seed {dormant:g} add to more than 100. Read the tag again. "
                "If germination here is the tag's total of all, write it alone.",
            )
        if row.purity == 0:
            self.columns.wrong(row.i, "purity_pct", "At 0 per cent there is no seed in the bag. Read the tag again.")
        elif pure_live_seed(row.purity, alive, row.dormant, row.hard, viable=self.rule(row)) == 0 and not row.bag:
            counts = ("total", "dormant") if row.dormant else ("hard", "hard")
            hint = f' By the rule "{counts[0]}" its {counts[1]} seed would count.' if dormant else ""
            column = "germination_pct" if math.isnan(row.tz) else "tz_pct"
            self.columns.wrong(row.i, column, f"At 0 per cent no seed is alive. Read the tag again.{hint}")

    def remarks_on(self, lot: LotPlan, kind: str, weighed: bool, planned: Sequence[Species]) -> Iterator[Remark]:
        """What to look at in a lot before it is planted; `weighed` where its weight rests on the shipped table.

        `planned` are the species of the plan.
        """
        name, meant = called(lot), species_table.kinds(lot.species)
        if meant:
            yield from self.remarks_on_count(lot, meant, weighed, planned)
        if not lot.tagged:
            yield Remark("plan.no_tag", {"lot": name})
        elif not lot.seeds_from:
            yield Remark("plan.no_count", {"lot": name, "species": lot.species})
        if not math.isnan(lot.tz):
            yield Remark("plan.tz", {"lot": name})
        if _may_be_swapped(lot):
            alive = lot.germination + lot.dormant + lot.hard
            yield Remark("plan.swapped_tag", {"lot": name, "purity": 100 * lot.purity, "alive": 100 * alive})
        if lot.viable == "hard" and lot.dormant > 0 == lot.hard:
            yield Remark("plan.no_hard_seed", {"lot": name, "dormant": lot.dormant})
        holds = self.drill.box(lot.box).holds
        if holds != "chaffy" and (kind == "chaffy" if kind else species_table.is_chaffy(lot.species)):
            code = "plan.chaffy" if kind else "plan.may_be_chaffy"
            yield Remark(code, {"lot": name, "species": lot.species, "box": lot.box, "holds": holds})

    def remarks_on_count(
        self, lot: LotPlan, meant: Sequence[Species], weighed: bool, planned: Sequence[Species]
    ) -> Iterator[Remark]:
        """A count of the plan that no source has for the species, or the kind of seed that the table's count is of."""
        values: dict[str, object] = {"lot": called(lot), "species": lot.species}
        if lot.seeds_from == "table" and len(meant) > 1:
            counts = {each.name: each.seeds_per_lb for each in meant}
            yield Remark(
                "plan.kind_of_seed", {**values, "counts": counts, "weighed": weighed, "units": self.drill.units}
            )
        if self.counted_in is None or lot.seeds_from != "plan":
            return
        unit, grams = ("lb", GRAMS_PER_POUND) if self.counted_in == "seeds_per_lb" else ("g", 1.0)
        low, high = (each * grams / GRAMS_PER_POUND for each in species_table.reach(meant))
        values |= {"column": self.counted_in, "count": lot.seeds_per_g * grams, "low": low, "high": high}
        if slip := species_table.slip_of_unit(meant, lot.seeds_per_g * grams, unit):
            yield Remark("plan.count_in_other_unit", {**values, "unit": slip})
            return
        per_lb = lot.seeds_per_g * GRAMS_PER_POUND
        if species_table.is_odd(meant, per_lb, species_table.OTHERS_COUNT_RATIO):
            whose = tuple(species_table.whose_count(meant, per_lb, planned))
            if whose or species_table.is_odd(meant, per_lb):
                yield Remark("plan.odd_count", {**values, "whose": whose})

    def remarks_on_age(self, lots: list[LotPlan]) -> Iterator[Remark]:
        """The seed tests of a bag that are old, or in the future; each date once."""
        for date in dict.fromkeys(lot.test_date for lot in lots):
            if code := _test_age(date, self.today):
                yield Remark(code, {"lot": lots[0].bag or lots[0].lot, "date": date, "months": OLDEST_TEST_MONTHS})


def _may_be_swapped(lot: LotPlan) -> bool:
    """Whether purity and germination may be in each other's place, where that changes the live seed."""
    counted = {"germination": 0.0, "hard": lot.hard, "total": lot.hard + lot.dormant}[lot.viable]
    alive = lot.germination + lot.dormant + lot.hard
    if lot.bag or not lot.tagged or not counted or lot.purity >= lot.germination or alive < NEARLY_ALL_ALIVE:
        return False
    return lot.germination * (lot.purity + counted) > SWAP_MATTERS * lot.pls


class _Count(NamedTuple):
    """The fields of a lot that say how many seeds are in a gram, and how sure that is."""

    seeds_per_g: float
    seeds_from: SeedsFrom
    table_species: str
    seeds_low: float
    seeds_high: float
    seeds_log_sd: float
    seeds_sources: tuple[str, ...]


def _count(row: Row, known: Species | None) -> _Count:
    """The count of the file, else of the table; NaN where neither has one."""
    name = known.name if known else ""
    if not math.isnan(row.seeds):
        return _Count(row.seeds, "plan", name, math.nan, math.nan, COUNTED_SPREAD, ())
    if known is None:
        return _Count(math.nan, "", name, math.nan, math.nan, math.nan, ())
    low, high = (math.nan if each is None else each / GRAMS_PER_POUND for each in (known.low, known.high))
    return _Count(known.seeds_per_lb / GRAMS_PER_POUND, "table", name, low, high, known.log_sd, known.sources)


def called(lot: LotPlan) -> str:
    """A lot as sentences name it: in a premixed bag all species may have the same lot."""
    return f"{lot.bag} ({lot.species})" if lot.bag else lot.lot


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
    kin = [name for name in species_table.kin_names(species) if name not in meant]
    hints = [f"Did you mean {' or '.join(meant)}?"] if meant else []
    hints += [f"The table has {listed(kin)}{' too' if meant else ', which are other plants'}."] if kin else []
    hints += [f"{'Or write' if meant and not kin else 'Write'} its count in column seeds_per_lb."]
    return f"{quoted(species)} is not in the shipped table of seeds per pound. {' '.join(hints)}"
