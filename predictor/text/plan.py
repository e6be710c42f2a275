"""The remarks of a planting plan, in sentences."""

from __future__ import annotations

from collections.abc import Callable

from predictor.domain.result import Remark
from predictor.domain.seed import BoxPlan
from predictor.files.tag import unknown_species
from predictor.format import figures, listed, whole
from predictor.text.counts import basis_and_range, pounds, seeds_per
from predictor.text.drill import length_words
from predictor.text.tag import treatment
from predictor.units import SQUARE_METRES_PER_SQUARE_FOOT


def _no_count(remark: Remark) -> str:
    return f"Lot {remark['lot']}: its seeds per area are unknown. {unknown_species(remark['species'])}"


def _little_live_seed(remark: Remark) -> str:
    pls, total = remark["pls"], remark["total"]
    hint = ""
    if total > pls:
        hint = f" With hard and dormant seed it is {100 * total:.1f} %: check which rule your programme uses."
    high = "" if remark["rate_of"] == "bulk" else ", so its bulk rate is high"
    return f"Lot {remark['lot']}: only {100 * pls:.1f} % of it is live seed{high}.{hint}"


def _other_rule(remark: Remark) -> str:
    return (
        f'The rule "{remark["rule"]}" was asked for and is used for all lots. The plan has another one for '
        f"{listed(remark['lots'])}."
    )


def _may_be_a_bag(remark: Remark) -> str:
    return (
        f"Blend {remark['blend']}: the purities of {listed(remark['lots'])} add to {remark['total']:g} %. If one tag "
        "of a premixed bag has them all, write one name for the bag in the column bag of these rows. Otherwise write "
        "each lot's own name there."
    )


def as_sown(plan: BoxPlan) -> str:
    """How seed must be caught, since coats, inoculants and carriers change its flow; "" where it has none."""
    treated: dict[str, list[str]] = {}
    for lot in plan.lots:
        if what := treatment(lot):
            treated.setdefault(what, []).append(lot.bag or lot.lot)
    parts = [f"{what} ({listed(dict.fromkeys(lots))})" for what, lots in treated.items()]
    parts += ["with its carrier mixed in"] if plan.carrier else []
    return f"as it will be sown: {', '.join(parts)}" if parts else ""


def _several_blends(remark: Remark) -> str:
    return (
        f"Box {remark['box']}: {' and '.join(remark['blends'])} are treated as separate fillings, one after the other, "
        "each with its own target. If they go in together, give them one blend name."
    )


def _coarse_scale(remark: Remark) -> str:
    counted, of_all = remark["counted"], remark["turns_of_all"]
    finer = f"a scale that shows {remark['step_g'] / 10:g} g"
    mends = [
        *([length_words(remark["more_turns"], counted)] if remark["more_turns"] else []),
        *([f"{remark['more_rows']} rows"] if remark["more_rows"] else []),
        *([f"all {remark['all_rows']} rows and {length_words(of_all, counted)}"] if of_all else []),
    ]
    advice = f"Catch {' or '.join(mends)}, or use {finer}." if mends else f"Use {finer}."
    share = f"{100 * remark['share']:.1f} % of the catch"
    return f"Box {remark['box']}: the scale's step of {remark['step_g']:g} g is {share}. {advice}"


def _old_test(remark: Remark) -> str:
    age = f"more than {remark['months']} months old"
    age = f"is {age}" if len(remark["date"]) > 7 else f"may be {age}, counted from the first day of that month"
    return (
        f"Lot {remark['lot']}: its seed test of {remark['date']} {age}. Ask for a new one: the seed may have lost "
        "germination since, and some programmes do not accept it."
    )


_NO_INERT = (
    "Bag {bag}: its purities add to {total:.4g} %, which leaves nothing for inert matter and other seed. Write the "
    "pure seed of each species as the tag has it, not its share of the mix."
)
_CHAFFY = "chaffy seed, and box {box} is for {holds} seed. The seed may bridge there. Use the chaffy box"
_COUNT = "Count a sample, or ask for the count on the tag."
_UNITS = {"oz": "an ounce", "g": "a gram", "kg": "a kilogram", "lb": "a pound"}


def _count_of_table(remark: Remark) -> str:
    return (
        f"Lot {remark['lot']}: its weight is worked out from the program's count of {_count_and_basis(remark)}. "
        f"Lots differ by tens of per cent. {_COUNT}"
    )


def _doubtful_count(remark: Remark) -> str:
    return (
        f"Lot {remark['lot']}: its weight is worked out from {_count_and_basis(remark)}, but the sources do not agree. "
        f"{_COUNT}"
    )


def _count_and_basis(remark: Remark) -> str:
    """A count of the table with its sources, in the units of the drill file."""
    each = pounds(remark["units"])
    low, high = (None if remark[name] is None else remark[name] * each for name in ("low", "high"))
    return f"{seeds_per(remark['seeds_per_lb'], remark['units'])} ({basis_and_range(remark['sources'], low, high)})"


def _counts_of_table(remark: Remark) -> str:
    return (
        f"Lots {listed(remark['lots'])}: their weights are worked out from the program's counts of seeds, which the "
        f"plan shows with their sources. Lots differ by tens of per cent. {_COUNT}"
    )


