"""Reads the rates and shares in the rows of a plan, and works out the bulk rate of every bag."""

import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from predictor.domain import species as species_table
from predictor.domain.mix import Contents, RateOf, ShareOf, bulk_rates
from predictor.domain.result import Remark
from predictor.domain.seed import LotPlan
from predictor.files.columns import Columns, Measure
from predictor.files.tag import Row, Tags, called, unknown_species
from predictor.format import whole
from predictor.numbers import Range
from predictor.units import GRAMS_PER_POUND, KG_PER_HECTARE, LB_PER_ACRE, SQUARE_METRES_PER_SQUARE_FOOT, Units

# Columns of a rate with the largest that can be meant: several times the heaviest mixes, common practice. They become
# grams, or seeds, per square metre.
RATES: dict[str, tuple[RateOf, Measure]] = {
    "pls_rate_lb_ac": ("pls", Measure(LB_PER_ACRE, Range(0, 500, above=True))),
    "pls_rate_kg_ha": ("pls", Measure(KG_PER_HECTARE, Range(0, 560, above=True))),
    "bulk_rate_lb_ac": ("bulk", Measure(LB_PER_ACRE, Range(0, 1_000, above=True))),
    "bulk_rate_kg_ha": ("bulk", Measure(KG_PER_HECTARE, Range(0, 1_120, above=True))),
    "seeds_per_ft2": ("seeds", Measure(1.0, Range(0, 5_000, above=True), SQUARE_METRES_PER_SQUARE_FOOT)),
    "seeds_per_m2": ("seeds", Measure(1.0, Range(0, 50_000, above=True))),
}
SHARES: dict[str, ShareOf] = {"seed_share_pct": "seeds", "weight_share_pct": "weight"}
LARGEST_RATE = 500 * LB_PER_ACRE


class Bag(NamedTuple):
    """The rows of one premixed bag, or the one row of a lot; with their lots, which have no rate yet."""

    name: str
    rows: list[Row]
    lots: list[LotPlan]

    @property
    def contents(self) -> Contents:
        """What a gram of it holds."""
        return Contents(
            pls=sum(lot.pls for lot in self.lots), seeds=sum(lot.pls * lot.seeds_per_g for lot in self.lots)
        )


class _Entry(NamedTuple):
    """A filled cell."""

    i: int
    column: str
    value: float  # NaN where it is wrong


