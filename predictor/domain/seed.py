"""Seed tags and the planting mix: pure live seed, and the bulk rate each box must drop."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from functools import cached_property
from typing import Literal, Self

from predictor.domain.arguments import NOT_NEGATIVE, POSITIVE, kind, label, number, text_of
from predictor.domain.catch import output_for_rate
from predictor.domain.drill import Drill, SeedBox, Viable
from predictor.domain.mix import RateOf
from predictor.domain.result import NanEqual, Remark
from predictor.errors import InputError

# Where the count of seeds in a gram is from: the plan file, the shipped table, or nowhere.
SeedsFrom = Literal["plan", "table", ""]
# What the rates of a lot are meant for; "" where nothing is said.
Method = Literal["drilled", "broadcast", ""]


@dataclass(frozen=True, eq=False)
class LotPlan(NanEqual):
    """One lot of the mix, or one species of a premixed bag, from its tag to what must be dropped.

    Rates are in grams per square metre. All that rests on the tag is NaN where there is none.

    Attributes
    ----------
    box, lot, species : str
    blend : str
        Name of the mix it is part of; "" where the lot or bag goes in alone.
    bag : str
        Name of the premixed bag it is part of; "" where the lot is in a bag of its own.
    pls : float
        Pure live seed by the rule in force; fraction of the weight of the whole bag.
    pls_germination, pls_hard, pls_total : float
        The same by germination alone, with hard seed, and with hard and dormant seed. A TZ test counts every living
        seed, so that all are equal where there is one.
    viable : {"germination", "hard", "total"}
        The rule in force.
    purity : float
        Pure seed of this species; fraction of the weight of the whole bag.
    bag_purity : float
        Pure seed of all species of the bag; the same as `purity` where the lot is in a bag of its own.
    germination, dormant, hard : float
        Fractions of the pure seed; `germination` is NaN where there is a TZ test instead.
    tz : float
        Living seed by a TZ test; fraction of the pure seed. NaN where there is a germination test.
    rate_of : {"bulk", "pls", "seeds"}
        What its rate was given in.
    pls_rate : float
        Pure live seed of this species.
    bulk_rate : float
        Bulk weight. Of a premixed bag it is the part that falls to this species by its pure seed, so that the parts
        add to `bag_rate`.
    carrier : float
    treatment : str
        What was done to the seed, such as "inoculated"; "" where nothing is said.
    seeds_per_g : float
        Seeds in a gram of pure seed; NaN where neither file nor table knows.
    seeds_from : {"plan", "table", ""}
        Where `seeds_per_g` is from: the plan file, the shipped table, or nowhere.
    table_species : str
        Common name of the species in the shipped table; "" where it is not there.
    seeds_low, seeds_high : float
        Least and greatest count of the table's sources, in a gram; NaN where there is one source, or the plan has it.
    seeds_log_sd : float
        Standard deviation of the logarithm of `seeds_per_g`.
    seeds_sources : tuple of str
        Sources of the table's count, by the short names in its head.
    test_date : str
        As YYYY-MM-DD, or YYYY-MM where no day was given; "" where not given.
    other_crop, weed, inert, coating : float
        Fractions of the weight of the whole bag; NaN where not given.
    noxious, origin, variety : str
        As the tag has them; "" where not given.
    method : {"drilled", "broadcast", ""}
        What its rate is meant for, which changes no figure; "" where nothing is said.
    bag_weight : float
        Bulk weight in a full bag, grams; NaN where not given.
    """

    box: str
    lot: str
    species: str
    blend: str
    bag: str
    pls: float
    pls_germination: float
    pls_hard: float
    pls_total: float
    viable: Viable
    purity: float
    bag_purity: float
    germination: float
    dormant: float
    hard: float
    tz: float
    rate_of: RateOf
    pls_rate: float
    bulk_rate: float
    carrier: float
    treatment: str
    seeds_per_g: float
    seeds_from: SeedsFrom
    table_species: str
    seeds_low: float
    seeds_high: float
    seeds_log_sd: float
    seeds_sources: tuple[str, ...]
    test_date: str
    other_crop: float
    weed: float
    inert: float
    coating: float
    noxious: str
    origin: str
    variety: str
    method: Method
    bag_weight: float

    @property
    def seeds_per_m2(self) -> float:
        """Pure live seeds per square metre."""
        return self.pls_rate * self.seeds_per_g

    @property
    def pure_seeds_per_m2(self) -> float:
        """Pure seeds per square metre, dead ones too: what can be counted in a row."""
        return self.bulk_rate * self.bag_purity * self.seeds_per_g

    @property
    def bag_rate(self) -> float:
        """Bulk weight of the whole bag it is in, grams per square metre."""
        return self.bulk_rate * self.bag_purity / self.purity if self.bag else self.bulk_rate

    @property
    def tagged(self) -> bool:
        """Whether it has a tag, so that its live seed is known."""
        return self.pls == self.pls

    @property
    def filling(self) -> str:
        """The name its catches carry: the blend, else the bag, else the lot."""
        return self.blend or self.bag or self.lot

    def seeds_per_row_m(self, spacing_m: float) -> float:
        """Pure live seeds per metre of row.

        Parameters
        ----------
        spacing_m : float
            Distance between rows, metres.

        Returns
        -------
        float
        """
        return self.seeds_per_m2 * number(spacing_m, "spacing_m", POSITIVE)

    def to_dict(self) -> dict[str, str | float | tuple[str, ...] | None]:
        """Fields by name; None in place of NaN."""
        return {name: None if value != value else value for name, value in asdict(self).items()}


@dataclass(frozen=True)
class BoxPlan:
    """What one box must drop.

    Attributes
    ----------
    box : SeedBox
    lot : str
        The name its catches carry: the blend, else the bag, else the lot.
    lots : tuple of LotPlan
    bulk_rate, carrier : float
        Seed and carrier together, and carrier alone, grams per square metre.
    target_output : float
        Grams per row per turn of a stationary catch.
    field_factor : float
        Field rate over stationary rate for which `target_output` is corrected.
    """

    box: SeedBox
    lot: str
    lots: tuple[LotPlan, ...]
    bulk_rate: float
    carrier: float
    target_output: float
    field_factor: float = 1.0

    def target_catch_g(self, turns: float, rows: float) -> float:
        """Weight to catch, grams over all caught rows.

        Parameters
        ----------
        turns, rows : float
            Of the catch.

        Returns
        -------
        float
        """
        return self.target_output * number(turns, "turns", POSITIVE) * number(rows, "rows", POSITIVE)

    def load_g(self, area_m2: float) -> float:
        """Seed and carrier to load for an area, grams.

        Parameters
        ----------
        area_m2 : float
            Square metres.

        Returns
        -------
        float

        Examples
        --------
        >>> import predictor
        >>> drill = predictor.read_drill("sample_trials/drill.toml")
        >>> plan = predictor.read_plan("sample_trials/plan.csv", drill)
        >>> round(plan.target("grain", "CW-26").load_g(area_m2=10_000))
        3116
        """
        return self.bulk_rate * number(area_m2, "area_m2", NOT_NEGATIVE)

    @property
    def method(self) -> Method:
        """What its rate is meant for: "drilled" or "broadcast", and "" where nothing is said."""
        return next((lot.method for lot in self.lots if lot.method), "")

    @property
    def seeds_per_m2(self) -> float:
        """Pure live seeds of all its lots, per square metre."""
        return sum(lot.seeds_per_m2 for lot in self.lots)

    @property
    def pure_seeds_per_m2(self) -> float:
        """Pure seeds of all its lots, dead ones too, per square metre."""
        return sum(lot.pure_seeds_per_m2 for lot in self.lots)

    @property
    def seeds_log_sd(self) -> float:
        """Standard deviation of the logarithm of `pure_seeds_per_m2` from how sure the counts of its lots are."""
        parts = (lot.pure_seeds_per_m2 * lot.seeds_log_sd for lot in self.lots)
        return math.hypot(*parts) / self.pure_seeds_per_m2


@dataclass(frozen=True)
class Plan:
    """A planting mix, lot by lot and box by box.

    Attributes
    ----------
    lots : tuple of LotPlan
    boxes : tuple of BoxPlan
    viable : {"germination", "hard", "total"}
        The rule for lots that name none of their own.
    remarks : tuple of Remark
        What to look at before planting; `str(remark)` gives the sentence.
    assumed : tuple of Remark
        What the reader had to assume.
    digest : str
        SHA-256 of the bytes of its file, as 64 hexadecimal digits.
    """

    lots: tuple[LotPlan, ...]
    boxes: tuple[BoxPlan, ...]
    viable: Viable
    remarks: tuple[Remark, ...]
    assumed: tuple[Remark, ...]
    digest: str = field(default="", compare=False)

    def target(self, box: str, lot: str) -> BoxPlan | None:
        """What a box must drop with a lot, bag or blend in it; None if the plan does not have it.

        Parameters
        ----------
        box : str
            Its name, in capitals or not.
        lot : str
            Lot, bag or blend, in capitals or not.

        Returns
        -------
        BoxPlan or None

        Examples
        --------
        >>> import predictor
        >>> drill = predictor.read_drill("sample_trials/drill.toml")
        >>> plan = predictor.read_plan("sample_trials/plan.csv", drill)
        >>> round(plan.target("grain", "CW-26").target_catch_g(turns=28, rows=3), 1)
        10.9
        """
        home, small = text_of(box, "box").lower(), label(lot, "lot").lower()
        return self._by_name.get((home, small))

    @cached_property
    def _by_name(self) -> dict[tuple[str, str], BoxPlan]:
        """Entries by box and lot in small letters; the first of each."""
        return {(each.box.name.lower(), each.lot.lower()): each for each in reversed(self.boxes)}

    def filling_of(self, box: str, name: str) -> str:
        """The name that catches carry of a lot or bag mixed into a box; "" where the name is theirs, or unknown.

        Parameters
        ----------
        box, name : str
            Box, and lot or bag, in capitals or not.

        Returns
        -------
        str
        """
        home, small = text_of(box, "box").lower(), label(name, "name").lower()
        if self.target(box, name) is not None:
            return ""
        held = (lot for lot in self.lots if lot.box.lower() == home)
        return next((lot.filling for lot in held if small in (lot.lot.lower(), lot.bag.lower())), "")

    def with_field_factors(self, factors: Mapping[tuple[str, str], float], drill: Drill) -> Self:
        """The plan with its target catches corrected by what field checks showed.

        Parameters
        ----------
        factors : mapping of (str, str) to float
            Box and lot, as `BoxPlan` has them, to field rate over stationary rate, > 0; 1 where they are not named.
        drill : Drill

        Returns
        -------
        Plan

        Raises
        ------
        InputError
            A factor that is not above 0, or a box and lot that the plan does not have.

        Examples
        --------
        >>> import predictor
        >>> drill = predictor.read_drill("sample_trials/drill.toml")
        >>> plan = predictor.read_plan("sample_trials/plan.csv", drill)
        >>> corrected = plan.with_field_factors({("grain", "CW-26"): 0.95}, drill)
        >>> round(corrected.target("grain", "CW-26").target_catch_g(28, 3), 1)
        11.5
        """
        kind(drill, "drill", Drill, "a Drill, as `read_drill` gives")
        kind(factors, "factors", Mapping, "a mapping of box and lot to a field factor")
        there = {(each.box.name, each.lot) for each in self.boxes}
        for place, factor in factors.items():
            if place not in there:
                places = ", ".join(f"{box} {lot}" for box, lot in sorted(there))
                raise InputError(f"factors must be for boxes and lots of the plan; got {place!r:.60}. Known: {places}.")
            number(factor, f"factors of {place[0]} {place[1]}", POSITIVE)
        return replace(self, boxes=box_plans(self.lots, drill, factors))


def pure_live_seed(
    purity: float, germination: float, dormant: float = 0.0, hard: float = 0.0, viable: Viable = "germination"
) -> float:
    """Fraction of bulk weight that is pure and alive by a rule."""
    counted: dict[Viable, float] = {"germination": 0.0, "hard": hard, "total": dormant + hard}
    return purity * (germination + counted[viable])


def box_plans(
    lots: Sequence[LotPlan], drill: Drill, field_factors: Mapping[tuple[str, str], float] | None = None
) -> tuple[BoxPlan, ...]:
    """Lots gathered by box and filling, in the drill's order of boxes."""
    factors = field_factors or {}
    together: dict[tuple[str, str], list[LotPlan]] = {}
    for lot in lots:
        together.setdefault((lot.box, lot.filling.lower()), []).append(lot)
    plans = []
    for box in drill.boxes:
        for members in (each for (name, _), each in together.items() if name == box.name):
            carrier = sum(member.carrier for member in members)
            bulk = sum(member.bulk_rate for member in members) + carrier
            name = members[0].filling
            factor = factors.get((box.name, name), 1.0)
            output = output_for_rate(bulk, drill, box, factor)
            plans.append(BoxPlan(box, name, tuple(members), bulk, carrier, output, factor))
    return tuple(plans)
