"""Exact factors between the units of the field and those of the mathematics: grams, metres, square metres."""

from typing import Literal

Units = Literal["us", "metric"]

# International pound, foot, inch and acre (of 43,560 square international feet): exact by definition.
GRAMS_PER_POUND = 453.59237
GRAMS_PER_OUNCE = GRAMS_PER_POUND / 16
GRAMS_PER_KILOGRAM = 1000.0
METRES_PER_FOOT = 0.3048
METRES_PER_INCH = 0.0254
METRES_PER_CENTIMETRE = 0.01
SQUARE_METRES_PER_SQUARE_FOOT = METRES_PER_FOOT**2
SQUARE_METRES_PER_ACRE = 43_560 * SQUARE_METRES_PER_SQUARE_FOOT
SQUARE_METRES_PER_HECTARE = 10_000.0

# Grams per square metre in one pound per acre, and in one kilogram per hectare.
LB_PER_ACRE = GRAMS_PER_POUND / SQUARE_METRES_PER_ACRE
KG_PER_HECTARE = GRAMS_PER_KILOGRAM / SQUARE_METRES_PER_HECTARE

GRAMS = {"g": 1.0, "oz": GRAMS_PER_OUNCE, "lb": GRAMS_PER_POUND, "kg": GRAMS_PER_KILOGRAM}
METRES = {"m": 1.0, "cm": METRES_PER_CENTIMETRE, "ft": METRES_PER_FOOT, "in": METRES_PER_INCH}
SQUARE_METRES = {"ac": SQUARE_METRES_PER_ACRE, "ha": SQUARE_METRES_PER_HECTARE}
RATES = {"lb_ac": LB_PER_ACRE, "kg_ha": KG_PER_HECTARE}

RATE_UNIT: dict[str, str] = {"us": "lb/ac", "metric": "kg/ha"}
AREA_UNIT: dict[str, str] = {"us": "ac", "metric": "ha"}
WEIGHT_UNIT: dict[str, str] = {"us": "lb", "metric": "kg"}


def rate_in(rate_g_m2: float, units: Units) -> float:
    """A rate in the unit the user reads."""
    return rate_g_m2 / (LB_PER_ACRE if units == "us" else KG_PER_HECTARE)


def rate_from(rate: float, units: Units) -> float:
    """Grams per square metre of a rate in the unit the user reads."""
    return rate * (LB_PER_ACRE if units == "us" else KG_PER_HECTARE)
