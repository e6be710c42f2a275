"""The planting plan in plain words: the targets of all boxes in one table, then the particulars of each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from predictor.domain.catch import slips
from predictor.domain.seed import BoxPlan, LotPlan
from predictor.format import count, figures, percent, weight
from predictor.text.counts import basis_and_range
from predictor.text.drill import fed_rows, length_words
from predictor.text.field import unchecked_note
from predictor.text.fields import fields_area
from predictor.text.fold import Fold, facts
from predictor.text.plan import as_sown
from predictor.text.sheet import NAMES, Sheet, bags_of, rules_of
from predictor.text.table import Table
from predictor.text.tag import bag_words, method_words, names as names_of_tag, parts
from predictor.units import GRAMS, rate_from

# Total over germination from which the plan says what the choice of the rule costs.
MUCH_DORMANT = 1.3
HEAD = ("box", "lot", "setting", "catch", "in", "drop", "load")


@dataclass(frozen=True)
class PlanLines:
    """A sheet as a terminal of some width shows it; with `details` the shares and counts of seed, and their sources."""

    sheet: Sheet
    wrapped: Fold
    width: int
    details: bool = False

    def lines(self) -> list[str]:
        """The targets, the particulars of each box, and what looks odd."""
        sheet, boxes = self.sheet, self.sheet.plan.boxes
        rows = [self._row(box) for box in boxes]
        said = [*Table(self.width, HEAD, frozenset({3, 5, 6}), frozenset({2}), names=2, indent="").lines(rows), ""]
        for box in boxes:
            said += [*self._box_lines(box), ""] if self.details else self._short_lines(box)
        said += [] if self.details else [""]
        if sheet.planted_m2 is not None:
            whole = "the area" if sheet.area_m2 else fields_area(sheet.drill.fields, sheet.units)
            said.append(self.wrapped(f"Each load covers {whole}. Add the seed that must stay in the box.", ""))
        if sheet.distance_m is None and (note := self._unchecked()):
            said.append(self.wrapped(note, ""))
        return [*said, *(self.wrapped(warning, "! ", "  ") for warning in sheet.warnings)]

    def _row(self, box: BoxPlan) -> list[str]:
        """What a box is set to, what it must drop, and what a catch of that weighs."""
        found, names = self.sheet.box_values(box), NAMES[self.sheet.units]
        load = "" if found["load"] is None else f"{figures(found['load'])} {names.weight}"
        drop = f"{figures(found['bulk_rate'])} {names.rate}"
        return [box.box.name, box.lot, self._setting(box), *self._catch(box, found), drop, load]

    def _setting(self, box: BoxPlan) -> str:
        """What to do with the setting, as every command says it."""
        if now := self.sheet.now.get(f"{box.box.name}\t{box.lot}"):
            then = ", LOCK" if now.ready and now.doing.then == "lock" else ""
            return f"{now.doing.verb.upper()} {now.doing.setting}{then}".strip()
        first = self.sheet.first_of(box)
        return f"SET {first.setting.text}" if first else ""

    def _catch(self, box: BoxPlan, found: Mapping[str, Any]) -> tuple[str, str]:
        """Weight of a catch on target with its size: the one that is asked for now, unless a size was given."""
        sheet = self.sheet
        now = sheet.now.get(f"{box.box.name}\t{box.lot}")
        if now and not now.ready and not (sheet.turns or sheet.rows or sheet.distance_m):
            return now.target, now.made
        return f"{weight(found['target_catch_g'], sheet.drill.catch.scale_resolution_g)} g", _size(found)

    def _unchecked(self) -> str:
        """That no field check corrects some targets."""
        boxes = self.sheet.plan.boxes
        plain = [each for each in boxes if each.field_factor == 1]
        unchecked = [each.box for each in plain if (each.box.name, each.lot.lower()) not in self.sheet.checked]
        motors = [each.name for each in unchecked if not slips(self.sheet.drill, each)]
        return unchecked_note([each.name for each in unchecked if each.name not in motors], len(boxes), motors)

    def _short_lines(self, box: BoxPlan) -> list[str]:
        """What somebody at the drill has to know of a box and its bags."""
        found, names = self.sheet.box_values(box), NAMES[self.sheet.units]
        fed, sown, first = fed_rows(self.sheet.drill, box.box, self.sheet.units), as_sown(box), self.sheet.first_of(box)
        told = [f"corrected for a field factor of {box.field_factor:.2f}"] if found["field_factor"] != 1 else []
        told += [f"feeds {fed}"] if fed else []
        told += [", ".join(self._seeds_words(found))] if box.seeds_per_m2 == box.seeds_per_m2 else []
        said = [self.wrapped(f"{box.box.name}, {box.lot}: {'; '.join(told)}".removesuffix(": "), "", "  ")]
        if first:
            said.append(self.wrapped(f"First setting {first.setting.text}, {first.source}", "  ", "    "))
        if sown:
            carrier = f" ({figures(found['carrier_rate'])} {names.rate})" if box.carrier else ""
            said.append(self.wrapped(f"Catch the seed {sown}{carrier}", "  ", "    "))
        if meant := method_words(box.method):
            said.append(self.wrapped(f"Rates are {meant}", "  ", "    "))
        bags = bags_of(box)
        for lots in bags:
            of = self.sheet.bag_values(box, lots) if lots[0].bag else self.sheet.lot_values(lots[0], box)
            load = [] if of["load"] is None or len(bags) == 1 else [f"load {figures(of['load'])} {names.weight}"]
            said.append(self.wrapped("; ".join([f"{_bag_name(lots)}: {self._rates(of)}", *load]), "  ", "    "))
            said += [] if of["pls"] is None else self._cost(of, lots)
        return said

    def _rates(self, found: Mapping[str, Any]) -> str:
        """The rate of a lot or bag, of live seed and in bulk."""
        unit = NAMES[self.sheet.units].rate
        bulk = f"{figures(found['bulk_rate'])} {unit} bulk"
        if found["pls"] is None:
            return f"{bulk}, no tag: live seed unknown"
        return f"{figures(found['pls_rate'])} {unit} PLS is {bulk}"

    def _seeds_words(self, found: Mapping[str, Any]) -> list[str]:
        """Live seeds of a box or lot by area, its share of them, and by length of row."""
        row, word = NAMES[self.sheet.units].row, NAMES[self.sheet.units].row_word
        area = f"{figures(found[f'seeds_per_{row}2'])} live seeds/{row}2"
        share = found.get("seed_share")
        part = [f"{percent(share)} % of all"] if share is not None and share < 1 else []
        in_row = found[f"seeds_per_row_{row}"]
        return [area, *part, *([] if in_row is None else [f"{figures(in_row)} per {word} of row"])]

    def _box_lines(self, box: BoxPlan) -> list[str]:
        """Everything about a box, its lots and their seeds."""
        found, names = self.sheet.box_values(box), NAMES[self.sheet.units]
        holds = "" if box.box.holds in box.box.name.lower() else f" ({box.box.holds})"
        said = [self.wrapped(f"BOX {box.box.name}{holds}: {box.lot}", "")]
        if now := self.sheet.now.get(f"{box.box.name}\t{box.lot}"):
            said.append(self.wrapped(now.headline))
        if fed := fed_rows(self.sheet.drill, box.box, self.sheet.units):
            said.append(self.wrapped(f"Feeds {fed}"))
        catch, size = self._catch(box, found)
        said.append(self.wrapped(f"CATCH {catch} in {size}"))
        if first := self.sheet.first_of(box):
            said.append(self.wrapped(f"First setting {first.setting.text}, {first.source}"))
        if sown := as_sown(box):
            said.append(self.wrapped(f"Catch the seed {sown}"))
        if meant := method_words(box.method):
            said.append(self.wrapped(f"Rates are {meant}"))
        if found["field_factor"] != 1:
            said.append(self.wrapped(f"Corrected for a field factor of {box.field_factor:.2f}"))
        amounts = [("Drop", found["bulk_rate"], f" {names.rate} bulk"), ("Load", found["load"], f" {names.weight}")]
        for what, amount, unit in amounts:
            if amount is not None:
                carrier = [f"{figures(amount * box.carrier / box.bulk_rate)} of it carrier"] if box.carrier else []
                said += facts(self.wrapped, f"{what} {figures(amount)}{unit}", *carrier)
        bags = bags_of(box)
        for lots in bags:
            said += self._bag_lines(box, lots) if lots[0].bag else self._lot_lines(lots[0], box)
        if len(bags) > 1 and box.seeds_per_m2 == box.seeds_per_m2:
            said += ["  All lots together", *self._seeds(found)]
        return said

    def _bag_lines(self, box: BoxPlan, lots: Sequence[LotPlan]) -> list[str]:
        """A premixed bag, with its species below it."""
        found, names = self.sheet.bag_values(box, lots), NAMES[self.sheet.units]
        bag = bag_words(lots[0].bag)
        said = [self.wrapped(f"{bag[0].upper()}{bag[1:]}: {figures(found['bulk_rate'])} {names.rate} of this bag")]
        said += self._live(found, lots) + _tag_lines(parts(lots[0]), self.wrapped, "    ")
        if found["load"] is not None and len(bags_of(box)) > 1:
            said.append(f"    Load {figures(found['load'])} {names.weight} of this bag")
        if found[f"seeds_per_{names.row}2"] is not None:
            said += self._seeds(found)
        for lot in lots:
            part = self.sheet.lot_values(lot, box)
            lot_name = "" if lot.lot.lower() == lot.bag.lower() else f" (lot {lot.lot})"
            said.append(self.wrapped(f"{lot.species}{lot_name}", "    "))
            if lot.tagged:
                pure, pls = 100 * lot.purity, figures(part["pls_rate"])
                said += facts(self.wrapped, f"{pure:.4g} % of the bag", f"{pls} {names.rate} PLS", indent="      ")
                said += self._count(lot, part, "      ")
            said += _tag_lines(names_of_tag(lot), self.wrapped, "      ")
        return said

    def _lot_lines(self, lot: LotPlan, box: BoxPlan) -> list[str]:
        """A lot that is in a bag of its own."""
        found, names = self.sheet.lot_values(lot, box), NAMES[self.sheet.units]
        said = [self.wrapped(f"Lot {lot.lot}, {lot.species}")]
        said += self._live(found, [lot])
        said += _tag_lines([*names_of_tag(lot), *parts(lot)], self.wrapped, "    ")
        if len(bags_of(box)) > 1 and found["load"] is not None:
            said.append(f"    Load {figures(found['load'])} {names.weight} of this lot")
        return said + (self._count(lot, found, "    ") if lot.tagged else [])

    def _live(self, found: dict[str, Any], lots: Sequence[LotPlan]) -> list[str]:
        """Pure live seed of a lot or bag, and what its rate is in bulk."""
        unit = NAMES[self.sheet.units].rate
        if found["pls"] is None:
            no_tag = "no tag: live seed unknown"
            return facts(self.wrapped, f"{figures(found['bulk_rate'])} {unit} bulk", no_tag, indent="    ")
        rules = rules_of(lots)
        used = {name: " (used)" if found["viable"] in same else "" for name, _, same in rules if len(rules) > 1}
        shares = [f"PLS {100 * found[f'pls_{name}']:.1f} % {words}{used.get(name, '')}" for name, words, _ in rules]
        if found["viable"] is None and len(rules) > 1:
            shares.append(f"PLS {100 * found['pls']:.1f} % by the rules of its rows (used)")
        pls, bulk = (f"{figures(found[name])} {unit}" for name in ("pls_rate", "bulk_rate"))
        said = [*facts(self.wrapped, *shares, indent="    "), self.wrapped(f"{pls} PLS is {bulk} bulk", "    ")]
        return said + self._cost(found, lots)

    def _cost(self, found: dict[str, Any], lots: Sequence[LotPlan]) -> list[str]:
        """What the rule for live seed costs, where it makes much of a difference."""
        if lots[0].rate_of == "bulk" or found["pls_total"] <= MUCH_DORMANT * found["pls_germination"]:
            return []
        names, area = NAMES[self.sheet.units], self.sheet.planted_m2
        parts = []
        for rule, words, _ in rules_of(lots):
            rate = found["bulk_rate_by_rule"][rule]
            total = None if rate is None or area is None else rate_from(rate, self.sheet.units) * area
            load = "" if total is None else f" ({figures(total / GRAMS[names.weight])} {names.weight} in all)"
            parts.append(f"{words} no live seed" if rate is None else f"{words} {figures(rate)} {names.rate}{load}")
        return [self.wrapped(f"Bulk depends on the rule: {', '.join(parts)}", "    ")]

    def _count(self, lot: LotPlan, found: dict[str, Any], indent: str) -> list[str]:
        """Live seeds of a lot per area, its share of them, and the count of seeds they rest on."""
        names = NAMES[self.sheet.units]
        if not lot.seeds_from:
            return [self.wrapped("Seeds per area unknown, see below", indent)]
        weight = GRAMS[names.seeds_in]
        count, source = f"Seeds: {lot.seeds_per_g * weight:,.0f} per {names.seeds_in}", "from plan.csv"
        if lot.seeds_from == "table":
            count += f" for {lot.table_species}"
            source = basis_and_range(lot.seeds_sources, lot.seeds_low * weight, lot.seeds_high * weight)
        return [*self._seeds(found, indent), *facts(self.wrapped, count, source, indent=indent)]

    def _seeds(self, found: Mapping[str, Any], indent: str = "    ") -> list[str]:
        return facts(self.wrapped, *self._seeds_words(found), indent=indent)


def _size(found: Mapping[str, Any]) -> str:
    """Length and rows of the catch."""
    return f"{length_words(found['length'], found['counted'])}, {count(found['rows'], 'row')}"


def _bag_name(lots: Sequence[LotPlan]) -> str:
    """A lot with its species, or a premixed bag."""
    if not lots[0].bag:
        return f"Lot {lots[0].lot}, {lots[0].species}"
    bag = bag_words(lots[0].bag)
    return f"{bag[0].upper()}{bag[1:]}, {count(len(lots), 'species', 'species')}"


def _tag_lines(said: Sequence[str], wrapped: Fold, indent: str) -> list[str]:
    """What else a tag says, on one line."""
    return [wrapped(f"Tag: {', '.join(said)}", indent)] if said else []
