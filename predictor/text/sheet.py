"""The planting plan as it is shown: text is made from the values of the JSON, so that the two cannot disagree."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, NamedTuple

from predictor.domain.catch import catch_size, coarse_scale, slips
from predictor.domain.drill import VIABLE, Drill, SeedBox, Viable
from predictor.domain.fields import Field
from predictor.domain.seed import BoxPlan, LotPlan, Plan
from predictor.format import count, figures, percent, weight
from predictor.job.first import FirstSetting
from predictor.text.counts import basis_and_range
from predictor.text.drill import fed_rows, length_words
from predictor.text.field import unchecked_note
from predictor.text.fields import fields_area
from predictor.text.fold import Fold, facts
from predictor.text.plan import as_sown
from predictor.text.tag import bag_words, method_words, names as names_of_tag, parts
from predictor.units import AREA_UNIT, GRAMS, METRES, RATE_UNIT, SQUARE_METRES, Units, rate_from, rate_in

# Total over germination from which the plan says what the choice of the rule costs.
MUCH_DORMANT = 1.3


class _Names(NamedTuple):
    """The units that a plan is shown in."""

    rate: str
    weight: str
    row: str
    row_word: str
    seeds_in: str  # Weight for which seeds are counted


_NAMES: dict[Units, _Names] = {
    "us": _Names(RATE_UNIT["us"], "lb", "ft", "foot", "lb"),
    "metric": _Names(RATE_UNIT["metric"], "kg", "m", "metre", "g"),
}


@dataclass(frozen=True)
class Sheet:
    """A plan for one size of catch and an area in square metres; those of the drill file where none are given."""

    plan: Plan
    drill: Drill
    units: Units
    turns: float | None = None
    rows: int | None = None
    area_m2: float | None = None
    distance_m: float | None = None  # Of a towed catch, in place of turns
    checked: frozenset[tuple[str, str]] = frozenset()  # Boxes and lots that a field check judged as they are set
    first: Mapping[str, FirstSetting] = field(default_factory=dict)  # By box and lot, with a tab between
    now: Mapping[str, str] = field(default_factory=dict)  # Headlines of boxes and lots that were begun, likewise

    @property
    def planted_m2(self) -> float | None:
        """The area to be planted: as given, else that of the drill file's fields; None without either."""
        if self.area_m2 is None and self.drill.fields:
            return sum(each.area_m2 for each in self.drill.fields)
        return self.area_m2

    def _size(self, box: BoxPlan) -> tuple[float, int]:
        """Turns and rows of a catch of a box, with no more rows than it feeds."""
        usual = self.drill.catch_of(box.box)
        if self.distance_m is not None:
            usual = replace(usual, turns=self.distance_m / self.drill.covers_of(box.box))
        return self.turns or usual.turns, min(self.rows or usual.rows, self.drill.rows_of(box.box))

    @property
    def warnings(self) -> list[str]:
        """Everything that looks odd, in sentences."""
        towed = self.distance_m is not None
        coarse = (
            coarse_scale(each.box, each.target_output, self.drill, *self._size(each), towed) for each in self.plan.boxes
        )
        return [str(each) for each in (*self.plan.remarks, *coarse) if each is not None]

    def to_dict(self) -> dict[str, Any]:
        """The plan as plain values for JSON; no NaN, no infinity."""
        return {
            "schema": 1,
            "units": self.units,
            "rate_unit": _NAMES[self.units].rate,
            "weight_unit": _NAMES[self.units].weight,
            "viable": self.plan.viable,
            "area": self._area(self.planted_m2),
            "area_unit": AREA_UNIT[self.units],
            "fields": [] if self.area_m2 else [self._field(each) for each in self.drill.fields],
            "boxes": [self._box(box) for box in self.plan.boxes],
            "bags": [self._bag(box, lots) for box in self.plan.boxes for lots in _bags(box) if lots[0].bag],
            "lots": [self._lot(lot, box) for lot in self.plan.lots for box in self.plan.boxes if lot in box.lots],
            "warnings": self.warnings,
        }

    def _area(self, area_m2: float | None) -> float | None:
        return None if area_m2 is None else area_m2 / SQUARE_METRES[AREA_UNIT[self.units]]

    def _field(self, each: Field) -> dict[str, Any]:
        return {"field": each.name, "area": self._area(each.area_m2)}

    def _box(self, box: BoxPlan) -> dict[str, Any]:
        turns, rows = self._size(box)
        towed, first = self.distance_m is not None, self._first(box)
        size = catch_size(turns, rows, replace(self.drill, units=self.units), box.box, towed)
        # slip is in a towed catch already
        factor = 1.0 if towed else box.field_factor
        return {
            "box": box.box.name,
            "lot": box.lot,
            "method": box.method,
            **self._amounts(box, box.box),
            "rows_fed": self.drill.rows_of(box.box),
            "target_catch_g": box.target_catch_g(turns, rows) * (box.field_factor / factor),
            "target_output": box.target_output * (box.field_factor / factor),
            "field_factor": factor,
            "turns": turns,
            "length": size.length,
            "counted": size.counted,
            "rows": rows,
            **(first.to_dict() if first else {"first_setting": None, "first_setting_from": None}),
        }

    def _first(self, box: BoxPlan) -> FirstSetting | None:
        return self.first.get(f"{box.box.name}\t{box.lot}")

    def _bag(self, box: BoxPlan, lots: Sequence[LotPlan]) -> dict[str, Any]:
        """The species of one premixed bag together; of the carrier and the rest of the box it has nothing."""
        first = lots[0]
        names = ("pls", "pls_germination", "pls_hard", "pls_total")
        sums = {name: sum(getattr(lot, name) for lot in lots) for name in names}
        whole = BoxPlan(box.box, first.bag, tuple(lots), sum(lot.bulk_rate for lot in lots), 0.0, 0.0)
        return {
            **{name: getattr(first, name) for name in ("box", "bag", "blend")},
            **{name: _known(value) for name, value in sums.items()},
            "pls_rate": _known(rate_in(sum(lot.pls_rate for lot in lots), self.units)),
            **self._amounts(whole, box.box),
            **self._by_rules(lots),
        }

    def _lot(self, lot: LotPlan, box: BoxPlan) -> dict[str, Any]:
        names = (
            *("box", "lot", "blend", "bag", "species", "pls_germination", "pls_hard", "pls_total", "pls"),
            *("seeds_from", "table_species", "test_date", "treatment"),
            *("other_crop", "weed", "inert", "coating", "noxious", "origin", "variety", "method"),
        )
        weight = _NAMES[self.units].seeds_in
        counts = {name: getattr(lot, name) * GRAMS[weight] for name in ("seeds_per_g", "seeds_low", "seeds_high")}
        counts["bag_weight"] = lot.bag_weight / GRAMS[_NAMES[self.units].weight]
        counts[f"seeds_per_{weight}"] = counts.pop("seeds_per_g")
        return {
            **{name: _known(getattr(lot, name)) for name in names},
            **{name: _known(value) for name, value in counts.items()},
            "seeds_sources": lot.seeds_sources,
            "pls_rate": _known(rate_in(lot.pls_rate, self.units)),
            "seed_share": _known(lot.seeds_per_m2 / box.seeds_per_m2 if box.seeds_per_m2 else math.nan),
            **self._amounts(lot, box.box),
            **self._by_rules([lot]),
        }

    def _by_rules(self, lots: Sequence[LotPlan]) -> dict[str, Any]:
        """The rule in force for a lot or bag, None for a bag of several; and its bulk rate by each rule.

        Where the bulk rate is given, no rule changes it.
        """
        rules = {lot.viable for lot in lots}
        bulk = sum(lot.bulk_rate for lot in lots)
        rates = {rule: rate_in(bulk * _times(lots, rule), self.units) for rule in VIABLE}
        return {
            "viable": rules.pop() if len(rules) == 1 else None,
            "bulk_rate_by_rule": {rule: _known(rate) if rate < math.inf else None for rule, rate in rates.items()},
        }

    def _amounts(self, part: BoxPlan | LotPlan, box: SeedBox) -> dict[str, float | None]:
        """Rates, load and seeds, in the user's units; None where they are not known."""
        names, seeds = _NAMES[self.units], part.seeds_per_m2
        size = METRES[names.row]
        in_row = seeds * self.drill.spacing_of(box) * size
        return {
            "bulk_rate": rate_in(part.bulk_rate, self.units),
            "carrier_rate": rate_in(part.carrier, self.units),
            "load": None if self.planted_m2 is None else part.bulk_rate * self.planted_m2 / GRAMS[names.weight],
            f"seeds_per_{names.row}2": _known(seeds * size**2),
            f"seeds_per_row_{names.row}": _known(math.nan if part.method == "broadcast" else in_row),
        }

    def lines(self, wrapped: Fold) -> list[str]:
        """The plan in plain words, the weight to catch first."""
        said: list[str] = []
        for box in self.plan.boxes:
            said += [*([""] if said else []), *self._box_lines(box, wrapped)]
        if self.planted_m2 is not None:
            whole = "the area" if self.area_m2 else fields_area(self.drill.fields, self.units)
            said += ["", wrapped(f"Each load covers {whole}. Add the seed that must stay in the box.", "")]
        boxes = self.plan.boxes
        plain = [each for each in boxes if each.field_factor == 1]
        unchecked = [each.box for each in plain if (each.box.name, each.lot.lower()) not in self.checked]
        motors = [each.name for each in unchecked if not slips(self.drill, each)]
        wheels = [each.name for each in unchecked if each.name not in motors]
        note = unchecked_note(wheels, len(boxes), motors)
        if note and self.distance_m is None:
            said += ["", wrapped(note, "")]
        warnings = [wrapped(warning, "! ", "  ") for warning in self.warnings]
        return [*said, "", *warnings] if warnings else said

    def _box_lines(self, box: BoxPlan, wrapped: Fold) -> list[str]:
        found, names = self._box(box), _NAMES[self.units]
        holds = "" if box.box.holds in box.box.name.lower() else f" ({box.box.holds})"
        said = [wrapped(f"BOX {box.box.name}{holds}: {box.lot}", "")]
        if now := self.now.get(f"{box.box.name}\t{box.lot}"):
            said.append(wrapped(now))
        if fed := fed_rows(self.drill, box.box, self.units):
            said.append(wrapped(f"Feeds {fed}"))
        length = length_words(found["length"], found["counted"])
        catch = weight(found["target_catch_g"], self.drill.catch.scale_resolution_g)
        said += facts(wrapped, f"CATCH {catch} g in {length}", count(found["rows"], "row"))
        if first := self._first(box):
            said.append(wrapped(f"First setting {first.setting.text}, {first.source}"))
        if sown := as_sown(box):
            said.append(wrapped(f"Catch the seed {sown}"))
        if meant := method_words(box.method):
            said.append(wrapped(f"Rates are {meant}"))
        if found["field_factor"] != 1:
            said.append(wrapped(f"Corrected for a field factor of {box.field_factor:.2f}"))
        amounts = [("Drop", found["bulk_rate"], f" {names.rate} bulk"), ("Load", found["load"], f" {names.weight}")]
        for what, amount, unit in amounts:
            if amount is not None:
                carrier = [f"{figures(amount * box.carrier / box.bulk_rate)} of it carrier"] if box.carrier else []
                said += facts(wrapped, f"{what} {figures(amount)}{unit}", *carrier)
        bags = _bags(box)
        for lots in bags:
            said += self._bag_lines(box, lots, wrapped) if lots[0].bag else self._lot_lines(lots[0], box, wrapped)
        if len(bags) > 1 and box.seeds_per_m2 == box.seeds_per_m2:
            said += ["  All lots together", *self._seeds(found, wrapped)]
        return said

    def _bag_lines(self, box: BoxPlan, lots: Sequence[LotPlan], wrapped: Fold) -> list[str]:
        """A premixed bag, with its species below it."""
        found, names = self._bag(box, lots), _NAMES[self.units]
        bag = bag_words(lots[0].bag)
        said = [wrapped(f"{bag[0].upper()}{bag[1:]}: {figures(found['bulk_rate'])} {names.rate} of this bag")]
        said += self._live(found, lots, wrapped) + _tag_lines(parts(lots[0]), wrapped, "    ")
        if found["load"] is not None and len(_bags(box)) > 1:
            said.append(f"    Load {figures(found['load'])} {names.weight} of this bag")
        if found[f"seeds_per_{names.row}2"] is not None:
            said += self._seeds(found, wrapped)
        for lot in lots:
            part = self._lot(lot, box)
            lot_name = "" if lot.lot.lower() == lot.bag.lower() else f" (lot {lot.lot})"
            said.append(wrapped(f"{lot.species}{lot_name}", "    "))
            if lot.tagged:
                pure, pls = 100 * lot.purity, figures(part["pls_rate"])
                said += facts(wrapped, f"{pure:.4g} % of the bag", f"{pls} {names.rate} PLS", indent="      ")
                said += self._count(lot, part, wrapped, "      ")
            said += _tag_lines(names_of_tag(lot), wrapped, "      ")
        return said

    def _lot_lines(self, lot: LotPlan, box: BoxPlan, wrapped: Fold) -> list[str]:
        """A lot that is in a bag of its own."""
        found, names = self._lot(lot, box), _NAMES[self.units]
        said = [wrapped(f"Lot {lot.lot}, {lot.species}")]
        said += self._live(found, [lot], wrapped)
        said += _tag_lines([*names_of_tag(lot), *parts(lot)], wrapped, "    ")
        if len(_bags(box)) > 1 and found["load"] is not None:
            said.append(f"    Load {figures(found['load'])} {names.weight} of this lot")
        return said + (self._count(lot, found, wrapped, "    ") if lot.tagged else [])

    def _live(self, found: dict[str, Any], lots: Sequence[LotPlan], wrapped: Fold) -> list[str]:
        """Pure live seed of a lot or bag, and what its rate is in bulk."""
        unit = _NAMES[self.units].rate
        if found["pls"] is None:
            no_tag = "no tag: live seed unknown"
            return facts(wrapped, f"{figures(found['bulk_rate'])} {unit} bulk", no_tag, indent="    ")
        rules = _rules(lots)
        used = {name: " (used)" if found["viable"] in same else "" for name, _, same in rules if len(rules) > 1}
        shares = [f"PLS {100 * found[f'pls_{name}']:.1f} % {words}{used.get(name, '')}" for name, words, _ in rules]
        if found["viable"] is None and len(rules) > 1:
            shares.append(f"PLS {100 * found['pls']:.1f} % by the rules of its rows (used)")
        pls, bulk = (f"{figures(found[name])} {unit}" for name in ("pls_rate", "bulk_rate"))
        said = [*facts(wrapped, *shares, indent="    "), wrapped(f"{pls} PLS is {bulk} bulk", "    ")]
        return said + self._cost(found, lots, wrapped)

    def _cost(self, found: dict[str, Any], lots: Sequence[LotPlan], wrapped: Fold) -> list[str]:
        """What the rule for live seed costs, where it makes much of a difference."""
        if lots[0].rate_of == "bulk" or found["pls_total"] <= MUCH_DORMANT * found["pls_germination"]:
            return []
        names = _NAMES[self.units]
        parts = []
        for rule, words, _ in _rules(lots):
            rate = found["bulk_rate_by_rule"][rule]
            total = None if rate is None or self.planted_m2 is None else rate_from(rate, self.units) * self.planted_m2
            load = "" if total is None else f" ({figures(total / GRAMS[names.weight])} {names.weight} in all)"
            parts.append(f"{words} no live seed" if rate is None else f"{words} {figures(rate)} {names.rate}{load}")
        return [wrapped(f"Bulk depends on the rule: {', '.join(parts)}", "    ")]

    def _count(self, lot: LotPlan, found: dict[str, Any], wrapped: Fold, indent: str) -> list[str]:
        """Live seeds of a lot per area, its share of them, and the count of seeds they rest on."""
        names = _NAMES[self.units]
        if not lot.seeds_from:
            return [wrapped("Seeds per area unknown, see below", indent)]
        weight = GRAMS[names.seeds_in]
        count, source = f"Seeds: {lot.seeds_per_g * weight:,.0f} per {names.seeds_in}", "from plan.csv"
        if lot.seeds_from == "table":
            count += f" for {lot.table_species}"
            source = basis_and_range(lot.seeds_sources, lot.seeds_low * weight, lot.seeds_high * weight)
        return [*self._seeds(found, wrapped, indent), *facts(wrapped, count, source, indent=indent)]

    def _seeds(self, found: dict[str, Any], wrapped: Fold, indent: str = "    ") -> list[str]:
        row, word = _NAMES[self.units].row, _NAMES[self.units].row_word
        area = f"{figures(found[f'seeds_per_{row}2'])} live seeds/{row}2"
        share = found.get("seed_share")
        part = [f"{percent(share)} % of all"] if share is not None and share < 1 else []
        in_row = found[f"seeds_per_row_{row}"]
        rows = [] if in_row is None else [f"{figures(in_row)} per {word} of row"]
        return facts(wrapped, area, *part, *rows, indent=indent)


