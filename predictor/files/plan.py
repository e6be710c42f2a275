"""Reads plan.csv: the lots of a planting mix, and what each box must drop."""

import datetime
import os
from collections.abc import Hashable, Iterator, Sequence
from dataclasses import replace

import numpy as np

from predictor.domain.arguments import day_of, kind, maybe_word, path_of
from predictor.domain.drill import HOLDS, VIABLE, Drill, Viable
from predictor.domain.mix import RateOf
from predictor.domain.result import Remark
from predictor.domain.seed import LotPlan, Plan, box_plans
from predictor.domain.species import kinds
from predictor.files import analysis, one_bag
from predictor.files.columns import Columns, Measure
from predictor.files.rates import RATES, SHARES, Bag, Rates, rounding
from predictor.files.table import Header, Table, read_table
from predictor.files.tag import COUNTS, TAG, Row, Tags, called
from predictor.numbers import Range, quoted
from predictor.units import KG_PER_HECTARE, LB_PER_ACRE, SQUARE_METRES_PER_SQUARE_FOOT

_CARRIERS = {
    "carrier_lb_ac": Measure(LB_PER_ACRE, Range(0, 1000)),
    "carrier_kg_ha": Measure(KG_PER_HECTARE, Range(0, 1000)),
}
_WORDS = ("lot", "species", "blend", "bag", "treatment")
HEADER = Header(
    words=frozenset({"box", *_WORDS, *analysis.TEXTS, "method", "test_date", "kind", "viable", "note"}),
    numbers=frozenset({*TAG, *RATES, *SHARES, *_CARRIERS, *COUNTS, *analysis.PARTS, *analysis.BAG_WEIGHTS}),
    required=(("box",), ("lot",), ("species",)),
)
# Below this a slip on the tag is more likely than a lot worth sowing; the poorest of a published mix has 0.19
# (Colorado DRMS, record 493681 p. 15, read). Where the line is drawn is common practice.
LEAST_PLS = 0.10
# A bag with less pure seed than this, per cent, is written in fractions. One with more than that holds nothing else, as
# the shares of a mix do, which add to 100; common practice.
LEAST_OF_A_BAG, NO_INERT = 2.0, 99.95
# Live seeds in a square metre, 300 in a square foot, beyond which a slip is more likely than a mix: drilled mixes have
# 20 to 100 in a square foot; common practice.
MANY_SEEDS = 300 / SQUARE_METRES_PER_SQUARE_FOOT
# As many lots of a blend with one and the same rate may have that of the whole blend; of two it is common.
MANY_LOTS = 3
# Mean purity, per cent, below which several lots of a blend are more likely the parts of one bag; common practice.
POOR_PURITY = 35.0


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
        CSV, a row for each lot in each box, or for each species of a premixed bag; "-" reads standard input.
    drill : Drill
    viable : {"germination", "hard", "total"}, optional
        Rule for pure live seed of all lots; that of each row, or else the drill's, where not given.
    today : date, optional
        For the age of the seed tests.

    Returns
    -------
    Plan

    Raises
    ------
    InputError
        All problems of the file, or `viable` is none of the three rules.

    Examples
    --------
    >>> import predictor
    >>> drill = predictor.read_drill("sample_trials/drill.toml")
    >>> plan = predictor.read_plan("sample_trials/plan.csv", drill)
    >>> [(each.box.name, each.lot) for each in plan.boxes]
    [('chaffy', 'tall mix'), ('grain', 'CW-26'), ('small', 'forb mix')]
    """
    path_of(path, "path")
    kind(drill, "drill", Drill, "a Drill, as `read_drill` gives")
    maybe_word(viable, "viable", VIABLE)
    today = day_of(today, "today")
    table = read_table(path, HEADER)
    reader = _Reader(table, drill, viable, today or datetime.date.today())
    lots = reader.lots()
    table.problems.check()
    remarks = (*_other_units(table, drill), *reader.rates.remarks_on_counts(), *reader.rates.remarks, *reader.remarks)
    rule = viable or drill.viable
    return Plan(tuple(lots), box_plans(lots, drill), rule, remarks, (*table.assumed, *reader.assumed), table.digest)


class _Reader(Columns):
    """Turns the rows of a table into lots, with remarks about what to look at."""

    def __init__(self, table: Table, drill: Drill, typed: Viable | None, today: datetime.date):
        super().__init__(table)
        self.drill = drill
        self.tags = Tags(self, drill, typed, today)
        self.carriers_in = self.only(_CARRIERS)
        self.rates = Rates(self, self.tags)
        self.remarks: list[Remark] = []
        self.assumed: list[Remark] = []

    def lots(self) -> list[LotPlan]:
        """The lots of all rows without a problem."""
        rows = self.rows()
        lots = [self.tags.lot(row) for row in rows]
        one_bag.check(self, rows)
        found: dict[int, LotPlan] = {}
        for bags in self.blends(rows, lots):
            for bag, (bulk, rate_of) in zip(bags, self.rates.bulk_rates(bags), strict=True):
                if bulk == bulk and not any(row.i in self.wrong_rows for row in bag.rows):
                    found |= zip([row.i for row in bag.rows], _with_rates(bag, bulk, rate_of), strict=True)
        planned = [(rows[i], found[i]) for i in sorted(found)]
        for box in self.drill.boxes:
            self.check_box(box.name, [(row, lot) for row, lot in planned if lot.box == box.name])
        self.look_at(planned)
        self.look_at_rules(planned)
        return [lot for _, lot in planned]

    def rows(self) -> list[Row]:
        """The values of every row."""
        texts = [self.texts(name) for name in _WORDS]
        defaults = dict(zip(TAG, (np.nan, np.nan, np.nan, 0.0, 0.0), strict=True))
        tag = [self.numbers(name, "a percentage", Range(0, 100), each).tolist() for name, each in defaults.items()]
        counts = self.measures(COUNTS, "a count of seeds").tolist()
        carriers = np.nan_to_num(self.measures(_CARRIERS, "a rate")).tolist()
        dates, kinds = self.each("test_date", self.table.signs.date_or_month, ""), self.each("kind", _kind, "")
        rules, rest = self.each("viable", _viable, None), analysis.read(self)
        columns = (range(len(self)), self.boxes(self.drill), *texts, *tag, counts, carriers, dates, kinds, rules, rest)
        return [Row(*row) for row in zip(*columns, strict=True)]

    def blends(self, rows: Sequence[Row], lots: Sequence[LotPlan]) -> list[list[Bag]]:
        """The bags of each blend, and each bag that goes in alone."""
        bags: dict[tuple[str, str, int], Bag] = {}
        for row, lot in zip(rows, lots, strict=True):
            key = (row.box, row.bag.lower(), -1 if row.bag else row.i)
            bag = bags.setdefault(key, Bag(row.bag or row.lot, [], []))
            bag.rows.append(row)
            bag.lots.append(lot)
        blends: dict[tuple[str, str, int], list[Bag]] = {}
        for k, bag in enumerate(bags.values()):
            self.check_bag(bag)
            analysis.check_bag(self, bag)
            first = bag.rows[0]
            blends.setdefault((first.box, first.blend.lower(), -1 if first.blend else k), []).append(bag)
        for together in blends.values():
            analysis.check_method(self, together)
        return list(blends.values())

    def check_bag(self, bag: Bag) -> None:
        """Note rows that cannot be of one premixed bag."""
        seen: set[tuple[Hashable, str]] = set()
        self.check_carrier(bag)
        for row in bag.rows:
            if row.blend.lower() != bag.rows[0].blend.lower():
                message = f"Bag {bag.name} is in two blends. Write the same blend in all of its rows."
                self.wrong(row.i, "blend", message)
            name = (one_bag.kind_of(row), row.lot.lower())
            if name in seen:
                message = f"{row.species} appears twice in bag {bag.name}. Keep one row, or give each its own lot."
                self.wrong(row.i, "species", message)
            seen.add(name)
        if bag.rows[0].bag:
            self.check_purities(bag)

    def check_purities(self, bag: Bag) -> None:
        """Note purities that cannot be per cent of one bag, and remark on those that look like shares of a mix."""
        total, last = sum(row.purity for row in bag.rows), bag.rows[-1].i
        if len(bag.rows) > 1 and total > 100 + rounding(self.cell(row.i, "purity_pct") for row in bag.rows):
            self.wrong(
                last,
                "purity_pct",
                f"The purities of bag {bag.name} add to {total:g}, more than 100. In a premixed bag each is per cent "
                "of the whole bag. Give every lot that is in a bag of its own a bag name of its own.",
            )
        elif total < LEAST_OF_A_BAG:
            self.wrong(last, "purity_pct", f"The purities of bag {bag.name} look like fractions. Write per cent.")
        elif len(bag.rows) > 1 and total > NO_INERT:
            self.remarks.append(Remark("plan.no_inert", {"bag": bag.name, "total": total}))

    def check_carrier(self, bag: Bag) -> None:
        """Keep the carrier of a premixed bag in one of its lots: as its rate it is of the whole bag."""
        filled = [k for k, lot in enumerate(bag.lots) if lot.carrier]
        if len({bag.lots[k].carrier for k in filled}) > 1:
            message = (
                f"Bag {bag.name} has several carriers. Write that of the whole bag in one row, or the same in all."
            )
            self.wrong(bag.rows[filled[-1]].i, self.carriers_in, message)
        if len(filled) > 1:
            self.remarks.append(Remark("plan.taken_once", {"bag": bag.name, "what": "carrier", "rows": len(filled)}))
        for k in filled[1:]:
            bag.lots[k] = replace(bag.lots[k], carrier=0.0)

    def check_box(self, box: str, planned: list[tuple[Row, LotPlan]]) -> None:
        """Note a lot that is planned twice in a box, and lots that neither a blend nor their order holds together."""
        names: set[tuple[str, str, str]] = set()
        twice = False
        for row, lot in planned:
            name = (lot.blend.lower(), lot.bag.lower(), "" if lot.bag else lot.lot.lower())
            if name in names and not lot.bag:
                twice = True
                self.wrong(
                    row.i,
                    "lot",
                    f"Lot {lot.lot} appears twice in box {box}. Keep one row. If the rows are species of one premixed "
                    "bag with one tag, write one name for the bag in the column bag of each.",
                )
            names.add(name)
        alone = [(row, lot) for row, lot in planned if not lot.blend]
        if alone and len(names) > 1 and not twice:
            self.take_in_turn(box, planned, alone)
        if not twice:
            self.check_fillings(box, planned)

    def take_in_turn(
        self, box: str, planned: Sequence[tuple[Row, LotPlan]], alone: Sequence[tuple[Row, LotPlan]]
    ) -> None:
        """Take lots without a blend as planted one after the other, but for those that look like parts of a mix."""
        loose = [row.purity for row, lot in alone if not lot.bag and lot.tagged]
        if len(alone) < len(planned) or (len(loose) > 1 and sum(loose) <= 100):
            self.ask_for_blend(box, alone[-1][0], [lot for _, lot in planned])
            return
        lots = tuple(dict.fromkeys(lot.filling for _, lot in planned))
        self.assumed.append(Remark("plan.in_turn", {"box": box, "lots": lots}))

    def ask_for_blend(self, box: str, row: Row, lots: Sequence[LotPlan]) -> None:
        """Note several lots in one box that no blend holds together."""
        held = ", ".join(dict.fromkeys(lot.bag or lot.lot for lot in lots))
        self.wrong(
            row.i,
            "blend",
            f"Box {box} holds several lots ({held}). In the column blend, write one name for all that are mixed in it. "
            "Their catches carry that name as lot. If they are one premixed bag with one tag, write one name for the "
            "bag in the column bag instead. If they are planted one after the other, give each filling "
            "a blend name of its own.",
        )

    def check_fillings(self, box: str, planned: list[tuple[Row, LotPlan]]) -> None:
        """Note what to look at in the blends and bags of a box."""
        fillings: dict[str, list[tuple[Row, LotPlan]]] = {}  # Of two spellings of a blend the first names it
        for row, lot in planned:
            fillings.setdefault(lot.filling.lower(), []).append((row, lot))
        blends = [members[0][1].blend for members in fillings.values() if members[0][1].blend]
        if len(blends) > 1 and all(lot.blend for _, lot in planned):
            self.remarks.append(Remark("plan.several_blends", {"box": box, "blends": tuple(blends)}))
        for members in fillings.values():
            filling, carriers = members[0][1].filling, {lot.carrier for _, lot in members}
            if len(members) > 1 and len(carriers) == 1 and carriers != {0.0}:
                values = {"box": box, "blend": filling, "rows": len(members)}
                self.remarks.append(Remark("plan.carrier_repeated", values))
            loose = [row for row, lot in members if not lot.bag and lot.tagged]
            self.check_sums(box, filling, members)
            if not self.ask_for_bag(filling, loose):
                self.remarks += _may_be_a_bag(filling, loose)

    def check_sums(self, box: str, filling: str, members: Sequence[tuple[Row, LotPlan]]) -> None:
        """Note rates that may be meant once and were added up, and more seed than is sown."""
        loose = [row for row, lot in members if not lot.bag]
        if len(loose) >= MANY_LOTS and len(loose) == len(members) and (same := self.rates.repeated(loose)):
            values = {"blend": filling, "lots": len(loose), "column": same[0], "rate": same[1]}
            self.remarks.append(Remark("plan.rate_repeated", values))
        seeds = sum(lot.seeds_per_m2 for _, lot in members)
        if seeds > MANY_SEEDS:
            self.remarks.append(Remark("plan.many_seeds", {"box": box, "filling": filling, "seeds_per_m2": seeds}))

    def ask_for_bag(self, blend: str, rows: Sequence[Row]) -> bool:
        """Note lots of a blend that look like one tag: their purities together are at most all of one bag."""
        total = sum(row.purity for row in rows)
        if len(rows) < 2 or total > 100 + rounding(self.cell(row.i, "purity_pct") for row in rows):
            return False
        lines = ", ".join(str(self.table.lines[row.i]) for row in rows)
        self.wrong(
            rows[0].i,
            "bag",
            f"The purities of lines {lines} of blend {blend} add to {total:g} %, as on the one tag of a premixed bag. "
            "If it is one bag, write one name for it in the column bag of all these rows. Their rate is then that of "
            "the whole bag. If every lot is in a bag of its own, write a name of its own in the column bag of each.",
        )
        return True

    def look_at_rules(self, planned: Sequence[tuple[Row, LotPlan]]) -> None:
        """Say for which lots the rule that was typed goes before that of the plan."""
        lots = [called(lot) for row, lot in planned if row.viable and row.viable != lot.viable]
        if lots:
            self.remarks.append(Remark("plan.other_rule", {"rule": self.tags.typed, "lots": tuple(lots)}))

    def look_at(self, planned: Sequence[tuple[Row, LotPlan]]) -> None:
        """Collect what to look at before planting, lot by lot and bag by bag."""
        bags: dict[tuple[str, str], list[LotPlan]] = {}
        species = [each for name in dict.fromkeys(lot.species for _, lot in planned) for each in kinds(name)]
        for row, lot in planned:
            weighed = any(each.box == lot.box and called(each) == called(lot) for each in self.rates.by_table)
            self.remarks += self.tags.remarks_on(lot, row.kind, weighed, species)
            bags.setdefault((lot.box, (lot.bag or f"{lot.blend}\n{lot.lot}").lower()), []).append(lot)
        for lots in bags.values():
            self.remarks += self.tags.remarks_on_age(lots)
            self.remarks += _poor(lots)
            self.remarks += analysis.remarks_on(lots)
        alone = [row for row, lot in planned if not lot.blend and not lot.bag and lot.tagged]
        self.remarks += [*_may_be_a_bag("", alone), *_in_boxes(planned)]


def _other_units(table: Table, drill: Drill) -> Iterator[Remark]:
    """A remark on rates in acres for a metric drill, or in hectares for another: only the name of a column says it."""
    other = ("_ac", "_ft2") if drill.units == "metric" else ("_ha", "_m2")
    columns = [name for name in (*RATES, *_CARRIERS) if name.endswith(other) and any(table.cells.get(name, ()))]
    if columns:
        yield Remark("plan.other_units", {"columns": tuple(columns), "units": drill.units})


def _viable(text: str) -> Viable | None:
    """The rule for live seed of a row; raises a ValueError with a sentence."""
    for rule in VIABLE:
        if text.lower() == rule:
            return rule
    raise ValueError(
        f"{quoted(text)} is none of {', '.join(VIABLE)}. Write which seed the programme counts: germination "
        "alone, hard (with hard seed) or total (with hard and dormant seed). Or leave the cell empty for the rule in "
        "drill.toml."
    )


def _with_rates(bag: Bag, bulk: float, rate_of: RateOf) -> list[LotPlan]:
    """The lots of a bag with the part of its bulk weight that falls to each by its pure seed."""
    if len(bag.lots) == 1:
        return [replace(bag.lots[0], bulk_rate=bulk, pls_rate=bulk * bag.lots[0].pls, rate_of=rate_of)]
    pure = sum(lot.purity for lot in bag.lots)
    rates = [(bulk * lot.purity / pure, bulk * lot.pls) for lot in bag.lots]
    return [
        replace(lot, bag_purity=pure, bulk_rate=part, pls_rate=pls, rate_of=rate_of)
        for lot, (part, pls) in zip(bag.lots, rates, strict=True)
    ]


def _in_boxes(planned: Sequence[tuple[Row, LotPlan]]) -> Iterator[Remark]:
    """Remarks on bags and lots that go into several boxes, where each drops its own rate."""
    boxes: dict[tuple[str, Hashable], tuple[str, dict[str, None]]] = {}
    for row, lot in planned:
        key = (lot.bag.lower(), None) if lot.bag else (lot.lot.lower(), one_bag.kind_of(row))
        boxes.setdefault(key, (lot.bag or lot.lot, {}))[1][lot.box] = None
    for name, several in boxes.values():
        if len(several) > 1:
            yield Remark("plan.in_boxes", {"lot": name, "boxes": tuple(several)})


def _may_be_a_bag(blend: str, rows: Sequence[Row]) -> Iterator[Remark]:
    """A remark on the poorest lots of a blend, or of all boxes, if they look like one tag beside other lots."""
    poorest: list[Row] = []
    for row in sorted(rows, key=lambda row: row.purity):
        if sum(each.purity for each in poorest) + row.purity > 100:
            break
        poorest.append(row)
    total = sum(row.purity for row in poorest)
    if len(poorest) > 1 and total <= POOR_PURITY * len(poorest):
        values = {"lots": tuple(row.lot for row in poorest), "total": total}
        yield Remark("plan.may_be_a_bag", {"blend": blend, **values}) if blend else Remark("plan.bag_in_boxes", values)


def _poor(lots: Sequence[LotPlan]) -> Iterator[Remark]:
    """A remark on a bag with so little live seed that its bulk rate grows out of hand."""
    pls, total = sum(lot.pls for lot in lots), sum(lot.pls_total for lot in lots)
    if pls < LEAST_PLS:
        values = {"lot": lots[0].bag or lots[0].lot, "pls": pls, "total": total, "rate_of": lots[0].rate_of}
        yield Remark("plan.little_live_seed", values)


def _kind(text: str) -> str:
    """The kind of box that a lot needs; raises a ValueError with a sentence."""
    kind = text.lower().replace(" ", "-")
    if kind not in HOLDS:
        raise ValueError(f"{quoted(kind)} is none of {', '.join(HOLDS)}. Write one of these, or leave the cell empty.")
    return kind
