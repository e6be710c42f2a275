"""The kinds of files that rows are added to: what their columns are, and who reads a row back."""

from predictor.domain.drill import Drill
from predictor.errors import InputError
from predictor.files import field
from predictor.files.columns import Measure
from predictor.files.form import Kind
from predictor.files.table import Table
from predictor.files.trials import HEADER, NO_DRILL, trials_of
from predictor.units import GRAMS


def _check_trials(table: Table) -> None:
    """Read catches without a drill; only its file says what ground a distance is, so that is not asked for here."""
    try:
        trials_of(table, None)
    except InputError as error:
        others = [each for each in error.problems if each.message != NO_DRILL]
        if others:
            raise InputError(others) from None


def _weights(name: str, *units: str) -> dict[str, float]:
    return {f"{name}_{unit}": GRAMS[unit] for unit in units}


TRIALS = Kind(
    HEADER,
    "date,season,box,lot,setting,turns,rows,catch_g,rows_g,parts_g,tare_g,charged,fill_pct,use,operator,note",
    {f"{name}_g": _weights(name, "g", "oz", "lb", "kg") for name in ("catch", "rows", "parts", "tare")},
    _check_trials,
    "catch",
    "Correct it first (recommend says which), then record again.",
)


def field_checks(drill: Drill) -> Kind:
    """The file of field checks of a drill. A new one is in the units of the drill file."""
    us = drill.units == "us"
    area, weight, length = ("ac", "lb", "ft") if us else ("ha", "kg", "m")

    def factors(measures: dict[str, Measure]) -> dict[str, float]:
        own_first = sorted(
            measures.items(), key=lambda each: not each[0].endswith((f"_{area}", f"_{weight}", f"_{length}"))
        )
        return {column: measure.factor for column, measure in own_first}

    return Kind(
        field.HEADER,
        f"date,field,box,lot,setting,area_{area},seed_loaded_{weight},seed_left_{weight},seeds_counted,"
        f"row_length_{length},use,operator,note",
        {
            "area_m2": factors(field.AREAS),
            "distance_m": factors(field.DISTANCES),
            "used_g": factors(field.USED),
            "loaded_g": factors(field.LOADED),
            "left_g": factors(field.LEFT),
            "row_m": factors(field.ROW_LENGTHS),
        },
        lambda table: field.field_of(table, drill),
        "check",
        "Correct it first (check says which), then add the check again.",
    )