class Rates:
    """The rates and shares of a plan."""

    def __init__(self, columns: Columns, tags: Tags):
        self.columns, self.table, self.tags = columns, columns.table, tags
        self.remarks: list[Remark] = []
        self.by_table: list[LotPlan] = []  # Lots whose weight rests on a count of the shipped table
        there = self.table.columns
        self.rates = {
            name: columns.measures({name: measure}, "a rate") for name, (_, measure) in RATES.items() if name in there
        }
        share = Range(0, 100, above=True)
        self.shares = {name: columns.numbers(name, "a percentage", share) for name in SHARES if name in there}
        if not self.rates:
            self.table.problems.add(f"There is no rate. Add one of the columns {', '.join(RATES)}.")

    def bulk_rates(self, bags: Sequence[Bag]) -> list[tuple[float, RateOf]]:
        """Bulk rate of each bag of one blend, or of a bag that goes in alone, and what its rate was given in.

        The rate is NaN where something is wrong.
        """
        if any(self._entries(row, self.shares) for bag in bags for row in bag.rows):
            return self._by_shares(bags)
        return [self._alone(bag) for bag in bags]

    def repeated(self, rows: Sequence[Row]) -> tuple[str, str] | None:
        """Column and text of the rate that is in each of several rows; None where they differ or have shares."""
        found = [self._entries(row, (*self.rates, *self.shares)) for row in rows]
        if len({tuple(each[1:] for each in entries) for entries in found}) > 1 or len(found[0]) != 1:
            return None
        column = found[0][0].column
        return column, self.table.cells[column][rows[0].i]

    def _alone(self, bag: Bag) -> tuple[float, RateOf]:
        """Bulk rate of a bag by its own rate."""
        asked = self._one_rate(bag.rows, f"bag {bag.name}")
        if asked is None or not self._known([bag], RATES[asked.column][0], asked.column):
            return math.nan, "bulk"
        filled = sum(len(self._entries(row, self.rates)) for row in bag.rows)
        if filled > 1:
            self.remarks.append(Remark("plan.taken_once", {"bag": bag.name, "what": "rate", "rows": filled}))
        rate_of = RATES[asked.column][0]
        rates = [asked.value / bag.contents.of(rate_of)]
        self._check_size(asked, [bag], rates)
        return rates[0], rate_of

    def _by_shares(self, bags: Sequence[Bag]) -> list[tuple[float, RateOf]]:
        """Bulk rates of the bags of a blend by the rate of the whole and the share of each."""
        blend = bags[0].rows[0].blend
        nothing: list[tuple[float, RateOf]] = [(math.nan, "bulk")] * len(bags)
        rows = [row for bag in bags for row in bag.rows]
        shares = self._shares(bags, blend)
        if not blend:
            return nothing
        asked = self._one_rate(rows, f"blend {blend}")
        if asked is None or not shares:
            return nothing
        rate_of, share_of = RATES[asked.column][0], SHARES[shares[0].column]
        if not self._known(bags, rate_of, asked.column, share_of):
            return nothing
        contents = [bag.contents for bag in bags]
        rates = bulk_rates(asked.value, rate_of, [each.value for each in shares], share_of, contents)
        self._check_size(asked, bags, rates)
        return [(rate, rate_of) for rate in rates]

    def _entries(self, row: Row, columns: Iterable[str]) -> list[_Entry]:
        """The filled cells of a row among some columns."""
        values = {**self.rates, **self.shares}
        filled = (name for name in columns if self.table.cells[name][row.i])
        return [_Entry(row.i, name, float(values[name][row.i])) for name in filled]

    def _one_rate(self, rows: Sequence[Row], what: str) -> _Entry | None:
        """The rate of a bag or a blend: in one of its rows, or the same in all; None where something is wrong."""
        if not self.rates:
            return None
        entries = [self._entries(row, self.rates) for row in rows]
        names = ", ".join(RATES)
        for row, found in zip(rows, entries, strict=True):
            if len(found) > 1:
                has = " and ".join(each.column for each in found)
                self.columns.wrong(row.i, None, f"Each row needs exactly one of {names}. This row has {has}.")
                return None
        rates = [each for found in entries for each in found]
        if not rates:
            needs = "Each row needs exactly one of" if len(rows) == 1 else f"{what[0].upper()}{what[1:]} needs one of"
            has = "This row has none of them." if len(rows) == 1 else "Write it in one of its rows."
            if what.startswith("bag") and rows[0].blend:
                shares = " or ".join(SHARES)
                has += f" A rate of the whole blend needs a share of each lot or bag too: {shares}."
            self.columns.wrong(rows[0].i, None, f"{needs} {names}. {has}")
            return None
        return self._same(rates, f"The rate is of the whole {what}")

    def _same(self, entries: Sequence[_Entry], rule: str) -> _Entry | None:
        """The one value of several cells; None, and a problem, where they differ."""
        if any(math.isnan(each.value) for each in entries):
            return None
        first = entries[0]
        for each in entries[1:]:
            if each[1:] != first[1:]:
                first_cell, cell = (self.table.cells[one.column][one.i] for one in (first, each))
                own = " A lot that is in a bag of its own needs a bag name of its own." if " bag " in rule else ""
                self.columns.wrong(
                    each.i,
                    each.column,
                    f"{cell} here, and {first.column} {first_cell} in line {self.table.lines[first.i]}. {rule}: write "
                    f"it in one row, or the same in all.{own}",
                )
                return None
        return first

    def _shares(self, bags: Sequence[Bag], blend: str) -> list[_Entry]:
        """The share of each bag of a blend; empty where something is wrong."""
        shares: list[_Entry] = []
        for bag in bags:
            found = [each for row in bag.rows for each in self._entries(row, self.shares)]
            if not blend:
                message = "A share is of a blend. Name the blend in the column blend, in the row of each of its lots."
                self.columns.wrong(bag.rows[0].i, found[0].column, message)
                return []
            if not found:
                names = " or ".join(SHARES)
                message = f"Blend {blend} is planned by shares, so this row needs {names} too."
                self.columns.wrong(bag.rows[0].i, next(iter(self.shares)), message)
                return []
            one = self._same(found, f"The share is of the whole bag {bag.name}")
            if one is None:
                return []
            shares.append(one)
        if len({each.column for each in shares}) > 1:
            self.columns.wrong(
                shares[-1].i, shares[-1].column, f"Blend {blend} has shares by seed and by weight. Use one of the two."
            )
            return []
        return shares if self._add_up(shares, blend) else []

    def _add_up(self, shares: Sequence[_Entry], blend: str) -> bool:
        """Whether shares add to 100 but for rounding."""
        total = sum(each.value for each in shares)
        if abs(total - 100) <= rounding(self.table.cells[each.column][each.i] for each in shares):
            return True
        last = shares[-1]
        self.columns.wrong(last.i, last.column, f"The shares of blend {blend} add to {total:g}. They must add to 100.")
        return False

    def _known(self, bags: Sequence[Bag], rate_of: RateOf, column: str, share_of: ShareOf = "weight") -> bool:
        """Whether all is known that a rate needs; what lacks is a problem."""
        rows = [row for bag in bags for row in bag.rows]
        by_seeds = rate_of == "seeds" or share_of == "seeds"
        for bag in bags:
            for row, lot in zip(bag.rows, bag.lots, strict=True):
                if len(bag.rows) > 1:
                    self.tags.require(row.i, "Each row of a premixed bag needs its part of the tag.")
                elif by_seeds or rate_of == "pls":
                    self.tags.require(row.i, f"A rate in {column} needs the seed tag. Without a tag give a bulk rate.")
                if by_seeds and not lot.seeds_from and row.species and not self.tags.counted(row.i):
                    self.columns.wrong(row.i, "species", unknown_species(row.species))
        if any(row.i in self.columns.wrong_rows or not row.box for row in rows):
            return False
        for bag in bags if by_seeds or rate_of == "pls" else ():
            if bag.contents.pls == 0:
                first = bag.rows[0].i
                test = "tz_pct" if self.tags.filled(first, "tz_pct") else "germination_pct"
                message = f"No seed of bag {bag.name} counts as alive, so this rate has no weight. Read the tag again."
                if any(lot.pls_total for lot in bag.lots):
                    message += " Another rule would count its dormant or hard seed."
                self.columns.wrong(first, test, message)
                return False
        if by_seeds:
            self.by_table += [lot for bag in bags for lot in bag.lots if lot.seeds_from == "table"]
        return True

    def remarks_on_counts(self) -> list[Remark]:
        """The lots whose weight rests on a count of the shipped table, but not those of which the kind is named."""
        plain = [lot for lot in self.by_table if len(species_table.kinds(lot.species)) == 1]
        sure = [lot for lot in plain if not _doubtful(lot)]
        single = [_count_of_table(lot, self.tags.drill.units) for lot in plain if _doubtful(lot) or len(sure) == 1]
        if len(sure) < 2:
            return single
        return [Remark("plan.counts_of_table", {"lots": tuple(map(called, sure))}), *single]

    def _check_size(self, asked: _Entry, bags: Sequence[Bag], rates: Sequence[float]) -> None:
        """Note a rate in seeds that would be an absurd weight."""
        weight = sum(rate * bag.contents.pls for rate, bag in zip(rates, bags, strict=True))
        if RATES[asked.column][0] != "seeds" or weight <= LARGEST_RATE:
            return
        lots = [lot for bag in bags for lot in bag.lots]
        counts = "these counts of seeds"
        column = asked.column
        if len(lots) == 1:
            counts = f"{whole(lots[0].seeds_per_g * GRAMS_PER_POUND)} seeds per pound"
            column = (self.tags.counted_in or column) if lots[0].seeds_from == "plan" else column
        self.columns.wrong(
            asked.i,
            column,
            f"At {counts} this rate would be {weight / LB_PER_ACRE:,.0f} pounds of live seed an acre. Check the rate "
            "and the count of seeds, and their units.",
        )


def rounding(texts: Iterable[str]) -> float:
    """How far printed figures may miss their sum: three standard deviations of what rounding does to it.

    It is never more than half a step of the last digit of each.
    """
    halves = [0.5 * 10.0 ** -len(text.replace(",", ".").partition(".")[2]) for text in texts]
    return min(sum(halves), math.sqrt(3 * sum(each**2 for each in halves))) + 1e-9


def _doubtful(lot: LotPlan) -> bool:
    known = species_table.find(lot.species)
    return known is not None and known.doubtful


def _count_of_table(lot: LotPlan, units: Units) -> Remark:
    """A remark on a weight that rests on a count of the shipped table."""
    code = "plan.doubtful_count" if _doubtful(lot) else "plan.count_of_table"
    low, high = (None if math.isnan(each) else each * GRAMS_PER_POUND for each in (lot.seeds_low, lot.seeds_high))
    found = {"seeds_per_lb": lot.seeds_per_g * GRAMS_PER_POUND, "low": low, "high": high, "sources": lot.seeds_sources}
    return Remark(code, {"lot": called(lot), **found, "units": units})