def _tag_lines(said: Sequence[str], wrapped: Fold, indent: str) -> list[str]:
    """What else a tag says, on one line."""
    return [wrapped(f"Tag: {', '.join(said)}", indent)] if said else []


def _bags(box: BoxPlan) -> list[list[LotPlan]]:
    """The lots of a box, those of one premixed bag together."""
    bags: dict[str, list[LotPlan]] = {}
    for k, lot in enumerate(box.lots):
        bags.setdefault(lot.bag.lower() or f"\n{k}", []).append(lot)
    return list(bags.values())


def _rules(lots: Sequence[LotPlan]) -> list[tuple[Viable, str, tuple[Viable, ...]]]:
    """The rules for live seed that differ for some lots: one of each with its words, and those that are the same."""
    tested = [lot for lot in lots if lot.tz != lot.tz]
    hard, dormant = any(lot.hard for lot in tested), any(lot.dormant for lot in tested)
    if hard and dormant:
        three = ("by germination", "with hard seed", "with hard and dormant seed")
        return [(rule, words, (rule,)) for rule, words in zip(VIABLE, three, strict=True)]
    if hard:
        return [("germination", "by germination", ("germination",)), ("total", "with hard seed", ("hard", "total"))]
    if dormant:
        return [("germination", "by germination", ("germination", "hard")), ("total", "with dormant seed", ("total",))]
    words = "(no dormant or hard seed on the tag)" if tested else "by TZ test"
    return [("germination", words, VIABLE)]


def _times(lots: Sequence[LotPlan], rule: Viable) -> float:
    """How many times its bulk weight a lot or bag needs by another rule for the live seed that is wanted of it."""
    if lots[0].rate_of == "bulk":
        return 1.0
    by_rule = {"germination": "pls_germination", "hard": "pls_hard", "total": "pls_total"}[rule]
    counts = [lot.seeds_per_g if lots[0].rate_of == "seeds" else 1.0 for lot in lots]
    now = sum(lot.pls * count for lot, count in zip(lots, counts, strict=True))
    then = sum(getattr(lot, by_rule) * count for lot, count in zip(lots, counts, strict=True))
    return now / then if then else math.inf


def _known(value: Any) -> Any:
    """A value as JSON has it: None in place of NaN."""
    return value if value == value else None