def _kind_of_seed(remark: Remark) -> str:
    (taken, count), *others = remark["counts"].items()
    each = pounds(remark["units"])
    rest = " or ".join(f"{other * each:,.0f} as {name}" for name, other in others)
    weight = ", and its weight is worked out from that" if remark["weighed"] else ""
    return (
        f"Lot {remark['lot']}: {remark['species']} is taken as {taken}, {seeds_per(count, remark['units'])}{weight}. "
        f"It would be {rest}: write that as the species if you sow it."
    )


def _count_in_other_unit(remark: Remark) -> str:
    return f"{_sources_have(remark)} It looks like the seeds in {_UNITS[remark['unit']]}. Check the unit."


def _other_units(remark: Remark) -> str:
    metric, one = remark["units"] == "metric", len(remark["columns"]) == 1
    meant = "hectares or square metres" if metric else "acres or square feet"
    return (
        f"{listed(remark['columns'])} {'is' if one else 'are'} read in the unit of {'its' if one else 'their'} name, "
        f"though drill.toml is in {'metric' if metric else 'US'} units. If you meant {meant}, correct the name."
    )


def _swapped_tag(remark: Remark) -> str:
    return (
        f"Lot {remark['lot']}: {remark['alive']:g} % of the pure seed is alive with dormant and hard seed, but purity "
        f"is only {remark['purity']:g} %. Are purity and germination in each other's place? Read the tag again."
    )


def _odd_count(remark: Remark) -> str:
    whose = f" It is that of {' or '.join(remark['whose'])}: is it in the wrong row?" if remark["whose"] else ""
    return f"{_sources_have(remark)}{whose} Count a sample if you are not sure."


def _sources_have(remark: Remark) -> str:
    count, low, high = (whole(remark[name]) for name in ("count", "low", "high"))
    sources = f"the sources for {remark['species']} have {low} to {high}"
    return f"Lot {remark['lot']}: {remark['column']} is {count}, but {sources}."


SENTENCES: dict[str, str | Callable[[Remark], str]] = {
    "no_count": _no_count,
    "tz": "Lot {lot}: a TZ test counts every living seed, so it is used as it is, whatever the rule. Ask whether your "
    "programme accepts a TZ test.",
    "other_rule": _other_rule,
    "no_tag": "Lot {lot}: it has no tag here, so its live seed is unknown.",
    "odd_count": _odd_count,
    "other_units": _other_units,
    "swapped_tag": _swapped_tag,
    "count_in_other_unit": _count_in_other_unit,
    "kind_of_seed": _kind_of_seed,
    "count_of_table": _count_of_table,
    "counts_of_table": _counts_of_table,
    "doubtful_count": _doubtful_count,
    "future_test": "Lot {lot}: its seed test is dated {date}, after today. Read the tag again.",
    "old_test": _old_test,
    "little_live_seed": _little_live_seed,
    "noxious": "Lot {lot}: its tag names noxious weed seed: {noxious}. Seed law and the programme decide whether this "
    "lot may be sown. Ask before you sow it.",
    "chaffy": f"Lot {{lot}}: {{species}} is {_CHAFFY}.",
    "may_be_chaffy": f"Lot {{lot}}: {{species}} is commonly {_CHAFFY}, or if the lot is debearded write free-flowing "
    "in a column kind.",
    "may_be_a_bag": _may_be_a_bag,
    "bag_in_boxes": lambda remark: (
        f"The purities of {listed(remark['lots'])} in their boxes add to {remark['total']:g} %. If one tag of a "
        "premixed bag has them all, write one box and one name in the column bag of these rows. Otherwise write each "
        "lot's own name there."
    ),
    "no_inert": _NO_INERT,
    "in_boxes": lambda remark: (
        f"Lot {remark['lot']} goes into boxes {' and '.join(remark['boxes'])}. Each drops its own rate, and the field "
        "gets the sum."
    ),
    "rate_repeated": "Blend {blend}: each of its {lots} lots has {rate} in {column}, and the rates are added up. If "
    "that is the rate of the whole blend, write a share of each lot too: seed_share_pct or weight_share_pct.",
    "many_seeds": lambda remark: (
        f"Box {remark['box']}, {remark['filling']}: {figures(remark['seeds_per_m2'] * SQUARE_METRES_PER_SQUARE_FOOT)} "
        f"live seeds/ft2 ({figures(remark['seeds_per_m2'])}/m2) are many times what is commonly drilled. Check the "
        "rate, the tag and the count of seeds."
    ),
    "no_hard_seed": lambda remark: (
        f'Lot {remark["lot"]}: the rule "hard" counts hard seed, and there is none in hard_pct. Its dormant seed, '
        f"{100 * remark['dormant']:.3g} %, is not counted. Where the tag gives one figure for dormant or hard seed, "
        "ask the laboratory how much of it is hard."
    ),
    "taken_once": "Bag {bag}: the {what} in {rows} of its rows is taken once, as that of the whole bag.",
    "several_blends": _several_blends,
    "in_turn": lambda remark: (
        f"Box {remark['box']}: {listed(remark['lots'])} have no blend, so they count as planted one after the other, "
        "each at its own rate. If they are mixed in the box, write one name for them in the column blend."
    ),
    "coarse_scale": _coarse_scale,
    "carrier_repeated": "Box {box}: all {rows} rows of {blend} have the same carrier, and it was added up. If it is "
    "the carrier of the whole blend, write it in one row only.",
}
