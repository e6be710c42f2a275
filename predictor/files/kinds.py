"""The kinds of files that rows are added to: what their columns are, and who reads a row back."""

from predictor.errors import InputError
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
